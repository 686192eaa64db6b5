"""What a change by hand would break, and what would mend it, in words."""

from service.domain.plans import Walk
from service.domain.site_clock import minute_of_day
from service.domain.stop_facts import EquipmentFacts
from service.errors import Problem
from service.planning.order_checks import OrderCheck
from service.planning.reasons import Code


def broken_problem(broken: OrderCheck, walk: Walk, facts: EquipmentFacts) -> Problem:
    """The rule that the first failing stop breaks, as a problem of the form."""
    message, remedy = broken_words(broken, walk, facts)
    return Problem("plan", "walk", facts.tag, message, remedy)


def broken_words(broken: OrderCheck, walk: Walk, facts: EquipmentFacts) -> tuple[str, str]:
    """What is broken, and what would make it fit."""
    day = walk.named
    if broken.rule is Code.LOAD_HOURS:
        return _load_hours(broken, day, facts)
    if broken.rule is Code.HOURS:
        over = max(1, round(broken.over_min or 1))
        return (
            f"With {facts.name} the walk of {day} would end {over} min after its shift.",
            f"Take {over} min off it, end the shift later, or choose another day.",
        )
    if broken.rule is Code.BREAK:
        return f"With {facts.name} the walk of {day} has no room for its break.", "Put it elsewhere."
    message, remedy = _BY_RULE.get(broken.rule or Code.PIN, _OTHER)
    return message.format(name=facts.name, day=day), remedy


def _load_hours(broken: OrderCheck, day: str, facts: EquipmentFacts) -> tuple[str, str]:
    if broken.closes_min is None or broken.arrive_min is None:
        return (
            f"{facts.name} has no load hours on {day}, or its site is closed all day.",
            "Choose another day; or type why it is read all the same.",
        )
    return (
        f"{facts.name} would be reached at {minute_of_day(broken.arrive_min)} on {day}; its hours let work begin "
        f"until {minute_of_day(broken.closes_min)}.",
        f"{_earlier(broken)} or type why it is read all the same: the reading can then accuse, not clear.",
    )


def _earlier(broken: OrderCheck) -> str:
    if broken.fits_at is not None:
        return f"As stop number {broken.fits_at} it would fit;"
    return "Put it on another day;"


_OTHER = ("{name} does not go on the walk of {day}.", "Choose another day.")
_BY_RULE = {
    Code.NO_QUALIFIED_PERSON: (
        "{name} is behind a cover, and nobody on the walk of {day} is a qualified person.",
        "Choose a walk with one, or send one along. This rule is not to be overruled.",
    ),
    Code.NO_CERTIFICATE: (
        "Nobody on the walk of {day} has a certificate that is valid that day.",
        "Choose another walk, or record the certificate.",
    ),
    Code.LOCK_OUT: (
        "The site of {name} lets nobody of this walk in on {day}.",
        "Choose another day; closures and opening hours stand with the site, grants with the person.",
    ),
    Code.WEATHER: (
        "{name} stands outdoors, and the walk of {day} is kept indoors.",
        "Choose a drier day, or let the walk go outdoors.",
    ),
}
