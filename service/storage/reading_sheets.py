"""One reading with all that was ever made of it, and the parts it was compared with."""

from collections.abc import Iterable
from typing import Any

from sqlalchemy import or_, select

from service.domain.measuring import measure
from service.domain.reading_sheets import Assessed, ReadBy, ReadPart
from service.domain.readings import Reading
from service.domain.settings import inputs_of_text
from service.domain.words import PointKind
from service.storage import readings
from service.storage.assessments import verdict_of
from service.storage.bulk import is_one_of
from service.storage.tables.people import PersonRow
from service.storage.tables.readings import AssessmentRow, PointStateRow, ReadingRow
from service.storage.tables.register import InstrumentRow, PointRow
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Unit


def assessments_of_reading(unit: Unit, reading_id: int) -> tuple[Assessed, ...]:
    """Every assessment of a reading, the newest first."""
    query = select(AssessmentRow).where(AssessmentRow.reading_id == reading_id)
    return tuple(_assessed(row) for row in unit.session.scalars(query.order_by(AssessmentRow.id.desc())))


def _assessed(row: AssessmentRow) -> Assessed:
    return Assessed(
        assessment_id=row.id,
        assessed_at=row.assessed_at,
        method_version=row.method_version,
        criteria_id=row.criteria_id,
        current=row.current,
        counts_level=row.counts_level,
        counts_trend=row.counts_trend,
        corrected_c=row.corrected_c,
        inputs=None if row.inputs is None else inputs_of_text(row.inputs),
        reevaluation_id=row.reevaluation_id,
        replaces_id=row.replaces_id,
        verdict=verdict_of(row),
    )


def standing_assessments(unit: Unit, reading_ids: Iterable[int]) -> dict[int, Assessed]:
    """By reading the assessment that stands."""
    query = select(AssessmentRow).where(
        is_one_of(unit, AssessmentRow.reading_id, reading_ids), AssessmentRow.current
    )
    return {row.reading_id: _assessed(row) for row in unit.session.scalars(query)}


def read_by(unit: Unit, reading: Reading) -> ReadBy:
    """Who, with what, on which round, of what kind of point."""
    query = (
        select(
            PersonRow.name,
            InstrumentRow.name,
            InstrumentRow.serial,
            RoundRow.id,
            RoundRow.code,
            PointRow.kind,
            PointRow.component,
            PointStateRow.baseline_k,
        )
        .select_from(ReadingRow)
        .join(RoundRow, RoundRow.id == ReadingRow.round_id)
        .join(PointRow, PointRow.id == ReadingRow.point_id)
        .outerjoin(PersonRow, PersonRow.id == ReadingRow.person_id)
        .outerjoin(InstrumentRow, InstrumentRow.id == ReadingRow.instrument_id)
        .outerjoin(PointStateRow, PointStateRow.point_id == ReadingRow.point_id)
        .where(ReadingRow.id == reading.id)
    )
    person, camera, serial, round_id, code, kind, component, baseline_k = unit.session.execute(query).one()
    instrument = f"{camera}, serial {serial}" if serial else ""
    return ReadBy(person or "", instrument, round_id, code, PointKind(kind), component, baseline_k)


def revisions_of(unit: Unit, reading: Reading) -> tuple[tuple[Reading, str], ...]:
    """Every revision of a reading with who brought it, the first one first."""
    if reading.row_id is None:
        same = _chain(unit, reading)
    else:
        same = readings.readings_of_row(unit, reading.row_id, source=reading.source)
    people = {one.person_id for one in same} - {None}
    names = dict(
        unit.session.execute(select(PersonRow.id, PersonRow.name).where(PersonRow.id.in_(people))).all()
    )
    return tuple((one, names.get(one.person_id or 0, one.device)) for one in same)


def _chain(unit: Unit, reading: Reading) -> list[Reading]:
    """Revisions of a reading off the sheet: they only know which one they replace."""
    chain = [reading]
    while chain[0].supersedes_id is not None:
        before = readings.reading_by_id(unit, chain[0].supersedes_id)
        if before is None:
            break
        chain.insert(0, before)
    while not chain[-1].current:
        later = unit.session.scalar(select(ReadingRow.uid).where(ReadingRow.supersedes_id == chain[-1].id))
        found = None if later is None else readings.reading_by_uid(unit, later)
        if found is None:
            break
        chain.append(found)
    return chain


def parts_read_with(unit: Unit, reading: Reading, point_ids: Iterable[int]) -> tuple[ReadPart, ...]:
    """Points of a round as they stand now, brought to the surface; the readings that count, one each."""
    query = (
        select(AssessmentRow, ReadingRow.uid, ReadingRow.source, PointRow.name, PointRow.phase)
        .join(ReadingRow, ReadingRow.id == AssessmentRow.reading_id)
        .join(PointRow, PointRow.id == AssessmentRow.point_id)
        .where(
            AssessmentRow.round_id == reading.round_id,
            is_one_of(unit, AssessmentRow.point_id, point_ids),
            or_(AssessmentRow.current, AssessmentRow.reading_id == reading.id),
            AssessmentRow.inputs.is_not(None),
        )
        .order_by(AssessmentRow.id)
    )
    chosen: dict[int, Any] = {}
    for row in unit.session.execute(query):
        point_id = row.AssessmentRow.point_id
        if point_id == reading.point_id and row.AssessmentRow.reading_id != reading.id:
            continue
        there = chosen.get(point_id)
        # beside a reading stand those of the same source, filled up with the others'
        if there is None or row.source == reading.source or there.source != reading.source:
            chosen[point_id] = row
    inputs = [inputs_of_text(row.AssessmentRow.inputs) for row in chosen.values()]
    return tuple(
        ReadPart(row.AssessmentRow.point_id, row.name, row.phase, row.uid, one, came_to)
        for row, one, came_to in zip(chosen.values(), inputs, measure(inputs) if inputs else [], strict=True)
    )
