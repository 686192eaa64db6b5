"""An independent reading of a plan of days: every hard rule checked from the work as it was asked."""

import math

from service.planning.day_routes import Candidate, CrewDay, PlannedDay, PlannedDays, Work

EARTH_KM = 6371.0
DAY = 1440


def leg_min(work: Work, a: tuple[str, object], b: tuple[str, object]) -> float:
    """Minutes from a to b, each ("at", candidate) or ("base", key or None)."""
    rules = work.travel
    where = [one[1].place.site if one[0] == "at" else one[1] for one in (a, b)]
    if a[0] == b[0] == "at" and where[0] == where[1]:
        p, q = a[1].place, b[1].place
        if a[1].key == b[1].key:
            return 0.0
        if None in (p.x_m, p.y_m, q.x_m, q.y_m):
            return rules.unknown_walk_min
        return math.dist((p.x_m, p.y_m), (q.x_m, q.y_m)) * rules.detour / rules.walk_m_per_min
    gates = {gate.site: gate for gate in work.gates}
    sign_in = 0.0
    if b[0] == "at":
        own = gates[where[1]].sign_in_min
        sign_in = rules.sign_in_min if own is None else own
    if where[0] is None or where[1] is None or where[0] == where[1]:
        return sign_in
    if tuple(where) in work.drive_min:
        return work.drive_min[tuple(where)] + sign_in
    one, two = gates[where[0]], gates[where[1]]
    lat1, lon1, lat2, lon2 = (
        math.radians(v) for v in (one.latitude, one.longitude, two.latitude, two.longitude)
    )
    cosine = math.sin(lat1) * math.sin(lat2) + math.cos(lat1) * math.cos(lat2) * math.cos(lon1 - lon2)
    km = EARTH_KM * math.acos(min(1.0, max(-1.0, cosine)))
    return km * rules.detour / rules.drive_km_per_h * 60 + rules.drive_fixed_min + sign_in


def broken_rules(work: Work, plan: PlannedDays) -> list[str]:
    """What the plan breaks, in words; empty for a sound one. Frozen days are not looked at."""
    candidates = {one.key: one for one in work.candidates}
    days = {day.key: day for day in work.crew_days}
    found: list[str] = []
    placed = [key for day in plan.days for key in day.keys]
    if len(placed) != len(set(placed)):
        found.append("a visit twice")
    for planned in plan.days:
        if not days[planned.key].frozen:
            found += _broken_on(work, days[planned.key], planned, candidates)
    return found


def _broken_on(work: Work, day: CrewDay, planned: PlannedDay, candidates: dict[int, Candidate]) -> list[str]:
    found = []
    here, clock = ("base", day.begins), day.start_min
    for k, visit in enumerate(planned.visits):
        one = candidates[visit.key]
        if planned.break_before == k:
            clock = planned.break_tenths / 10 + day.break_min
        arrive, start, end = visit.arrive_tenths / 10, visit.start_tenths / 10, visit.end_tenths / 10
        if arrive < clock + leg_min(work, here, ("at", one)) - 0.051 or start < arrive:
            found.append(f"{one.key}: there too early")
        if abs(end - start - one.minutes) > 0.051:
            found.append(f"{one.key}: minutes")
        found += [f"{one.key}: {word}" for word in _not_allowed(work, day, one, start)]
        here, clock = ("at", one), end
    if planned.visits:
        found += _bad_end(work, day, planned, here=here, clock=clock)
    return found


def _bad_end(work: Work, day: CrewDay, planned: PlannedDay, *, here, clock: float) -> list[str]:
    found = []
    if planned.break_before == len(planned.visits):
        clock = planned.break_tenths / 10 + day.break_min
    back = planned.back_tenths / 10
    if back < clock + leg_min(work, here, ("base", day.ends)) - 0.051 or back > day.end_min + 1e-9:
        found.append(f"day {planned.key}: end")
    if back - day.start_min > day.break_over_min + 1e-9 and planned.break_before is None:
        found.append(f"day {planned.key}: no break")
    return found


def _not_allowed(work: Work, day: CrewDay, one: Candidate, start: float) -> list[str]:
    gate = next(gate for gate in work.gates if gate.site == one.place.site)
    words = []
    if one.needs_qualified_person and not day.has_qualified_person:
        words.append("no qualified person")
    if one.category > day.category:
        words.append("category")
    if (
        day.day in one.closed_days
        or gate.opens_on.get(day.day, True) == ()
        or day.day in gate.closed_days
        or gate.site in day.closed_sites
    ):
        words.append("closed")
    if one.outdoor and (day.indoors_only or day.day in one.unfit_days):
        words.append("weather")
    if one.pin is not None and one.pin.crew_day != day.key:
        words.append("pinned elsewhere")
    windows = one.windows_on.get(day.day, one.windows or ((0, DAY),))
    typed = one.pin.start_min if one.pin else None
    if typed is not None:
        if abs(start - typed) > 1e-9:
            words.append("pinned minute")
    elif not any(_within(window, start, one.minutes) for window in windows):
        words.append("load hours")
    opens = gate.opens_on.get(day.day, gate.opens)
    if opens and not any(_within(window, start, one.minutes, whole=True) for window in opens):
        words.append("opening hours")
    return words


def _within(window: tuple[float, float], start: float, minutes: float, *, whole: bool = False) -> bool:
    """Work lies in the window, today's or yesterday's; shorter load hours need only hold its begin."""
    for day in (-DAY, 0):
        begin, end = window[0] + day, window[1] + day + (DAY if window[1] <= window[0] else 0)
        last = end - minutes if whole or end - begin >= minutes else end
        if begin - 1e-9 <= start <= last + 1e-9:
            return True
    return False
