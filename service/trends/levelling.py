"""Visits made ready to be scored: without what their rounds share, and no surer than they agree."""

from dataclasses import replace
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from service.trends.evidence import Episodes
from service.trends.offsets import (
    EXPONENT,
    MAD_TO_SD,
    Levelled,
    Readings,
    grouped_median,
    level_rounds,
    site_scales,
)
from service.trends.policy import DAYS_PER_YEAR, LEAST_CONFIRMED, Policy
from service.trends.series import SeriesBlock, Visits, owners

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def without_rounds(block: SeriesBlock, policy: Policy, *, as_then: bool = False) -> tuple[Levelled, Floats]:
    """Rises without what their rounds share, and by what uncertainties are to be multiplied.

    Both have the shape of the block's visits. ``as_then`` scales each visit by what was known of
    its site at that visit, for a look back; else by what is known now.
    """
    load = np.where(np.isfinite(block.load_ratio) & (block.load_ratio > 0), block.load_ratio, 1.0)
    own_k = np.where(
        np.isfinite(block.u_own_k) & (block.u_own_k > 0), block.u_own_k, policy.assumed_u_k / load**EXPONENT
    )
    if block.rounds is None:
        blank = np.full(0, np.nan)
        plain = Levelled(
            block.rise_k, own_k, np.full(len(load), np.nan), blank, blank, np.zeros(0, dtype=np.int64)
        )
        return plain, np.ones(len(load))
    known = np.flatnonzero(np.isfinite(block.rise_k) & np.isfinite(block.days))
    readings = Readings(
        point=owners(block)[known],
        group=block.rounds.group[known],
        episode=block.episode[known],
        rise_k=block.rise_k[known],
        u_own_k=own_k[known],
        u_shared_k=np.zeros(len(known)),
        load=load[known],
        site=block.rounds.site,
        order=block.rounds.order,
    )
    offset = policy.lines.offset
    found = level_rounds(readings, log=offset == "share", remove=offset != "none")
    rise_k, u_k = block.rise_k.copy(), own_k.copy()
    rise_k[known], u_k[known] = found.rise_k, found.u_k
    return replace(found, rise_k=rise_k, u_k=u_k), site_scales(found, readings, each_round=as_then)[
        block.rounds.group
    ]


def as_episodes(block: SeriesBlock, visits: Visits, u_k: Floats, scale: Floats, policy: Policy) -> Episodes:
    """The visits as the scores take them; ``u_k`` [K] and ``scale`` have the shape of the block's visits."""
    of_visits, scale = u_k[visits.at], scale[visits.at]
    if policy.own_scatter:
        unscaled = ~np.isfinite(block.load_ratio[visits.at])
        of_visits = np.where(unscaled, np.maximum(of_visits, _own_scatter(visits) / scale), of_visits)
    return Episodes(
        starts=visits.starts,
        counts=visits.counts,
        view=_views(block, visits),
        years=visits.days / DAYS_PER_YEAR,
        rise_k=visits.rise_k,
        u_k=of_visits,
        scale=scale,
    )


def _views(block: SeriesBlock, visits: Visits) -> Ints:
    """What each episode is a like part of: parts of one view since the same repair."""
    if block.view is None:
        return np.full(len(visits.counts), -1, dtype=np.int64)
    view, episode = block.view[visits.series], visits.episode
    apart: Ints = np.where(view < 0, -1, view * (int(episode.max(initial=0)) + 1) + episode)
    return apart


def _own_scatter(visits: Visits) -> Floats:
    """Standard deviation by which a series' visits differ from their neighbours, at each visit [K].

    About the median step from visit to visit, so that a steady climb is no scatter; 0 below five
    visits.
    """
    owner = np.repeat(np.arange(len(visits.counts)), visits.counts)
    within = owner[1:] == owner[:-1]
    step, of = np.diff(visits.rise_k)[within], owner[1:][within]
    steps = np.maximum(visits.counts - 1, 0)
    usual = grouped_median(step, of, steps)
    spread = MAD_TO_SD / sqrt(2) * grouped_median(np.abs(step - usual[of]), of, steps)
    found: Floats = np.where(visits.counts >= LEAST_CONFIRMED, spread, 0.0)[owner]
    return found
