"""The uncertainty budget of a reading in words: its table, what to improve first, and Monte Carlo beside it."""

from dataclasses import dataclass

from service.domain.reading_budget import BudgetLine, ReadingBudget, Trials
from service.domain.reading_sheets import ReadingSheet
from service.domain.settings import Inputs
from service.domain.words import ReferenceKind, SettingSource
from service.pages import view
from service.physics.assumptions import INPUT_REMEDIES, INPUT_WORDS, Input

#: a line under this share of the variance is told as less than one per cent
_LEAST_SHARE = 0.005


@dataclass(frozen=True, slots=True)
class BudgetRow:
    """One line of the table; ``width`` is its share of the variance as a length."""

    name: str
    u: str
    share: str
    width: str
    u_common: str
    share_common: str
    first: bool


def rows(sheet: ReadingSheet) -> tuple[BudgetRow, ...]:
    """Lines of the budget, the largest first."""
    budget = sheet.budget
    if budget is None or not budget.agrees:
        return ()
    first = _first(budget)
    ordered = sorted(budget.lines, key=lambda line: -(line.share or line.share_common or 0.0))
    return tuple(
        BudgetRow(
            name=view.sentence_case(INPUT_WORDS[line.input]),
            u=_bare_u(line.u_k),
            share=_share(line.share),
            width=f"{100 * (line.share or 0.0):.1f}%",
            u_common=_bare_u(line.u_common_k),
            share_common=_share(line.share_common),
            first=line is first,
        )
        for line in ordered
    )


def _first(budget: ReadingBudget) -> BudgetLine:
    """What to improve first: by the figure that is judged, as measured."""
    return budget.largest


def _u_digits(u: float | None) -> int:
    """Three decimals of a small u, so that lines of a table add up as far as they are printed."""
    return 3 if u is None or view.own_value(u, view.KELVIN) < 1 else 2


def _bare_u(u: float | None) -> str:
    return view.bare_kelvin(u, _u_digits(u))


def standard_u(u: float | None) -> str:
    """A standard uncertainty with its unit."""
    return view.kelvin(u, _u_digits(u))


def _share(share: float | None) -> str:
    if share is None:
        return view.NONE
    return view.with_unit(100 * share, "%", digits=0) if share >= _LEAST_SHARE else f"< 1{view.THIN}%"


def improve_first(sheet: ReadingSheet) -> str:
    """Improve first: accuracy of the camera, 62 % of the variance. …"""
    budget, shown = sheet.budget, sheet.shown
    if budget is None or not budget.agrees or shown is None:
        return ""
    first = _first(budget)
    remedy = _remedy(first.input, sheet.shown.inputs if sheet.shown else None, sheet)
    told = f"Improve first: {INPUT_WORDS[first.input]}, {_share(first.share)} of the variance; {remedy}."
    common = budget.largest_at_common_load
    if common is not None and common.input is not first.input:
        also = _remedy(common.input, shown.inputs, sheet)
        told += f" At common load it is {INPUT_WORDS[common.input]}: {also}."
    return told


def _remedy(of: Input, inputs: Inputs | None, sheet: ReadingSheet) -> str:
    """What helps, beyond what was done already."""
    reference = None if sheet.shown is None else sheet.shown.verdict.reference
    if of is Input.CAMERA and reference is ReferenceKind.LIKE_PARTS:
        return "all parts are in one frame already, so only a camera of closer accuracy helps"
    if of is Input.CAMERA:
        return "a like part in the same frame would cancel most of it; else a camera of closer accuracy"
    if inputs is not None and inputs.emissivity.standing is SettingSource.MEASURED and of is Input.EMISSIVITY:
        return "it is measured already, so a part of higher emissivity beside it, or a patch put on when dead, helps"
    if inputs is not None and inputs.reflected_c.standing is SettingSource.MEASURED and of is Input.REFLECTED:
        return "it is measured already, so shade the part from what it mirrors"
    return INPUT_REMEDIES[of]


def trials_words(sheet: ReadingSheet) -> str:
    """Monte Carlo beside the closed form; empty where it was not asked for."""
    if not sheet.asked_for_trials:
        return ""
    trials = sheet.trials
    if trials is None:
        return "The closed form is rough for this reading; its reference cannot be propagated by Monte Carlo."
    return _beside(trials)


def _beside(trials: Trials) -> str:
    found, (low, high) = trials.found, trials.closed
    at = "at common load" if trials.at_common_load else "as measured"
    told = (
        f"Monte Carlo, {view.thousands(found.trials.size)} trials of the whole model, {at}: mean "
        f"{view.kelvin(found.mean, 2)}, spread {view.kelvin(found.sd, 2)}, 95 % within "
        f"{view.kelvin_range(found.low, found.high, 2)}. Closed form: {view.kelvin_range(low, high, 2)}."
    )
    if found.refused:
        told += f" {view.percent(found.refused, 1)} of the trials have no solution and are left out."
    tolerance = view.kelvin(trials.validation.tolerance, 2)
    if trials.validation.agrees:
        return f"{told} They agree within {tolerance}."
    return f"{told} They differ by more than {tolerance}: trust the trials."
