"""Boxes that only some kinds of point ask for: what each wants to know, and reading the answers."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from service.domain.cells import Cell, Sign, read_number, shown
from service.domain.fahrenheit import kept_celsius
from service.domain.words import PointKind
from service.errors import Problem

Answer = str | float | bool
_LONGEST_TEXT = 120
_YES = frozenset({"yes", "y", "true", "1", "on"})
_NO = frozenset({"no", "n", "false", "0", "off"})


class BoxValue(StrEnum):
    """What may be written into a box."""

    TEMPERATURE = "temperature"
    NUMBER = "number"
    YES_OR_NO = "yes or no"
    WORD = "word"
    TEXT = "text"


@dataclass(frozen=True, slots=True)
class Box:
    """One question that a kind of point asks beside the common ones.

    Attributes
    ----------
    key : str
        Name in files, in JSON and in what is kept; carries its unit.
    label, unit : str
        As printed beside the box.
    value : BoxValue
        What may be written. Temperatures are kept in °C.
    why : str
        What the answer is for, one sentence.
    low, high : float
        Least and greatest number that can be true, in ``unit``.
    words : tuple of str
        The words to choose from.
    component : str
        Asked only of components with this word in them; empty asks for the whole kind.
    """

    key: str
    label: str
    unit: str
    value: BoxValue
    why: str
    low: float = 0.0
    high: float = 0.0
    words: tuple[str, ...] = ()
    component: str = ""


def _number(key: str, label: str, unit: str, why: str, low: float, high: float, component: str = "") -> Box:
    return Box(key, label, unit, BoxValue.NUMBER, why, low=low, high=high, component=component)


def _temperature(key: str, label: str, why: str, low: float, high: float, component: str = "") -> Box:
    return Box(key, label, "°C", BoxValue.TEMPERATURE, why, low=low, high=high, component=component)


def _asked(key: str, label: str, why: str, component: str = "") -> Box:
    return Box(key, label, "", BoxValue.YES_OR_NO, why, component=component)


def _word(key: str, label: str, why: str, *words: str, component: str = "") -> Box:
    return Box(key, label, "", BoxValue.WORD, why, words=words, component=component)


def _text(key: str, label: str, why: str, component: str = "") -> Box:
    return Box(key, label, "", BoxValue.TEXT, why, component=component)


_SECOND_METHOD = (
    _word(
        "second_method", "Second method", "Heat comes late in a bearing: another method may see it first.",
        "vibration", "ultrasound", "oil or grease sample", "current signature", "listening",
    ),
    _asked("second_method_agrees", "Second method agrees", "Act now needs the total temperature or a second finding."),
)  # fmt: skip
_GREASED = _number(
    "greased_hours_before", "Last greased, hours before", "h",
    "Fresh grease runs warm for a day or two: such a reading is held back.", 0, 100_000,
)  # fmt: skip
_DISCOLOURED = _asked(
    "discoloured", "Discoloured or damaged", "Discolouring says that it was hotter before than it is today."
)

#: The picture of heat tells a poor contact from a load: common practice, no source.
_PATTERN = _word(
    "heat_pattern", "Heat pattern", "A poor contact fades away on both sides; a load warms the conductor evenly.",
    "at the joint", "along the conductor", "whole body", "both ends", "cold",
)  # fmt: skip

#: In the order in which a row asks for them.
_BOXES: dict[PointKind, tuple[Box, ...]] = {
    PointKind.JOINT: (_PATTERN, _DISCOLOURED),
    PointKind.FUSE: (
        _word("warm_end", "Which end is warm", "One warm end is its clip; a warm body is its load.", "line end", "load end", "both ends", "body"),
        _number("fuse_rating_a", "Rating on the fuse", "A", "Another rating runs at another temperature with nothing wrong.", 0.1, 10_000),
        _DISCOLOURED,
    ),
    PointKind.BEARING: (
        _GREASED,
        *_SECOND_METHOD,
        _number("speed_rpm", "Speed", "1/min", "A bearing warms with its speed: visits compare at like speeds.", 0, 100_000),
    ),
    PointKind.COUPLING: (
        _GREASED,
        *_SECOND_METHOD,
        _asked("slip_seen", "Slip seen or heard", "A slipping belt heats its pulley first.", component="belt"),
    ),
    PointKind.MOTOR: (
        _number("load_share_percent", "Load, of the plate's current", "%", "A casing warms with its load, and not as I²R.", 0, 200),
        _number("voltage_unbalance_percent", "Voltage unbalance", "%", "Unbalanced voltage heats all windings of a sound motor.", 0, 20),
        _asked("cooling_clear", "Fan cover and fins clear", "Blocked cooling heats a sound motor."),
        _word("insulation_class", "Insulation class on the plate", "For information: a class is the winding's, never the casing's.", "Y", "A", "E", "B", "F", "H"),
    ),
    PointKind.TRANSFORMER: (
        _text("load_tap", "Tap position", "Losses and currents change with the tap."),
        _temperature("top_oil_gauge_c", "Top oil, by the gauge", "Gauge and picture should agree; where not, one is wrong.", -40, 200),
        _temperature("winding_gauge_c", "Winding, by the gauge", "What no picture of a tank can show.", -40, 250),
        _word("cooling_stage", "Cooling running", "A tank is judged by the cooling that runs.", "natural", "fans", "pumps", "fans and pumps"),
        _word("oil_level", "Oil level", "Low oil leaves radiators and bushings cold above it.", "low", "normal", "high", "not seen"),
        _temperature("main_tank_c", "Main tank beside it", "A tap changer that is warmer than its main tank is not sound.", -40, 200, component="tap changer"),
    ),
    PointKind.CABLE_END: (
        _word("warm_place", "Where it is warm", "A warm lug is current; a warm body is voltage and does not wait for load.", "lug", "body", "screen bond"),
        _number("screen_current_a", "Current in the screen", "A", "A screen earthed at both ends carries current and warms.", 0, 10_000),
        _DISCOLOURED,
    ),
    PointKind.STEAM_TRAP: (
        _temperature("inlet_c", "Inlet pipe", "Inlet at steam temperature: steam reaches the trap.", -40, 400),
        _temperature("outlet_c", "Outlet pipe", "What leaves it: condensate, or live steam.", -40, 400),
        _number("line_pressure_bar", "Line pressure, by the gauge", "bar", "Tells the steam's own temperature at the trap.", 0, 200),
        _number("return_pressure_bar", "Return pressure, by the gauge", "bar", "Condensate under pressure leaves hot from a sound trap.", 0, 100),
        _word("discharge_heard", "Heard at the trap", "Temperatures alone do not tell a blowing trap from a sound one.", "in turns", "all the time", "blowing through", "nothing", "not listened"),
    ),
    PointKind.REFRACTORY: (
        _temperature("inside_c", "Inside, process side", "A wall is as hot as what stands behind it.", -100, 2000),
        _number("hot_area_m2", "Area of the hot place", "m²", "A small hot place is a crack, a large one is wear.", 0, 10_000),
    ),
    PointKind.PHOTOVOLTAIC: (
        _number("irradiance_w_m2", "Irradiance on the modules", "W/m²", "Under 600 W/m² faults do not show (from memory, IEC TS 62446-3).", 0, 1600),
        _asked("irradiance_steady", "Steady for ten minutes", "Under passing clouds no module has its own temperature."),
        _word("seen_from", "Seen from", "Glass mirrors the sky; a back sheet does not.", "front", "back"),
    ),
    PointKind.OTHER: (_PATTERN, *_SECOND_METHOD, _DISCOLOURED),
}  # fmt: skip


def boxes_of(kind: PointKind, component: str | None = None) -> tuple[Box, ...]:
    """The boxes of a kind, in the order in which a row asks for them.

    Parameters
    ----------
    kind : PointKind
        The kind of the point.
    component : str, optional
        The point's component: leaves out boxes that are asked of others only. Without it every
        box of the kind is told.

    Examples
    --------
    >>> [box.key for box in boxes_of(PointKind.REFRACTORY)]
    ['inside_c', 'hot_area_m2']
    >>> "slip_seen" in [box.key for box in boxes_of(PointKind.COUPLING, "jaw coupling")]
    False
    """
    boxes = _BOXES[kind]
    if component is None:
        return boxes
    return tuple(box for box in boxes if box.component in component.casefold())


def box_keys() -> tuple[str, ...]:
    """Every key there is, once: the columns of a file in which kinds stand mixed."""
    return tuple(dict.fromkeys(box.key for boxes in _BOXES.values() for box in boxes))


def read_boxes(
    kind: PointKind,
    cells: Mapping[str, Cell],
    *,
    where: str = "boxes",
    decimal: Sign = ".",
    fahrenheit: bool = False,
) -> tuple[dict[str, Answer], list[Problem]]:
    """Answers as they are kept, and every problem; empty cells are no answers.

    Parameters
    ----------
    kind : PointKind
        Whose boxes these are; a box of another kind is a problem.
    cells : mapping of str to Cell
        By key what was typed, or the JSON value; what this returned is read alike again.
    where : str
        Place of the row in its input, for the problems.
    decimal : {".", ","}
        Decimal sign of numbers in texts.
    fahrenheit : bool
        Temperatures were typed in °F; they are kept in °C.

    Examples
    --------
    >>> read_boxes(PointKind.STEAM_TRAP, {"inlet_c": "158,2", "outlet_c": None}, decimal=",")
    ({'inlet_c': 158.2}, [])
    """
    known = {box.key: box for box in _BOXES[kind]}
    values: dict[str, Answer] = {}
    problems: list[Problem] = []
    for key, cell in cells.items():
        if cell is None or (isinstance(cell, str) and not cell.strip()):
            continue
        box = known.get(key)
        if box is None:
            remedy = f"Leave it empty; asked here: {', '.join(known)}."
            problems.append(
                Problem(where, key, shown(cell), f"Points of the kind “{kind}” have no such box.", remedy)
            )
            continue
        answer, problem = _read(box, cell, where=where, decimal=decimal, fahrenheit=fahrenheit)
        if problem is not None:
            problems.append(problem)
        elif answer is not None:
            values[key] = answer
    if values.get("second_method_agrees") and "second_method" not in values and not problems:
        remedy = f"Choose one of: {', '.join(known['second_method'].words)}."
        problems.append(Problem(where, "second_method", "", "Which method agrees is not said.", remedy))
    return values, problems


def _read(
    box: Box, cell: Cell, *, where: str, decimal: Sign, fahrenheit: bool
) -> tuple[Answer | None, Problem | None]:
    if box.value is BoxValue.YES_OR_NO:
        return _yes_or_no(box, cell, where=where)
    if box.value is BoxValue.WORD:
        for word in box.words:
            if isinstance(cell, str) and cell.strip().casefold() == word.casefold():
                return word, None
        remedy = f"Choose one of: {', '.join(box.words)}."
        return None, Problem(where, box.key, shown(cell), "Not one of the words.", remedy)
    if box.value is BoxValue.TEXT:
        return _text_of(box, cell, where=where)
    value, problem = read_number(cell, decimal=decimal, where=where, field=box.key)
    if value is None:
        return None, problem
    if fahrenheit and box.value is BoxValue.TEMPERATURE:
        value = kept_celsius(value)
    if not box.low <= value <= box.high:
        message = f"Outside {box.low:g} to {box.high:g} {box.unit}, what can be true here."
        return None, Problem(where, box.key, shown(cell), message, "Correct the number, or its unit.")
    return value, None


def _yes_or_no(box: Box, cell: Cell, *, where: str) -> tuple[bool | None, Problem | None]:
    if isinstance(cell, bool):
        return cell, None
    told = str(cell).strip().casefold()
    if told in _YES or told in _NO:
        return told in _YES, None
    return None, Problem(where, box.key, shown(cell), "Neither yes nor no.", "Type yes or no.")


def _text_of(box: Box, cell: Cell, *, where: str) -> tuple[str | None, Problem | None]:
    if isinstance(cell, bool) or not isinstance(cell, str | int | float):
        return None, Problem(where, box.key, shown(cell), "This is not a text.", "Type a text.")
    told = cell.strip() if isinstance(cell, str) else f"{cell:g}"
    if len(told) > _LONGEST_TEXT or not told.isprintable():
        remedy = f"Type at most {_LONGEST_TEXT} plain characters."
        return None, Problem(where, box.key, shown(told), "This text cannot be kept.", remedy)
    return told, None
