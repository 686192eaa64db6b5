"""The visits of one point: every one in short, and those that are told in full."""

from collections.abc import Collection, Sequence
from typing import Any

from sqlalchemy import and_, select
from sqlalchemy.orm import aliased

from service.domain.point_history import DrawnVisit, PastVisit
from service.domain.words import Level, Reason, ReferenceKind, VisitKind
from service.storage.bulk import is_one_of
from service.storage.tables.people import PersonRow
from service.storage.tables.readings import AssessmentRow, ReadingRow
from service.storage.tables.register import InstrumentRow
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Unit

_LATER = aliased(ReadingRow)
_REPLACED = select(_LATER.id).where(_LATER.supersedes_id == ReadingRow.id).exists()
_SAYS_NOW = and_(AssessmentRow.reading_id == ReadingRow.id, AssessmentRow.current.is_(True))
#: in the order of ``DrawnVisit``, with the assessment's id where what it says begins
_DRAWN: tuple[Any, ...] = (
    ReadingRow.id,
    ReadingRow.taken_at,
    _REPLACED,
    ReadingRow.not_assessable,
    ReadingRow.temperature_c,
    ReadingRow.instrument_id,
    AssessmentRow.id,
    AssessmentRow.level,
    AssessmentRow.at_least,
    AssessmentRow.trended,
    AssessmentRow.counts_trend,
    AssessmentRow.episode,
    AssessmentRow.reference,
    AssessmentRow.value_k,
    AssessmentRow.common_k,
    AssessmentRow.load_ratio,
    AssessmentRow.u_k,
    AssessmentRow.u_common_k,
)
_READ = (
    ReadingRow.id,
    ReadingRow.taken_at,
    ReadingRow.round_id,
    RoundRow.code,
    PersonRow.name,
    InstrumentRow.name,
    InstrumentRow.serial,
    ReadingRow.visit_kind,
    ReadingRow.not_assessable,
    ReadingRow.temperature_c,
    ReadingRow.ambient_c,
    ReadingRow.reflected_c,
    ReadingRow.wind_m_s,
    ReadingRow.current_a,
    ReadingRow.neutral_a,
    ReadingRow.emissivity_set,
    ReadingRow.picture,
    ReadingRow.note,
    ReadingRow.revision,
    ReadingRow.correction_reason,
    _REPLACED,
    ReadingRow.no_permit_recorded,
    ReadingRow.uid,
)
_SAID = (
    AssessmentRow.level,
    AssessmentRow.at_least,
    AssessmentRow.near_line,
    AssessmentRow.trended,
    AssessmentRow.counts_trend,
    AssessmentRow.episode,
    AssessmentRow.reference,
    AssessmentRow.value_k,
    AssessmentRow.common_k,
    AssessmentRow.load_ratio,
    AssessmentRow.u_common_k,
    AssessmentRow.unequal_load,
    AssessmentRow.sentence,
    AssessmentRow.published_band,
    AssessmentRow.band,
    AssessmentRow.u_k,
    AssessmentRow.p0,
    AssessmentRow.p1,
    AssessmentRow.p2,
    AssessmentRow.p3,
    AssessmentRow.p4,
    AssessmentRow.smallest_fault_k,
)
#: looked up by the thousand: quicker than asking the enums
_KINDS = {kind.value: kind for kind in VisitKind}
_REASONS: dict[str | None, Reason | None] = {None: None, **{reason.value: reason for reason in Reason}}
_LEVELS: dict[int | None, Level | None] = {None: None, **{level.value: level for level in Level}}
_REFERENCES: dict[str | None, ReferenceKind | None] = {
    None: None,
    **{kind.value: kind for kind in ReferenceKind},
}
#: what a reading says before it was judged, in the order of ``_SAID``
_NOTHING_SAID = (
    None, False, False, False, False, 0, None, None, None, None, None, False, "", "", None, *(None,) * 7,
)  # fmt: skip


def drawn_visits(unit: Unit, point_id: int) -> tuple[DrawnVisit, ...]:
    """Every reading of a point in short, oldest first; replaced ones are marked."""
    query = (
        select(*_DRAWN)
        .select_from(ReadingRow)
        .outerjoin(AssessmentRow, _SAYS_NOW)
        .where(ReadingRow.point_id == point_id)
        .order_by(ReadingRow.taken_at, ReadingRow.id)
    )
    return tuple(_drawn(record) for record in unit.connection.execute(query))


def _drawn(record: Sequence[Any]) -> DrawnVisit:
    key, taken_at, replaced, reason, temperature, instrument, judged, *said = record
    if judged is None:
        nothing = (None, False, False, False, 0, None, None, None, None, None, None)
        return DrawnVisit(key, taken_at, bool(replaced), _REASONS[reason], temperature, instrument, *nothing)
    level, at_least, trended, counts, episode, reference, *values = said
    value_k, common_k, load_ratio, u_k, u_common_k = values
    return DrawnVisit(
        key,
        taken_at,
        bool(replaced),
        _REASONS[reason],
        temperature,
        instrument,
        _LEVELS[level],
        at_least,
        trended,
        counts,
        episode,
        _REFERENCES[reference],
        value_k,
        common_k,
        load_ratio,
        u_k,
        u_common_k,
    )


def past_visits(
    unit: Unit, point_id: int, reading_ids: Collection[int] | None = None
) -> tuple[PastVisit, ...]:
    """Readings of a point with all they say now, oldest first: every one, or only these."""
    query = (
        select(*_READ, AssessmentRow.id, *_SAID)
        .select_from(ReadingRow)
        .outerjoin(AssessmentRow, _SAYS_NOW)
        .outerjoin(PersonRow, PersonRow.id == ReadingRow.person_id)
        .outerjoin(InstrumentRow, InstrumentRow.id == ReadingRow.instrument_id)
        .outerjoin(RoundRow, RoundRow.id == ReadingRow.round_id)
        .where(ReadingRow.point_id == point_id)
        .order_by(ReadingRow.taken_at, ReadingRow.id)
    )
    if reading_ids is not None:
        query = query.where(is_one_of(unit, ReadingRow.id, reading_ids))
    return tuple(_visit(record) for record in unit.session.execute(query))


def _visit(record: Sequence[Any]) -> PastVisit:
    (
        key, taken_at, round_id, code, reader, camera, serial, kind, reason, temperature, ambient, reflected, wind,
        amps, neutral, emissivity, picture, note, revision, correction, replaced, no_permit, uid, judged,
    ) = record[: len(_READ) + 1]  # fmt: skip
    said = _NOTHING_SAID if judged is None else record[len(_READ) + 1 :]
    (
        level, at_least, near_line, trended, counts, episode, reference, value, common, load, u_common, unequal,
        sentence, published, band, u_k, *chances, smallest_fault,
    ) = said  # fmt: skip
    return PastVisit(
        reading_id=key,
        taken_at=taken_at,
        round_id=round_id,
        round_code=code or "",
        reader=reader or "",
        instrument=f"{camera}, serial {serial}" if serial else "",
        visit_kind=_KINDS[kind],
        reason=_REASONS[reason],
        temperature_c=temperature,
        ambient_c=ambient,
        reflected_c=reflected,
        wind_m_s=wind,
        current_a=amps,
        neutral_a=neutral,
        emissivity_set=emissivity,
        picture=picture,
        note=note,
        revision=revision,
        correction_reason=correction,
        replaced=bool(replaced),
        no_permit_recorded=no_permit,
        judged=judged is not None,
        level=_LEVELS[level],
        at_least=at_least,
        near_line=near_line,
        trended=trended,
        counts_trend=counts,
        episode=episode,
        reference=_REFERENCES[reference],
        value_k=value,
        common_k=common,
        load_ratio=load,
        u_common_k=u_common,
        unequal_load=unequal,
        sentence=sentence,
        published_band=published,
        uid=uid,
        band=_LEVELS[band],
        u_k=u_k,
        p0=chances[0],
        p1=chances[1],
        p2=chances[2],
        p3=chances[3],
        p4=chances[4],
        smallest_fault_k=smallest_fault,
    )
