"""See how the figure of one reading comes about, from what was shown to its level."""

from collections.abc import Sequence
from dataclasses import replace

from service.domain.criteria import Criteria
from service.domain.like_parts import difference_of
from service.domain.people import Actor
from service.domain.permissions import Verb, may
from service.domain.presets import DEFAULT_CRITERIA
from service.domain.reading_budget import asks_for_trials, budget_of_reading, trials_of
from service.domain.reading_sheets import Assessed, ReadingSheet, ReadPart
from service.domain.seen import SeenPoint
from service.domain.words import Level, PointKind, ReferenceKind
from service.storage import criteria, rasters, reading_sheets, reevaluations
from service.storage.unit import Store
from service.usecases.rasters.sight import reading_to_see


def see_reading_sheet(store: Store, actor: Actor, uid: str) -> ReadingSheet:
    """One reading laid out, with all that was ever made of it.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who sees its round.
    uid : str
        Of any revision of the reading.

    Returns
    -------
    ReadingSheet
        With the budget of the figure that stands, and trials where its closed form is too rough.

    Raises
    ------
    NotFound
        Absent, or out of sight: told alike.

    Notes
    -----
    Nothing is judged anew: figures are those kept with the assessment. Their budget is laid out
    from the inputs that are kept with them.
    """
    with store.look() as unit:
        reading, _round = reading_to_see(unit, actor, uid)
        place = rasters.place_of(unit, reading.point_id)
        read_by = reading_sheets.read_by(unit, reading)
        assessed = reading_sheets.assessments_of_reading(unit, reading.id)
        used = criteria.criteria_by_id(unit, {one.criteria_id for one in assessed})
        sheet = ReadingSheet(
            reading=reading,
            place=place,
            read_by=read_by,
            revisions=reading_sheets.revisions_of(unit, reading),
            assessed=assessed,
            criteria=used,
            reevaluations=reevaluations.reevaluations_of_reading(unit, reading.id),
            may_evaluate=may(actor, Verb.KEEP_REGISTER) and reading.current,
        )
        shown = sheet.shown
        if shown is None or shown.inputs is None:
            return sheet
        members = {reading.point_id, *shown.verdict.members}
        parts = reading_sheets.parts_read_with(unit, reading, members)
    return _laid_out(sheet, shown, parts, used.get(shown.criteria_id, DEFAULT_CRITERIA))


def _laid_out(
    sheet: ReadingSheet, shown: Assessed, parts: Sequence[ReadPart], used: Criteria
) -> ReadingSheet:
    verdict = shown.verdict
    own = [part for part in parts if part.point_id == sheet.reading.point_id]
    others = [part for part in parts if part.point_id != sheet.reading.point_id]
    reference, kind, component = verdict.reference, sheet.read_by.kind, sheet.read_by.component
    lines: tuple[tuple[Level, float], ...] = ()
    unit = "K"
    if reference is not None:
        lines = tuple(row for row in used.lines_for(reference, kind, component=component) if row[0] > 0)
        unit = used.rule_for(reference, kind, component=component).unit.value
    compared = tuple(own + (others if reference is ReferenceKind.LIKE_PARTS else []))
    sheet = replace(sheet, parts=compared, lines=lines, lines_unit=unit)
    if not compared:
        return sheet
    weights = weights_of(compared, kind) if reference is ReferenceKind.LIKE_PARTS else {}
    weighed = [(own[0].measured, 1.0)]
    if weights:
        weighed = [(p.measured, weights[p.point_id]) for p in compared if p.point_id in weights]
    budget = budget_of_reading(verdict, weighed, criteria=used)
    if budget is None or not budget.agrees:
        return replace(sheet, budget=budget)
    asked = asks_for_trials(budget, verdict, own[0].measured)
    trials = trials_of(verdict, [part.inputs for part in compared], criteria=used) if asked else None
    return replace(sheet, budget=budget, trials=trials, asked_for_trials=asked)


def weights_of(parts: Sequence[ReadPart], kind: PointKind) -> dict[int, float]:
    """By point the coefficient with which a part enters the rise of the first one; 1 for that."""
    read = [part for part in parts if part.measured.surface_c is not None]
    if len(read) < 2 or read[0] is not parts[0]:
        return {}
    seen = [
        SeenPoint(point_id=part.point_id, kind=kind, temperature_c=part.measured.surface_c) for part in read
    ]
    return {one.point_id: weight for one, weight in difference_of(seen[0], seen)}
