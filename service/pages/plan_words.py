"""The sentences of a plan's pages: its news, its walks, and what two versions differ in."""

from collections.abc import Mapping

from service.charts.timetable import LoadBand, Timetable, TimetableStop
from service.domain.load_hours import Window, understood_hours
from service.domain.plan_risks import RiskThatStays
from service.domain.plan_weeks import PlanWeek
from service.domain.plans import ON_ANOTHER_ROUND, MonthPlan, PlannedStop, Walk
from service.domain.reserve_days import ReserveDay, is_kept
from service.domain.stop_facts import EquipmentFacts
from service.domain.words import Access
from service.pages.view import (
    THIN,
    counted,
    listed,
    long_day,
    minute_of_day,
    minutes,
    month,
    number_word,
    sentence_case,
    short_day,
)
from service.usecases.plans.hand_words import broken_words
from service.usecases.plans.lose import LostLook
from service.usecases.plans.make_rounds import Made
from service.usecases.plans.offers import WalkOffer
from service.usecases.plans.see import Comparison, PlanPage, PlanSums

#: a walk's timetable shows at least from here to there [min of the day]
EARLIEST, LATEST, EDGE = 420.0, 930.0, 30.0
#: a chance that is told in the title
GRAVE = 0.1
#: ways in that are worth a word
APPROACHED = (Access.HINGED_COVER, Access.BOLTED_COVER, Access.WINDOW)


def plan_title(page: PlanPage) -> str:
    """December takes nine walks; three stops are put off, each with its reason."""
    sums, when = page.sums, month(page.body.month_on)
    if not page.body.drawn:
        return f"The plan for {when} is being drawn up" if page.plan.working else f"No plan for {when} yet"
    if not sums.stops:
        return f"{when}: nothing can be walked" if sums.off else f"{when}: nothing is due"
    takes = f"{when} takes {number_word(sums.walks)} walk{'' if sums.walks == 1 else 's'}"
    if not sums.off:
        return f"{takes} and leaves nothing out"
    if sums.off == 1:
        return f"{takes}; one stop is put off, for its reason"
    return f"{takes}; {number_word(sums.off)} stops are put off, each for its reason"


def plan_lead(page: PlanPage) -> str:
    """What is in it, and what could not wait and is not."""
    sums = page.sums
    if not page.body.drawn or not (sums.stops or sums.off):
        return ""
    told = [
        f"{sentence_case(counted(sums.points, 'point'))} at {counted(sums.stops, 'stop')} in {minutes(sums.minutes)}."
    ]
    if sums.early:
        told.append(f"{sentence_case(counted(sums.early, 'stop'))} taken early, since somebody is there.")
    if sums.off_must:
        waits = "stop that cannot wait is" if sums.off_must == 1 else "stops that cannot wait are"
        told.append(f"{sentence_case(number_word(sums.off_must))} {waits} on no walk.")
    return " ".join(told)


def _cover_words(sums: PlanSums, cover_minutes: float) -> str:
    asked = "permits to ask for" if sums.covers else ""
    weighs = f"each weighs as {minutes(cover_minutes)} of reading" if cover_minutes else ""
    return "; ".join(part for part in (asked, weighs) if part)


def plan_facts(sums: PlanSums, *, cover_minutes: float) -> tuple[tuple[str, str, str], ...]:
    """The six facts in a line: name, figure, addition."""
    return (
        ("Walks", str(sums.walks), ""),
        ("Points", str(sums.points), f"at {counted(sums.stops, 'stop')}"),
        ("Time out", minutes(sums.minutes), ""),
        ("Covers opened", str(sums.covers), _cover_words(sums, cover_minutes)),
        ("Past their day", str(sums.late), f"of {counted(sums.stops, 'stop')}"),
        (
            "Put off",
            str(sums.off),
            f"{'stop' if sums.off == 1 else 'stops'}, {counted(sums.off_points, 'point')}",
        ),
    )


def progress_words(plan: MonthPlan) -> str:
    """How far the drawing up is."""
    working = plan.working
    if working is None:
        return ""
    if not working.of:
        return f"{sentence_case(working.what)}: filling free time."
    return f"{sentence_case(working.what)}: step {working.done} of {working.of}."


def walk_title(page: PlanPage, walk: Walk) -> str:
    who = page.people.get(walk.person_id, "Nobody")
    return f"{who}, {long_day(walk.day)}"


def walk_lead(walk: Walk) -> str:
    """One walk in a sentence."""
    if walk.lost:
        return f"Lost: {walk.lost}."
    if is_kept(walk):
        return "Kept free for outdoor readings that the weather spoils."
    if not walk.stops:
        return "Nothing is on it."
    back = minute_of_day(walk.back_min)
    held = "Frozen: planned over no more. " if walk.frozen else ""
    return f"{held}{sentence_case(counted(len(walk.stops), 'stop'))}, back by {back}."


def reserve_words(one: ReserveDay) -> str:
    """What a reserve day stands in for, and whether it still does."""
    walks = listed([short_day(walk.day) for walk in one.stands_for])
    if one.walked:
        return f"Reserve day given up: {walks} came back. It may be planned again."
    return f"Kept in reserve for the outdoor stops of {walks}" if walks else "Kept in reserve by hand"


def week_words(week: PlanWeek) -> str:
    """6 h of 24 h, 3 h of it kept in reserve."""
    kept = f", {minutes(week.kept_min)} kept in reserve" if week.kept_min else ""
    return (
        f"{minutes(week.planned_min)} of {minutes(week.offered_min)}, {round(100 * week.share)}{THIN}%{kept}"
    )


def walk_line(page: PlanPage, walk: Walk) -> str:
    """Who goes and where, in the list of the month."""
    names = [page.people.get(walk.person_id, "?")]
    if walk.second_id is not None:
        names.append(page.people.get(walk.second_id, "?"))
    return " with ".join(names)


def walk_sites(page: PlanPage, walk: Walk) -> list[str]:
    """Sites of a walk in walking order."""
    names = [
        page.facts[stop.equipment_id].site_name for stop in walk.stops if stop.equipment_id in page.facts
    ]
    return list(dict.fromkeys(names))


def stop_words(stop: PlannedStop, facts: EquipmentFacts) -> str:
    """How it is reached and why it is on the walk."""
    told = [facts.access.value if facts.access in APPROACHED else "", stop.why]
    if stop.pinned_min is not None:
        told.insert(0, f"pinned to {minute_of_day(stop.pinned_min)}")
    elif stop.held:
        told.insert(0, "held here by hand")
    if stop.anyway:
        told.append(f"kept anyway: {stop.anyway}")
    return "; ".join(part for part in told if part)


def as_timetable(walk: Walk, facts: Mapping[int, EquipmentFacts]) -> Timetable:
    """A walk as it is drawn."""
    stops = tuple(_drawn(walk, stop, facts[stop.equipment_id]) for stop in walk.stops)
    return Timetable(
        start_min=min([EARLIEST, *(stop.arrive_min - EDGE for stop in stops)]),
        end_min=max([LATEST, *(stop.leave_min + EDGE for stop in stops)]),
        stops=stops,
        leave_base_min=walk.leave_min,
    )


def _drawn(walk: Walk, stop: PlannedStop, facts: EquipmentFacts) -> TimetableStop:
    bands = load_bands(walk, facts)
    return TimetableStop(
        name=facts.title,
        arrive_min=stop.start_min,
        leave_min=stop.end_min,
        bands=tuple(LoadBand(a, b, f"{minute_of_day(a)}–{minute_of_day(b)}") for a, b in bands),
        off_hours=bool(stop.anyway),
        travel_words=minutes(stop.way_min) if stop.way_min >= EDGE / 2 else "",
    )


def load_bands(walk: Walk, facts: EquipmentFacts) -> tuple[Window, ...]:
    """Load hours of an equipment on the day of a walk."""
    hours = understood_hours(facts.load_hours)
    return () if hours is None else hours.on(walk.day.weekday())


def taken_words(page: PlanPage) -> str:
    """What other rounds take in already, in a sentence; empty for nothing."""
    codes = [one.said for one in page.body.left_out if one.code == ON_ANOTHER_ROUND]
    if not codes:
        return ""
    are = "is" if len(codes) == 1 else "are"
    return f"{sentence_case(counted(len(codes), 'more stop'))} {are} due and on {listed(sorted(set(codes)))} already."


# ---- two versions --------------------------------------------------------------------------


def compared(comparison: Comparison) -> tuple[tuple[str, str, str], ...]:
    """Figures of two versions side by side: name, before, after."""
    one, other = comparison.before.sums, comparison.after.sums
    return (
        ("Walks", str(one.walks), str(other.walks)),
        ("Points", str(one.points), str(other.points)),
        ("Time out", minutes(one.minutes), minutes(other.minutes)),
        ("Covers opened", str(one.covers), str(other.covers)),
        ("Past their day", str(one.late), str(other.late)),
        ("Put off", str(one.off), str(other.off)),
        ("Of those, cannot wait", str(one.off_must), str(other.off_must)),
        (
            "Faults expected among what is not seen",
            f"{comparison.risk_before:.2f}",
            f"{comparison.risk_after:.2f}",
        ),
    )


def compared_title(comparison: Comparison) -> str:
    """Two stops change day, one drops out and four come in."""
    moved, dropped, added = len(comparison.moved), len(comparison.dropped), len(comparison.added)
    if not (moved or dropped or added):
        return "Both versions put every stop on the same walk"
    counts = [
        (count, one if count == 1 else many)
        for count, one, many in (
            (moved, "changes walk", "change walk"),
            (dropped, "drops out", "drop out"),
            (added, "comes in", "come in"),
        )
        if count
    ]
    first, does = counts[0]
    named = f"{number_word(first)} {'stop' if first == 1 else 'stops'} {does}"
    *most, last = [named, *(f"{number_word(count)} {does}" for count, does in counts[1:])]
    return sentence_case(f"{', '.join(most)} and {last}" if most else last)


def walk_named(comparison: Comparison, key: str) -> str:
    """Day and person of a walk of either version."""
    for page in (comparison.after, comparison.before):
        walk = page.body.walk(key)
        if walk is not None:
            return f"{short_day(walk.day)}, {page.people.get(walk.person_id, '?')}"
    return "no walk"


# ---- by hand -------------------------------------------------------------------------------


def why_refused(one: WalkOffer, facts: EquipmentFacts) -> str:
    """The rule that keeps a stop off a walk, in a sentence."""
    return "" if one.check.fits else broken_words(one.check, one.walk, facts)[0]


def made_words(made: Made) -> str:
    """What became of the walks as rounds."""
    told = []
    if made.made:
        told.append(f"{counted(len(made.made), 'draft')} made: {listed(list(made.made))}.")
    if made.changed:
        follow = "follows" if len(made.changed) == 1 else "follow"
        told.append(f"{counted(len(made.changed), 'draft')} {follow} the plan.")
    if made.left:
        stay = "stays" if len(made.left) == 1 else "stay"
        told.append(f"{listed(list(made.left))} went out already and {stay} as issued.")
    told.append("Permits, instrument and issue follow on each round.")
    return " ".join(told)


# ---- the risk that stays -------------------------------------------------------------------


def risk_title(risks: RiskThatStays) -> str:
    """Of 84 pieces of equipment not seen this month, two may fail or reach Act now before their next visit."""
    if not risks.unseen:
        return "Everything at these sites is seen this month"
    grave = sum(risk.chance >= GRAVE for risk in risks.unseen)
    pieces = counted(len(risks.unseen), "piece of equipment", "pieces of equipment")
    if not grave:
        return (
            f"{sentence_case(pieces)} not seen this month, none with one chance in ten or more "
            "of failing or reaching Act now before its next visit"
        )
    has, its = ("has", "its") if grave == 1 else ("have", "their")
    return (
        f"Of {pieces} not seen this month, {number_word(grave)} {has} one chance in ten or more "
        f"of failing or reaching Act now before {its} next visit"
    )


def lost_title(look: LostLook) -> str:
    """Nine stops would wait if nobody walks on Tuesday."""
    day = long_day(look.walk.day)
    if not look.waiting:
        return f"Nothing would wait if nobody walks on {day}"
    stops = "stop" if look.waiting == 1 else "stops"
    return f"{sentence_case(number_word(look.waiting))} {stops} would wait if nobody walks on {day}"
