"""Evaluating again in words: what changes, what would move, what moved."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from service.domain.figures_told import ToldFigure
from service.domain.reevaluation import QUANTITIES, Asked, KeptReevaluation, Moved, Reevaluated
from service.domain.reevaluation_targets import TargetFacts
from service.domain.words import Level, SettingSource
from service.pages import view

STANDINGS = {
    SettingSource.MEASURED: "measured",
    SettingSource.TABLE: "from a table",
    SettingSource.ASSUMED: "assumed",
}


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """One new number, as told."""

    name: str
    value: str
    half_width: str
    how: str


@dataclass(frozen=True, slots=True)
class MoveLine:
    """One reading before and after."""

    href: str
    title: str
    tag: str
    on: str
    before: ToldFigure
    after: ToldFigure
    level_before: Level | None
    level_after: Level | None
    at_least_before: bool
    at_least_after: bool
    level_moves: bool


@dataclass(frozen=True, slots=True)
class Line:
    """One re-evaluation in the list."""

    kept: KeptReevaluation
    about: str
    href: str
    what: str
    moved: str


def form_title(facts: TargetFacts) -> str:
    return f"Evaluate {view.counted(facts.readings, 'reading')} again: {facts.title}"


def preview_title(found: Reevaluated) -> str:
    """The news of a preview: how many levels would change."""
    readings = view.counted(found.readings, "reading")
    if found.levels_changed:
        verb = "gets" if found.levels_changed == 1 else "get"
        return (
            f"{view.sentence_case(view.number_word(found.levels_changed))} of {readings} {verb} another level"
        )
    if found.moved:
        return f"No level changes; {view.counted(len(found.moved), 'figure')} of {readings} {'moves' if len(found.moved) == 1 else 'move'}"
    return f"Nothing moves: {readings} stay as they are"


def tally(found: Reevaluated) -> tuple[tuple[str, str], ...]:
    """The counts of a preview."""
    rows = [
        ("Readings evaluated again", view.thousands(found.readings)),
        ("Figures that move", view.thousands(len(found.moved))),
        ("Levels that change", view.thousands(found.levels_changed)),
        ("Points that stand elsewhere", view.thousands(len(found.standings))),
    ]
    if found.trends_changed is not None:
        rows.append(("Trends with another word", view.thousands(found.trends_changed)))
    return tuple(rows)


def move(one: Moved) -> MoveLine:
    return MoveLine(
        href=f"/points/{one.point_id}",
        title=one.title,
        tag=one.point_tag,
        on=view.day(one.taken_at, one.zone),
        before=view.figure(one.value_before_k, one.u_before_k),
        after=view.figure(one.value_after_k, one.u_after_k),
        level_before=one.level_before,
        level_after=one.level_after,
        at_least_before=one.at_least_before,
        at_least_after=one.at_least_after,
        level_moves=one.level_moves,
    )


def changes_of(record: Mapping[str, Any], sets: Mapping[int, str]) -> tuple[ChangeLine, ...]:
    """New numbers of a record, each with its half-width and how it was found."""
    told = [_change(name, new) for name, new in record.get("changes", {}).items() if name in QUANTITIES]
    if record.get("criteria_id") is not None:
        set_id = int(record["criteria_id"])
        told.append(ChangeLine("Criteria", sets.get(set_id, f"set {set_id}"), view.NONE, ""))
    return tuple(told)


def _change(name: str, new: Mapping[str, Any]) -> ChangeLine:
    quantity = QUANTITIES[name]
    unit = quantity.unit
    half = new.get("half_width")
    how = ", ".join(word for word in (STANDINGS[SettingSource(new["standing"])], new.get("how", "")) if word)
    return ChangeLine(
        quantity.label,
        view.plain_with_unit(new["value"], unit),
        view.NONE if half is None else view.plain_with_unit(half, half_unit_of(unit)),
        how,
    )


def half_unit_of(unit: str) -> str:
    """A half-width of degrees is in kelvin."""
    return view.KELVIN if unit == view.CELSIUS else unit


def narrowed(asked: Asked, zone: str) -> str:
    """Only joints of bare copper, from 1 Mar 2026 on. And from now on."""
    told = []
    if asked.kind is not None:
        told.append(f"only of kind {asked.kind}")
    if asked.coating:
        told.append(f"only {asked.coating}")
    if asked.since is not None:
        told.append(f"from {view.day(asked.since, zone)} on")
    if asked.from_now_on:
        told.append("for later visits too")
    return view.sentence_case(f"{', '.join(told)}.") if told else ""


def done(found: Reevaluated) -> str:
    levels = view.counted(found.levels_changed, "level")
    verb = "has" if found.readings == 1 else "have"
    return f"{view.sentence_case(view.counted(found.readings, 'reading'))} {verb} been evaluated again; {levels} changed."


def list_title(kept: Sequence[KeptReevaluation]) -> str:
    if not kept:
        return "Nothing has been evaluated again yet"
    return f"{view.sentence_case(view.counted_in_words(len(kept), 're-evaluation'))}, the newest first"


def line(kept: KeptReevaluation, about: str, href: str) -> Line:
    names = [change.name for change in changes_of(dict(kept.changes), {})]
    what = view.listed([names[0], *(name.lower() for name in names[1:])]) if names else "nothing"
    if kept.undoes_id is not None:
        what = f"takes back {kept.undoes_id}: {what.lower()}"
    moved = f"{view.counted(kept.readings, 'reading')}, {view.counted(kept.levels_changed, 'level')} changed"
    return Line(kept, about, href, view.sentence_case(what), moved)


def one_title(kept: KeptReevaluation) -> str:
    """The news of one: how many levels it changed."""
    levels = view.counted_in_words(kept.levels_changed, "level")
    readings = view.counted(kept.readings, "reading")
    if kept.undoes_id is not None:
        return f"Re-evaluation {kept.id} took {kept.undoes_id} back: {readings} are as before"
    return f"Re-evaluation {kept.id} changed {levels} among {readings}"
