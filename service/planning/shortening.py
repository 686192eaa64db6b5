"""A shorter way through the same visits: pieces moved and turned as long as that helps."""

import numpy as np
from numpy.typing import NDArray

from service.planning.ground import Ground
from service.planning.walks import Clocked, Order, clock_walk

#: Visits moved together.
LONGEST_PIECE = 3
#: Improvements of the way that are put on the clock before a pass gives up.
MOST_CLOCKED = 8

Ways64 = NDArray[np.int64]


def shorten_walk(
    ground: Ground, d: int, *, order: Order, clocked: Clocked, most_passes: int
) -> tuple[Order, Clocked]:
    """Move pieces of up to three visits, turned or not, and turn stretches, until the way is shortest.

    Parameters
    ----------
    ground : Ground
    d : int
    order : tuple of int
    clocked : Clocked
        The order on the clock.
    most_passes : int
        Improvements at most.

    Returns
    -------
    tuple of int, Clocked
        Never later home than before.
    """
    for _ in range(most_passes):
        if len(order) < 2:
            break
        better = _shorter(ground, d, order=order, clocked=clocked)
        if better is None:
            break
        order, clocked = better
    return order, clocked


def _shorter(ground: Ground, d: int, *, order: Order, clocked: Clocked) -> tuple[Order, Clocked] | None:
    begin = ground.begin_node(d)
    nodes = np.array([begin, *order, begin + 1])
    way = ground.ways.legs(nodes[:, None], nodes[None, :]).astype(np.int64)
    moves = [_turned(way), *(_moved(way, length) for length in range(1, LONGEST_PIECE + 1))]
    gains = np.concatenate([move.ravel() for move in moves])
    ends = np.cumsum([move.size for move in moves])
    for flat in _most_negative(gains):
        kind = int(np.searchsorted(ends, flat, side="right"))
        at = np.unravel_index(flat - (int(ends[kind - 1]) if kind else 0), moves[kind].shape)
        tried = _apply(order, kind, at=tuple(int(k) for k in at))
        found = clock_walk(ground, d, order=tried)
        if found is not None and found.timing.finish <= clocked.timing.finish:
            return tried, found
    return None


def _most_negative(gains: Ways64) -> list[int]:
    """The moves that shorten the way most; equal ones in their own order."""
    if len(gains) > MOST_CLOCKED:
        edge = np.partition(gains, MOST_CLOCKED - 1)[MOST_CLOCKED - 1]
        near = np.flatnonzero(gains <= min(int(edge), -1))
    else:
        near = np.flatnonzero(gains < 0)
    ranked: list[int] = near[np.argsort(gains[near], kind="stable")][:MOST_CLOCKED].tolist()
    return ranked


def _turned(way: Ways64) -> Ways64:
    """Change of the way when the visits from i to j are walked backwards, shape (m, m)."""
    m = len(way) - 2
    forth = np.concatenate([[0], np.cumsum(np.diagonal(way, 1)[1:-1])])
    back = np.concatenate([[0], np.cumsum(np.diagonal(way, -1)[1:-1])])
    i, j = np.arange(m)[:, None], np.arange(m)[None, :]
    ends = way[i, j + 1] + way[i + 1, j + 2] - way[i, i + 1] - way[j + 1, j + 2]
    inner = (back[j] - back[i]) - (forth[j] - forth[i])
    change: Ways64 = np.where(i < j, ends + inner, 0)
    return change


def _moved(way: Ways64, length: int) -> Ways64:
    """Change when the visits i … i + length − 1 go to gap g, forwards or turned, shape (2, k, m + 1)."""
    m = len(way) - 2
    if length > m - 1:
        return np.zeros((2, 0, m + 1), dtype=np.int64)
    first = np.arange(m - length + 1) + 1
    last = first + length - 1
    out = way[first - 1, last + 1] - way[first - 1, first] - way[last, last + 1]
    gap = np.arange(m + 1)[None, :]
    here = way[gap, gap + 1]
    straight = way[gap, first[:, None]] + way[last[:, None], gap + 1] - here
    turned = way[gap, last[:, None]] + way[first[:, None], gap + 1] - here
    inner = np.zeros(len(first), dtype=np.int64)
    for k in range(length - 1):
        inner += way[first + k + 1, first + k] - way[first + k, first + k + 1]
    change = out[:, None] + np.stack([straight, turned + inner[:, None]])
    inside = (gap >= first[:, None] - 1) & (gap <= last[:, None])
    return np.where(inside, 0, change)


def _apply(order: Order, kind: int, *, at: tuple[int, ...]) -> Order:
    if kind == 0:
        i, j = at
        return (*order[:i], *order[i : j + 1][::-1], *order[j + 1 :])
    turned, i, gap = at
    piece = order[i : i + kind]
    rest = order[:i] + order[i + kind :]
    place = gap if gap <= i else gap - kind
    if turned:
        piece = piece[::-1]
    return rest[:place] + piece + rest[place:]
