"""A point's history at thumb size: line, action line, end mark, and the fan where there is one."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from markupsafe import Markup

from service.charts.axes import Along, Upward
from service.charts.drawing import box, fig, line, picture, polyline
from service.charts.marks import end_mark

WIDTH, HEIGHT = 96, 40


@dataclass(frozen=True, slots=True)
class Spark:
    """Rises in time order, in ``unit``; a new episode (after a repair) starts a new line."""

    on: Sequence[date]
    rise_k: Sequence[float]
    level: int | None
    line_k: float | None
    title: str
    episodes: Sequence[int] = ()
    seams: Sequence[date] = ()
    fan: Sequence[tuple[date, float, float]] = ()
    unit: str = "K"


def runs_of(episodes: Sequence[int], count: int) -> list[slice]:
    """Runs of visits between repairs: nothing is drawn across one. No episodes means one run."""
    if not episodes:
        return [slice(0, count)] if count else []
    starts = [index for index in range(count) if index == 0 or episodes[index] != episodes[index - 1]]
    return [slice(first, last) for first, last in zip(starts, [*starts[1:], count], strict=True)]


def sparkline(spark: Spark) -> Markup:
    """Draw it; an empty history gives an empty picture with its title."""
    if not spark.on:
        return picture("", width=WIDTH, height=HEIGHT, title=spark.title, desc="No readings.", css="spark")
    highest = max([*spark.rise_k, *(high for _, _, high in spark.fan), spark.line_k or 0.0, 1.0])
    lowest = min([*spark.rise_k, 0.0])
    up = Upward(lowest, highest * 1.08, 5, HEIGHT - 4)
    last = spark.fan[-1][0] if spark.fan else spark.on[-1]
    along = Along(spark.on[0], max(last, spark.on[0]), 2, WIDTH - 8)
    body = [box(0, up(0), WIDTH, 0.8, "spark-floor")]
    if spark.line_k is not None:
        body.append(line(0, up(spark.line_k), WIDTH, up(spark.line_k), "spark-line"))
    if spark.fan:
        edge = [(along(day), up(high)) for day, _, high in spark.fan]
        back = [(along(day), up(low)) for day, low, _ in reversed(spark.fan)]
        body.append(f'<path class="fan" d="M{"L".join(f"{fig(x)} {fig(y)}" for x, y in edge + back)}z"/>')
    body.extend(
        line(along(seam), 3, along(seam), HEIGHT - 3, "seam") for seam in spark.seams if seam >= spark.on[0]
    )
    for run in runs_of(spark.episodes, len(spark.on)):
        points = [
            (along(day), up(value)) for day, value in zip(spark.on[run], spark.rise_k[run], strict=True)
        ]
        body.append(polyline(points, f"spark-run run-{spark.level if spark.level else 0}"))
    x, y = along(spark.on[-1]), up(spark.rise_k[-1])
    body.append(
        end_mark(spark.level, round(x, 1), round(y, 1), size=3.4)
        or f'<circle class="dot" cx="{fig(x)}" cy="{fig(y)}" r="2"/>'
    )
    desc = f"{len(spark.on)} visits, last {spark.rise_k[-1]:.1f} {spark.unit}."
    return picture("".join(body), width=WIDTH, height=HEIGHT, title=spark.title, desc=desc, css="spark")
