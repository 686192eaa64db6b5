"""Standing: raised at once, lowered slowly, never by what could not clear."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.presets import TWO_COLUMN
from service.domain.standing import StandingState, advance, fold, proven, trend_lift, with_trend
from service.domain.verdicts import Verdict
from service.domain.words import Level, Trend
from tests.domain.views import verdict

START = date(2025, 1, 15)
HIDDEN = verdict(None)
NEAR = verdict(0, near_line=True, clears=False, band=Level.LOOK_AGAIN, over_first_line=True)
NEAR_HIDDEN = verdict(None, near_line=True, band=Level.LOOK_AGAIN, over_first_line=True)
COLD = verdict(1, cold=True)


def at_least(level: int) -> Verdict:
    return verdict(level, at_least=True)


def visits(*said: int | Verdict) -> list[tuple[date, Verdict]]:
    """Monthly visits; a bare number is a reading of that level that could clear."""
    return [
        (START + timedelta(days=30 * n), verdict(v) if isinstance(v, int) else v) for n, v in enumerate(said)
    ]


def after(*said: int | Verdict) -> StandingState:
    return fold(visits(*said), criteria=TWO_COLUMN)


@pytest.mark.parametrize(
    ("said", "level"),
    [
        ((), None),
        ((HIDDEN,), None),
        ((0,), 0),
        ((NEAR,), 0),
        ((2,), 2),
        ((0, 4), 4),
        ((at_least(2),), 2),
        ((2, HIDDEN, HIDDEN), 2),
        ((3, at_least(1), at_least(1), at_least(1)), 3),
        ((1, at_least(2)), 2),
        ((4, 1), 4),
        ((4, 1, 2), 2),
        ((4, 2, 1), 2),
        ((3, 2, 2), 2),
        ((3, 2, 3, 2), 3),
        ((4, 0, 0), 1),
        ((4, 0, 0, 0), 0),
        ((1, 0), 1),
        ((1, 0, 0), 0),
        ((1, 0, NEAR, 0), 1),
        ((1, 0, NEAR, 0, 0), 0),
        ((1, 0, HIDDEN, 0), 0),
        ((1, 0, NEAR_HIDDEN, 0), 1),
        ((1, 0, at_least(1), 0), 1),
        ((3, 2, at_least(3), 2), 3),
        ((3, 2, at_least(1), 2), 2),
        ((3, COLD, COLD), 3),
        ((0, COLD), 1),
        ((0, COLD, 0, 0), 0),
    ],
)
def test_standing_after_visits(said: tuple[int | Verdict, ...], level: int | None) -> None:
    assert after(*said).level == level


def test_it_says_since_when_it_stands_so() -> None:
    state = after(0, 0, 2, 2, HIDDEN)
    assert state.since == START + timedelta(days=60)
    assert after(0, 0, 2, 2, HIDDEN, 0, 0).since == START + timedelta(days=180)


def test_at_least_is_told_until_a_full_reading_confirms_the_level() -> None:
    assert after(at_least(2)).at_least
    assert not after(at_least(2), 2).at_least
    assert after(2, at_least(3)).at_least
    assert not after(2, at_least(2)).at_least


def test_it_goes_on_from_where_it_was_kept() -> None:
    history = visits(0, 3, 1, HIDDEN, 2, 0, 0, NEAR, 0, 0)
    half = fold(history[:4], criteria=TWO_COLUMN)
    assert fold(history[4:], criteria=TWO_COLUMN, start=half) == fold(history, criteria=TWO_COLUMN)


def test_a_proven_repair_starts_over() -> None:
    state = proven(START)
    assert (state.level, state.since, state.clear_run) == (Level.NOTHING_FOUND, START, 0)


@pytest.mark.parametrize(
    ("trend", "p12", "level"),
    [
        (Trend.STEADY, 0.9, None),
        (Trend.EASING, 0.9, None),
        (Trend.TOO_FEW_VISITS, None, None),
        (Trend.CANNOT_TELL, None, None),
        (Trend.RISING, None, 1),
        (Trend.RISING, 0.5, 1),
        (Trend.RISING, 0.51, 2),
        (Trend.RISING_FASTER, 0.6, 2),
        (Trend.STEPPED_UP, 0.6, 2),
        (Trend.HAS_RISEN, 0.6, 2),
        (Trend.FIRST_SIGN, 0.99, 1),
    ],
)
def test_what_a_trend_raises_to(trend: Trend, p12: float | None, level: int | None) -> None:
    assert trend_lift(trend, p12, criteria=TWO_COLUMN) == level


def test_a_trend_raises_a_standing_and_never_lowers_it() -> None:
    raised = with_trend(after(0), Trend.RISING, p12=None, criteria=TWO_COLUMN, when=START)
    assert (raised.level, raised.reading_level, raised.since) == (1, 0, START)
    assert with_trend(after(4), Trend.RISING, p12=0.9, criteria=TWO_COLUMN).level == 4
    assert with_trend(after(HIDDEN), Trend.RISING, p12=None, criteria=TWO_COLUMN).level == 1


def test_a_trend_that_has_passed_gives_the_readings_back_their_say() -> None:
    raised = with_trend(after(0), Trend.RISING, p12=0.9, criteria=TWO_COLUMN, when=START)
    later = START + timedelta(days=40)
    calm = with_trend(raised, Trend.STEADY, p12=None, criteria=TWO_COLUMN, when=later)
    assert (calm.level, calm.since) == (0, later)


def test_readings_go_on_under_a_trend() -> None:
    state = with_trend(after(3), Trend.RISING, p12=None, criteria=TWO_COLUMN)
    for n in (1, 2, 3):
        state = advance(state, verdict(0), when=START + timedelta(days=n), criteria=TWO_COLUMN)
    assert (state.reading_level, state.level) == (0, 1)


SAID = st.sampled_from(
    [HIDDEN, NEAR, NEAR_HIDDEN, COLD, *map(verdict, range(5)), *map(at_least, range(1, 5))]
)


@given(st.lists(SAID, max_size=12), SAID)
def test_one_visit_never_lowers_by_itself_unless_one_before_it_was_lower_too(
    said: list[Verdict], last: Verdict
) -> None:
    before = after(*said)
    now = advance(before, last, when=START, criteria=TWO_COLUMN)
    if before.level is not None:
        assert now.level is not None
        if now.level < before.level:
            assert last.could_clear
            assert before.lower_run >= 1 or before.clear_run >= 1
        if last.level is not None:
            assert now.level >= last.level


@given(st.lists(SAID, max_size=12))
def test_no_verdict_never_lowers(said: list[Verdict]) -> None:
    state = after(*said)
    for hidden in (HIDDEN, NEAR_HIDDEN):
        assert advance(state, hidden, when=START, criteria=TWO_COLUMN).level == state.level
