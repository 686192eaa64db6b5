"""What a point's page says in words: title, lead, reasons, facts of the last visit and of the register."""

from collections.abc import Sequence
from datetime import date

from service.domain.findings import LIVE
from service.domain.judgement_rules import RULE_COMMON_LOAD
from service.domain.point_history import PastVisit, PointFinding, PointHistory
from service.domain.words import CURRENT_KINDS, Level, ReferenceKind, Trend
from service.pages import view
from service.pages.view import ForecastFacts, PointNews, TrendFacts

Facts = tuple[tuple[str, str], ...]
#: over these a level is judged on the rise as it was measured; over others on one scale with the baseline or rating
AS_MEASURED = (ReferenceKind.LIKE_PARTS, ReferenceKind.AIR)


def trend_facts(history: PointHistory) -> TrendFacts:
    stands = history.standing
    return TrendFacts(
        trend=stands.trend,
        slope_k_month=stands.slope_k_month,
        low=stands.slope_low,
        high=stands.slope_high,
        visits=stands.trend_visits if history.trend_line is None else history.trend_line.visits,
        pending=stands.pending,
        risen_k=stands.risen_k,
        onset_on=stands.onset_on,
    )


def title(history: PointHistory, *, today: date) -> str:
    """The news of the point."""
    last = last_visit(history)
    mended = [cut.at for cut in history.cuts if cut.reason in ("repaired", "replaced")]
    return view.point_title(
        PointNews(
            name=history.facts.name,
            level=history.standing.level,
            trend=trend_facts(history),
            at_least=history.standing.at_least,
            read=last is not None,
            reason=last.reason.word if last is not None and last.reason is not None else "",
            repaired_on=mended[-1].date() if mended else None,
            today=today,
        )
    )


def last_visit(history: PointHistory) -> PastVisit | None:
    return history.standing_visits[-1] if history.standing_visits else None


def lead(history: PointHistory) -> str:
    """What is measured here, on what, and what it is compared with."""
    facts = history.facts
    what = view.sentence_case(
        ", ".join(word for word in (facts.component or str(facts.kind), facts.coating) if word)
    )
    on = view.place(facts.equipment, facts.view)
    rated = "" if facts.rated_current_a is None else f", {view.amps(facts.rated_current_a)} rated"
    return f"{what}. {on}{rated}. {compared(history)}"


def compared(history: PointHistory) -> str:
    """Compared with L1 and L3 in the same view."""
    facts = history.facts
    if facts.reference is ReferenceKind.LIKE_PARTS:
        others = [part.phase or part.name for part in history.like_parts if part.point_id != facts.point_id]
        return (
            f"Compared with {view.listed(others)} in the same view."
            if others
            else "No like part in its view yet."
        )
    if facts.reference is ReferenceKind.BASELINE:
        return "Compared with its own baseline."
    if facts.reference is ReferenceKind.RATED_SHARE:
        return "Judged by its rise as a share of the rated rise."
    return f"Judged by its rise {facts.reference}."


def verdict(history: PointHistory) -> str:
    """One sentence for the card: what the trend says."""
    return view.trend_sentence(trend_facts(history))


def when(history: PointHistory, *, today: date) -> Facts:
    """When the Act-now line may be reached, and by when to plan; nothing where nothing rises."""
    stands = history.standing
    facts = ForecastFacts(
        trend=stands.trend,
        chance_6=stands.chance_6,
        chance_12=stands.chance_12,
        earliest=stands.crossing_from,
        latest=stands.crossing_to,
        lead_days=history.facts.repair_lead_days,
        pending=stands.pending,
    )
    rows = [
        ("When it may reach Act now", view.forecast_sentence(facts, today=today)),
        ("Plan the repair by", view.plan_by(facts, today=today)),
        ("Since it began", since_it_began(history)),
    ]
    return tuple((name, said) for name, said in rows if said)


def since_it_began(history: PointHistory) -> str:
    """Up 6.2 K since March 2026, at common load."""
    stands = history.standing
    told = stands.trend in (Trend.STEPPED_UP, Trend.HAS_RISEN)
    if stands.pending or told or not stands.trend.worsening:
        return ""
    if stands.risen_k is None or stands.onset_on is None:
        return ""
    return f"Up {view.kelvin(stands.risen_k)} since {view.month(stands.onset_on)}."


def reasons(history: PointHistory, *, today: date) -> Facts:
    """Why we say so, how sure we are, and what else it could be."""
    stands = history.standing
    rows: list[tuple[str, str]] = []
    if stands.level is not Level.ACT_NOW:
        rows += when(history, today=today)
    act = next((value for level, value in history.lines.rows if level is Level.ACT_NOW), None)
    if act is not None and history.lines.unit == "K":
        rows.append(("Act now over", view.line_value(act)))
    if judged_as_measured(history):
        rows.append(("Level judged on", judged_as_measured(history)))
    elif last_rise(history):
        rows.append(("Last rise", last_rise(history)))
    sure = how_sure(history)
    if sure:
        rows.append(("How sure", sure))
    if history.series:
        rows.append(("Trend judged on", judged_on(history)))
    if stands.sentence:
        rows.append(("Decided by", view.own_words(f"{stands.sentence} {history.lines.source}.")))
    other = could_still_be(history)
    if other:
        rows.append(("Could still be", other))
    missed = could_have_missed(history)
    if missed:
        rows.append(("What the last visit could have missed", missed))
    return tuple(rows)


def last_rise(history: PointHistory) -> str:
    """11.4 ± 1.4 K at common load; the rise of the last visit that had one, with its U."""
    stands = history.standing
    if stands.value_k is None or stands.reference is None:
        return ""
    if stands.common_k is not None and stands.reference not in AS_MEASURED:
        return f"{view.measured(stands.common_k, stands.u_common_k)} {stands.reference}, at common load."
    if stands.reference is ReferenceKind.RATED_SHARE:
        return f"{view.measured(stands.value_k, stands.u_k)} over air."
    return f"{view.measured(stands.value_k, stands.u_k)} {stands.reference}."


def how_sure(history: PointHistory) -> str:
    """The chances of the last reading's levels: firm, or between two."""
    last = history.last_read
    if last is None:
        return ""
    told = view.sureness(last.band, last.chances)
    if not told:
        return ""
    if last.level != last.band:
        return f"By its column alone, {told}."
    if last.at_least:
        return f"Of what was seen that day, {told}; it may hide more."
    return view.sentence_case(f"{told}.")


def could_have_missed(history: PointHistory) -> str:
    """A clean reading at 52 % of common load would hide up to 9 K."""
    last, missed = history.last_read, history.could_have_missed_k
    if last is None or missed is None:
        return ""
    at = "" if last.load_ratio is None else f" at {view.percent(last.load_ratio)} of common load"
    scale = "" if last.load_ratio is None else ", told at common load"
    return f"A clean reading{at} would hide a fault of up to {view.at_most_hidden(missed)}{scale}."


def judged_as_measured(history: PointHistory) -> str:
    """1.7 K, measured at 48 % load. The 6.4 K at common load drives the trend.

    Empty where one figure serves both: nothing was scaled, or it is at common load that the level is judged.
    """
    stands = history.standing
    told_apart = view.bare_kelvin(stands.value_k) != view.bare_kelvin(stands.common_k)
    if stands.value_k is None or stands.common_k is None or not told_apart:
        return ""
    if stands.reference not in AS_MEASURED or stands.rule == RULE_COMMON_LOAD:
        return ""
    load = "" if stands.load_ratio is None else f" at {view.percent(stands.load_ratio)} load"
    common = f"The {view.measured(stands.common_k, stands.u_common_k)} at common load drives the trend."
    return f"{view.measured(stands.value_k, stands.u_k)}, measured{load}. {common}"


def judged_on(history: PointHistory) -> str:
    """10 visits at 52 to 93 % load since 12 Mar 2025: those that the trend was fitted to."""
    fitted = trend_facts(history).visits
    series = history.series[-fitted:] if fitted else history.series
    loads = [visit.load_ratio for visit in series if visit.load_ratio is not None]
    at = ""
    if loads:
        low, high = view.percent(min(loads)), view.percent(max(loads))
        at = f" at {low} load" if low == high else f" at {view.number(min(loads) * 100, 0)} to {high} load"
    since = view.day(series[0].taken_at, history.facts.zone)
    return f"{view.counted(len(series), 'visit')}{at} since {since}."


def could_still_be(history: PointHistory) -> str:
    """The honest alternative, from what changed between the last visits; only above Nothing found."""
    if not history.standing.level:
        return ""
    read = [
        visit for visit in history.standing_visits if visit.temperature_c is not None and visit.reason is None
    ]
    if not read:
        return ""
    last, before = read[-1], read[-2] if len(read) > 1 else None
    said = []
    if last.unequal_load:
        said.append("Unequal load: the currents of the like parts differ by over 10 %.")
    settings = {visit.emissivity_set for visit in (last, before) if visit is not None} - {None}
    if before is not None and len(settings) > 1:
        now, then = view.number(last.emissivity_set, 2), view.number(before.emissivity_set, 2)
        said.append(f"Another emissivity setting: {now}, before {then}.")
    if last.instrument and _is_new_instrument(history):
        said.append(f"An instrument that never read this point before: {last.instrument}.")
    if not said and history.standing.reference is ReferenceKind.LIKE_PARTS:
        said.append(
            "A load or a surface that changed on one part only: check both before it is opened."
            if history.standing.trend.worsening
            else "A surface that differs between the parts, or a lasting difference between phases."
        )
    if not said and history.facts.kind not in CURRENT_KINDS:
        said.append("Fresh grease, another duty or a warmer place: ask before it is opened.")
    return " ".join(said)


def _is_new_instrument(history: PointHistory) -> bool:
    """The instrument of the last reading never read this point before, though others have."""
    read = [
        visit.instrument_id
        for visit in history.standing_drawn
        if visit.temperature_c is not None and visit.reason is None
    ]
    known = set(read[:-1]) - {None}
    return bool(known) and read[-1] not in known


def last_facts(history: PointHistory) -> Facts:
    """Load, air, instrument and settings of the last visit; only what was given."""
    last, zone = last_visit(history), history.facts.zone
    if last is None:
        return (("Read", "not yet"),)
    rows = [("Read", f"{view.moment(last.taken_at, zone)}{f' by {last.reader}' if last.reader else ''}")]
    if last.reason is not None:
        rows.append(("Not assessable", last.reason.word))
    if last.round_code:
        rows.append(("Round", last.round_code))
    if last.load_ratio is not None:
        rows.append(("Load", f"{view.percent(last.load_ratio)} of common load"))
    rows += amps_per_phase(history, last)
    air = [view.celsius(last.ambient_c)] if last.ambient_c is not None else []
    if last.wind_m_s is not None:
        air.append(f"wind {view.with_unit(last.wind_m_s, 'm/s')}")
    if air:
        rows.append(("Air", ", ".join(air)))
    if last.reflected_c is not None:
        rows.append(("Reflected", view.celsius(last.reflected_c)))
    if last.instrument:
        rows.append(("Instrument", last.instrument))
    if last.emissivity_set is not None:
        rows.append(("Emissivity set", view.number(last.emissivity_set, 2)))
    if last.picture:
        rows.append(("Picture", last.picture))
    if last.note:
        rows.append(("Note", last.note))
    if last.no_permit_recorded:
        rows.append(("Permit", "no permit recorded"))
    return tuple(rows)


def amps_per_phase(history: PointHistory, last: PastVisit) -> list[tuple[str, str]]:
    """The currents of all parts of the view at one visit, and of the neutral."""
    rows = []
    said = []
    for part in history.like_parts:
        same = [
            amps
            for taken_at, round_id, _, amps in part.readings
            if amps is not None
            and (
                round_id == last.round_id
                if last.round_id is not None
                else taken_at.date() == last.taken_at.date()
            )
        ]
        if same:
            said.append(f"{part.phase or part.name} {view.amps(same[-1])}")
    if not said and last.current_a is not None:
        said.append(view.amps(last.current_a))
    if said:
        rows.append(("Amps", ", ".join(said)))
    if last.neutral_a is not None:
        rows.append(("Neutral", view.amps(last.neutral_a)))
    return rows


def register_facts(history: PointHistory) -> Facts:
    """What the register and the findings say that one needs beside the drawing."""
    facts, stands = history.facts, history.standing
    rows = [("Kind", view.sentence_case(str(facts.kind))), ("Compared", compared(history))]
    if facts.common_load_a is not None:
        source = f", {facts.common_load_source}" if facts.common_load_source else ""
        rows.append(("Common load", f"{view.amps(facts.common_load_a)}{source}"))
    if facts.emissivity is not None:
        source = f", {facts.emissivity_source}" if facts.emissivity_source else ""
        rows.append(("Emissivity", f"{view.number(facts.emissivity, 2)}{source}"))
    if facts.distance_m is not None:
        rows.append(("Distance", view.with_unit(facts.distance_m, "m")))
    if facts.window_transmission is not None:
        rows.append(("Window", f"transmission {view.number(facts.window_transmission, 2)}"))
    if stands.baseline_k is not None and facts.reference is ReferenceKind.BASELINE:
        rows.append(("Baseline", f"{view.kelvin(stands.baseline_k)} over air"))
    if facts.last_greased_on is not None:
        rows.append(("Last greased", view.day(facts.last_greased_on)))
    if stands.due_on is not None:
        rows.append(
            ("Due", f"{view.day(stands.due_on)}{f': {stands.due_reason}' if stands.due_reason else ''}")
        )
    if facts.consequence:
        rows.append(("If it fails", facts.consequence))
    live = live_finding(history)
    if live is not None:
        rows.append(("Owner", live.owner or "no owner yet"))
        if live.work_order:
            rows.append(("Work order", live.work_order))
        if live.planned_for is not None:
            rows.append(("Repair planned for", view.day(live.planned_for)))
    rows.append(("Criteria", history.lines.criteria))
    return tuple(rows)


def live_finding(history: PointHistory) -> PointFinding | None:
    """The finding of the point that still wants something."""
    return next((finding for finding in history.findings if finding.state in LIVE), None)


def visit_notes(visit: PastVisit, reference: ReferenceKind) -> tuple[str, ...]:
    """What a row of the visits table adds in small print."""
    notes = []
    if visit.reason is not None:
        notes.append(f"Not assessable: {visit.reason.word}.")
    if visit.replaced:
        notes.append("Kept as typed; a correction stands in its place.")
    if visit.revision > 1:
        notes.append(f"Correction {visit.revision - 1}: {visit.correction_reason or 'no reason given'}")
    if visit.rise_k is not None and visit.reference is not None and visit.reference is not reference:
        notes.append(f"Rise {visit.reference}.")
    if visit.near_line:
        notes.append("Near the line.")
    if visit.no_permit_recorded:
        notes.append("No permit recorded.")
    if visit.judged and not visit.counts_trend:
        notes.append("Second reading: feeds no trend until decided.")
    if visit.visit_kind != "routine":
        notes.append(view.sentence_case(str(visit.visit_kind)))
    if visit.note:
        notes.append(visit.note)
    return tuple(notes)


def csv_rows(visits: Sequence[PastVisit]) -> list[tuple[object, ...]]:
    """Every stored visit as cells; numbers stay numbers."""
    return [
        (
            visit.taken_at.strftime("%Y-%m-%d %H:%M"), visit.round_code, visit.reader, str(visit.visit_kind),
            visit.reason.word if visit.reason else "", visit.temperature_c, visit.ambient_c, visit.reflected_c,
            visit.wind_m_s, visit.current_a, visit.neutral_a, visit.load_ratio, visit.reference or "", visit.value_k,
            visit.common_k, visit.u_common_k, None if visit.level is None else int(visit.level),
            "yes" if visit.at_least else "no", visit.revision, "yes" if visit.replaced else "no",
            visit.correction_reason, visit.instrument, visit.emissivity_set, visit.picture, visit.note, visit.sentence,
            visit.u_k, visit.p0, visit.p1, visit.p2, visit.p3, visit.p4, visit.smallest_fault_k,
        )
        for visit in visits
    ]  # fmt: skip


CSV_HEAD = (
    "taken (UTC)", "round", "read by", "visit kind", "not assessable", "temperature °C", "air °C", "reflected °C",
    "wind m/s", "amps", "neutral amps", "load share", "reference", "rise as measured K", "rise at common load K",
    "standard uncertainty at common load K", "level", "at least", "revision", "replaced", "reason of correction", "instrument",
    "emissivity set", "picture", "note", "sentence", "standard uncertainty as measured K",
    *(f"chance of level {level}" for level in range(5)), "smallest fault that would have been seen K",
)  # fmt: skip
