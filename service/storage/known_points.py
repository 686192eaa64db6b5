"""Points with all that is known of them when their readings are judged, in one query."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import accumulate, pairwise
from operator import itemgetter
from typing import Any

from sqlalchemy import Select, or_, select
from sqlalchemy.orm import aliased

from service.domain.criteria import Criteria
from service.domain.seen import NoHeatAnswer
from service.domain.settings import PointOptics
from service.domain.standing import StandingState, trend_lift
from service.domain.visits import NEUTRAL_PHASES, Memory, VisitPoint, greased_instant
from service.domain.words import Access, Level, PointKind, ReferenceKind, SettingSource, Trend
from service.storage.bulk import is_one_of
from service.storage.tables.readings import AssessmentRow, PointStateRow
from service.storage.tables.register import EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.unit import Unit

_LEVELS: dict[int | None, Level | None] = {None: None, **{int(level): level for level in Level}}
_KINDS = {kind.value: kind for kind in PointKind}
_REFERENCES: dict[str | None, ReferenceKind] = {kind.value: kind for kind in ReferenceKind}
_TRENDS = {trend.value: trend for trend in Trend}
_SOURCES: dict[str | None, SettingSource | None] = {None: None, **{one.value: one for one in SettingSource}}
_WINDOW = Access.WINDOW.value
_ANSWERS = {answer.value: answer for answer in NoHeatAnswer}


@dataclass(frozen=True, slots=True)
class Wear:
    """What of a point and its equipment decides how often it is read."""

    criticality: str
    condition: str
    interval_months: float | None
    pf_interval_months: float | None
    repair_lead_days: int | None
    made_on: date
    retired: bool


@dataclass(frozen=True, slots=True)
class KnownPoint:
    """A point with what its state row says; all but the first two is fresh where it was never read.

    ``trend`` and ``chance_12`` are what the last trend job wrote; ``was`` is the level shown and
    ``since`` its day.
    """

    point: VisitPoint
    wear: Wear
    memory: Memory = field(default_factory=Memory)
    was: Level | None = None
    since: date | None = None
    trend: Trend = Trend.TOO_FEW_VISITS
    chance_12: float | None = None
    height_now: float | None = None
    data_version: int = 0
    has_state: bool = False
    assessment_id: int | None = None
    finding_id: int | None = None
    due_on: date | None = None
    due_reason: str = ""


# ---- the columns, in groups: each stands in the order in which its maker below takes it ---------

_state, _latest = PointStateRow, aliased(AssessmentRow)
_PLACE = (
    PointRow.id,
    PointRow.site_id,
    SiteRow.client_id,
    EquipmentRow.id,
    PointRow.view_id,
    PointRow.tag,
    EquipmentRow.name,
    ViewRow.name,
    PointRow.name,
    EquipmentRow.consequence,
    SiteRow.time_zone,
)
_PART = (
    PointRow.component,
    PointRow.coating,
    PointRow.medium,
    PointRow.emissivity,
    PointRow.kind,
    PointRow.reference_kind,
    PointRow.no_heat_answer,
    PointRow.last_greased_on,
    PointRow.phase,
    PointRow.common_load_a,
    EquipmentRow.rated_current_a,
    PointRow.rated_rise_k,
)
#: in the order of ``PointOptics``, after class, voltage and duty group of the equipment
_OPTICS = (
    EquipmentRow.equipment_class,
    EquipmentRow.voltage_class,
    EquipmentRow.duty_group,
    PointRow.emissivity_half_width,
    PointRow.emissivity_standing,
    PointRow.reflected_c,
    PointRow.reflected_half_width_k,
    PointRow.distance_m,
    EquipmentRow.access,
    PointRow.window_transmission,
    PointRow.window_transmission_half_width,
    PointRow.target_mm,
    EquipmentRow.settle_minutes,
    EquipmentRow.outdoor,
)
_WEAR = (
    EquipmentRow.criticality,
    EquipmentRow.condition,
    EquipmentRow.interval_months,
    EquipmentRow.pf_interval_months,
    EquipmentRow.repair_lead_days,
    PointRow.created_at,
    or_(
        PointRow.retired_at.is_not(None),
        ViewRow.retired_at.is_not(None),
        EquipmentRow.retired_at.is_not(None),
    ),
)
_STANDING = (
    _state.reading_level,
    _state.at_least,
    _state.since,
    _state.lower_run,
    _state.lower_peak,
    _state.clear_run,
)
_BEFORE = (
    _state.previous_over_first_line,
    _state.episode,
    _state.baseline_k,
    _state.baseline_visits,
)
_LAST_VISIT = (
    _latest.taken_at,
    _state.last_read_at,
    _state.last_cleared_at,
    _state.last_temperature_c,
    _state.last_current_a,
    _state.last_rule,
    _state.last_sentence,
    _latest.reading_id,
)
_LAST_RISE = (
    _state.reference,
    _state.value_k,
    _state.common_k,
    _state.load_ratio,
    _state.u_k,
    _state.u_common_k,
    _state.smallest_fault_k,
    _latest.share_of_rated,
    _latest.level,
    _latest.at_least,
    _latest.cold,
)
_SHOWN = (
    _state.point_id,
    _state.level,
    _state.trend,
    _state.since,
    _state.chance_12,
    _state.height_now,
    _state.data_version,
    _state.assessment_id,
    _state.finding_id,
    _state.due_on,
    _state.due_reason,
)
_GROUPS: tuple[tuple[Any, ...], ...] = (
    _SHOWN,
    _PLACE,
    _PART,
    _OPTICS,
    _WEAR,
    _STANDING,
    _BEFORE,
    _LAST_VISIT,
    _LAST_RISE,
)
#: where each group lies in a row
_SPLIT = itemgetter(*(slice(*ends) for ends in pairwise(accumulate(map(len, _GROUPS), initial=0))))


def points_of_views(unit: Unit, view_ids: Iterable[int]) -> list[KnownPoint]:
    """Every point of some views, in their walking order."""
    query = (
        _everything_known()
        .where(is_one_of(unit, PointRow.view_id, view_ids))
        .order_by(PointRow.view_id, PointRow.walking_order, PointRow.id)
    )
    return [_known(row) for row in unit.connection.execute(query).all()]


def _everything_known() -> Select[*tuple[Any, ...]]:
    return (
        select(*(column for group in _GROUPS for column in group))
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .join(SiteRow, SiteRow.id == PointRow.site_id)
        .outerjoin(_state, _state.point_id == PointRow.id)
        .outerjoin(_latest, _latest.id == _state.assessment_id)
    )


# ---- a row and its records ----------------------------------------------------------------------


def _known(row: Sequence[Any]) -> KnownPoint:
    shown, place, part, optics, wear, *kept = _SPLIT(row)
    point_id, level, trend, since, chance_12, height_now, data_version, *work = shown
    if point_id is None:
        return KnownPoint(_point(place, part, optics), _wear(wear))
    standing, *memory = kept
    return KnownPoint(
        _point(place, part, optics),
        _wear(wear),
        _memory(_standing(standing), *memory),
        _LEVELS[level],
        since,
        _TRENDS[trend],
        chance_12,
        height_now,
        data_version,
        True,
        *work,
    )


def _point(place: Sequence[Any], part: Sequence[Any], optics: Sequence[Any]) -> VisitPoint:
    point_id, site_id, client_id, equipment_id, view_id, tag, *names, consequence, zone = place
    component, coating, medium, emissivity, kind, reference, answer, greased_on, phase, *loads = part
    equipment, view, name = names
    common_load_a, rated_current_a, rated_rise_k = loads
    return VisitPoint(
        id=point_id,
        site_id=site_id,
        client_id=client_id,
        equipment_id=equipment_id,
        view_id=view_id,
        tag=tag,
        title=f"{equipment}, {view}: {name}",
        consequence=consequence,
        zone=zone,
        kind=_KINDS[kind],
        reference=_REFERENCES[reference],
        component=component,
        coating=coating,
        medium=medium,
        emissivity=emissivity,
        neutral=phase.casefold() in NEUTRAL_PHASES,
        common_load_a=common_load_a,
        rated_current_a=rated_current_a,
        rated_rise_k=rated_rise_k,
        no_heat_answer=_ANSWERS.get(answer),
        greased_at=greased_instant(greased_on, zone),
        equipment_class=optics[0],
        voltage_class=optics[1],
        in_turn=bool(optics[2]),
        optics=_optics(optics),
    )


def _optics(row: Sequence[Any]) -> PointOptics:
    half_width, standing, reflected, reflected_half, distance_m, access, through, *more = row[3:]
    return PointOptics(
        half_width,
        _SOURCES[standing],
        reflected,
        reflected_half,
        distance_m,
        access == _WINDOW,
        through,
        *more,
    )


def _wear(row: Sequence[Any]) -> Wear:
    criticality, condition, interval_months, pf_interval_months, repair_lead_days, made_at, retired = row
    return Wear(
        criticality,
        condition,
        interval_months,
        pf_interval_months,
        repair_lead_days,
        made_on=made_at.date(),
        retired=bool(retired),
    )


def _standing(row: Sequence[Any]) -> StandingState:
    """By readings alone: what the trend raises it to is worked out anew, by the criteria then in force."""
    reading_level, at_least, since, lower_run, lower_peak, clear_run = row
    return StandingState(
        reading_level=_LEVELS[reading_level],
        at_least=at_least,
        since=since,
        lower_run=lower_run,
        lower_peak=_LEVELS[lower_peak],
        clear_run=clear_run,
    )


def _memory(
    standing: StandingState, before: Sequence[Any], visit: Sequence[Any], rise: Sequence[Any]
) -> Memory:
    previous_over_first_line, episode, baseline_k, baseline_visits = before
    visit_at, read_at, cleared_at, temperature_c, current_a, rule, sentence, reading_id = visit
    reference, value_k, common_k, load_ratio, *uncertain, share_of_rated, level, at_least, cold = rise
    u_k, u_common_k, smallest_fault_k = uncertain
    return Memory(
        standing=standing,
        previous_over_first_line=previous_over_first_line,
        episode=episode,
        baseline_k=baseline_k,
        baseline_visits=baseline_visits,
        last_visit_at=visit_at,
        last_read_at=read_at,
        last_cleared_at=cleared_at,
        last_temperature_c=temperature_c,
        last_current_a=current_a,
        last_rule=rule,
        last_sentence=sentence,
        last_reading_id=reading_id,
        reference=_REFERENCES.get(reference),
        value_k=value_k,
        common_k=common_k,
        load_ratio=load_ratio,
        u_k=u_k,
        u_common_k=u_common_k,
        smallest_fault_k=smallest_fault_k,
        share_of_rated=share_of_rated,
        last_could_clear=level is not None and not at_least and not cold,
    )


def lift_of(known: KnownPoint, criteria: Criteria) -> Level | None:
    """What the stored trend raises the point's standing to."""
    return trend_lift(known.trend, known.chance_12, criteria=criteria)
