"""When a line may be reached: chances first, then the range, never a single day and never one gone by."""

from dataclasses import replace
from datetime import date

import pytest

from service.domain.words import Trend
from service.pages.view import ForecastFacts, TrendFacts, forecast_sentence, plan_by, trend_sentence

G = "\u00a0"
TODAY = date(2026, 11, 25)
KNOWN = ForecastFacts(
    Trend.RISING,
    chance_6=0.12,
    chance_12=0.38,
    earliest=date(2027, 3, 9),
    latest=date(2029, 5, 2),
    lead_days=60,
)


@pytest.mark.parametrize(
    ("facts", "said"),
    [
        (KNOWN, f"12{G}% within 6 months, 38{G}% within 12. Nine chances in ten: March 2027 to May 2029."),
        (
            replace(KNOWN, latest=None),
            f"12{G}% within 6 months, 38{G}% within 12. Nine chances in ten: March 2027 or later.",
        ),
        (
            replace(KNOWN, chance_6=0.001, chance_12=0.004, earliest=None, latest=None),
            f"Under 1{G}% within 6 months, under 1{G}% within 12. Not within 15 years.",
        ),
        (
            replace(KNOWN, chance_6=0.9, chance_12=0.999, earliest=date(2026, 10, 3), latest=date(2027, 2, 1)),
            f"90{G}% within 6 months, over 99{G}% within 12. Nine chances in ten: any day now to February 2027.",
        ),
        (
            replace(KNOWN, chance_6=0.99, chance_12=1.0, earliest=date(2026, 1, 3), latest=date(2026, 9, 1)),
            f"99{G}% within 6 months, over 99{G}% within 12. By this history it should have been reached: read it again.",
        ),
        (replace(KNOWN, latest=date(2027, 3, 30)), f"12{G}% within 6 months, 38{G}% within 12. Nine chances in ten: March 2027."),
        (replace(KNOWN, trend=Trend.FIRST_SIGN), "No date before another visit has confirmed the rise."),
        (
            replace(KNOWN, chance_6=None, chance_12=None),
            "Nine chances in ten: March 2027 to May 2029. Chances are not told over a baseline: they have not held.",
        ),
        (
            ForecastFacts(Trend.HAS_RISEN),
            "No date yet: that takes five visits, two of them after the rise began.",
        ),
        (replace(KNOWN, trend=Trend.STEADY), ""),
        (replace(KNOWN, pending=True), ""),
    ],
)  # fmt: skip
def test_forecast_sentences(facts: ForecastFacts, said: str) -> None:
    assert forecast_sentence(facts, today=TODAY) == said


def test_a_repair_is_planned_before_the_early_end_by_the_days_it_takes() -> None:
    assert plan_by(KNOWN, today=TODAY) == "8 Jan 2027, 60 days before the early end."
    assert plan_by(replace(KNOWN, lead_days=120), today=TODAY).startswith("Now: ")
    assert plan_by(replace(KNOWN, lead_days=None), today=TODAY) == ""
    assert plan_by(replace(KNOWN, earliest=None), today=TODAY) == ""


def test_a_step_and_a_fresh_rise_are_told_by_their_size_not_by_a_speed() -> None:
    """Symptom: "Stepped up 0.0 K a month, over 43 visits"."""
    facts = TrendFacts(Trend.STEPPED_UP, 0.0, -0.1, 0.1, 9, risen_k=4.2, onset_on=date(2026, 5, 3))
    assert trend_sentence(facts) == f"Stepped up by 4.2{G}K after May 2026, told by 9{G}visits since."
    fresh = replace(facts, trend=Trend.HAS_RISEN)
    assert trend_sentence(fresh) == f"Has risen by 4.2{G}K since May 2026; too few visits yet for a speed."
