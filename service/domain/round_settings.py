"""What holds for a whole round where its readings say nothing: which quantities, and what they take."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from service.domain.fields import Field, FieldKind, Value
from service.domain.settings import RoundSettings
from service.domain.words import SettingSource
from service.errors import Problem

WHERE = "form"
MOST_HOW = 200


@dataclass(frozen=True, slots=True)
class RoundQuantity:
    """A number that may hold for a round; ``widest`` is the largest half-width, None where it has none."""

    value: Field
    widest: float | None = None

    @property
    def name(self) -> str:
        return self.value.name

    @property
    def unit(self) -> str:
        return self.value.unit

    @property
    def half_width_unit(self) -> str:
        """A half-width of degrees is in kelvin."""
        return "K" if self.unit == "°C" else self.unit


def _quantity(
    name: str, label: str, unit: str, low: float, high: float, *, widest: float | None = None
) -> RoundQuantity:
    return RoundQuantity(
        Field(name=name, label=label, kind=FieldKind.NUMBER, unit=unit, low=low, high=high), widest
    )


#: in the order of the form; those with a half-width bear on uncertainty by it
ROUND_QUANTITIES = {
    one.name: one
    for one in (
        _quantity("ambient_c", "Air temperature", "°C", -60, 80),
        _quantity("humidity_percent", "Relative humidity", "%", 0, 100),
        _quantity("reflected_c", "Reflected temperature", "°C", -90, 1000, widest=100),
        _quantity("emissivity", "Emissivity", "", 0.01, 1, widest=0.5),
        _quantity("distance_m", "Distance", "m", 0.05, 1000),
        _quantity("path_transmission", "Transmission of the air", "", 0.01, 1, widest=0.5),
        _quantity("wind_m_s", "Wind", "m/s", 0, 60),
    )
}


@dataclass(frozen=True, slots=True)
class HeldLine:
    """One quantity of a round; ``value`` None where the round says nothing of it."""

    quantity: RoundQuantity
    value: float | None
    half_width: float | None
    standing: str
    how: str


def held_lines(settings: RoundSettings) -> tuple[HeldLine, ...]:
    """Every quantity with what the round says of it, in the order of the form."""
    lines = []
    for name, quantity in ROUND_QUANTITIES.items():
        said = settings.get(name) or {}
        lines.append(
            HeldLine(
                quantity,
                said.get("value"),
                said.get("half_width"),
                said.get("standing") or SettingSource.MEASURED.value,
                said.get("how") or "",
            )
        )
    return tuple(lines)


def read_round_settings(
    found: Mapping[str, Mapping[str, object] | None], *, where: str = WHERE
) -> tuple[dict[str, dict[str, Any] | None], list[Problem]]:
    """What is to hold, by quantity, from a form or a body; None takes a quantity back.

    Parameters
    ----------
    found : mapping
        By quantity: ``value``, ``half_width``, ``standing``, ``how``; texts are read as typed.

    Returns
    -------
    settings : dict
        As kept with the round.
    problems : list of Problem
        Each at the name of its box: ``reflected_c``, ``reflected_c_half_width``, …
    """
    kept: dict[str, dict[str, Any] | None] = {}
    problems: list[Problem] = []
    for name, given in found.items():
        quantity = ROUND_QUANTITIES.get(name)
        if quantity is None:
            remedy = f"One of: {', '.join(ROUND_QUANTITIES)}."
            problems.append(Problem(where, name, "", "This cannot hold for a round.", remedy))
            continue
        kept[name] = _read_one(quantity, given or {}, problems, where=where)
    return kept, problems


def _read_one(
    quantity: RoundQuantity, given: Mapping[str, object], problems: list[Problem], *, where: str
) -> dict[str, Any] | None:
    read: dict[str, Value] = {}
    for part, field in _parts(quantity).items():
        value, problem = field.read(given.get(part), where)
        if problem is not None:
            problems.append(problem)
        read[part] = value
    if read["value"] is None:
        typed = [part for part in ("half_width", "how") if read[part] not in (None, "")]
        if typed and not any(problem.field == quantity.name for problem in problems):
            message = f"{quantity.value.label}: there is no number."
            problems.append(Problem(where, quantity.name, "", message, "Type it, or empty the other boxes."))
        return None
    if quantity.widest is None and read["half_width"] is not None:
        message = f"{quantity.value.label} takes no half-width."
        problems.append(Problem(where, f"{quantity.name}_half_width", "", message, "Leave it out."))
    read["standing"] = read["standing"] or SettingSource.MEASURED.value
    return dict(read)


def _parts(quantity: RoundQuantity) -> dict[str, Field]:
    """The boxes of one quantity."""
    name, label = quantity.name, quantity.value.label
    return {
        "value": quantity.value,
        "half_width": Field(
            name=f"{name}_half_width",
            label=f"{label}, give or take",
            kind=FieldKind.NUMBER,
            unit=quantity.half_width_unit,
            low=0,
            high=quantity.widest if quantity.widest is not None else 1000,
        ),
        "standing": Field(
            name=f"{name}_standing",
            label=f"{label} is",
            kind=FieldKind.OPEN_CHOICE,
            choices=tuple(source.value for source in SettingSource),
        ),
        "how": Field(name=f"{name}_how", label=f"{label}: how come by", most=MOST_HOW),
    }
