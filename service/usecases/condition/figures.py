"""Readings with their figures: what each rests on, brought to surface temperatures in one go."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from service.domain.measuring import measure
from service.domain.settings import NO_SETTINGS, Inputs, Instrument, inputs_of_text, resolve
from service.domain.visits import Values, VisitReading
from service.storage import settings
from service.usecases.condition.visit_work import Work

_UNKNOWN = Instrument()


class Bare(NamedTuple):
    """A reading before its figures are known."""

    reading_id: int
    point_id: int
    round_id: int | None
    source: str
    chosen: str | None
    values: Values
    supersedes_id: int | None = None


def with_figures(work: Work, bare: Sequence[Bare]) -> list[VisitReading]:
    """Readings with what their figures rest on and came to, in the order given.

    Notes
    -----
    A reading that was judged before keeps what it rested on then, so that judging its visit
    again for another's sake changes nothing; a correction keeps what a re-evaluation had set.
    """
    _learn_rounds(work, (one.round_id for one in bare))
    inputs = [_inputs(work, one) for one in bare]
    return [
        VisitReading(
            one.reading_id,
            work.known[one.point_id].point,
            one.round_id,
            one.source,
            one.chosen,
            work.episode(one.point_id, one.values.taken_at),
            one.values,
            rests_on,
            came_to,
        )
        for one, rests_on, came_to in zip(bare, inputs, measure(inputs), strict=True)
    ]


def _learn_rounds(work: Work, round_ids: Iterable[int | None]) -> None:
    """Settings of rounds not met before, in one query."""
    new = {round_id for round_id in round_ids if round_id is not None} - work.round_settings.keys()
    if new:
        said = settings.settings_of_rounds(work.unit, new)
        work.round_settings |= {round_id: said.get(round_id, NO_SETTINGS) for round_id in new}


def _inputs(work: Work, one: Bare) -> Inputs:
    edit = work.changed.get(one.reading_id)
    found = _as_judged(work, one)
    return found if edit is None else edit(found)


def _as_judged(work: Work, one: Bare) -> Inputs:
    held = work.held.get(one.reading_id)
    if held is not None:
        return inputs_of_text(held)
    of_round = NO_SETTINGS if one.round_id is None else work.round_settings[one.round_id]
    instrument_id = one.values.instrument_id
    instrument = _UNKNOWN if instrument_id is None else work.instruments.get(instrument_id, _UNKNOWN)
    found = resolve(one.values, work.known[one.point_id].point, of_round=of_round, instrument=instrument)
    before = None if one.supersedes_id is None else work.held.get(one.supersedes_id)
    return found if before is None else _kept(found, inputs_of_text(before))


def _kept(found: Inputs, before: Inputs) -> Inputs:
    """What a re-evaluation had set stays in force when another number is corrected."""
    if not before.reevaluated:
        return found
    kept = {name: getattr(before, name) for name in before.reevaluated}
    return found._replace(**kept, reevaluated=before.reevaluated)
