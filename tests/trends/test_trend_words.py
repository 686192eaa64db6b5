"""What the engine says of a history, and what it must never say."""

from dataclasses import replace

import numpy as np
import pytest

from service.domain.words import ReferenceKind, Trend
from service.trends.engine import assess
from service.trends.policy import DAYS_PER_MONTH, OVER_AIR, OVER_BASELINE, OVER_LIKE_PARTS, policy_for
from service.trends.series import SeriesBlock
from service.trends.words import WORDS
from tests.trends.fleets import block_of

MONTHLY = np.arange(60) * DAYS_PER_MONTH


def word(rise_k, *, days=None, policy=OVER_LIKE_PARTS, episode=None, u_k=0.5) -> str:
    rise_k = np.asarray(rise_k, dtype=float)
    days = MONTHLY[: len(rise_k)] if days is None else np.asarray(days, dtype=float)
    return assess(block_of(days, rise_k[None], episode=episode, u_k=u_k), policy).words[0]


def test_every_word_of_the_engine_is_in_the_glossary():
    assert {Trend(word) for word in WORDS} <= set(Trend)


def test_each_reference_of_the_glossary_has_its_policy():
    assert policy_for(ReferenceKind.LIKE_PARTS.value) is OVER_LIKE_PARTS
    assert policy_for(ReferenceKind.BASELINE.value) is OVER_BASELINE
    for kind in (ReferenceKind.AIR, ReferenceKind.RATED_SHARE):
        assert policy_for(kind.value) is OVER_AIR


@pytest.mark.parametrize("visits", [0, 1, 2, 3])
def test_under_four_visits_nothing_is_said(visits):
    assert word(np.arange(visits) * 50.0) == "too few visits"


def test_four_visits_are_at_most_a_first_sign_however_steep():
    assert word([0, 20, 40, 60]) == "first sign"


def test_a_part_that_climbs_every_month_is_rising():
    assert word([0, 0.2, -0.1, 0.1, 2, 4, 6, 8]) == "rising"


def test_a_climb_under_the_least_rise_is_not_rising():
    assert word(np.arange(12) * 0.2) == "steady"
    assert word(np.arange(12) * 0.4) == "rising"


def test_a_part_that_climbs_faster_and_faster_is_rising_faster():
    assert word([0, 0.1, -0.1, 0.1, 0, 0.6, 2.2, 5.1, 9.0, 14.2]) == "rising faster"


def test_a_part_that_left_its_level_at_once_has_stepped_up():
    assert word([0, 0.1, -0.1, 0.1, 0, 6.1, 5.9, 6.0, 6.2, 5.8]) == "stepped up"


def test_a_rise_of_which_few_visits_are_known_has_risen_and_no_shape_yet():
    assert word([0, 0.1, -0.1, 0.1, 0, 0.2, 6.1, 6.3]) == "has risen"


def test_one_high_reading_is_a_first_sign_and_the_next_low_one_takes_it_back():
    assert word([0, 0.1, -0.1, 0.1, 0, 0.2, 0, 3.6], u_k=0.65) == "first sign"
    assert word([0, 0.1, -0.1, 0.1, 0, 0.2, 0, 3.6, 0, 0.1], u_k=0.65) == "steady"


def test_a_part_that_falls_every_month_is_easing():
    assert word([12, 12.1, 11.9, 10, 8, 6, 4, 2]) == "easing"


def test_a_quiet_part_is_steady_from_six_visits_on():
    quiet = [0.1, -0.2, 0.3, 0.0, -0.1, 0.2]
    assert word(quiet[:5]) == "cannot tell"
    assert word(quiet) == "steady"


def test_a_part_that_never_changes_is_steady():
    assert word([5.0] * 10) == "steady"


def test_readings_of_which_little_is_known_cannot_tell():
    assert word([0, 2, -2, 3, -1, 2, -2, 2], u_k=6.0) == "cannot tell"


def test_a_rise_after_two_flat_years_is_seen_within_seven_visits():
    rng = np.random.default_rng(4)
    flat = rng.normal(0, 0.6, 24)
    assert word(flat) == "steady"
    assert word([*flat, *(np.arange(1, 8) * 0.9 + rng.normal(0, 0.6, 7))]) == "rising"


def test_a_slow_climb_is_seen_over_the_whole_history_and_told_by_it():
    rng = np.random.default_rng(11)
    rise_k = 0.1 * np.arange(48) + rng.normal(0, 0.8, 48)
    found = assess(block_of(MONTHLY[:48], rise_k[None], u_k=0.8), OVER_LIKE_PARTS)
    assert found.words == ("rising",)
    assert found.n_fitted[0] > 24
    assert found.slope_lo[0] < 0.1 < found.slope_hi[0]


def test_a_step_three_years_ago_stands_until_it_is_mended():
    """No repair was recorded: the part is still where the step left it."""
    rng = np.random.default_rng(12)
    rise_k = np.r_[np.zeros(12), np.full(36, 6.0)] + rng.normal(0, 0.3, 48)
    found = assess(block_of(MONTHLY[:48], rise_k[None]), OVER_LIKE_PARTS)
    assert found.words == ("stepped up",)
    assert found.risen_k[0] == pytest.approx(6, abs=0.3)
    assert found.onset_days[0] == pytest.approx(MONTHLY[11])


def test_a_date_is_forecast_for_a_confirmed_rise_alone():
    rise_k = [0, 0.2, -0.1, 0.1, 0, 1, 2, 3, 4, 5]
    for line_k, known in ((15.0, True), (np.nan, False), (4.0, False)):
        block = replace(block_of(MONTHLY[:10], np.array([rise_k]), u_k=0.5), line_k=np.array([line_k]))
        assert np.isfinite(assess(block, OVER_LIKE_PARTS).chance_12[0]) == known
    flat = replace(block_of(MONTHLY[:10], np.zeros((1, 10)), u_k=0.5), line_k=np.array([15.0]))
    assert np.isnan(assess(flat, OVER_LIKE_PARTS).chance_12[0])


def test_chances_are_counted_from_today():
    rise_k = np.array([[0, 0.2, -0.1, 0.1, 0, 1, 2, 3, 4, 5.0]])
    block = replace(block_of(MONTHLY[:10], rise_k, u_k=0.5), line_k=np.array([15.0]))
    at_once, later = (
        assess(replace(block, today=MONTHLY[9] + days), OVER_LIKE_PARTS) for days in (0.0, 120.0)
    )
    assert later.chance_6[0] > at_once.chance_6[0]
    assert later.earliest_days[0] == at_once.earliest_days[0]


def test_what_is_not_wanted_comes_out_blank():
    rise_k = np.array([[0, 0.2, -0.1, 0.1, 2, 4, 6, 8.0]] * 2)
    found = assess(replace(block_of(MONTHLY[:8], rise_k), wanted=np.array([False, True])), OVER_LIKE_PARTS)
    assert found.words == ("too few visits", "rising")
    assert found.n_visits.tolist() == [0, 8]


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


def test_a_dozen_readings_on_one_day_are_one_visit_and_confirm_nothing():
    days = [*MONTHLY[:6], *[MONTHLY[7]] * 12]
    found = assess(block_of(np.array(days), np.array([[1.0] * 6 + [4.6] * 12]), u_k=0.65), OVER_LIKE_PARTS)
    assert found.words == ("first sign",)
    assert found.n_visits[0] == 7


def test_of_the_readings_of_one_day_the_middle_one_speaks():
    days = np.array([0, 30, 60, 90, 120, 120, 120], float)
    one_way = assess(block_of(days, np.array([[1, 2, 3, 4, 5, 90, -90.0]])), OVER_LIKE_PARTS)
    other = assess(block_of(days, np.array([[1, 2, 3, 4, -90, 5, 90.0]])), OVER_LIKE_PARTS)
    assert one_way.mk_s[0] == other.mk_s[0] == 10
    assert one_way.level_now_k[0] == other.level_now_k[0] == pytest.approx(5)


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


def test_a_rise_that_swings_with_load_and_season_is_held_no_surer_than_its_visits_agree():
    """Symptom: the top oil of five healthy transformers "stepped up" for years, by 6 to 10 K."""
    swing = [21, 9, 30, 33, 24, 38, 19, 27, 35, 22, 30, 37, 24, 33]
    assert word(swing, policy=OVER_AIR, days=MONTHLY[: len(swing)] * 3, u_k=1.0) in ("steady", "cannot tell")
    assert word([*swing, *[66, 70, 75]], policy=OVER_AIR, u_k=1.0) in ("has risen", "stepped up")


def test_over_a_baseline_a_range_is_told_and_no_chance():
    """Simulated bearings: stated and happened lie up to 0.1 apart (make bench-trends)."""
    rise_k = [0, 0.2, -0.1, 0.1, 0, 0.2, 2, 4, 6, 8, 10.0]
    block = replace(block_of(MONTHLY[:11], np.array([rise_k]), u_k=0.5), line_k=np.array([40.0]))
    found = assess(block, OVER_BASELINE)
    assert np.isnan(found.chance_12[0])
    assert np.isfinite(found.earliest_days[0])
