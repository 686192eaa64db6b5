"""From scores to stages: a first sign, confirmed, and what ends it; by the form of each reference."""

import numpy as np
import pytest

from service.trends.evidence import Episodes, Scores, score_visits
from service.trends.joint import surest_of_three
from service.trends.stages import (
    BEARINGS,
    CONFIRMED,
    FIRST_SIGN,
    LIKE_PARTS,
    NO_SIGN,
    OVER_AIR,
    Lines,
    rates,
    stages,
)


def episodes(
    *series: np.ndarray, months: float = 1.0, u: float = 0.5, view: tuple[int, ...] | None = None
) -> Episodes:
    counts = np.array([len(one) for one in series])
    return Episodes(
        starts=np.concatenate(([0], np.cumsum(counts)[:-1])),
        counts=counts,
        view=np.full(len(series), -1) if view is None else np.array(view),
        years=np.concatenate([np.arange(len(one)) * months / 12 for one in series]),
        rise_k=np.concatenate(series).astype(float),
        u_k=np.full(counts.sum(), u),
        scale=np.ones(counts.sum()),
    )


def staged(z: list[float], lines: Lines = OVER_AIR, *, rise_k: float = 9.0) -> list[int]:
    """Stages of scores that are given, all with one rise, monthly; sureness runs a fifth below Z."""
    size = len(z)
    blank = np.zeros(size, dtype=np.int64)
    score = np.array(z, dtype=np.float64)
    scores = Scores(score, 0.8 * score, np.full(size, rise_k), np.ones(size), np.zeros(size), blank, blank)
    return list(stages(scores, episodes(np.zeros(size)), lines))


def test_one_visit_over_the_line_is_a_first_sign():
    assert staged([0, 1, 4.7, 1, 0]) == [NO_SIGN, NO_SIGN, FIRST_SIGN, NO_SIGN, NO_SIGN]


def test_two_visits_over_the_lower_line_confirm_it():
    assert staged([0, 3.6, 3.6, 3.6]) == [NO_SIGN, NO_SIGN, CONFIRMED, CONFIRMED]


def test_one_visit_far_over_it_confirms_at_once():
    assert staged([0, 6.1]) == [NO_SIGN, CONFIRMED]
    assert staged([0, 6.1], BEARINGS) == [NO_SIGN, FIRST_SIGN]


def test_confirmed_ends_after_two_weak_visits_running():
    assert staged([0, 4, 4, 1, 4, 1, 1, 4]) == [
        NO_SIGN,
        NO_SIGN,
        CONFIRMED,
        CONFIRMED,
        CONFIRMED,
        CONFIRMED,
        NO_SIGN,
        NO_SIGN,
    ]


def test_a_rise_too_small_to_matter_is_no_sign_however_sure():
    assert staged([9, 9, 9], rise_k=2.9) == [NO_SIGN] * 3


def test_who_reads_every_month_needs_a_surer_sign_than_who_reads_every_year():
    """Twelve looks a year give chance twelve occasions."""
    blank, calm = np.zeros(9, dtype=np.int64), np.zeros(9)
    for lines in (OVER_AIR, LIKE_PARTS, BEARINGS):
        between = np.full(9, lines.line + lines.per_log_rate * np.log(4.0))
        scores = Scores(calm, between, np.full(9, 9.0), np.ones(9), calm, blank, blank)
        found = [stages(scores, episodes(calm, months=months), lines)[-1] for months in (1, 12)]
        assert found == [NO_SIGN, FIRST_SIGN]


def test_a_reading_five_times_its_uncertainty_out_is_a_sign_though_a_slip_may_explain_it():
    """A trade rule: common practice, no source."""
    blank, calm = np.zeros(9, dtype=np.int64), np.zeros(9)
    for z, expected in ((4.9, NO_SIGN), (5.1, FIRST_SIGN)):
        scores = Scores(np.append(calm[:8], z), calm, np.full(9, 9.0), np.ones(9), calm, blank, blank)
        assert stages(scores, episodes(calm), OVER_AIR)[-1] == expected


def test_what_has_no_score_has_no_stage():
    assert staged([np.nan, np.nan, 4.7]) == [NO_SIGN, NO_SIGN, FIRST_SIGN]


@pytest.mark.parametrize(("months", "rate"), [(1, 12.0), (3, 4.0), (12, 1.0)])
def test_how_often_a_point_is_read_is_seen_from_its_visits(months, rate):
    assert rates(episodes(np.zeros(9), months=months), np.array([8])) == pytest.approx(rate)


def test_the_series_of_one_point_says_nothing_of_anothers():
    flat, steep = np.zeros(10), np.array([0, 0, 0, 0, 0, 4, 8, 12, 16, 20.0])
    both = episodes(flat, steep, flat)
    found = stages(score_visits(both, form="single"), both, OVER_AIR)
    assert list(found[:10]) == [NO_SIGN] * 10
    assert list(found[20:]) == [NO_SIGN] * 10
    assert found[19] == CONFIRMED


def test_the_last_visits_alone_say_what_a_whole_replay_says_of_them():
    rng = np.random.default_rng(8)
    block = episodes(*(rng.normal(0, 0.5, n) for n in (3, 7, 12, 12, 9)), view=(-1, 4, 4, 4, -1))
    for form in ("single", "drop one", "joint"):
        whole, last = score_visits(block, form=form), score_visits(block, form=form, back=range(1))
        at = block.starts + block.counts - 1
        np.testing.assert_allclose(whole.z[at], last.z[at], rtol=1e-9)


def test_three_like_parts_are_judged_together_only_where_they_were_read_together():
    rng = np.random.default_rng(8)
    together = episodes(*rng.normal(0, 0.5, (3, 12)), view=(4, 4, 4))
    apart = episodes(*rng.normal(0, 0.5, (2, 12)), rng.normal(0, 0.5, 11), view=(4, 4, 4))
    same = [
        np.array_equal(
            score_visits(block, form="joint").z, score_visits(block, form="single").z, equal_nan=True
        )
        for block in (together, apart)
    ]
    assert same == [False, True]


def test_no_single_reading_flags_a_bearing():
    greased = np.array([0.1, -0.2, 0.3, 0, -0.1, 0.2, 0, 0.1, 14.0])
    block = episodes(greased)
    assert stages(score_visits(block, form="single"), block, OVER_AIR)[-1] != NO_SIGN
    assert stages(score_visits(block, form=BEARINGS.form), block, BEARINGS)[-1] == NO_SIGN


def quarterly(*, hot: tuple[float, float, float]) -> Episodes:
    """Three phases of one view over four years; each gains so much in the last of them [K]."""
    rng = np.random.default_rng(6)
    gained = np.clip(np.arange(16) - 11, 0, 4) / 4
    return episodes(*(rng.normal(8, 0.4, 16) + one * gained for one in hot), months=3, view=(4, 4, 4))


def signs(block: Episodes) -> list[bool]:
    """Whether each series had a first sign or more at any visit."""
    found = stages(score_visits(block, form=LIKE_PARTS.form), block, LIKE_PARTS)
    return [bool((found[at : at + 16] >= FIRST_SIGN).any()) for at in block.starts]


def test_two_phases_that_heat_up_together_do_not_hide_each_other():
    block = quarterly(hot=(7.0, 6.5, 0.0))
    assert signs(block) == [True, False, False]
    rises = block.rise_k.reshape(1, 3, 16)
    each = surest_of_three(block.years[None, :16], rises, np.full((1, 16), 0.5), least_before=3)
    asked = LIKE_PARTS.line + LIKE_PARTS.per_log_rate * np.log(4.0)
    assert all(part.sureness[0] < asked for part in each)


def test_a_phase_that_cools_by_a_few_kelvin_makes_no_sign_of_the_other_two():
    assert signs(quarterly(hot=(0.0, 0.0, -4.5))) == [False, False, False]


def test_a_hot_phase_is_confirmed_and_its_neighbours_are_not():
    rng = np.random.default_rng(2)
    phases = rng.normal(0, 0.5, (3, 14))
    phases[1, 9:] += np.arange(1, 6) * 1.5
    block = episodes(*phases, view=(7, 7, 7))
    found = stages(score_visits(block, form=LIKE_PARTS.form), block, LIKE_PARTS)
    assert [int(found[k]) for k in (13, 27, 41)] == [NO_SIGN, CONFIRMED, NO_SIGN]


def test_another_form_is_refused():
    with pytest.raises(ValueError, match="'joint'"):
        score_visits(episodes(np.zeros(5)), form="both")
