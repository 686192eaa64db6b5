"""A typed stop: boxes to rows, and problems of rows back to their boxes."""

from collections.abc import Iterable, Mapping
from typing import Any

from service.domain.words import Reason
from service.errors import Problem
from service.usecases.rounds.return_pages import PointBoxes, StopPage

#: boxes of one point, by the name of the column they fill
POINT_BOXES = ("temperature_c", "current_a", "reason", "picture", "note", "correction_reason")
#: boxes of a view, that hold for all of its points
VIEW_BOXES = ("ambient_c", "wind_m_s", "neutral_a")
REASONS = [(reason.value, f"{reason.value}: {reason.word}") for reason in Reason]


def shown(value: object) -> str:
    """A stored value as its box shows it."""
    if value is None:
        return ""
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def boxes_of(page: StopPage) -> dict[str, str]:
    """What stands in the boxes of a stop before anybody types: the values stored so far."""
    filled: dict[str, str] = {}
    for view in page.views:
        for name in VIEW_BOXES:
            stored = (getattr(b.stored, name) for b in view.points if b.stored is not None)
            filled[f"{name}-v{view.id}"] = shown(next((v for v in stored if v is not None), None))
        for boxes in view.points:
            for name in POINT_BOXES:
                filled[f"{name}-{boxes.point.row_uid}"] = _stored(boxes, name)
    return filled


def _stored(boxes: PointBoxes, name: str) -> str:
    reading = boxes.stored
    if reading is None or name == "correction_reason":
        return ""
    return shown(reading.not_assessable if name == "reason" else getattr(reading, name))


def records_of(page: StopPage, typed: Mapping[str, str]) -> list[dict[str, Any]]:
    """The rows a person typed or changed; an untouched one stays as it is stored."""
    before = boxes_of(page)
    records = []
    for view in page.views:
        around = {name: typed.get(f"{name}-v{view.id}", "").strip() for name in VIEW_BOXES}
        around_changed = any(around[name] != before[f"{name}-v{view.id}"] for name in VIEW_BOXES)
        for boxes in view.points:
            uid = boxes.point.row_uid
            own = {name: typed.get(f"{name}-{uid}", "").strip() for name in POINT_BOXES}
            values = [name for name in POINT_BOXES if name != "correction_reason"]
            touched = any(own[name] != before[f"{name}-{uid}"] for name in values)
            if not touched and not (boxes.stored is not None and around_changed):
                continue
            record: dict[str, Any] = {name: text or None for name, text in (around | own).items()}
            if own["reason"] and not own["temperature_c"]:
                record |= dict.fromkeys(VIEW_BOXES)
            record |= {"row_uid": uid, "taken_at": _taken(boxes, typed)}
            records.append(record)
    return records


def _taken(boxes: PointBoxes, typed: Mapping[str, str]) -> str | None:
    if boxes.stored is not None:
        return boxes.stored.taken_at.isoformat()
    return typed.get("taken_at", "").strip() or None


def problems_of(problems: Iterable[Problem], records: list[dict[str, Any]], page: StopPage) -> list[Problem]:
    """Problems of rows told by point, each linked to its box."""
    by_uid = {boxes.point.row_uid: (view.id, boxes.point) for view in page.views for boxes in view.points}
    told = []
    for problem in problems:
        number = problem.where.partition("row ")[2].split(",")[0]
        if not number.isdigit() or not 0 < int(number) <= len(records):
            told.append(problem)
            continue
        uid = records[int(number) - 1]["row_uid"]
        view_id, point = by_uid[uid]
        field = problem.field
        if field in VIEW_BOXES:
            field = f"{field}-v{view_id}"
        elif field in POINT_BOXES:
            field = f"{field}-{uid}"
        where = f"{point.tag} {point.name}"
        told.append(Problem(where, field, problem.found, problem.message, problem.remedy))
    return told
