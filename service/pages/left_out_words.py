"""Why something is on no walk of a plan, in one sentence and as a heading."""

from collections.abc import Callable

from service.domain.plans import LeftOut
from service.pages.view import counted, minute_of_day, minutes, sentence_case, short_day
from service.planning.reasons import Code
from service.usecases.plans.better_times import IN_THE_SUN, NO_PERMIT_IN_TIME
from service.usecases.plans.see import PlanPage
from service.usecases.plans.work import NOT_WORTH_ITS_COVER, STANDS_BY


def why_off(page: PlanPage, one: LeftOut) -> str:
    """One sentence with the figures of the decision."""
    words = _WHY.get(one.code)
    told = words(page, one) if words else sentence_case(one.code)
    besides = [_ALSO.get(code, code) for code in one.also]
    return f"{told} Besides: {', '.join(besides)}." if besides else told


def _at(one: LeftOut, name: str) -> str:
    return minute_of_day(one.figures[name])


def _day(page: PlanPage, one: LeftOut) -> str:
    walk = page.body.walk(one.walk)
    return "" if walk is None else f" on {short_day(walk.day)}"


def _load_hours(page: PlanPage, one: LeftOut) -> str:
    figures = one.figures
    if {"arrive_min", "opens_min", "closes_min"} <= figures.keys():
        return (
            f"Its load hours let work begin from {_at(one, 'opens_min')} to {_at(one, 'closes_min')}; the "
            f"earliest arrival{_day(page, one)} is {_at(one, 'arrive_min')}."
        )
    return "It carries its load on no day of these walks, or in hours that nobody reaches."


def _no_person(page: PlanPage, one: LeftOut) -> str:
    days = round(one.figures.get("crew_days_with", 0))
    have, are = ("has", "it is") if days == 1 else ("have", "they are")
    with_one = f"{counted(days, 'walk')} {have} one, and {are} full" if days else "no walk has one"
    facts = page.facts.get(one.equipment_id)
    behind = facts is None or facts.access.behind_cover
    if behind:
        return f"Behind a cover: it needs a qualified person, and {with_one}."
    return f"It came back for want of a qualified person, and {with_one}."


def _no_certificate(_page: PlanPage, one: LeftOut) -> str:
    days = round(one.figures.get("crew_days_with", 0))
    return (
        f"Nobody with a certificate valid that day has room; {counted(days, 'walk')} "
        f"{'has' if days == 1 else 'have'} one."
    )


def _site(_page: PlanPage, one: LeftOut) -> str:
    entry, there = one.figures.get("entry_min", 0.0), round(one.figures.get("at_site", 1))
    return f"Getting there costs {minutes(entry)} for {counted(there, 'stop')}; no walk goes to its site."


def _hours(_page: PlanPage, one: LeftOut) -> str:
    needs = one.figures.get("needs_min")
    told = "The hours are spent" if needs is None else f"It needs {minutes(needs)} with the way there"
    free = one.figures.get("free_min")
    if needs is not None and free is not None:
        told += f", {minutes(max(free, 0.0))} are left"
    last = one.figures.get("last_worth_per_min")
    own = one.figures.get("worth_per_min")
    if last is not None and own is not None and last >= own:
        told += "; what is on the walk tells more for each minute"
    return f"{told}."


def _excluded(_page: PlanPage, one: LeftOut) -> str:
    return f"Left out by hand: {one.said}"


def _taken(_page: PlanPage, one: LeftOut) -> str:
    return f"On round {one.said} already."


_WHY: dict[str, Callable[[PlanPage, LeftOut], str]] = {
    Code.LOAD_HOURS.value: _load_hours,
    Code.NO_QUALIFIED_PERSON.value: _no_person,
    Code.NO_CERTIFICATE.value: _no_certificate,
    Code.SITE_NOT_VISITED.value: _site,
    Code.HOURS.value: _hours,
    Code.LOCK_OUT.value: lambda _p, _o: "Its site is closed on every day that would do.",
    Code.WEATHER.value: lambda _p, _o: (
        "It stands outdoors, and the days that would do are kept indoors, have an unfit forecast, or come after "
        "the reserve day."
    ),
    Code.FROZEN.value: lambda _p, _o: "It would fit only on a walk that is frozen or kept in reserve.",
    Code.PIN.value: lambda _p, _o: "It is pinned to a time that cannot be kept.",
    Code.BREAK.value: lambda _p, _o: "It would leave no room for the break.",
    Code.NO_CREW_DAY.value: lambda _p, _o: "Nobody walks on any day of this month.",
    "excluded": _excluded,
    "on another round": _taken,
    "walk lost": lambda _p, one: (
        f"Its walk was lost ({one.said}); draw the plan up again to find it a place."
    ),
    "levelled": lambda _p, one: (
        f"Goes into {one.said}, so that the months stay level; that is within its window."
    ),
    NOT_WORTH_ITS_COVER: lambda page, one: (
        f"Opening its cover weighs as {minutes(page.body.cover_minutes)} of other reading, more than it tells this "
        "month; put it on a walk by hand to read it all the same."
    ),
    STANDS_BY: lambda _p, one: (
        f"It runs in turn with {one.said}; one of them runs at a time, and that one goes first. Standing, it "
        "could not be cleared."
    ),
    NO_PERMIT_IN_TIME: lambda _p, _o: (
        "It came back for want of a permit; the walks that are left come too soon to ask for one, or are full."
    ),
    IN_THE_SUN: lambda _p, _o: "It came back for wet, fog or sun; hours out of the sun are full.",
    "let in again": lambda _p, _o: "Let in again; draw the plan up again to find it a place.",
}
_ALSO = {
    Code.LOAD_HOURS.value: "its load hours",
    Code.NO_QUALIFIED_PERSON.value: "a qualified person",
    Code.NO_CERTIFICATE.value: "a valid certificate",
    Code.SITE_NOT_VISITED.value: "the way to its site",
    Code.HOURS.value: "the hours of the day",
    Code.LOCK_OUT.value: "its site being closed",
    Code.WEATHER.value: "the weather",
    Code.FROZEN.value: "frozen walks",
    Code.PIN.value: "the pinned time",
}


def why_short(code: str) -> str:
    """The heading under which stops put off for one rule stand together."""
    return _HEADS.get(code, sentence_case(code))


_HEADS = {
    Code.LOAD_HOURS.value: "Outside their load hours",
    Code.NO_QUALIFIED_PERSON.value: "No qualified person",
    Code.NO_CERTIFICATE.value: "No valid certificate",
    Code.SITE_NOT_VISITED.value: "Site not visited",
    Code.HOURS.value: "Not enough hours",
    Code.LOCK_OUT.value: "Site closed",
    Code.WEATHER.value: "Weather",
    Code.FROZEN.value: "Only on frozen walks",
    Code.PIN.value: "Pinned time cannot be kept",
    Code.BREAK.value: "No room for the break",
    Code.NO_CREW_DAY.value: "Nobody walks",
    "excluded": "Left out by hand",
    "on another round": "On another round",
    "walk lost": "Its walk was lost",
    "let in again": "Let in again",
    "levelled": "Levelled into a later month",
    NO_PERMIT_IN_TIME: "No permit in time",
    NOT_WORTH_ITS_COVER: "Tells less than its cover weighs",
    STANDS_BY: "Waits while another of its group runs",
    IN_THE_SUN: "Hours out of the sun are full",
}
