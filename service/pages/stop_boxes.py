"""Boxes of a typed stop: which ones a view and its points ask for, and what stands in them."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from service.domain.boxes import Box, BoxValue, boxes_of
from service.domain.readings import Reading
from service.domain.words import PointKind, Reason, SettingSource
from service.pages import view
from service.usecases.rounds.return_pages import PointBoxes, StopPage, ViewBoxes


@dataclass(frozen=True, slots=True)
class AskedBox:
    """One box as the page shows it; with ``options`` it is chosen, else typed."""

    name: str
    label: str
    unit: str = ""
    help: str = ""
    number: bool = True
    options: tuple[tuple[str, str], ...] = ()
    blank: str = "not said"


YES_NO = (("yes", "yes"), ("no", "no"))
SOURCES = tuple((source.value, source.value) for source in SettingSource)
REASONS = [(reason.value, f"{reason.value}: {reason.word}") for reason in Reason]
#: what a view always asks for; it holds for all of its points
AROUND = ("ambient_c", "wind_m_s", "neutral_a")
OF_WINDOW = (
    AskedBox("window_c", "Window itself", "°C", "On the pane, beside the line of sight. Without it there is no verdict."),
    AskedBox("window_transmission", "Window lets through", "", "A share from 0.01 to 1, as marked on it or measured."),
    AskedBox("through_window", "Read through it", "", "", False, (("yes", "through the window"), ("no", "through an open cover")), "as the register says"),
)  # fmt: skip
OF_SETTINGS = (
    AskedBox("emissivity_set", "Emissivity set", "", "In the instrument, from 0.01 to 1."),
    AskedBox("reflected_set_c", "Reflected set", "°C", "In the instrument."),
    AskedBox("transmission_set", "Transmission set", "", "In the instrument; blank where it has none."),
    AskedBox(
        "reflected_c", "Reflected, here", "°C", "What the part mirrors: crumpled foil, read at emissivity 1."
    ),
    AskedBox("reflected_standing", "Reflected from", "", "", False, SOURCES, "not said: assumed"),
    AskedBox("distance_m", "Distance", "m", "From the instrument to the part."),
    AskedBox("humidity_percent", "Humidity", "%"),
    AskedBox(
        "path_transmission",
        "Air lets through",
        "",
        "A share, where it is known; blank: worked out from distance, air and humidity.",
    ),
    AskedBox("minutes_at_load", "At this load for", "minutes"),
)
OF_VIEW = (*AROUND, *(box.name for box in (*OF_WINDOW, *OF_SETTINGS)))
#: what stands once at the head of a sheet and holds for each of its rows that says nothing itself
OF_STOP = ("ambient_c", "reflected_c", "wind_m_s")
#: boxes of the stop and letters of its rows: on paper only, no readings have them under these names
STOP, LETTER, NOTE = "stop", "letter", "note-stop"
OF_POINT = (
    "temperature_c",
    "current_a",
    "reason",
    "picture",
    "note",
    "emissivity",
    "emissivity_standing",
    "correction_reason",
)
OF_EMISSIVITY = (
    AskedBox("emissivity", "Emissivity of the part", "", "Found on this visit; blank: as the register says."),
    AskedBox("emissivity_standing", "Emissivity from", "", "", False, SOURCES, "not said: assumed"),
)


#: what an eye adds to a reading that says enough without
_BESIDE = frozenset({"heat_pattern", "discoloured"})


def kind_boxes(boxes: PointBoxes) -> tuple[AskedBox, ...]:
    """The boxes that a point's kind asks for."""
    return tuple(_asked(box) for box in boxes_of(PointKind(boxes.point.kind), boxes.point.component))


def _asked(box: Box) -> AskedBox:
    number = box.value in (BoxValue.NUMBER, BoxValue.TEMPERATURE)
    options = YES_NO if box.value is BoxValue.YES_OR_NO else tuple((word, word) for word in box.words)
    return AskedBox(box.key, box.label, box.unit, "", number, options)


def stands_alone(boxes: PointBoxes) -> bool:
    """True when the boxes of the kind decide what its reading says, and stand beside it."""
    return any(box.name not in _BESIDE for box in kind_boxes(boxes))


def shown(value: object) -> str:
    """A stored value as its box shows it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def unit_of(name: str) -> str:
    """The unit of a box in which a temperature stands; nothing for all others."""
    return view.CELSIUS if name.endswith("_c") else ""


def boxed(name: str, value: object) -> str:
    """A stored value as its box shows it, a temperature in the unit of its reader."""
    return view.boxed(shown(value), unit_of(name))


def amps_points(of_view: ViewBoxes) -> tuple[PointBoxes, ...]:
    """Points whose amps have a box on the row: the first of each phase, as on the sheet."""
    if not of_view.asks_amps:
        return ()
    first: dict[str, PointBoxes] = {}
    for boxes in of_view.points:
        first.setdefault(boxes.point.phase, boxes)
    return tuple(first.values())


def letter_of(of_view: ViewBoxes) -> str:
    """The letter of a row: that of its points without a figure, where they have one and the same."""
    stored = [boxes.stored for boxes in of_view.points if boxes.stored is not None]
    letters = {one.not_assessable.value for one in stored if one.not_assessable is not None}
    return letters.pop() if len(letters) == 1 else ""


def of_whole_stop(filled: Mapping[str, str], page: StopPage) -> dict[str, str]:
    """What stands at the head of the sheet: a value that all rows that were read have alike."""
    read = [
        of_view
        for of_view in page.views
        if any(
            boxes.stored is not None and boxes.stored.temperature_c is not None for boxes in of_view.points
        )
    ]
    found = {}
    for name in OF_STOP:
        values = {filled[f"{name}-v{of_view.id}"] for of_view in read}
        found[f"{name}-{STOP}"] = values.pop() if len(values) == 1 else ""
    return found


def filled_boxes(page: StopPage) -> dict[str, str]:
    """What stands in the boxes of a stop before anybody types: the values stored so far."""
    filled: dict[str, str] = {NOTE: ""}
    for of_view in page.views:
        filled |= {f"{name}-v{of_view.id}": boxed(name, of_view.stored_value(name)) for name in OF_VIEW}
        filled[f"{LETTER}-v{of_view.id}"] = letter_of(of_view)
        for boxes in of_view.points:
            uid = boxes.point.row_uid
            filled |= {f"{name}-{uid}": boxed(name, _stored(boxes.stored, name)) for name in OF_POINT}
            answers: Mapping[str, object] = (boxes.stored and boxes.stored.boxes) or {}
            filled |= {
                f"{box.name}-{uid}": boxed(box.name, answers.get(box.name)) for box in kind_boxes(boxes)
            }
    return filled | of_whole_stop(filled, page)


def first_to_type(page: StopPage, typed: Mapping[str, str], told: Collection[str]) -> str:
    """The box in which typing begins: one of which something is told, else the first empty one."""
    order = ["taken_at", *(f"{name}-{STOP}" for name in OF_STOP)]
    for of_view in page.views:
        order += [f"temperature_c-{boxes.point.row_uid}" for boxes in of_view.points]
        order += [f"current_a-{boxes.point.row_uid}" for boxes in amps_points(of_view)]
        order.append(f"{LETTER}-v{of_view.id}")
    told_here = (name for name in order if name in told)
    empty = (name for name in order if not typed.get(name))
    return next(told_here, None) or next(empty, order[0])


def _stored(reading: Reading | None, name: str) -> object:
    if reading is None or name == "correction_reason":
        return None
    return reading.not_assessable if name == "reason" else getattr(reading, name)


def labels_of(boxes: PointBoxes) -> dict[str, str]:
    """Labels of the boxes that only some views and points have, by name."""
    asked = (*OF_WINDOW, *OF_SETTINGS, *OF_EMISSIVITY, *kind_boxes(boxes))
    return {box.name: box.label for box in asked}


def window_asked(page: StopPage, of_view: ViewBoxes) -> bool:
    """Window boxes stand where the equipment has one, or where a stored reading went through one."""
    return page.window or any(of_view.stored_value(box.name) is not None for box in OF_WINDOW)


def is_open(names: Iterable[str], typed: Mapping[str, str], told: Mapping[str, object]) -> bool:
    """True when something stands in one of the boxes, or is said of it: then they are not folded away."""
    return any(typed.get(name) or name in told for name in names)


def tells_more(of_view: ViewBoxes, told: Collection[str]) -> bool:
    """True when something is told of a box that stands only under *More of each row*."""
    marks = [f"v{of_view.id}", *(boxes.point.row_uid for boxes in of_view.points)]
    names = {f"{name}-{mark}" for name in (*OF_VIEW, *OF_POINT) for mark in marks}
    names |= {f"{box.name}-{boxes.point.row_uid}" for boxes in of_view.points for box in kind_boxes(boxes)}
    on_row = {f"neutral_a-v{of_view.id}"}
    on_row |= {f"{name}-{mark}" for name in ("temperature_c", "current_a") for mark in marks}
    return bool((names - on_row) & set(told))
