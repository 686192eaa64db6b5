"""What the fields of a point's surface say together: a finish brings its number, a number its source."""

from collections.abc import Mapping

from service.domain.fields import Value
from service.domain.settings import ASSUMED_EMISSIVITY_HALF_WIDTH
from service.domain.words import SettingSource
from service.errors import Problem
from service.physics.emissivity import TABLE, SurfaceRow, Use

_BY_KEY = {row.key: row for row in TABLE}
#: keys of the table, as a form, a file and the API speak of its rows
FINISHES = tuple(_BY_KEY)
#: each kept number and what it is the half-width of
_HALF_WIDTHS = (
    ("emissivity_half_width", "emissivity"),
    ("reflected_half_width_k", "reflected_c"),
    ("window_transmission_half_width", "window_transmission"),
)
TOGETHER = frozenset({"emissivity_finish", "emissivity_standing", "emissivity_source"}.union(*_HALF_WIDTHS))


def half_width_of_row(row: SurfaceRow) -> float:
    """Half-width that goes with the default of a row: it reaches the ends of what its sources print.

    Never less than 0.05, by which total values and those within 8 to 14 µm differ for paint.
    """
    if row.default is None or row.low is None or row.high is None:
        return ASSUMED_EMISSIVITY_HALF_WIDTH
    reach = max(row.default - row.low, row.high - row.default)
    return round(max(reach, ASSUMED_EMISSIVITY_HALF_WIDTH), 3)


def taken_from_finish(values: Mapping[str, Value], *, said: frozenset[str] = frozenset()) -> dict[str, Value]:
    """What a finish sets where the number was left empty: the number, its half-width, its standing.

    ``said`` are fields that were typed just now and stay; what is merely left of an earlier
    number goes with it.
    """
    row = _BY_KEY.get(str(values.get("emissivity_finish") or ""))
    if row is None or row.default is None or values.get("emissivity") is not None:
        return {}
    told: dict[str, Value] = {
        "emissivity": row.default,
        "emissivity_half_width": half_width_of_row(row),
        "emissivity_standing": SettingSource.TABLE.value,
    }
    if "emissivity_standing" in said and values["emissivity_standing"] == SettingSource.MEASURED:
        return {}
    return {name: value for name, value in told.items() if name not in said}


def surface_problems(values: Mapping[str, Value], where: str) -> list[Problem]:
    """What does not go together, after a finish has set what it sets."""
    found = [
        Problem(where, half, _shown(values[half]), "A half-width without its number.", "Type the number too.")
        for half, of in _HALF_WIDTHS
        if values.get(half) is not None and values.get(of) is None
    ]
    return found + _of_standing(values, where) + _of_finish(values, where)


def _of_standing(values: Mapping[str, Value], where: str) -> list[Problem]:
    standing, source = values.get("emissivity_standing"), str(values.get("emissivity_source") or "").strip()
    if standing is None:
        return []
    if values.get("emissivity") is None and not values.get("emissivity_finish"):
        message = "It says how a number was come by, and there is no number."
        return [Problem(where, "emissivity_standing", str(standing), message, "Type the emissivity.")]
    if standing == SettingSource.MEASURED and not source:
        message = "A measured emissivity says how it was found."
        remedy = "Such as: contact thermometer on the isolated part, 12 May."
        return [Problem(where, "emissivity_source", "", message, remedy)]
    if standing == SettingSource.TABLE and not source and not values.get("emissivity_finish"):
        message = "An emissivity from a table names its row or its source."
        return [Problem(where, "emissivity_finish", "", message, "Choose the surface, or type the source.")]
    return []


def _of_finish(values: Mapping[str, Value], where: str) -> list[Problem]:
    row, typed = _BY_KEY.get(str(values.get("emissivity_finish") or "")), values.get("emissivity")
    if row is None:
        return []
    if not isinstance(typed, int | float) and row.default is not None:
        return [Problem(where, "emissivity", "", "It was measured, and there is no number.", "Type it.")]
    if not isinstance(typed, int | float):
        return [Problem(where, "emissivity", "", f"{row.surface}: no number is shipped.", row.remedy)]
    standing = values.get("emissivity_standing")
    if standing == SettingSource.MEASURED:
        return []
    if row.use is Use.REFUSED and standing == SettingSource.TABLE:
        message = f"{row.surface}: not taken from a table."
        return [Problem(where, "emissivity_standing", str(standing), message, row.remedy)]
    if row.low is None or row.high is None:
        return []
    margin = ASSUMED_EMISSIVITY_HALF_WIDTH + 1e-9
    if row.low - margin <= typed <= row.high + margin:
        return []
    message = f"{row.surface}: its sources say {row.low:.2f} to {row.high:.2f}."
    otherwise = "say that it was measured, and how."
    remedy = f"Empty the number to take {row.default:.2f}, or {otherwise}" if row.default else otherwise
    return [Problem(where, "emissivity", _shown(typed), message, remedy[:1].upper() + remedy[1:])]


def _shown(value: Value) -> str:
    return f"{value:g}" if isinstance(value, int | float) else str(value)
