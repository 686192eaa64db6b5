"""A site's strip: every point as one stroke, in walking order, on the four rungs."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from markupsafe import Markup, escape
from numpy.typing import NDArray

from service.charts.drawing import fig, markup
from service.charts.marks import end_mark
from service.domain.words import NO_VERDICT, Level

#: room for labels over the top rung, and pixels between rungs on an overview and on a site's own page
TOP, RUNG, LARGE_RUNG = 22, 8, 15
#: units across per point in the stretched part
PITCH = 10
#: pixels a label takes per letter, and a strip at its widest, both guessed on the safe side
LETTER, WIDEST = 6.6, 560
REACH = 7.0
OFF_FLOOR = 0.22


@dataclass(frozen=True, slots=True)
class Strip:
    """Points of one site (or area) in walking order.

    Attributes
    ----------
    point_ids : ndarray of int, shape (n,)
    levels : ndarray of int, shape (n,)
        Standing 0 … 4; −1 for No verdict.
    now, then : ndarray of float, shape (n,)
        Heights on the rungs (0 floor, 4 the Act-now line) today and a year ago; NaN when unknown.
    steady, repaired, pending : ndarray of bool, shape (n,)
        Drawn flat; a seam stands before its stroke; a bar lies under the floor, because its trend
        is being worked out.
    names : sequence of str, length n
        Said and shown for points above Nothing found.
    """

    name: str
    point_ids: NDArray[np.int64]
    levels: NDArray[np.int64]
    now: NDArray[np.float64]
    then: NDArray[np.float64]
    steady: NDArray[np.bool_]
    repaired: NDArray[np.bool_]
    pending: NDArray[np.bool_]
    names: Sequence[str] = field(default=())

    def part(self, start: int, stop: int) -> "Strip":
        cut = slice(start, stop)
        return Strip(
            self.name,
            self.point_ids[cut],
            self.levels[cut],
            self.now[cut],
            self.then[cut],
            self.steady[cut],
            self.repaired[cut],
            self.pending[cut],
            self.names[cut],
        )


@dataclass(frozen=True, slots=True)
class _Paper:
    """Where the rungs lie, in pixels."""

    rung: int

    @property
    def floor(self) -> int:
        return TOP + 4 * self.rung

    @property
    def height(self) -> int:
        return self.floor + 6


def _ends(strip: Strip) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Left and right heights: the right end always stands at the level that is told."""
    level = strip.levels.astype(np.float64)
    now = np.where(np.isnan(strip.now), np.maximum(level, 0) + 0.5, strip.now)
    top = np.where(level >= 4, 4.6, level + 0.92)
    right = np.clip(now, np.maximum(level, 0) + np.where(level >= 4, 0.25, 0.0), np.maximum(top, 0))
    then = np.clip(strip.then, 0, 4.6)
    left = np.where(np.isnan(then), np.nan, np.where(strip.steady, right, then))
    # on the floor line itself a calm stroke could not be seen
    calm = strip.levels == Level.NOTHING_FOUND
    return np.where(calm, np.maximum(left, OFF_FLOOR), left), np.where(
        calm, np.maximum(right, OFF_FLOOR), right
    )


def _stretched(strip: Strip, left: NDArray[np.float64], right: NDArray[np.float64], *, paper: _Paper) -> str:
    """Rungs, calm strokes, single dots, No verdict dots and bars: a path each, however many points."""
    n, floor = strip.levels.size, paper.floor
    y_left, y_right = floor - left * paper.rung, floor - right * paper.rung
    x = np.arange(n) * PITCH
    calm = strip.levels == Level.NOTHING_FOUND
    drawn = calm & ~np.isnan(left)
    alone = calm & np.isnan(left)
    silent = strip.levels < 0
    across = f"H{n * PITCH}"
    rungs = "".join(f"M0 {TOP + paper.rung * step}{across}" for step in range(1, 4))
    parts = [
        f'<path class="rung" d="{rungs}"/><path class="rung-top" d="M0 {TOP}{across}"/>'
        f'<path class="floor" d="M0 {floor}{across}"/>'
    ]
    if drawn.any():
        # tenths of a pixel as whole numbers: one % over everything is far quicker than a call per stroke
        table = np.column_stack(
            [x[drawn] + 1, np.round(y_left[drawn] * 10), np.round((y_right - y_left)[drawn] * 10)]
        )
        path = ("M%d %dl8 %d" * len(table)) % tuple(table.astype(np.int64).ravel().tolist())
        parts.append(f'<path class="calm" transform="scale(1 .1)" d="{path}"/>')
    if alone.any():
        table = np.column_stack([x[alone] + 5, np.round(y_right[alone] * 10)])
        path = ("M%d %dh0" * len(table)) % tuple(table.astype(np.int64).ravel().tolist())
        parts.append(f'<path class="calm-dot" transform="scale(1 .1)" d="{path}"/>')
    if silent.any():
        path = (f"M%d {floor - 2}h8" * int(silent.sum())) % tuple((x[silent] + 1).tolist())
        parts.append(f'<path class="silent" d="{path}"/>')
    if strip.pending.any():
        path = (f"M%d {floor + 4}h8" * int(strip.pending.sum())) % tuple((x[strip.pending] + 1).tolist())
        parts.append(f'<path class="pending" d="{path}"/>')
    return (
        f'<svg width="100%" height="{paper.height}" viewBox="0 0 {n * PITCH} {paper.height}" preserveAspectRatio="none">'
        f"{''.join(parts)}</svg>"
    )


def spoken(name: str, level: int, *, left: float, right: float, repaired: bool, pending: bool = False) -> str:
    """P3 drive end, Act now, rose from Look again."""
    said = [name, Level(level).word if level >= 0 else NO_VERDICT]
    if level >= 0 and not np.isnan(left):
        moved = right - left
        before = Level(min(int(left), 4)).word
        said.append("steady" if abs(moved) < 0.15 else f"{'rose' if moved > 0 else 'fell'} from {before}")
    if repaired:
        said.append("repaired within the year")
    if pending:
        said.append("trend being worked out")
    return ", ".join(said)


def _mark(level: int, left: float, right: float, *, repaired: bool, paper: _Paper) -> str:
    y = paper.floor - right * paper.rung
    parts = []
    if repaired:
        parts.append(f'<path class="seam" d="M-{REACH:g} {TOP - 2}V{paper.floor}"/>')
        parts.append(f'<path class="seam-head" d="M-{REACH + 3.5:g} {TOP - 7}h7l-3.5 5.5z"/>')
    if level >= Level.ACT_NOW:
        parts.append(f'<path class="stem" d="M0 {fig(y)}V{paper.floor}"/>')
    if level > 0 and not np.isnan(left):
        parts.append(
            f'<path class="stroke stroke-{level}" d="M-{REACH:g} {fig(paper.floor - left * paper.rung)}L0 {fig(y)}"/>'
        )
    parts.append(end_mark(level, 0, round(y, 1), size=(0, 3.9, 3.9, 3.9, 4.1)[level] if level > 0 else 0))
    return "".join(parts)


def _label(name: str, share: float, *, level: int, taken: list[float], width: float) -> str:
    """A name over the top rung, where there is room for it."""
    length = len(name) * LETTER + 12
    at = share * width
    to_left = at + length > width
    start, stop = (at - length, at) if to_left else (at, at + length)
    if start < (taken[-1] if taken else 0):
        return ""
    taken.append(stop)
    x, anchor = (-9, ' text-anchor="end"') if to_left else (9, "")
    return f'<text class="strip-label label-{level}" x="{x}" y="10"{anchor}>{escape(name)}</text>'


def strip_svg(
    strip: Strip,
    *,
    scale: int,
    label: str,
    every: bool = False,
    rung: int = RUNG,
    address: str = "/points/{}",
) -> Markup:
    """One line of strokes; fluid across, fixed in height, so that marks keep their shape at any width.

    Parameters
    ----------
    strip : Strip
    scale : int
        How many points fill the whole width: the same for all sites of a page.
    label : str
        What a screen reader hears of the whole, with the counts.
    every : bool
        Link every point, not only those above Nothing found.
    rung : int
        Pixels between two rungs.
    """
    n = strip.levels.size
    if n == 0:
        return markup("")
    left, right = _ends(strip)
    paper = _Paper(rung)
    body = [_stretched(strip, left, right, paper=paper)]
    chosen = np.flatnonzero((strip.levels > 0) | strip.repaired | np.full(n, every))
    width, taken = WIDEST * n / scale, list[float]()
    for index in chosen.tolist():
        ends, share = (float(left[index]), float(right[index])), (index + 0.9) / n
        level = int(strip.levels[index])
        name = strip.names[index] if strip.names else f"point {index + 1}"
        shown = (
            _label(name, share, level=level, taken=taken, width=width) if level >= Level.REPAIR_SOON else ""
        )
        body.append(
            f'<a href="{address.format(int(strip.point_ids[index]))}" '
            + _target(strip, index, name, ends=ends, share=share, hit=16 if every else 22, paper=paper)
            + f"{shown}</svg></a>"
        )
    return markup(
        f'<svg class="strip" width="{n / scale * 100:.2f}%" height="{paper.height}" role="group" '
        f'aria-label="{escape(label)}" data-behaviour="walk">{"".join(body)}</svg>'
    )


def _target(
    strip: Strip,
    index: int,
    name: str,
    *,
    ends: tuple[float, float],
    share: float,
    hit: int,
    paper: _Paper,
) -> str:
    """What a link to one point says, its place to tap, and its mark; still open for a label."""
    level, repaired = int(strip.levels[index]), bool(strip.repaired[index])
    left, right = ends
    pending = bool(strip.pending[index])
    text = escape(spoken(name, level, left=left, right=right, repaired=repaired, pending=pending))
    # calm strokes are in the merged path already: only their place to tap and their seam are added
    marked = level > 0 or repaired
    mark = _mark(level, left, right, repaired=repaired, paper=paper) if marked else ""
    return (
        f'aria-label="{text}">'
        f'<svg x="{share * 100:.2f}%" class="on-strip"><title>{text}</title>'
        f'<rect class="hit" x="-11" y="2" width="{hit}" height="{paper.height - 4}"/>{mark}'
    )


def strip_lines(
    strip: Strip, *, scale: int, label: str, per_line: int = 180, every: bool = False, rung: int = RUNG
) -> Markup:
    """A long site over several lines of at most ``per_line`` points."""
    n = strip.levels.size
    lines = max(1, -(-n // per_line))
    each = -(-n // lines) if n else 0
    drawn = [
        strip_svg(
            strip.part(start, min(start + each, n)),
            scale=min(scale, per_line),
            label=label if lines == 1 else f"{label} Line {index + 1} of {lines}.",
            every=every,
            rung=rung,
        )
        for index, start in enumerate(range(0, n, max(each, 1)))
    ]
    return markup("".join(drawn))


def strip_key() -> Markup:
    """How to read a stroke: a large one on the four rungs, labelled."""
    rows = [(4, "Act now"), (3, "Repair soon"), (2, "Plan repair"), (1, "Look again"), (0, "Nothing found")]
    y = {step: 70 - step * 16 for step, _ in rows}
    words = "".join(
        f'<text class="key-word" x="132" y="{y[step] - (3 if step else -1) - (4 if step == 4 else 0)}">{word}</text>'
        for step, word in rows
    )
    rungs = "".join(
        f'<path class="{"rung-top" if step == 4 else "rung" if step else "floor"}" d="M0 {y[step]}H124"/>'
        for step, _ in rows
    )
    return markup(
        '<svg class="strip-key" width="214" height="86" viewBox="0 0 214 86" role="img" focusable="false">'
        "<title>How to read a stroke</title><desc>Left end: the rise a year ago. Right end: the rise now. "
        "Height: the point’s own action lines.</desc>"
        f'{rungs}<path class="calm" d="M6 67l11 1M104 66l11-2"/>'
        f'<path class="stroke stroke-2" d="M46 64L70 {y[2] - 5}"/>{end_mark(2, 70, y[2] - 5, size=4.6)}'
        f'<text class="key-word" x="79" y="{y[2] - 3}">now</text><text class="key-word" x="24" y="83">a year ago</text>'
        f"{words}</svg>"
    )
