"""A set of criteria as boxes of a form, one part of it at a time, and back again."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

from service.domain.bands import Measure, Unit
from service.domain.criteria_differences import COLUMN_NAMES
from service.domain.criteria_numbers import NUMBER_GROUPS, NUMBERS
from service.domain.words import ReferenceKind
from service.errors import Problem

#: How many empty lines a list of edges or of entries ends with.
SPARE_EDGES, SPARE_ENTRIES = 2, 1
_MOST_LINES = 400


class Part(StrEnum):
    """The parts in which a set is edited, in the order in which it is read."""

    ABOUT = "about"
    COLUMNS = "columns"
    NUMBERS = "numbers"
    LIMITS = "limits"
    KINDS = "kinds"


PART_NAMES = {
    Part.ABOUT: "About the set",
    Part.COLUMNS: "Columns",
    Part.NUMBERS: "Numbers",
    Part.LIMITS: "Absolute limits",
    Part.KINDS: "Kinds without a published band",
}
_BOXES_OF_LIMIT = {
    "part": "part",
    "words": "known by",
    "coating": "coating",
    "medium": "in",
    "voltage": "voltage",
    "total_c": "total",
    "rise_k": "rise",
    "edition": "edition",
    "confidence": "how sure",
}
_TEXTS_OF_LIMIT = ("part", "coating", "medium", "voltage", "edition", "confidence")


@dataclass(slots=True)
class Typed:
    """A form read back: the body with this part as typed, and where each field of it stands.

    ``boxes`` maps place and field, as problems name them, to the box and to words for the place.
    """

    body: dict[str, Any]
    boxes: dict[tuple[str, str], tuple[str, str]] = field(default_factory=dict)

    def place(self, where: str, name: str, box: str, words: str) -> None:
        self.boxes[where, name] = (box, words)

    def told(self, problems: Sequence[Problem]) -> tuple[Problem, ...]:
        """Problems of the body as problems of the form: each names its box, and its place in words."""
        return tuple(map(self._told, problems))

    def _told(self, problem: Problem) -> Problem:
        box, words = self.boxes.get((problem.where, problem.field), ("", ""))
        if not box:
            box, words = self.boxes.get((problem.where, ""), ("", problem.where))
        number = NUMBERS.get(problem.field)
        if number is not None and number.unit == "%":
            remedy = f"Give a number from {100 * number.low:g} to {100 * number.high:g} %."
            problem = replace(problem, remedy=remedy, found=_percent_found(problem.found))
        return replace(problem, where=words, field=box)


def _percent_found(found: str) -> str:
    try:
        return f"{100 * float(found):g}"
    except ValueError:
        return found


# ---- out: fields → boxes -------------------------------------------------------------------------


def boxes_of_part(body: Mapping[str, Any], part: Part) -> dict[str, str]:
    """Every box of a part by its name, filled in."""
    boxes: dict[str, str] = {}
    if part is Part.ABOUT:
        boxes |= {name: str(body[name]) for name in ("title", "citation", "confidence")}
    elif part is Part.COLUMNS:
        boxes["relative_on"] = "yes" if body["relative_on"] else ""
        for name in COLUMN_NAMES:
            boxes |= _rule_boxes(name, body[name])
        for n, line in enumerate(body["air_by_kind"]):
            boxes[f"air_by_kind.{n}.kind"] = line["kind"]
            boxes |= _rule_boxes(f"air_by_kind.{n}", line["rule"])
    elif part is Part.NUMBERS:
        boxes |= {name: _number_box(name, body[name]) for name in NUMBERS}
        boxes["unscaled_classes"] = "\n".join(body["unscaled_classes"])
    elif part is Part.LIMITS:
        for n, limit in enumerate(body["limits"]):
            boxes |= _limit_boxes(f"limits.{n}", limit)
    else:
        for n, template in enumerate(body["templates"]):
            boxes |= _template_boxes(f"templates.{n}", template)
    return boxes


def _rule_boxes(prefix: str, rule: Mapping[str, Any]) -> dict[str, str]:
    boxes = {f"{prefix}.source": rule["source"], f"{prefix}.confidence": rule["confidence"]}
    lines = zip(rule["levels"], rule["bands"], strict=True)
    for n, (level, band) in enumerate(lines):
        boxes |= {f"{prefix}.bands.{n}.level": str(level), f"{prefix}.bands.{n}.words": band}
    for n, edge in enumerate(rule["edges"], start=1):
        boxes[f"{prefix}.bands.{n}.value"] = figure(edge["value"])
        boxes[f"{prefix}.bands.{n}.closes_up"] = "yes" if edge.get("closes_up") else ""
    return boxes


def _limit_boxes(prefix: str, limit: Mapping[str, Any]) -> dict[str, str]:
    boxes = {f"{prefix}.{name}": str(limit[name]) for name in _TEXTS_OF_LIMIT}
    boxes[f"{prefix}.words"] = ", ".join(limit["words"])
    for name in ("total_c", "rise_k"):
        boxes[f"{prefix}.{name}"] = "" if limit[name] is None else figure(limit[name])
    return boxes


def _template_boxes(prefix: str, template: Mapping[str, Any]) -> dict[str, str]:
    wind = template["wind_max_m_s"]
    boxes = {f"{prefix}.{name}": template[name] for name in ("kind", "component", "measure")}
    boxes[f"{prefix}.reference"] = template["rule"]["reference"]
    boxes[f"{prefix}.wind_max_m_s"] = "" if wind is None else figure(wind)
    return boxes | _rule_boxes(prefix, template["rule"])


def _number_box(name: str, value: float) -> str:
    return figure(round(100 * value, 9) if NUMBERS[name].unit == "%" else value)


def figure(value: float) -> str:
    """A number as a person types it: 15, 3.5."""
    return f"{value:.10g}"


def filled_lines(boxes: Mapping[str, str], prefix: str, name: str) -> int:
    """How many lines of a list reach down to its last one with this box filled in."""
    filled = {key: value for key, value in boxes.items() if key.endswith(f".{name}") and value.strip()}
    return lines_of(filled, prefix)


def lines_of(boxes: Mapping[str, str], prefix: str) -> int:
    """How many lines of a list a form was sent."""
    places = [
        int(place)
        for name in boxes
        if name.startswith(f"{prefix}.") and (place := name[len(prefix) + 1 :].partition(".")[0]).isdigit()
        if len(place) < 5
    ]
    return min(max(places, default=-1) + 1, _MOST_LINES)


# ---- in: boxes → fields --------------------------------------------------------------------------


def read_part(body: Mapping[str, Any], part: Part, boxes: Mapping[str, str]) -> Typed:
    """The body with one part as typed in the boxes; what is no number stays as it was typed."""
    typed = Typed(dict(body))
    if part is Part.ABOUT:
        for name in ("title", "citation", "confidence"):
            typed.body[name] = boxes.get(name, "").strip()
            typed.place("criteria", name, name, name.capitalize())
    elif part is Part.COLUMNS:
        _read_columns(typed, boxes)
    elif part is Part.NUMBERS:
        _read_numbers(typed, boxes)
    elif part is Part.LIMITS:
        _read_limits(typed, boxes)
    else:
        _read_templates(typed, boxes)
    return typed


def _read_columns(typed: Typed, boxes: Mapping[str, str]) -> None:
    typed.body["relative_on"] = bool(boxes.get("relative_on"))
    for name, words in COLUMN_NAMES.items():
        old = typed.body[name]
        rule = {"reference": old["reference"], "unit": old["unit"]}
        typed.body[name] = rule | _read_rule(typed, boxes, name, where=name, words=words)
        if name == "baseline":
            typed.place("criteria", "two_u_k", f"{name}.bands.1.value", words)
    lines: list[dict[str, Any]] = []
    for n in range(lines_of(boxes, "air_by_kind")):
        prefix = f"air_by_kind.{n}"
        kind = boxes.get(f"{prefix}.kind", "")
        if not kind:
            continue
        where, words = f"criteria, air_by_kind {len(lines) + 1}", f"Over air, {kind}"
        rule = {"reference": ReferenceKind.AIR.value, "unit": Unit.KELVIN.value}
        rule |= _read_rule(typed, boxes, prefix, where=f"{where}, rule", words=words)
        typed.place(where, "kind", f"{prefix}.kind", words)
        typed.place(where, "", f"{prefix}.kind", words)
        lines.append({"kind": kind, "rule": rule})
    typed.body["air_by_kind"] = lines


def _read_numbers(typed: Typed, boxes: Mapping[str, str]) -> None:
    for group in NUMBER_GROUPS:
        for number in group.numbers:
            value = _number(boxes.get(number.name, ""))
            if number.unit == "%" and isinstance(value, float):
                value = round(value / 100, 12)
            typed.body[number.name] = value
            typed.place("criteria", number.name, number.name, number.label)
    words = [line.strip() for line in boxes.get("unscaled_classes", "").splitlines()]
    typed.body["unscaled_classes"] = [word for word in words if word]
    typed.place("criteria", "unscaled_classes", "unscaled_classes", "Classes never scaled")


def _read_limits(typed: Typed, boxes: Mapping[str, str]) -> None:
    limits: list[dict[str, Any]] = []
    for n in range(lines_of(boxes, "limits")):
        prefix = f"limits.{n}"
        one: dict[str, Any] = {name: boxes.get(f"{prefix}.{name}", "").strip() for name in _TEXTS_OF_LIMIT}
        if not one["part"]:
            continue
        one["words"] = [word.strip() for word in boxes.get(f"{prefix}.words", "").split(",") if word.strip()]
        one |= {name: _number(boxes.get(f"{prefix}.{name}", "")) for name in ("total_c", "rise_k")}
        where = f"criteria, limits {len(limits) + 1}"
        words = f"Limit {n + 1}, {one['part']}"
        for name, box in _BOXES_OF_LIMIT.items():
            typed.place(where, name, f"{prefix}.{name}", f"{words}, {box}")
        typed.place(where, "", f"{prefix}.part", words)
        limits.append(one)
    typed.body["limits"] = limits


def _read_templates(typed: Typed, boxes: Mapping[str, str]) -> None:
    old = typed.body["templates"]
    templates: list[dict[str, Any]] = []
    for n in range(lines_of(boxes, "templates")):
        prefix = f"templates.{n}"
        kind = boxes.get(f"{prefix}.kind", "")
        if not kind:
            continue
        where, words = f"criteria, templates {len(templates) + 1}", f"Kind {n + 1}, {kind}"
        measure = boxes.get(f"{prefix}.measure", "")
        reference = (
            boxes.get(f"{prefix}.reference", "") if measure == Measure.RISE else ReferenceKind.AIR.value
        )
        rule = {"reference": reference, "unit": unit_of(measure, reference)}
        rule |= _read_rule(typed, boxes, prefix, where=f"{where}, rule", words=words)
        one: dict[str, Any] = {"kind": kind, "measure": measure, "rule": rule}
        one["component"] = boxes.get(f"{prefix}.component", "").strip()
        one["wind_max_m_s"] = _number(boxes.get(f"{prefix}.wind_max_m_s", ""))
        one["boxes"] = old[n]["boxes"] if n < len(old) else []
        for name, box in (("kind", "kind"), ("measure", "what is judged"), ("wind_max_m_s", "wind")):
            typed.place(where, name, f"{prefix}.{name}", f"{words}, {box}")
        typed.place(where, "", f"{prefix}.kind", words)
        typed.place(f"{where}, rule", "reference", f"{prefix}.reference", words)
        templates.append(one)
    typed.body["templates"] = templates


def unit_of(measure: str, reference: str) -> str:
    """The unit that follows from what is judged; of a word nobody knows, kelvin."""
    known = next((one for one in Measure if one == measure), Measure.RISE)
    share = Unit.PERCENT if reference == ReferenceKind.RATED_SHARE else Unit.KELVIN
    return (known.unit or share).value


def _read_rule(
    typed: Typed, boxes: Mapping[str, str], prefix: str, *, where: str, words: str
) -> dict[str, Any]:
    """Edges with their closures, levels and words, in rising order; a line without an edge is left out."""
    lines: list[tuple[Any, int]] = []
    for n in range(1, lines_of(boxes, f"{prefix}.bands")):
        value = _number(boxes.get(f"{prefix}.bands.{n}.value", ""))
        if value is not None:
            lines.append((value, n))
    if all(isinstance(value, float) for value, _ in lines):
        lines.sort(key=lambda line: line[0])
    first = f"{prefix}.bands.1.value"
    for name in ("edges", "levels", "bands", "", "unit"):
        typed.place(where, name, first, words)
    typed.place(where, "source", f"{prefix}.source", f"{words}, source")
    typed.place(where, "confidence", f"{prefix}.confidence", f"{words}, how sure")
    for place, (_, n) in enumerate(lines, start=1):
        typed.place(f"{where}, edges {place}", "value", f"{prefix}.bands.{n}.value", f"{words}, edge {place}")
    shown = [0, *(n for _, n in lines)]
    return {
        "edges": [
            {"value": value, "closes_up": bool(boxes.get(f"{prefix}.bands.{n}.closes_up"))}
            for value, n in lines
        ],
        "levels": [_level(boxes.get(f"{prefix}.bands.{n}.level", "")) for n in shown],
        "bands": [boxes.get(f"{prefix}.bands.{n}.words", "").strip() for n in shown],
        "source": boxes.get(f"{prefix}.source", "").strip(),
        "confidence": boxes.get(f"{prefix}.confidence", ""),
    }


def _number(text: str) -> float | str | None:
    """A number with point or comma; None for nothing, and the text itself where it is no number."""
    plain = text.strip().replace("−", "-").replace("\u00a0", "").replace(" ", "")
    if not plain:
        return None
    if plain.count(",") == 1 and "." not in plain:
        plain = plain.replace(",", ".")
    try:
        return float(plain)
    except ValueError:
        return text.strip()


def _level(text: str) -> int | str:
    return int(text) if text in {"0", "1", "2", "3", "4"} else text
