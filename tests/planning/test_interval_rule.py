"""Which rule sets an interval, what it says, and when a point is due."""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.planning.intervals import (
    add_months,
    due_on,
    due_window,
    inspections_per_pf,
    interval_rule,
    neta_months,
)

TODAY = date(2026, 11, 25)


def test_reason_is_one_line_with_the_figure_the_cause_and_its_source():
    found = interval_rule("high", "average", electrical=True)
    assert found.reason == "6 months: high need, average condition (ANSI/NETA MTS Appendix B)"


def test_the_ceiling_is_the_reason_where_it_binds():
    found = interval_rule("low", "good", electrical=True)
    assert found.reason == "12 months: electrical equipment (NFPA 70B-2023 Table 9.2.2)"


def test_every_term_is_kept_with_its_source():
    found = interval_rule(
        "medium", "good", electrical=True, pf_months=9, lead_months=1, override_months=5, readings_per_pf=3
    )
    assert [term.months for term in found.terms] == [18, 12, 4.5, 3, 7.75, 5]
    assert all(term.source and term.because for term in found.terms)
    assert found.months == 3


def test_an_override_shortens_and_says_who_set_it():
    found = interval_rule("low", "good", electrical=True, override_months=1, override_by="the site")
    assert found.reason == "1 month: set on the site (typed by the site)"


def test_an_override_never_lengthens():
    assert interval_rule("high", "poor", electrical=True, override_months=24).months == 3


def test_what_is_left_after_the_interval_exceeds_the_repair_lead_time():
    found = interval_rule("low", "good", electrical=True, pf_months=6, lead_months=4)
    assert found.months == 1.75
    assert 6 - found.months > 4


def test_a_lead_time_as_long_as_the_pf_interval_is_told():
    found = interval_rule("high", "average", electrical=True, pf_months=2, lead_months=2)
    assert found.months == 1
    assert found.warning == (
        "A fault shows 2 months before failure and a repair takes 2 months to arrange: reading alone gives no notice."
    )


def test_without_a_pf_interval_there_is_nothing_to_warn_of():
    assert interval_rule("high", "average", electrical=True, lead_months=9).warning == ""


def test_mechanical_points_are_read_within_the_year_too():
    assert interval_rule("low", "good", electrical=False).months == 12


@given(
    need=st.sampled_from(["low", "medium", "high"]),
    condition=st.sampled_from(["poor", "average", "good"]),
    electrical=st.booleans(),
    pf=st.none() | st.floats(0.3, 60),
    lead=st.floats(0, 12),
    override=st.none() | st.floats(0.1, 60),
)
def test_no_interval_breaks_a_ceiling(need, condition, electrical, pf, lead, override):
    found = interval_rule(
        need, condition, electrical=electrical, pf_months=pf, lead_months=lead, override_months=override
    )
    assert 0 < found.months <= min(12, neta_months(need, condition))
    if override is not None:
        assert found.months <= override
    if pf is not None:
        assert found.months <= pf / 2
        assert found.warning or pf - found.months > lead


@pytest.mark.parametrize(
    "wrong",
    [
        {"need": "urgent"},
        {"condition": "new"},
        {"pf_months": 0},
        {"pf_months": float("nan")},
        {"override_months": -1},
        {"lead_months": -0.5},
        {"pf_months": 6, "readings_per_pf": 0},
    ],
    ids=str,
)
def test_figures_that_make_no_sense_are_refused(wrong):
    with pytest.raises(ValueError, match=r"interval|above 0|or more"):
        interval_rule(**{"need": "low", "condition": "good", "electrical": True, **wrong})


@pytest.mark.parametrize("wrong", [(0, 0.5), (1, 0.5), (0.1, 0), (0.1, 1)])
def test_chances_outside_nought_to_one_are_refused(wrong):
    with pytest.raises(ValueError, match="between 0 and 1"):
        inspections_per_pf(*wrong)


def test_a_sure_method_still_needs_one_reading():
    assert inspections_per_pf(0.5, 0.9) == 1


@pytest.mark.parametrize(
    ("last", "months", "due"),
    [
        (date(2026, 3, 15), 6, date(2026, 9, 15)),
        (date(2026, 8, 31), 6, date(2027, 2, 28)),
        (date(2027, 8, 31), 6, date(2028, 2, 29)),
        (date(2026, 12, 31), 12, date(2027, 12, 31)),
        (date(2026, 1, 10), 0.5, date(2026, 1, 25)),
        (date(2026, 1, 10), 1.5, date(2026, 2, 25)),
    ],
)
def test_due_is_the_last_clearing_visit_plus_the_interval(last, months, due):
    assert due_on(last, months, today=TODAY) == due


def test_points_never_read_are_spread_over_one_interval():
    days = [due_on(None, 6, today=TODAY, place=k, places=12) for k in range(12)]
    assert days[0] == TODAY
    assert days == sorted(days)
    assert len(set(days)) == 12
    assert days[-1] < add_months(TODAY, 6)
    gaps = [(b - a).days for a, b in pairwise(days)]
    assert max(gaps) - min(gaps) <= 1


def test_a_single_point_never_read_is_due_now():
    assert due_on(None, 12, today=TODAY) == TODAY


@pytest.mark.parametrize(("place", "places"), [(-1, 3), (3, 3), (0, 0)])
def test_a_place_that_does_not_exist_is_refused(place, places):
    with pytest.raises(ValueError, match="is not one of"):
        due_on(None, 6, today=TODAY, place=place, places=places)


def test_an_interval_of_nothing_is_refused():
    with pytest.raises(ValueError, match="above 0"):
        due_on(TODAY, 0, today=TODAY)


def test_the_window_opens_a_quarter_early_and_closes_a_tenth_late():
    due = date(2027, 1, 1)
    first, last = due_window(due, 12)
    assert due - first == timedelta(days=91)
    assert last - due == timedelta(days=36)
