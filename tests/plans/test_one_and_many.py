"""A plan's sentences say one thing as one and several as several."""

from datetime import date

from service.domain.load_hours import load_hours_words
from service.domain.plan_risks import Risk, RiskThatStays
from service.pages.plan_words import made_words, risk_title
from service.usecases.plans.make_rounds import Made
from tests.plans.test_risks import CALM


def test_one_draft_follows_and_one_round_stays_as_issued():
    told = made_words(Made(made=(), changed=("R-1",), left=("R-2",)))

    assert "1\u00a0draft follows the plan." in told
    assert "R-2 went out already and stays as issued." in told


def test_several_drafts_follow_and_several_rounds_stay_as_issued():
    told = made_words(Made(made=(), changed=("R-1", "R-3"), left=("R-2", "R-4")))

    assert "2\u00a0drafts follow the plan." in told
    assert "R-2 and R-4 went out already and stay as issued." in told


def test_hours_are_said_as_people_say_them():
    assert (
        load_hours_words("mon-thu 07:30-16:15; fri 07:30-12:30")
        == "Mon to Thu 07:30 to 16:15; Fri 07:30 to 12:30"
    )
    assert load_hours_words("daily 05:00-23:00") == "every day 05:00 to 23:00"
    assert load_hours_words("when the low-lift pumps run") == "when the low-lift pumps run"


def test_the_risk_that_stays_says_what_its_chance_is_of():
    def unseen(*chances: float) -> RiskThatStays:
        risks = tuple(Risk(CALM, None, date(2027, 1, 30), chance, False) for chance in chances)
        return RiskThatStays(risks, (), sum(chances))

    of = "not seen this month, "
    assert risk_title(unseen(0.8, 0.01)) == (
        f"Of 2\u00a0pieces of equipment {of}one has one chance in ten or more of failing or reaching Act now "
        "before its next visit"
    )
    assert "two have one chance in ten or more" in risk_title(unseen(0.8, 0.1, 0.01))
    assert "before their next visit" in risk_title(unseen(0.8, 0.1, 0.01))
    assert risk_title(unseen(0.01)).startswith(f"1\u00a0piece of equipment {of}none with one chance in ten")
