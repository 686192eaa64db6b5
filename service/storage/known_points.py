"""Points with all that is known of them when their readings are judged, in one query."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import or_, select
from sqlalchemy.orm import aliased

from service.domain.criteria import Criteria
from service.domain.seen import NoHeatAnswer
from service.domain.standing import StandingState, trend_lift
from service.domain.visits import NEUTRAL_PHASES, Memory, VisitPoint, greased_instant
from service.domain.words import Level, PointKind, ReferenceKind, Trend
from service.storage.bulk import is_one_of
from service.storage.tables.readings import AssessmentRow, PointStateRow
from service.storage.tables.register import EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.unit import Unit

_LEVELS: dict[int | None, Level | None] = {None: None, **{int(level): level for level in Level}}
_KINDS = {kind.value: kind for kind in PointKind}
_REFERENCES = {kind.value: kind for kind in ReferenceKind}
_TRENDS = {trend.value: trend for trend in Trend}
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
    """A point with what its state row says; ``memory`` is fresh where it was never read.

    ``trend`` and ``chance_12`` are what the last trend job wrote; ``was`` is the level shown and
    ``since`` its day.
    """

    point: VisitPoint
    wear: Wear
    memory: Memory
    was: Level | None
    since: date | None
    trend: Trend
    chance_12: float | None
    height_now: float | None
    data_version: int
    has_state: bool
    assessment_id: int | None
    finding_id: int | None
    due_on: date | None
    due_reason: str


def points_of_views(unit: Unit, view_ids: Iterable[int]) -> list[KnownPoint]:
    """Every point of some views, in their walking order."""
    state, latest = PointStateRow, aliased(AssessmentRow)
    query = (
        select(
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
            PointRow.kind,
            PointRow.reference_kind,
            PointRow.component,
            PointRow.coating,
            PointRow.medium,
            PointRow.emissivity,
            PointRow.phase,
            PointRow.common_load_a,
            EquipmentRow.rated_current_a,
            PointRow.rated_rise_k,
            PointRow.no_heat_answer,
            PointRow.last_greased_on,
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
            state.point_id,
            state.level,
            state.at_least,
            state.since,
            state.reading_level,
            state.lower_run,
            state.clear_run,
            state.lower_peak,
            state.previous_over_first_line,
            latest.taken_at,
            state.last_read_at,
            state.last_cleared_at,
            state.last_temperature_c,
            state.last_current_a,
            state.last_rule,
            state.last_sentence,
            state.reference,
            state.value_k,
            state.common_k,
            state.load_ratio,
            state.height_now,
            state.trend,
            state.chance_12,
            state.baseline_k,
            state.baseline_visits,
            state.episode,
            state.assessment_id,
            state.finding_id,
            state.data_version,
            state.due_on,
            state.due_reason,
            latest.share_of_rated,
            latest.reading_id,
            latest.level,
            latest.at_least,
        )
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .join(SiteRow, SiteRow.id == PointRow.site_id)
        .outerjoin(state, state.point_id == PointRow.id)
        .outerjoin(latest, latest.id == state.assessment_id)
        .where(is_one_of(unit, PointRow.view_id, view_ids))
        .order_by(PointRow.view_id, PointRow.walking_order, PointRow.id)
    )
    return [_known(row) for row in unit.session.execute(query)]


def _known(row: Sequence[Any]) -> KnownPoint:
    (
        point_id,
        site_id,
        client_id,
        equipment_id,
        view_id,
        tag,
        equipment,
        view,
        name,
        consequence,
        zone,
        kind,
        reference_kind,
        component,
        coating,
        medium,
        emissivity,
        phase,
        common_load_a,
        rated_current_a,
        rated_rise_k,
        answer,
        greased_on,
        criticality,
        condition,
        interval_months,
        pf_interval_months,
        repair_lead_days,
        made_at,
        retired,
        *kept,
    ) = row
    point = VisitPoint(
        point_id,
        site_id,
        client_id,
        equipment_id,
        view_id,
        tag,
        f"{equipment}, {view}: {name}",
        consequence,
        zone,
        _KINDS[kind],
        _REFERENCES[reference_kind],
        component,
        coating,
        medium,
        emissivity,
        phase.casefold() in NEUTRAL_PHASES,
        common_load_a,
        rated_current_a,
        rated_rise_k,
        _ANSWERS.get(answer),
        greased_instant(greased_on, zone),
    )
    wear = Wear(
        criticality,
        condition,
        interval_months,
        pf_interval_months,
        repair_lead_days,
        made_at.date(),
        bool(retired),
    )
    return _with_state(point, wear, kept)


def _with_state(point: VisitPoint, wear: Wear, kept: Sequence[Any]) -> KnownPoint:
    if kept[0] is None:
        return KnownPoint(
            point,
            wear,
            Memory(),
            None,
            None,
            Trend.TOO_FEW_VISITS,
            None,
            None,
            0,
            False,
            None,
            None,
            None,
            "",
        )
    (
        _point_id,
        level,
        at_least,
        since,
        reading_level,
        lower_run,
        clear_run,
        lower_peak,
        previous_over,
        last_visit_at,
        last_read_at,
        last_cleared_at,
        last_temperature_c,
        last_current_a,
        last_rule,
        last_sentence,
        reference,
        value_k,
        common_k,
        load_ratio,
        height_now,
        trend,
        chance_12,
        baseline_k,
        baseline_visits,
        episode,
        assessment_id,
        finding_id,
        data_version,
        due_on,
        due_reason,
        share,
        reading_id,
        last_level,
        last_at_least,
    ) = kept
    standing = StandingState(
        reading_level=_LEVELS[reading_level],
        at_least=at_least,
        since=since,
        lower_run=lower_run,
        lower_peak=_LEVELS[lower_peak],
        clear_run=clear_run,
    )
    memory = Memory(
        standing,
        previous_over,
        episode,
        [],
        baseline_k,
        baseline_visits,
        last_visit_at,
        last_read_at,
        last_cleared_at,
        last_temperature_c,
        last_current_a,
        last_rule,
        last_sentence,
        reading_id,
        None if reference is None else _REFERENCES[reference],
        value_k,
        common_k,
        load_ratio,
        share,
        last_level is not None and not last_at_least,
    )
    return KnownPoint(
        point,
        wear,
        memory,
        _LEVELS[level],
        since,
        _TRENDS[trend],
        chance_12,
        height_now,
        data_version,
        True,
        assessment_id,
        finding_id,
        due_on,
        due_reason,
    )


def lift_of(known: KnownPoint, criteria: Criteria) -> Level | None:
    """What the stored trend raises the point's standing to."""
    return trend_lift(known.trend, known.chance_12, criteria=criteria)
