"""A block that is too large to be worked on at once, taken in parts; what belongs together stays so."""

from collections.abc import Iterator, Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.trends.series import Rounds, SeriesBlock, TrendBlock, owners

Ints = NDArray[np.int64]

#: Series worked on at once: what is worked out beside them fits into some 250 MiB at 24 visits each.
MOST_AT_ONCE = 50_000


def parts_of(block: SeriesBlock, most: int = MOST_AT_ONCE) -> Iterator[tuple[Ints, SeriesBlock]]:
    """Cut a block between sites, where rounds are given, else between views.

    Parameters
    ----------
    block : SeriesBlock
    most : int
        Series in a part; more only where one site, or one view, has more.

    Yields
    ------
    tuple of (ndarray of int, SeriesBlock)
        Places of the part's series in the block, and the part.

    Examples
    --------
    >>> import numpy as np
    >>> nothing = np.full(4, np.nan)
    >>> block = SeriesBlock(
    ...     ids=np.arange(4), offsets=np.arange(5), days=np.arange(4.0), rise_k=np.ones(4), u_own_k=nothing,
    ...     episode=np.zeros(4, dtype=np.int64), load_ratio=nothing, view=np.array([7, 8, 7, -1]))
    >>> [places.tolist() for places, _ in parts_of(block, 2)]
    [[0, 2], [1, 3]]
    """
    count = len(block.ids)
    if count <= most:
        yield np.arange(count), block
        return
    together = _together(block)
    order = np.argsort(together, kind="stable")
    begins = np.flatnonzero(np.diff(together[order], prepend=together[order[0]] - 1))
    ends = np.append(begins[1:], count)
    first = 0
    while first < count:
        fits = ends[(ends > first) & (ends <= first + most)]
        last = int(fits[-1] if fits.size else ends[ends > first][0])
        places = np.sort(order[first:last])
        yield places, _part(block, places)
        first = last


def joined(block: SeriesBlock, told: Sequence[tuple[Ints, TrendBlock]]) -> TrendBlock:
    """What was said of all parts, in the order of the block's series."""
    if len(told) == 1:
        return told[0][1]
    places = np.concatenate([at for at, _ in told])
    back = np.argsort(places)
    plain = {
        one.name: np.concatenate([getattr(part, one.name) for _, part in told])[back]
        for one in fields(TrendBlock)
        if one.name not in ("ids", "method", "fans")
    }
    fans = {int(at[k]): fan for at, part in told for k, fan in part.fans.items()}
    return TrendBlock(ids=block.ids, method=told[0][1].method, fans=dict(sorted(fans.items())), **plain)


def _together(block: SeriesBlock) -> Ints:
    """The same number for series that must not be parted."""
    count = len(block.ids)
    alone = np.arange(count)
    if block.rounds is not None:
        sites = np.full(count, -1)
        sites[owners(block)] = block.rounds.site[block.rounds.group]
        keys = sites
    elif block.view is not None:
        keys = block.view
    else:
        return alone
    found: Ints = np.where(keys < 0, keys.max(initial=-1) + 1 + alone, keys)
    return found


def _part(block: SeriesBlock, places: Ints) -> SeriesBlock:
    counts = np.diff(block.offsets)[places]
    offsets = np.concatenate(([0], np.cumsum(counts)))
    visits = np.repeat(block.offsets[places] - offsets[:-1], counts) + np.arange(offsets[-1])
    cut: dict[str, Any] = {name: getattr(block, name)[visits] for name in _OF_VISITS}
    given = [name for name in _OF_SERIES if getattr(block, name) is not None]
    cut |= {name: getattr(block, name)[places] for name in given}
    return replace(block, offsets=offsets, rounds=_rounds(block.rounds, visits), **cut)


_OF_VISITS = ("days", "rise_k", "u_own_k", "episode", "load_ratio")
_OF_SERIES = ("ids", "view", "line_k", "wanted")


def _rounds(rounds: Rounds | None, visits: Ints) -> Rounds | None:
    if rounds is None:
        return None
    groups, group = np.unique(rounds.group[visits], return_inverse=True)
    _, site = np.unique(rounds.site[groups], return_inverse=True)
    return Rounds(group=group, site=site, order=rounds.order[groups])
