"""Sends that are held aside, and what a walk brought, in words."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from service.domain.device_clock import span_words
from service.domain.field_records import CameraClock, HeldSend, HeldState, SendKind
from service.domain.round_columns import BY_NAME
from service.pages import view
from service.usecases.field.walked import Walked

#: What only says which row it is, or stands elsewhere on the page.
_LEFT_OUT = frozenset({"uid", "row_uid", "device_time", "skew_s", "boxes"})
_WORDS = {
    "told_whom": "Told whom",
    "told_at": "When, by the device",
    "answer": "What they answered",
    "off_round_uid": "Of the part off the round sent as",
    "row_uid": "Row",
    "occasion": "Occasion",
    "reference_c": "What was true",
    "shown_c": "What it showed",
    "started_at": "Arrived, by the device",
    "ended_at": "Left, by the device",
    "cautions_at": "Cautions confirmed, by the device",
    "camera_time": "What the camera showed",
    "offset_s": "Camera ahead of the device [s]",
    "at": "When, by the device",
}


def held_title(held: HeldSend) -> str:
    """The news of a held send in one sentence."""
    what = "A reading" if held.kind is SendKind.READING else f"A {held.kind}"
    if held.state is HeldState.WAITING:
        return f"{what} by {held.person} waits for a place"
    return f"{what} by {held.person} was {held.state}"


def body_lines(held: HeldSend) -> list[tuple[str, str]]:
    """Everything that was typed, name and value, in the reader's unit."""
    body = held.in_celsius
    lines = [
        (_name(key), _value(key, value))
        for key, value in body.items()
        if key not in _LEFT_OUT and value not in (None, "")
    ]
    boxes = body.get("boxes")
    if isinstance(boxes, Mapping):
        lines += [(_name(key), _value(key, value)) for key, value in boxes.items() if value is not None]
    if held.device_time:
        lines.append(("By the device’s clock", device_words(held.device_time, held.skew_s)))
    return lines


def _name(key: str) -> str:
    column = BY_NAME.get(key)
    if key in _WORDS or column is None:
        return _WORDS.get(key, view.sentence_case(key.replace("_", " ")))
    # the unit stands with the value, in the reader's own
    return column.header.removesuffix(f" {column.unit}")


def _value(key: str, value: Any) -> str:
    if isinstance(value, bool):
        return view.yes_no(value)
    if isinstance(value, int | float) and key.endswith("_c"):
        return view.celsius(float(value))
    if isinstance(value, int | float) and key.endswith("_a"):
        return view.amps(float(value))
    return f"{value:g}" if isinstance(value, float) else str(value)


def device_words(device_time: str, skew_s: float | None) -> str:
    """As it showed, and by how much that was off."""
    if skew_s is None or abs(skew_s) < 60:
        return device_time
    return f"{device_time}, which was {span_words(abs(skew_s))} {'ahead' if skew_s > 0 else 'behind'}"


def walked_lead(page: Walked) -> str:
    """How much came in beside the readings."""
    parts = [
        view.counted(len(page.visits), "visit of a stop", "visits of stops"),
        view.counted(len(page.clocks), "camera clock"),
    ]
    if page.spoken:
        parts.append(view.counted(len(page.spoken), "spoken note"))
    if page.permits:
        parts.append(view.counted(len(page.permits), "permit typed", "permits typed"))
    waiting = sum(one.state is HeldState.WAITING for one in page.held)
    if waiting:
        parts.append(f"{view.counted(waiting, 'send')} held aside")
    return f"{', '.join(parts)}.".capitalize()


def clock_line(clock: CameraClock) -> str:
    """Camera 1 was 2 min ahead."""
    if abs(clock.offset_s) < 1:
        return f"{clock.instrument}: its clock was right to a second"
    way = "ahead" if clock.offset_s > 0 else "behind"
    span = f"{abs(clock.offset_s):.0f} s" if abs(clock.offset_s) < 60 else span_words(abs(clock.offset_s))
    return f"{clock.instrument}: its clock was {span} {way}"


def stay(started_at: datetime | None, ended_at: datetime | None) -> str:
    """How long between the two; a dash where one is not known."""
    if started_at is None or ended_at is None:
        return view.NONE
    return view.minutes((ended_at - started_at).total_seconds() / 60)
