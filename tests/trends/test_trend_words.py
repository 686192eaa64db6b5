"""What the engine says of a history, and what it must never say."""

from dataclasses import replace

import numpy as np
import pytest

from service.domain.words import ReferenceKind, Trend
from service.trends.engine import assess
from service.trends.policy import DAYS_PER_MONTH, OVER_AIR, OVER_LIKE_PARTS, policy_for
from service.trends.series import SeriesBlock
from service.trends.words import WORDS
from tests.trends.fleets import block_of

MONTHLY = np.arange(60) * DAYS_PER_MONTH


def word(rise_k, *, days=None, policy=OVER_LIKE_PARTS, episode=None) -> str:
    rise_k = np.asarray(rise_k, dtype=float)
    days = MONTHLY[: len(rise_k)] if days is None else np.asarray(days, dtype=float)
    return assess(block_of(days, rise_k[None], episode=episode), policy).words[0]


def test_every_word_of_the_engine_is_in_the_glossary():
    assert {Trend(word) for word in WORDS} <= set(Trend)


def test_each_reference_of_the_glossary_has_its_policy():
    assert policy_for(ReferenceKind.LIKE_PARTS.value) is OVER_LIKE_PARTS
    for kind in (ReferenceKind.AIR, ReferenceKind.BASELINE, ReferenceKind.RATED_SHARE):
        assert policy_for(kind.value) is OVER_AIR


@pytest.mark.parametrize("visits", [0, 1, 2, 3])
def test_under_four_visits_nothing_is_said(visits):
    assert word(np.arange(visits) * 50.0) == "too few visits"


def test_four_visits_cannot_tell_however_steep():
    assert word([0, 20, 40, 60]) == "cannot tell"


def test_a_part_that_climbs_every_month_is_rising():
    assert word([0, 1, 2, 3, 4, 5]) == "rising"


def test_a_climb_under_the_least_rise_is_not_rising():
    assert word(np.arange(12) * 0.2) == "steady"
    assert word(np.arange(12) * 0.25) == "rising"


def test_a_part_that_falls_every_month_is_easing():
    assert word([10, 9, 8, 7, 6, 5]) == "easing"


def test_a_quiet_part_is_steady_from_six_visits_on():
    quiet = [0.1, -0.2, 0.3, 0.0, -0.1, 0.2]
    assert word(quiet[:5]) == "cannot tell"
    assert word(quiet) == "steady"


def test_a_part_that_never_changes_is_steady():
    assert word([5.0] * 10) == "steady"


def test_a_wild_part_cannot_be_told():
    assert word([0, 25, -20, 30, -15, 22, -25, 20]) == "cannot tell"


def test_a_rise_after_two_flat_years_is_seen_within_seven_visits():
    rng = np.random.default_rng(4)
    flat = rng.normal(0, 0.6, 24)
    assert word(flat) == "steady"
    assert word([*flat, *(np.arange(1, 8) * 0.9 + rng.normal(0, 0.6, 7))]) == "rising"


def test_a_slow_climb_is_seen_over_the_whole_history_and_told_by_it():
    rng = np.random.default_rng(11)
    rise_k = 0.1 * np.arange(48) + rng.normal(0, 0.8, 48)
    found = assess(block_of(MONTHLY[:48], rise_k[None]), OVER_LIKE_PARTS)
    assert found.words == ("rising",)
    assert found.n_fitted[0] == 48
    assert found.fitted_from_days[0] == 0.0
    assert found.slope_lo[0] < 0.1 < found.slope_hi[0]


def test_a_step_three_years_ago_is_no_rise_today():
    rng = np.random.default_rng(12)
    rise_k = np.r_[np.zeros(12), np.full(36, 6.0)] + rng.normal(0, 0.3, 48)
    found = assess(block_of(MONTHLY[:48], rise_k[None]), OVER_LIKE_PARTS)
    assert found.words == ("steady",)
    assert found.n_fitted[0] == 12
    assert found.fitted_from_days[0] == MONTHLY[36]
    assert found.n_visits[0] == 48


def test_a_trend_never_runs_across_a_repair():
    before, after = [0, 4, 8, 12, 16, 20], [1.0, 1.2, 0.9, 1.1, 1.0, 1.1]
    cut = np.r_[np.zeros(6, dtype=np.int64), np.ones(6, dtype=np.int64)]
    found = assess(block_of(MONTHLY[:12], np.array([[*before, *after]]), episode=cut), OVER_LIKE_PARTS)
    alone = assess(block_of(MONTHLY[6:12], np.array([after])), OVER_LIKE_PARTS)
    assert found.words == alone.words == ("steady",)
    assert found.n_visits[0] == 6
    for name in ("slope_k_per_month", "slope_lo", "slope_hi", "mk_s", "mk_p", "level_now_k"):
        assert getattr(found, name)[0] == getattr(alone, name)[0]


def test_no_reading_since_the_repair_leaves_nothing_to_say():
    cut = np.array([0, 0, 0, 0, 0, 0, 1])
    assert word([0, 4, 8, 12, 16, 20, np.nan], episode=cut) == "too few visits"


def test_missed_visits_are_as_if_they_were_not_there():
    rise_k = np.array([0, np.nan, 1, 2, np.nan, 3, 4, 5.0])
    days = MONTHLY[:8]
    kept = np.isfinite(rise_k)
    holed = assess(block_of(days, rise_k[None]), OVER_LIKE_PARTS)
    whole = assess(block_of(days[kept], rise_k[kept][None]), OVER_LIKE_PARTS)
    assert holed.words == whole.words == ("rising",)
    assert holed.slope_k_per_month[0] == whole.slope_k_per_month[0]
    assert holed.n_visits[0] == 6


def test_a_visit_with_no_date_is_no_visit():
    found = assess(block_of(np.array([np.nan, *MONTHLY[1:6]]), np.array([[90.0, 1, 2, 3, 4, 5]])))
    assert found.n_visits[0] == 5
    assert found.slope_k_per_month[0] == pytest.approx(1.0)


def test_six_readings_on_one_day_are_one_date():
    assert word([0, 5, 10, 15, 20, 25], days=[7.0] * 6) == "too few visits"


def test_a_dozen_readings_on_one_day_after_a_history_say_nothing_new():
    days = [*MONTHLY[:6], *[MONTHLY[7]] * 12]
    found = assess(block_of(np.array(days), np.array([[1.0] * 6 + [9.0] * 12])), OVER_LIKE_PARTS)
    assert found.words == ("cannot tell",)
    assert np.isnan(found.slope_k_per_month[0])


def test_readings_on_one_day_are_not_compared_with_each_other():
    days = [0, 30, 60, 90, 120, 120]
    one_way = assess(block_of(np.array(days, float), np.array([[1, 2, 3, 4, 5, 9.0]])), OVER_LIKE_PARTS)
    other = assess(block_of(np.array(days, float), np.array([[1, 2, 3, 4, 9, 5.0]])), OVER_LIKE_PARTS)
    assert one_way.mk_s[0] == other.mk_s[0] == 14
    assert one_way.slope_k_per_month[0] == other.slope_k_per_month[0]


def test_series_of_all_lengths_in_one_block_are_judged_as_if_alone():
    rng = np.random.default_rng(21)
    lengths = [0, 1, 5, 13, 30, 4, 13, 7]
    rises = [rng.normal(0, 1, n) + 0.3 * np.arange(n) for n in lengths]
    total = sum(lengths)
    block = SeriesBlock(
        ids=np.arange(len(lengths)) + 100,
        offsets=np.r_[0, np.cumsum(lengths)],
        days=np.concatenate([MONTHLY[:n] for n in lengths]),
        rise_k=np.concatenate(rises),
        u_own_k=np.full(total, np.nan),
        episode=np.zeros(total, dtype=np.int64),
        load_ratio=np.full(total, np.nan),
    )
    together = assess(block, OVER_LIKE_PARTS)
    assert together.ids.tolist() == list(range(100, 108))
    for place, rise_k in enumerate(rises):
        alone = assess(block_of(MONTHLY[: len(rise_k)], rise_k[None]), OVER_LIKE_PARTS)
        assert together.words[place] == alone.words[0]
        for name in ("slope_k_per_month", "slope_lo", "slope_hi", "mk_s", "mk_p", "level_now_k", "n_fitted"):
            np.testing.assert_array_equal(
                getattr(together, name)[place], getattr(alone, name)[0], err_msg=name
            )


def test_no_series_at_all_gives_an_empty_block():
    empty = np.zeros(0)
    none = np.zeros(0, dtype=np.int64)
    block = SeriesBlock(none, np.zeros(1, dtype=np.int64), empty, empty, empty, none, empty)
    assert assess(block).words == ()


@pytest.mark.parametrize(
    "change",
    [
        {"offsets": np.array([0, 3])},
        {"offsets": np.array([1, 3, 6])},
        {"offsets": np.array([0, 4, 3])},
        {"rise_k": np.zeros(5)},
        {"episode": np.zeros(7, dtype=np.int64)},
    ],
    ids=["too few offsets", "does not begin at 0", "falls", "short rises", "long episodes"],
)
def test_arrays_that_do_not_fit_each_other_are_refused(change):
    good = block_of(np.arange(3.0), np.zeros((2, 3)))
    with pytest.raises(ValueError, match=r"offsets|per visit"):
        replace(good, **change)
