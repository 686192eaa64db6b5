"""A view's visits in their order: judging each by what came before, and what the point then stands at."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from statistics import median
from typing import Any, Protocol

from service.domain.baselines import baseline_k, baseline_share_k
from service.domain.criteria import Criteria
from service.domain.judgement import judge_view
from service.domain.measuring import Measured
from service.domain.seen import NoHeatAnswer, RangeEnd, SeenPoint, SeenView
from service.domain.settings import NOTHING_SAID, Inputs, Instrument, PointOptics, SeenValues
from service.domain.site_clock import known_zone, local_day
from service.domain.standing import StandingState, advance, proven
from service.domain.verdicts import Verdict
from service.domain.words import Level, PointKind, Reason, ReferenceKind
from service.physics.cautions import Caution
from service.physics.settling import Settling

#: a plain number: an enumeration's own ``&`` makes a member each time
_UNDERFILLED = int(Caution.UNDERFILLED)
NEUTRAL_PHASES = frozenset({"n", "neutral"})


class Values(SeenValues, Protocol):
    """What judging looks at in a reading, returned just now or stored long ago."""

    @property
    def taken_at(self) -> datetime: ...
    @property
    def fan_on_part(self) -> bool: ...
    @property
    def boxes(self) -> Mapping[str, Any] | None: ...
    @property
    def instrument_id(self) -> int | None: ...
    @property
    def not_assessable(self) -> Reason | None: ...


@dataclass(frozen=True, slots=True)
class VisitPoint:
    """What the register knows of a point whose reading is judged."""

    id: int
    site_id: int
    client_id: int
    equipment_id: int
    view_id: int
    tag: str
    title: str
    consequence: str
    zone: str
    kind: PointKind
    reference: ReferenceKind
    component: str
    coating: str
    medium: str
    emissivity: float | None
    neutral: bool
    common_load_a: float | None
    rated_current_a: float | None
    rated_rise_k: float | None
    no_heat_answer: NoHeatAnswer | None
    greased_at: datetime | None
    equipment_class: str = ""
    voltage_class: str = ""
    in_turn: bool = False
    optics: PointOptics = NOTHING_SAID


@dataclass(frozen=True, slots=True)
class VisitReading:
    """One reading of a visit; ``chosen`` is the source the engineer decided for, if any.

    ``inputs`` are what its figures rest on and ``measured`` what they came to.
    """

    reading_id: int
    point: VisitPoint
    round_id: int | None
    source: str
    chosen: str | None
    episode: int
    values: Values
    inputs: Inputs
    measured: Measured


@dataclass(frozen=True, slots=True)
class Judged:
    """A verdict, and what it feeds: of two readings the worse the level, neither the trend."""

    reading: VisitReading
    verdict: Verdict
    counts_level: bool = True
    counts_trend: bool = True


@dataclass(slots=True)
class Memory:
    """A point after its visits so far: its standing and what the next visit needs to go on."""

    standing: StandingState = field(default_factory=StandingState)
    previous_over_first_line: bool = False
    episode: int = 0
    shares_k: list[float] = field(default_factory=list)
    baseline_k: float | None = None
    baseline_visits: int = 0
    last_visit_at: datetime | None = None
    last_read_at: datetime | None = None
    last_cleared_at: datetime | None = None
    last_temperature_c: float | None = None
    last_current_a: float | None = None
    last_rule: str = ""
    last_sentence: str = ""
    last_reading_id: int | None = None
    reference: ReferenceKind | None = None
    value_k: float | None = None
    common_k: float | None = None
    load_ratio: float | None = None
    u_k: float | None = None
    u_common_k: float | None = None
    smallest_fault_k: float | None = None
    share_of_rated: float | None = None
    last_could_clear: bool = False


def judge_visit(
    readings: Sequence[VisitReading],
    memories: dict[int, Memory],
    criteria: Criteria,
    *,
    instruments: Mapping[int, Instrument],
) -> list[Judged]:
    """Judge the readings of one view on one visit.

    Parameters
    ----------
    readings : sequence of VisitReading
        All that the visit brought of the view; a point may be there twice, by two sources.
    memories : dict of int to Memory
        By point, as it was before this visit; not changed here.
    criteria : Criteria
        The set in force.
    instruments : mapping of int to Instrument
        By id; for the ends of their ranges.

    Returns
    -------
    list of Judged
        One per reading. Two people's readings are judged apart, each beside the like parts
        that the same source read (filled up with the other's where it has none).
    """
    if len({reading.point.id for reading in readings}) == len(readings):
        return [
            Judged(reading, verdict)
            for reading, verdict in zip(
                readings, _judge(readings, memories, criteria, instruments=instruments), strict=True
            )
        ]
    judged: list[Judged] = []
    for source in dict.fromkeys(reading.source for reading in readings):
        own = [reading for reading in readings if reading.source == source]
        there = {reading.point.id for reading in own}
        filled = own + [other for other in _one_each(readings, without=source) if other.point.id not in there]
        verdicts = _judge(filled, memories, criteria, instruments=instruments)
        judged += [Judged(r, v) for r, v in zip(own, verdicts[: len(own)], strict=True)]
    return _with_doubles(judged)


def _one_each(readings: Sequence[VisitReading], *, without: str) -> Iterable[VisitReading]:
    """One reading per point of the other sources: the chosen one, else the first."""
    found: dict[int, VisitReading] = {}
    for reading in readings:
        if reading.source != without and (reading.point.id not in found or reading.source == reading.chosen):
            found[reading.point.id] = reading
    return found.values()


def _with_doubles(judged: list[Judged]) -> list[Judged]:
    by_point: dict[int, list[Judged]] = {}
    for one in judged:
        by_point.setdefault(one.reading.point.id, []).append(one)
    result: list[Judged] = []
    for several in by_point.values():
        if len(several) == 1:
            result += several
            continue
        sources = {one.reading.source for one in several}
        chosen = next((one.reading.chosen for one in several if one.reading.chosen in sources), None)
        worst = max(several, key=lambda one: -1 if one.verdict.level is None else int(one.verdict.level))
        for one in several:
            stands = one.reading.source == chosen
            counts = stands if chosen is not None else one is worst
            result.append(Judged(one.reading, one.verdict, counts_level=counts, counts_trend=stands))
    return result


def _judge(
    readings: Sequence[VisitReading],
    memories: dict[int, Memory],
    criteria: Criteria,
    *,
    instruments: Mapping[int, Instrument],
) -> tuple[Verdict, ...]:
    airs = [r.inputs.ambient_c for r in readings if r.inputs.ambient_c is not None]
    winds = [r.inputs.wind_m_s for r in readings if r.inputs.wind_m_s is not None]
    view = SeenView(
        points=tuple([_seen(r, memories[r.point.id], instruments) for r in readings]),
        ambient_c=airs[0] if len(airs) == 1 else median(airs) if airs else None,
        wind_m_s=max(winds) if winds else None,
        fan_on_part=any(r.values.fan_on_part for r in readings),
    )
    return judge_view(view, criteria)


def _seen(reading: VisitReading, memory: Memory, instruments: Mapping[int, Instrument]) -> SeenPoint:
    point, values, inputs, measured = reading.point, reading.values, reading.inputs, reading.measured
    same_episode = reading.episode == memory.episode
    return SeenPoint(
        point_id=point.id,
        kind=point.kind,
        temperature_c=measured.surface_c,
        reference=point.reference,
        component=point.component,
        coating=point.coating,
        medium=point.medium,
        current_a=inputs.current_a,
        common_load_a=inputs.common_load_a,
        rated_current_a=point.rated_current_a,
        rated_rise_k=point.rated_rise_k,
        baseline_k=memory.baseline_k if same_episode else None,
        previous_over_first_line=memory.previous_over_first_line and same_episode,
        hours_since_greased=_hours(point.greased_at, values.taken_at),
        greased_asked=point.greased_at is not None,
        no_heat_answer=point.no_heat_answer,
        neutral=point.neutral,
        emissivity=inputs.emissivity.value,
        spot_underfilled=bool(measured.caution & _UNDERFILLED),
        range_end=_range_end(values, instruments),
        settled=False if measured.settling == Settling.NOT_SETTLED else None,
        not_assessable=values.not_assessable,
        measured=measured,
        equipment_class=point.equipment_class,
        voltage_class=point.voltage_class,
        in_turn=point.in_turn,
        boxes=values.boxes,
    )


def _hours(greased_at: datetime | None, taken_at: datetime) -> float | None:
    if greased_at is None:
        return None
    hours = (taken_at - greased_at).total_seconds() / 3600.0
    return hours if hours >= 0 else None


def _range_end(values: Values, instruments: Mapping[int, Instrument]) -> RangeEnd | None:
    if values.temperature_c is None or values.instrument_id is None:
        return None
    instrument = instruments.get(values.instrument_id)
    if instrument is None:
        return None
    low, high = instrument.range_low_c, instrument.range_high_c
    if high is not None and values.temperature_c >= high:
        return RangeEnd.TOP
    if low is not None and values.temperature_c <= low:
        return RangeEnd.BOTTOM
    return None


def remember(
    memory: Memory, judged: Judged, criteria: Criteria, *, proven_by: frozenset[int] = frozenset()
) -> None:
    """Go on from one more visit of a point; a reading that does not count changes nothing.

    Parameters
    ----------
    memory : Memory
        Of the point, changed in place.
    judged : Judged
        What the visit says.
    criteria : Criteria
        The set it was judged by.
    proven_by : frozenset of int
        Readings by which a repair was proven: they reset the standing.
    """
    if not judged.counts_level:
        return
    reading, values = judged.reading, judged.reading.values
    usable = values.temperature_c if values.not_assessable is None else None
    go_on(
        memory,
        judged.verdict,
        reading.point,
        reading_id=reading.reading_id,
        episode=reading.episode,
        taken_at=values.taken_at,
        temperature_c=usable,
        current_a=values.current_a,
        criteria=criteria,
        proven_by=proven_by,
    )


def go_on(
    memory: Memory,
    verdict: Verdict,
    point: VisitPoint,
    *,
    reading_id: int,
    episode: int,
    taken_at: datetime,
    temperature_c: float | None,
    current_a: float | None,
    criteria: Criteria,
    proven_by: frozenset[int],
) -> None:
    """The same from a stored verdict; ``temperature_c`` is None where the visit read nothing."""
    if episode != memory.episode:
        memory.episode = episode
        memory.shares_k, memory.baseline_k, memory.baseline_visits = [], None, 0
        memory.previous_over_first_line = False
    day = local_day(taken_at, point.zone)
    memory.standing = advance(memory.standing, verdict, when=day, criteria=criteria)
    if reading_id in proven_by:
        memory.standing = proven(day)
    memory.last_visit_at = taken_at
    memory.last_rule, memory.last_sentence = verdict.rule, verdict.sentence
    memory.last_reading_id = reading_id
    memory.last_could_clear = verdict.could_clear
    if temperature_c is not None:
        memory.last_read_at = taken_at
        memory.last_temperature_c, memory.last_current_a = temperature_c, current_a
    if verdict.clears:
        memory.last_cleared_at = taken_at
    if verdict.value_k is not None or verdict.level is not None:
        memory.previous_over_first_line = verdict.over_first_line
        memory.reference, memory.value_k = verdict.reference, verdict.value_k
        memory.common_k, memory.load_ratio = verdict.common_k, verdict.load_ratio
        memory.u_k, memory.u_common_k = verdict.u_k, verdict.u_common_k
        memory.smallest_fault_k = verdict.smallest_fault_k
        memory.share_of_rated = verdict.share_of_rated
    if memory.baseline_visits < criteria.baseline_visits:
        _form_baseline(memory, verdict, point.kind, criteria=criteria)


def _form_baseline(memory: Memory, verdict: Verdict, kind: PointKind, *, criteria: Criteria) -> None:
    share = baseline_share_k(verdict, kind, criteria=criteria)
    if share is None:
        return
    memory.shares_k.append(share)
    memory.baseline_visits = len(memory.shares_k)
    memory.baseline_k = baseline_k(memory.shares_k, criteria)


def greased_instant(day: date | None, zone: str) -> datetime | None:
    """Greasing is known by its day; the hours are counted from that day's beginning."""
    if day is None:
        return None
    return datetime.combine(day, time(), known_zone(zone)).astimezone(UTC)


def grave(level: Level | None) -> int:
    """Order of levels with *No verdict* under all of them."""
    return -1 if level is None else int(level)
