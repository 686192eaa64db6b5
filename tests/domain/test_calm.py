"""Healthy phases stay calm under the rules: a seeded simulation of a quiet plant.

After science/trends-like-parts.md §4 (own measured study, worked by simulation): rise over air
log-normal with median 8 K at common load (2–22), a lasting difference per phase of 0.3–1.0 K
(1 sd) at common load, load 30–100 % with mean 65 %, exponent 1.6–2.0, scatter 0.5 K a phase and
the camera's own share of 1 K per round, 10 % of visits with one phase 10 % off unknown to anybody.
"""

from dataclasses import dataclass

import numpy as np
import pytest

from service.domain.judgement import judge_view
from service.domain.presets import TWO_COLUMN
from service.domain.seen import SeenPoint, SeenView
from service.domain.standing import StandingState, advance
from service.domain.words import PointKind
from tests.conftest import NOW

VIEWS, VISITS, PHASES = 150, 24, 3
AIR_C = 20.0
SEED = 3203


@dataclass(frozen=True)
class Shares:
    """What share of healthy readings and standings stood above Nothing found."""

    readings: float
    standings: float


def healthy_temperatures(rng: np.random.Generator, scatter_k: float) -> tuple[np.ndarray, np.ndarray]:
    """Temperatures (views, visits, phases) [°C] and loads (views, visits) of healthy views."""
    shape = (VIEWS, VISITS, PHASES)
    load = np.clip(0.30 + 0.70 * rng.beta(2.0, 2.0, size=shape[:2]), 0.30, 1.0)
    rise_k = np.clip(rng.lognormal(np.log(8.0), 0.5, size=(VIEWS, 1, 1)), 2.0, 22.0)
    lasting_sd_k = rng.uniform(0.3, 1.0, size=(VIEWS, 1, 1))
    lasting_k = rng.normal(0.0, 1.0, size=(VIEWS, 1, PHASES)) * lasting_sd_k
    exponent = rng.uniform(1.6, 2.0, size=(VIEWS, 1, 1))
    own_load = load[:, :, None] * rng.normal(1.0, 0.015, size=(VIEWS, 1, PHASES))
    unequal = rng.random(shape[:2]) < 0.10
    which = np.arange(PHASES) == rng.integers(0, PHASES, size=shape[:2])[:, :, None]
    own_load = own_load * np.where(unequal[:, :, None] & which, rng.choice([0.9, 1.1], size=shape), 1.0)
    camera_k = rng.normal(0.0, 1.0, size=(1, VISITS, 1))
    noise_k = rng.normal(0.0, scatter_k, size=shape) + rng.normal(0.0, np.sqrt(0.1), size=shape)
    return AIR_C + (rise_k + lasting_k) * own_load**exponent + camera_k + noise_k, load


def simulate(scatter_k: float) -> Shares:
    """Walk every view through its visits, as an upload would."""
    temperatures_c, loads = healthy_temperatures(np.random.default_rng(SEED), scatter_k)
    above = standing_above = judged = 0
    for view_c, view_loads in zip(np.round(temperatures_c, 1).tolist(), loads.tolist(), strict=True):
        standings = [StandingState()] * PHASES
        over = [False] * PHASES
        for visit_c, load in zip(view_c, view_loads, strict=True):
            points = tuple(
                SeenPoint(
                    point_id=n,
                    kind=PointKind.JOINT,
                    temperature_c=visit_c[n],
                    current_a=100.0 * load,
                    common_load_a=100.0,
                    previous_over_first_line=over[n],
                )
                for n in range(PHASES)
            )
            verdicts = judge_view(SeenView(points=points, ambient_c=AIR_C), TWO_COLUMN)
            for n, verdict in enumerate(verdicts):
                over[n] = verdict.over_first_line
                standings[n] = advance(standings[n], verdict, when=NOW.date(), criteria=TWO_COLUMN)
                judged += 1
                above += bool(verdict.level)
                standing_above += bool(standings[n].level)
    return Shares(above / judged, standing_above / judged)


@pytest.fixture(scope="module")
def quiet() -> Shares:
    return simulate(0.5)


@pytest.fixture(scope="module")
def noisy() -> Shares:
    return simulate(1.5)


def test_at_most_two_in_a_hundred_healthy_readings_are_above_nothing_found(quiet: Shares) -> None:
    assert 0.0 < quiet.readings <= 0.02


def test_at_most_four_in_a_hundred_healthy_standings_are_above_nothing_found(quiet: Shares) -> None:
    assert 0.0 < quiet.standings <= 0.04


def test_a_plant_three_times_as_noisy_fails_the_same_check(noisy: Shares) -> None:
    """The broken twin: without it a check that always passes would go unseen."""
    assert noisy.readings > 0.02
    assert noisy.standings > 0.04
