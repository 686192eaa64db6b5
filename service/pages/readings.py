"""The page of one reading: a calculation sheet from what was shown to its level."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Path, Request
from fastapi.responses import Response

from service.domain.figures_told import ToldFigure
from service.domain.reading_sheets import Assessed, ReadingSheet
from service.domain.words import Level
from service.pages import raster_words, view
from service.pages import reading_budget_words as budgets
from service.pages import reading_words as said
from service.pages.asking import Around, SignedIn
from service.pages.templating import render
from service.usecases.field.walked import doubt_of
from service.usecases.rasters.see import list_rasters
from service.usecases.readings.see_sheet import see_reading_sheet
from service.usecases.spoken_notes.see import list_reading_notes

router = APIRouter()
Uid = Annotated[str, Path(pattern=r"^[A-Za-z0-9._:-]{8,64}$")]


@dataclass(frozen=True, slots=True)
class EarlierLine:
    """One assessment in the table of all that were made."""

    at: datetime
    why: str
    why_href: str
    criteria: str
    method: str
    surface_c: float | None
    rise: ToldFigure
    common: ToldFigure
    level: Level | None
    at_least: bool
    stands: bool


@dataclass(frozen=True, slots=True)
class RevisionLine:
    """One revision of what was typed."""

    revision: int
    at: datetime
    by: str
    temperature_c: float | None
    current_a: float | None
    reason: str
    href: str
    here: bool


@router.get("/readings/{uid}")
def reading(request: Request, around: Around, actor: SignedIn, uid: Uid) -> Response:
    sheet = see_reading_sheet(around.store, actor, uid)
    shown = sheet.shown
    return render(
        request,
        "readings/reading.html",
        place="equipment",
        sheet=sheet,
        reading=sheet.reading,
        shown=shown,
        zone=sheet.place.zone,
        clock_doubt=doubt_of(sheet.reading, sheet.place.zone),
        title=said.title(sheet),
        lead=said.lead(sheet),
        crumbs=raster_words.crumbs(sheet.place),
        steps=said.steps(sheet),
        parts=_parts(sheet),
        inputs=said.inputs_table(sheet),
        reasons=said.reasons(sheet),
        sureness="" if shown is None else said.sureness(shown),
        chances=said.chance_rows(shown),
        hidden=said.hidden_fault(shown),
        budget=budgets.rows(sheet),
        budget_sum=_sum(sheet),
        moved_since=sheet.budget is not None and not sheet.budget.agrees,
        improve_first=budgets.improve_first(sheet),
        shared=said.parts_share(sheet),
        trials=budgets.trials_words(sheet),
        earlier=_earlier(sheet),
        revisions=_revisions(sheet),
        newest=next((one.uid for one, _by in sheet.revisions if one.current), ""),
        spoken=list_reading_notes(around.store, actor, uid),
        rasters=raster_words.rasters_part(list_rasters(around.store, actor, uid)),
        again_href=f"/reevaluate?target=reading&id={sheet.reading.id}" if sheet.may_evaluate else "",
    )


def _parts(sheet: ReadingSheet) -> tuple[tuple[str, str, str, ToldFigure, float | None, bool], ...]:
    """Like parts side by side: word, address, shown, surface with U, current, whether it is this one."""
    if len(sheet.parts) < 2:
        return ()
    return tuple(
        (
            part.word,
            f"/readings/{part.reading_uid}",
            view.bare_celsius(part.inputs.shown_c),
            view.figure(part.measured.surface_c, part.measured.surface_u_k, unit=view.CELSIUS),
            part.inputs.current_a,
            part.point_id == sheet.reading.point_id,
        )
        for part in sheet.parts
    )


def _sum(sheet: ReadingSheet) -> dict[str, str]:
    """The last line of the budget: u, and U beside its figure."""
    budget, shown = sheet.budget, sheet.shown
    if budget is None or shown is None:
        return {}
    verdict = shown.verdict
    return {
        "u": budgets.standard_u(budget.u_k),
        "u_common": budgets.standard_u(budget.u_common_k),
        "rise": view.measured(verdict.value_k, verdict.u_k),
        "common": "" if budget.u_common_k is None else view.measured(verdict.common_k, verdict.u_common_k),
    }


def _earlier(sheet: ReadingSheet) -> tuple[EarlierLine, ...]:
    """Every assessment, the newest first; the one that stands is marked."""
    return tuple(_line(sheet, one) for one in sheet.assessed)


def _line(sheet: ReadingSheet, one: Assessed) -> EarlierLine:
    used = sheet.criteria.get(one.criteria_id)
    verdict = one.verdict
    why, href = "first judged", ""
    if one.reevaluation_id is not None:
        why, href = f"Re-evaluation {one.reevaluation_id}", f"/reevaluations#re-{one.reevaluation_id}"
    elif one is not sheet.assessed[-1]:
        why = "judged again with its visit"
    return EarlierLine(
        at=one.assessed_at,
        why=why,
        why_href=href,
        criteria="" if used is None else f"{used.title}, version {used.version}",
        method=one.method_version,
        surface_c=one.corrected_c,
        rise=view.figure(verdict.value_k, verdict.u_k),
        common=view.figure(verdict.common_k, verdict.u_common_k),
        level=verdict.level,
        at_least=verdict.at_least,
        stands=one.current,
    )


def _revisions(sheet: ReadingSheet) -> tuple[RevisionLine, ...]:
    return tuple(
        RevisionLine(
            revision=one.revision,
            at=one.received_at,
            by=by,
            temperature_c=one.temperature_c,
            current_a=one.current_a,
            reason=one.correction_reason,
            href=f"/readings/{one.uid}",
            here=one.uid == sheet.reading.uid,
        )
        for one, by in sheet.revisions
    )
