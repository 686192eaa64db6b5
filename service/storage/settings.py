"""What the figures of readings rest on beside the readings: their instruments and rounds."""

import math
from collections.abc import Iterable

from sqlalchemy import select

from service.domain.settings import Instrument, RoundSettings
from service.storage.bulk import is_one_of
from service.storage.tables.register import InstrumentRow
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Unit


def instruments_of_client(unit: Unit, client_id: int) -> dict[int, Instrument]:
    """Every instrument of a client, the retired ones too: their readings stand."""
    query = select(
        InstrumentRow.id,
        InstrumentRow.serial,
        InstrumentRow.range_low_c,
        InstrumentRow.range_high_c,
        InstrumentRow.accuracy_k,
        InstrumentRow.accuracy_percent,
        InstrumentRow.band_low_um,
        InstrumentRow.band_high_um,
        InstrumentRow.ifov_mrad,
        InstrumentRow.field_of_view_deg,
        InstrumentRow.pixels,
    ).where(InstrumentRow.client_id == client_id)
    return {
        instrument_id: Instrument._make((*facts, _ifov_mrad(ifov_mrad, field_deg, pixels)))
        for instrument_id, *facts, ifov_mrad, field_deg, pixels in unit.session.execute(query)
    }


def _ifov_mrad(typed: float | None, field_of_view_deg: float | None, pixels: int | None) -> float | None:
    """The typed one, else field of view over pixels."""
    if typed is not None or not field_of_view_deg or not pixels:
        return typed
    return math.radians(field_of_view_deg) / pixels * 1000.0


def settings_of_rounds(unit: Unit, round_ids: Iterable[int]) -> dict[int, RoundSettings]:
    """What rounds say for all of their readings; those that say nothing are not there."""
    query = select(RoundRow.id, RoundRow.settings).where(
        is_one_of(unit, RoundRow.id, round_ids), RoundRow.settings.is_not(None)
    )
    return {round_id: settings for round_id, settings in unit.session.execute(query) if settings}
