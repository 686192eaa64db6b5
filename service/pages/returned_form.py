"""A typed stop: boxes to rows, and problems of rows back to their boxes."""

from collections.abc import Iterable, Mapping
from typing import Any

from service.domain.readings import FOUND, MEASURED, Reading
from service.errors import Invalid, Problem
from service.pages.stop_boxes import (
    LETTER,
    NOTE,
    OF_POINT,
    OF_STOP,
    OF_VIEW,
    STOP,
    amps_points,
    filled_boxes,
    kind_boxes,
    labels_of,
    shown,
    unit_of,
)
from service.pages.view import unboxed
from service.usecases.rounds.return_pages import PointBoxes, StopPage, ViewBoxes

#: what a stored reading holds under the same name as a row
_SAME_NAME = ("temperature_c", *MEASURED, *FOUND, "picture", "note")


def records_of(page: StopPage, typed: Mapping[str, str]) -> list[dict[str, Any]]:
    """The rows a person typed or changed; an untouched one stays as it is stored."""
    before = filled_boxes(page)
    records = []
    for view in page.views:
        around = _around(view, typed, before)
        letters = _letters(view, typed, before)
        amps = {boxes.point.phase: boxes.point.row_uid for boxes in amps_points(view)}
        for boxes in view.points:
            uid = boxes.point.row_uid
            own = letters.get(uid, {}) | _changed(OF_POINT, typed, before, mark=uid)
            kind = _changed([box.name for box in kind_boxes(boxes)], typed, before, mark=uid)
            touched = kind or own.keys() - {"correction_reason"}
            if not touched and not (boxes.stored is not None and around):
                continue
            record: dict[str, Any]
            if boxes.stored is None:
                record = {name: shown(view.stored_value(name)) or None for name in OF_VIEW}
                record |= _changed(["current_a"], typed, before, mark=amps.get(boxes.point.phase, uid))
            else:
                record = _as_stored(boxes.stored, page)
            record |= around | own
            record["boxes"] = {**(record.get("boxes") or {}), **kind} or None
            if record.get("reason") and record.get("temperature_c") is None:
                record |= dict.fromkeys(OF_VIEW)
            records.append(record | {"row_uid": uid, "taken_at": _taken(boxes, typed)})
    return _with_note(records, typed.get(NOTE, "").strip())


def _around(
    view: ViewBoxes, typed: Mapping[str, str], before: Mapping[str, str]
) -> dict[str, str | float | None]:
    """What changed around the parts of a view: its own boxes, else those at the head of the sheet."""
    own = _changed(OF_VIEW, typed, before, mark=f"v{view.id}")
    of_stop = _changed(OF_STOP, typed, before, mark=STOP)
    return {name: value for name, value in of_stop.items() if _takes_stop(name, view, before)} | own


def _takes_stop(name: str, view: ViewBoxes, before: Mapping[str, str]) -> bool:
    """True where a view says nothing itself: its box is empty, or says what stood at the head."""
    return before[f"{name}-v{view.id}"] in ("", before[f"{name}-{STOP}"])


def _letters(
    view: ViewBoxes, typed: Mapping[str, str], before: Mapping[str, str]
) -> dict[str, dict[str, str | float | None]]:
    """By row id the reason that the letter of a row gives to its points without a figure.

    Where all have one the letter goes to each of them, so that it is told as the contradiction it is.
    """
    name = f"{LETTER}-v{view.id}"
    letter = typed.get(name, before[name]).strip().upper()
    if letter == before[name]:
        return {}
    uids = [boxes.point.row_uid for boxes in view.points]
    bare = [
        uid for uid in uids if not typed.get(f"temperature_c-{uid}", before[f"temperature_c-{uid}"]).strip()
    ]
    return {uid: {"reason": letter or None} for uid in bare or uids}


def _with_note(records: list[dict[str, Any]], note: str) -> list[dict[str, Any]]:
    """What was seen, heard or smelt at the stop goes with its first row that was typed.

    Raises
    ------
    Invalid
        There is no such row: the words would be lost.
    """
    if note and not records:
        message = "Nothing else was typed to keep this with."
        raise Invalid([Problem("Seen, heard or smelt", NOTE, "", message, "Type a reading or a letter.")])
    if note:
        kept = str(records[0].get("note") or "")
        records[0]["note"] = f"{kept}; {note}" if kept else note
    return records


def _changed(
    names: Iterable[str], typed: Mapping[str, str], before: Mapping[str, str], *, mark: str
) -> dict[str, str | float | None]:
    """Boxes that say something else than before; one that did not come with the form says nothing."""
    changed: dict[str, str | float | None] = {}
    for name in names:
        box = f"{name}-{mark}"
        text = typed.get(box, before[box]).strip()
        if text != before[box]:
            changed[name] = _typed(text, unit_of(name)) if text else None
    return changed


def _typed(text: str, unit: str) -> str | float:
    """A temperature typed in °F as a number in °C: it leaves open which decimal sign the other boxes use."""
    kept = unboxed(text, unit)
    if kept == text:
        return text
    return float(kept)


def _as_stored(reading: Reading, page: StopPage) -> dict[str, Any]:
    """A stored reading as a row, so that a change of one box leaves all others as they are."""
    record: dict[str, Any] = {name: getattr(reading, name) for name in _SAME_NAME}
    reason = reading.not_assessable
    return record | {
        "reason": None if reason is None else reason.value,
        "emissivity_standing": _word(reading.emissivity_standing),
        "reflected_standing": _word(reading.reflected_standing),
        "visit_kind": reading.visit_kind.value,
        "load_source": reading.load_source.value,
        "instrument_serial": page.serials.get(reading.instrument_id or 0),
    }


def _word(value: Any) -> str | None:
    return None if value is None else str(value)


def _taken(boxes: PointBoxes, typed: Mapping[str, str]) -> str | None:
    if boxes.stored is not None:
        return boxes.stored.taken_at.isoformat()
    return typed.get("taken_at", "").strip() or None


def problems_of(
    problems: Iterable[Problem], records: list[dict[str, Any]], page: StopPage, typed: Mapping[str, str]
) -> list[Problem]:
    """Problems of rows told by point, each linked to its box; of the whole stop, without a link."""
    before = filled_boxes(page)
    by_uid = {boxes.point.row_uid: (view, boxes) for view in page.views for boxes in view.points}
    told: dict[tuple[str, str, str], Problem] = {}
    for problem in problems:
        number = problem.where.partition("row ")[2].split(",")[0]
        if not number.isdigit() or not 0 < int(number) <= len(records):
            told["", "", problem.message] = Problem("", "", problem.found, problem.message, problem.remedy)
            continue
        view, boxes = by_uid[records[int(number) - 1]["row_uid"]]
        box = _box_of(problem.field, view, boxes)
        field = _typed_at(box, view, typed, before)
        of_view = problem.field in OF_VIEW or field != box
        where = f"{view.tag} {view.name}" if of_view else f"{boxes.point.tag} {boxes.point.name}"
        if field.endswith(f"-{STOP}"):
            where = "The first line"
        label = labels_of(boxes).get(problem.field)
        where += f": {label}" if label else ""
        # a box of the view is in the row of each of its points: one mistake is told once
        again = (where, field, problem.message)
        told.setdefault(again, Problem(where, field, problem.found, problem.message, problem.remedy))
    return list(told.values())


def _box_of(field: str, view: ViewBoxes, boxes: PointBoxes) -> str:
    if field in OF_VIEW:
        return f"{field}-v{view.id}"
    if field in OF_POINT or field in {box.name for box in kind_boxes(boxes)}:
        return f"{field}-{boxes.point.row_uid}"
    return "taken_at" if field == "taken_at" else ""


def _typed_at(box: str, view: ViewBoxes, typed: Mapping[str, str], before: Mapping[str, str]) -> str:
    """The box in which a person really typed it: at the head of the sheet, or the letter of its row."""
    name, _, mark = box.partition("-")

    def changed(other: str) -> bool:
        return typed.get(other, before[other]).strip() != before[other]

    if name in OF_STOP and mark == f"v{view.id}" and not changed(box) and changed(f"{name}-{STOP}"):
        return f"{name}-{STOP}"
    if name == "reason" and not changed(box) and changed(f"{LETTER}-v{view.id}"):
        return f"{LETTER}-v{view.id}"
    return box
