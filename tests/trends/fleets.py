"""Seeded fleets of simulated parts whose truth is known: healthy ones and steady risers."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.trends.policy import DAYS_PER_MONTH
from service.trends.series import Rounds, SeriesBlock

Floats = NDArray[np.float64]

VIEWS_A_SITE = 14


@dataclass(frozen=True)
class Fleet:
    """Days, rises at common load and what is stated of their u, shape (series, visits).

    NaN is a missed or refused visit; ``view`` says which series are like parts.
    """

    days: Floats
    rise_k: Floats
    u_k: Floats
    view: NDArray[np.int64]

    def until(self, visits: int) -> SeriesBlock:
        """The fleet as it stood after so many visits of its rounds, fourteen views a site."""
        block = block_of(self.days[:, :visits], self.rise_k[:, :visits])
        site = np.repeat(self.view // VIEWS_A_SITE, visits)
        sites = int(site.max()) + 1
        return replace(
            block,
            u_own_k=self.u_k[:, :visits].ravel(),
            view=self.view,
            rounds=Rounds(
                group=site * visits + np.tile(np.arange(visits), len(self.view)),
                site=np.repeat(np.arange(sites), visits),
                order=np.tile(np.arange(visits), sites),
            ),
        )


def block_of(
    days: Floats, rise_k: Floats, *, episode: NDArray[np.int64] | None = None, u_k: float = np.nan
) -> SeriesBlock:
    """A block of series of one length; one row each."""
    series, visits = np.atleast_2d(rise_k).shape
    unknown = np.full(series * visits, np.nan)
    cut = np.zeros(series * visits, dtype=np.int64) if episode is None else np.asarray(episode).ravel()
    return SeriesBlock(
        ids=np.arange(series),
        offsets=np.arange(series + 1) * visits,
        days=np.array(np.broadcast_to(days, (series, visits)), dtype=np.float64).ravel(),
        rise_k=np.asarray(rise_k, dtype=np.float64).ravel(),
        u_own_k=np.full(series * visits, u_k),
        episode=cut,
        load_ratio=unknown,
    )


def like_parts(
    seed: int,
    *,
    views: int,
    visits: int,
    months: float = 1.0,
    scatter_k: float = 0.5,
    growth_k_per_month: float = 0.0,
    onset: int = 0,
    least_load: float = 0.4,
    missed: float = 0.08,
) -> Fleet:
    """Three like parts a view: rise over their median, brought to common load with n = 1.8.

    Load 30-100 %, mean 65 %, with a yearly swing; load reading 3 %; true exponent 1.6-2.0;
    lasting difference up to 0.6 K a phase. With a growth, the first phase of every view has it.
    Stated is a standard uncertainty of 0.5 K as measured, whatever the scatter.
    """
    rng = np.random.default_rng(seed)
    days = (np.arange(visits) + rng.uniform(-0.2, 0.2, (views, visits))) * DAYS_PER_MONTH * months
    mean, swing = rng.uniform(0.5, 0.8, (views, 1)), rng.uniform(0, 0.12, (views, 1))
    season = np.sin(2 * np.pi * (days - rng.uniform(0, 365, (views, 1))) / 365.25)
    load = np.clip(mean + swing * season + rng.normal(0, 0.15, (views, visits)), 0.3, 1.0)
    own_k = np.clip(np.exp(rng.normal(np.log(8), 0.5, (views, 1, 1))), 2, 22) + rng.uniform(
        -0.6, 0.6, (views, 1, 3)
    )
    at_common_k = np.repeat(own_k, visits, axis=1)
    grown = np.maximum(days - days[:, onset : onset + 1], 0) / DAYS_PER_MONTH * growth_k_per_month
    at_common_k[:, :, 0] += grown
    exponent = rng.uniform(1.6, 2.0, (views, 1, 1))
    read_k = at_common_k * load[:, :, None] ** exponent + rng.normal(0, scatter_k, (views, visits, 3))
    over_median_k = read_k - np.median(read_k, axis=2, keepdims=True)
    typed_load = load * (1 + rng.normal(0, 0.03, load.shape))
    rise_k = over_median_k / typed_load[:, :, None] ** 1.8
    rise_k[(load < least_load) | (rng.random(load.shape) < missed)] = np.nan
    stated_k = 0.5 / typed_load[:, :, None] ** 1.8 * np.ones(3)
    return Fleet(
        days=np.repeat(days, 3, axis=0),
        rise_k=np.moveaxis(rise_k, 2, 1).reshape(-1, visits),
        u_k=np.moveaxis(stated_k, 2, 1).reshape(-1, visits),
        view=np.repeat(np.arange(views), 3),
    )
