"""The sentences of the rounds' pages, written from what is there."""

from datetime import date

from service.charts.timetable import LoadBand, Timetable, TimetableStop
from service.domain.words import LEVEL_WORDS, Level, RoundState, Trend
from service.pages.view import (
    counted,
    long_day,
    minute_of_day,
    minutes,
    month,
    number_word,
    percent,
    sentence_case,
    short_day,
)
from service.usecases.rounds.browse import GoTo, RoundPage, RoundsMonth
from service.usecases.rounds.timetable import NotOnRound, RoundDay, TimedStop

#: a timetable shows at least from here to there [min of the day]
EARLIEST, LATEST, EDGE = 420.0, 930.0, 30.0


def month_title(page: RoundsMonth) -> str:
    """Two rounds in December 2026, one of them not issued yet."""
    walked = [line for line in page.rounds if line.round.state is not RoundState.WITHDRAWN]
    when = month(page.month)
    if not walked:
        return f"No rounds in {when} yet"
    drafts = sum(line.round.state is RoundState.DRAFT for line in walked)
    back = sum(line.round.state is RoundState.RETURNED for line in walked)
    count = sentence_case(_rounds(len(walked)))
    if back:
        return f"{count} in {when}, {number_word(back)} back and not signed off"
    if drafts:
        some = "" if drafts == len(walked) else f"{number_word(drafts)} of them "
        return f"{count} in {when}, {some}not issued yet"
    return f"{count} in {when}"


def _rounds(count: int) -> str:
    return f"{number_word(count)} round{'' if count == 1 else 's'}"


def month_lead(page: RoundsMonth) -> str:
    """What came back of what went out, and how much of what is due is on a round."""
    told = []
    if page.asked:
        told.append(f"{page.answered} of {counted(page.asked, 'point')} that went out came back.")
    if page.due_points:
        taken = (
            f"{page.due_taken} of them on a round to come"
            if page.due_taken
            else "none of them on a round yet"
        )
        told.append(
            f"{sentence_case(counted(page.due_points, 'point'))} due by the end of the month, {taken}."
        )
    elif page.may_plan:
        told.append("Nothing else is due by the end of the month.")
    return " ".join(told)


def round_title(page: RoundPage) -> str:
    return f"{page.round.name}, {long_day(page.round.planned_on)}"


def round_lead(page: RoundPage) -> str:
    """The state of a round and the next step, in one or two sentences."""
    round_ = page.round
    if round_.state is RoundState.DRAFT:
        if page.problems:
            count = len(page.problems)
            stand = "thing still stands" if count == 1 else "things still stand"
            return f"A draft. {sentence_case(number_word(count))} {stand} in the way of issuing it."
        return "A draft, ready to be issued."
    if round_.state is RoundState.WITHDRAWN:
        return f"Withdrawn: {page.moves[-1].note} What was due on it stays due."
    back = f"{page.answered} of {counted(page.rows, 'point')}"
    if round_.state is RoundState.ISSUED:
        return f"Issued to {page.person.name if page.person else 'nobody'}; nothing has come back yet."
    if round_.state is RoundState.RETURNED:
        left = page.rows - page.answered
        if not left:
            return f"All {counted(page.rows, 'point')} came back; it waits for its sign-off."
        needs = "it needs" if left == 1 else "each needs"
        return f"{back} came back. {counted(left, 'point')} not read yet; {needs} a reading or a reason."
    return f"Signed off with {back} read or accounted for. Corrections are now an engineer’s revisions."


def builder_lead(day: RoundDay) -> str:
    """Names the problem and its cost, or says that there is none."""
    outside = len(day.outside)
    if not day.stops:
        return "No stops yet. Add the first from what is due."
    if not outside:
        return "Every stop is reached within its load hours, as far as they are known."
    lost = sum(stop.tally.points for stop in day.outside)
    verb = "stop would" if outside == 1 else "stops would"
    them = "it" if outside == 1 else "them"
    return (
        f"{sentence_case(number_word(outside))} {verb} be read while the equipment is idle or lightly loaded. "
        f"Move {them}, or {lost} of {counted(day.points, 'reading')} can accuse, not clear."
    )


def six_facts(day: RoundDay) -> tuple[tuple[str, str, str], ...]:
    """The six facts in a line: name, figure, addition."""
    back = minute_of_day(day.plan.back_by_min) if day.stops else "–"
    return (
        ("Points", str(day.points), ""),
        ("Likely to clear", str(day.likely_to_clear), f"of {day.points}"),
        ("Time at equipment", minutes(day.plan.service_min), ""),
        ("Walking, driving, break", minutes(day.travel_min), ""),
        ("Back by", back, ""),
        ("Two people at", str(day.behind_covers), "stop" if day.behind_covers == 1 else "stops"),
    )


def stop_words(stop: TimedStop) -> str:
    """What stands under a stop's name: points, what is special, why today."""
    tally = stop.tally
    told = [counted(tally.points, "point")]
    if tally.read_again:
        told.append("read again after repair")
    elif tally.level is not None and tally.level >= Level.PLAN_REPAIR:
        told.append(f"{tally.worst_name}: {LEVEL_WORDS[Level(tally.level)]}")
    elif tally.worsening:
        told.append(f"{tally.worsening} worsening")
    elif tally.due:
        told.append(f"{tally.due} due")
    if stop.will_not_run:
        told.append("the site says that it will not run")
    return ", ".join(told)


def off_hours_words(stop: TimedStop) -> str:
    """10:06: idle until 12:30; empty inside the load hours."""
    if not stop.time.outside_load_hours:
        return ""
    at = minute_of_day(stop.time.start_min)
    if stop.idle_until_min is not None:
        return f"{at}: outside load hours until {minute_of_day(stop.idle_until_min)}"
    return f"{at}: outside its load hours for the rest of that day"


def beside_words(one: NotOnRound) -> str:
    """Why a stop beside the round would be worth taking."""
    tally = one.tally
    told = [counted(tally.points, "point")]
    if one.near_round_on is not None:
        return f"{told[0]}, on the round of {short_day(one.near_round_on)}"
    if tally.read_again:
        told.append("to be read again after repair")
    elif tally.worsening and tally.worst_trend and Trend(tally.worst_trend).worsening:
        told.append(f"{tally.worst_name} {tally.worst_trend}")
    elif tally.due_on is not None:
        told.append(
            f"due {short_day(tally.due_on)}" if tally.due else f"not due until {short_day(tally.due_on)}"
        )
    return ", ".join(told)


def as_timetable(day: RoundDay) -> Timetable:
    """The drawing's own terms."""
    starts = [EARLIEST, day.plan.leave_min]
    ends = [LATEST, day.plan.back_by_min + EDGE]
    return Timetable(
        start_min=min(starts),
        end_min=max(ends),
        stops=[as_drawn(stop) for stop in day.stops],
        leave_base_min=day.plan.leave_min if day.stops else None,
    )


def as_drawn(stop: TimedStop) -> TimetableStop:
    share = stop.facts.usual_load_share
    word = "" if share is None else percent(share)
    return TimetableStop(
        name=stop.facts.title,
        arrive_min=stop.time.start_min,
        leave_min=stop.time.end_min,
        bands=[LoadBand(low, high, word) for low, high in stop.windows],
        off_hours=stop.time.outside_load_hours,
        travel_words=_travel(stop),
    )


def _travel(stop: TimedStop) -> str:
    told = []
    if stop.time.break_min:
        told.append(f"break {minutes(stop.time.break_min)}")
    if stop.time.drive_min:
        told.append(f"drive {minutes(stop.time.drive_min)}")
    return ", ".join(told)


def go_title(go: GoTo) -> str:
    """Go to 4: pump 3 bearings."""
    return f"Go to {go.here.stop.position}: {go.here.facts.name}"


def next_month(day: date, *, by: int) -> date:
    """The first day of the month before or after."""
    year, place = divmod(day.year * 12 + day.month - 1 + by, 12)
    return date(year, place + 1, 1)
