"""A typed stop: boxes to rows, and problems of rows back to their boxes."""

from collections.abc import Iterable, Mapping
from typing import Any

from service.domain.readings import FOUND, MEASURED, Reading
from service.errors import Problem
from service.pages.stop_boxes import OF_POINT, OF_VIEW, filled_boxes, kind_boxes, labels_of, shown, unit_of
from service.pages.view import unboxed
from service.usecases.rounds.return_pages import PointBoxes, StopPage, ViewBoxes

#: what a stored reading holds under the same name as a row
_SAME_NAME = ("temperature_c", *MEASURED, *FOUND, "picture", "note")


def records_of(page: StopPage, typed: Mapping[str, str]) -> list[dict[str, Any]]:
    """The rows a person typed or changed; an untouched one stays as it is stored."""
    before = filled_boxes(page)
    records = []
    for view in page.views:
        around = _changed(OF_VIEW, typed, before, mark=f"v{view.id}")
        for boxes in view.points:
            uid = boxes.point.row_uid
            own = _changed(OF_POINT, typed, before, mark=uid)
            kind = _changed([box.name for box in kind_boxes(boxes)], typed, before, mark=uid)
            touched = kind or own.keys() - {"correction_reason"}
            if not touched and not (boxes.stored is not None and around):
                continue
            record: dict[str, Any]
            if boxes.stored is None:
                record = {name: shown(view.stored_value(name)) or None for name in OF_VIEW}
            else:
                record = _as_stored(boxes.stored, page)
            record |= around | own
            record["boxes"] = {**(record.get("boxes") or {}), **kind} or None
            if record.get("reason") and record.get("temperature_c") is None:
                record |= dict.fromkeys(OF_VIEW)
            records.append(record | {"row_uid": uid, "taken_at": _taken(boxes, typed)})
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


def problems_of(problems: Iterable[Problem], records: list[dict[str, Any]], page: StopPage) -> list[Problem]:
    """Problems of rows told by point, each linked to its box; of the whole stop, without a link."""
    by_uid = {boxes.point.row_uid: (view, boxes) for view in page.views for boxes in view.points}
    told: dict[tuple[str, str, str], Problem] = {}
    for problem in problems:
        number = problem.where.partition("row ")[2].split(",")[0]
        if not number.isdigit() or not 0 < int(number) <= len(records):
            told["", "", problem.message] = Problem("", "", problem.found, problem.message, problem.remedy)
            continue
        view, boxes = by_uid[records[int(number) - 1]["row_uid"]]
        of_view = problem.field in OF_VIEW
        where = f"{view.tag} {view.name}" if of_view else f"{boxes.point.tag} {boxes.point.name}"
        label = labels_of(boxes).get(problem.field)
        where += f": {label}" if label else ""
        field = _box_of(problem.field, view, boxes)
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
