"""Views as seen on a visit, with defaults: a test shows only what it speaks of."""

from collections.abc import Sequence
from typing import Any

from service.domain.criteria import Criteria
from service.domain.judgement import judge_view
from service.domain.presets import TWO_COLUMN
from service.domain.seen import SeenPoint, SeenView
from service.domain.verdicts import Verdict
from service.domain.words import Level, PointKind, ReferenceKind

AIR_C = 20.0


def seen(temperature_c: float | None = 40.0, *, point_id: int = 1, **changes: Any) -> SeenPoint:
    """A joint read under full load, 100 A of 100 A."""
    fields: dict[str, Any] = {
        "point_id": point_id,
        "kind": PointKind.JOINT,
        "temperature_c": temperature_c,
        "current_a": 100.0,
        "common_load_a": 100.0,
    }
    return SeenPoint(**(fields | changes))


def view_of(*points: SeenPoint, ambient_c: float | None = AIR_C, **changes: Any) -> SeenView:
    return SeenView(points=points, ambient_c=ambient_c, **changes)


def phases(
    *temperatures_c: float,
    amps: Sequence[float | None] | None = None,
    weather: dict[str, Any] | None = None,
    **changes: Any,
) -> SeenView:
    """Like parts of one view; ``changes`` hold for every point."""
    points = []
    for n, temperature_c in enumerate(temperatures_c):
        own = changes if amps is None else changes | {"current_a": amps[n]}
        points.append(seen(temperature_c, point_id=n + 1, **own))
    return view_of(*points, **(weather or {}))


def judged(view: SeenView, criteria: Criteria = TWO_COLUMN) -> tuple[Verdict, ...]:
    return judge_view(view, criteria)


def alone(rise_air_k: float = 20.0, *, weather: dict[str, Any] | None = None, **changes: Any) -> Verdict:
    """Verdict on one part without like parts, so many kelvin over air."""
    weather = {"ambient_c": AIR_C} | (weather or {})
    point = seen(weather["ambient_c"] + rise_air_k, **({"reference": ReferenceKind.AIR} | changes))
    return judge_view(view_of(point, **weather), TWO_COLUMN)[0]


def bearing(over_baseline_k: float, *, ambient_c: float = AIR_C, **changes: Any) -> Verdict:
    """Verdict on a bearing with a baseline of 15 K over air."""
    fields: dict[str, Any] = {
        "kind": PointKind.BEARING,
        "baseline_k": 15.0,
        "current_a": None,
        "common_load_a": None,
        "greased_asked": True,
        "previous_over_first_line": True,
    }
    fields |= changes
    point = seen(ambient_c + fields["baseline_k"] + over_baseline_k, **fields)
    return judge_view(view_of(point, ambient_c=ambient_c), TWO_COLUMN)[0]


def verdict(level: int | None = 0, **changes: Any) -> Verdict:
    """A verdict as the judge would give it over like parts at full load."""
    fields: dict[str, Any] = {
        "point_id": 1,
        "level": None if level is None else Level(level),
        "band": None if level is None else Level(level),
        "at_least": False,
        "near_line": False,
        "clears": level == 0,
        "trended": True,
        "reference": ReferenceKind.LIKE_PARTS,
        "value_k": 0.0,
        "common_k": 0.0,
        "rise_air_k": 20.0,
        "load_ratio": 1.0,
        "share_of_rated": None,
        "over_first_line": bool(level),
        "rule": "",
        "sentence": "",
    }
    return Verdict(**(fields | changes))
