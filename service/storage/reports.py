"""What reports are made of, read in a fixed number of queries."""

from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import and_, func, select
from sqlalchemy.orm import aliased

from service.domain.bands import Confidence
from service.domain.day_words import day_words
from service.domain.reports import ReportedPoint, ReportHead
from service.domain.words import Level, Reason, RoundState
from service.errors import NotFound
from service.storage.tables.findings import FindingRow
from service.storage.tables.people import CertificateRow, PersonRow
from service.storage.tables.readings import AssessmentRow, PointStateRow, ReadingRow
from service.storage.tables.register import (
    AreaRow,
    ClientRow,
    CriteriaSetRow,
    EquipmentRow,
    InstrumentRow,
    PointRow,
    SiteRow,
    ViewRow,
)
from service.storage.tables.rounds import PermitRow, RoundMoveRow, RoundPointRow, RoundRow, StopRow
from service.storage.unit import Unit


def reported_points(unit: Unit, round_id: int) -> tuple[ReportedPoint, ...]:
    """Every point of the round in walking order, with the reading that feeds its level."""
    # a finding closed meanwhile was a decision too
    latest_finding = (
        select(func.max(FindingRow.id))
        .where(FindingRow.point_id == RoundPointRow.point_id)
        .correlate(RoundPointRow)
        .scalar_subquery()
    )
    query = (
        select(
            RoundPointRow,
            PointRow,
            ViewRow.name,
            EquipmentRow.name,
            AreaRow.name,
            SiteRow.name,
            AssessmentRow,
            ReadingRow,
            PointStateRow,
            FindingRow,
        )
        .join(StopRow, StopRow.id == RoundPointRow.stop_id)
        .join(PointRow, PointRow.id == RoundPointRow.point_id)
        .join(ViewRow, ViewRow.id == RoundPointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == StopRow.equipment_id)
        .join(AreaRow, AreaRow.id == EquipmentRow.area_id)
        .join(SiteRow, SiteRow.id == StopRow.site_id)
        .outerjoin(
            AssessmentRow,
            and_(
                AssessmentRow.round_id == RoundPointRow.round_id,
                AssessmentRow.point_id == RoundPointRow.point_id,
                AssessmentRow.current.is_(True),
                AssessmentRow.counts_level.is_(True),
            ),
        )
        .outerjoin(ReadingRow, ReadingRow.id == AssessmentRow.reading_id)
        .outerjoin(PointStateRow, PointStateRow.point_id == RoundPointRow.point_id)
        .outerjoin(FindingRow, FindingRow.id == latest_finding)
        .where(RoundPointRow.round_id == round_id)
        .order_by(StopRow.position, RoundPointRow.position)
    )
    points: dict[int, ReportedPoint] = {}
    for record in unit.session.execute(query):
        points.setdefault(record[0].point_id, _reported(record))
    return tuple(points.values())


def _reported(record: Sequence[Any]) -> ReportedPoint:
    row, point, view, equipment, area, site, judged, reading, state, finding = record
    letter = (reading.not_assessable if reading is not None else None) or row.not_read_reason

    def of_reading(name: str) -> Any:
        return None if reading is None else getattr(reading, name)

    def of_judged(name: str, blank: Any = None) -> Any:
        return blank if judged is None else getattr(judged, name)

    return ReportedPoint(
        point_id=point.id, tag=point.tag, name=point.name, kind=point.kind, phase=point.phase,
        component=point.component, site=site, area=area, equipment=equipment, view=view,
        taken_at=of_reading("taken_at"), reason=None if letter is None else Reason(letter),
        temperature_c=of_reading("temperature_c"), ambient_c=of_reading("ambient_c"),
        reflected_c=of_reading("reflected_c"), wind_m_s=of_reading("wind_m_s"), current_a=of_reading("current_a"),
        common_load_a=point.common_load_a, load_ratio=of_judged("load_ratio"), emissivity=point.emissivity,
        emissivity_source=point.emissivity_source, distance_m=point.distance_m,
        window_transmission=point.window_transmission, reference=of_judged("reference") or "",
        value_k=of_judged("value_k"), common_k=of_judged("common_k"), rise_air_k=of_judged("rise_air_k"),
        u_k=of_judged("u_k"), level=_level(of_judged("level")), at_least=of_judged("at_least", False),
        published_band=of_judged("published_band", ""), rule=of_judged("rule", ""),
        sentence=of_judged("sentence", ""), trend="" if state is None else state.trend,
        standing=None if state is None else _level(state.level), picture=of_reading("picture") or "",
        note=of_reading("note") or "", no_permit_recorded=bool(of_reading("no_permit_recorded")),
        finding_id=None if finding is None else finding.id, finding_state="" if finding is None else finding.state,
        finding_cause="" if finding is None else finding.cause,
        finding_action="" if finding is None else _action(finding), reading_uid=of_reading("uid") or "",
        u_common_k=of_judged("u_common_k"), band=_level(of_judged("band")), chances=_chances(judged),
        smallest_fault_k=of_judged("smallest_fault_k"),
    )  # fmt: skip


def _chances(judged: AssessmentRow | None) -> tuple[float, ...] | None:
    if judged is None:
        return None
    told = (judged.p0, judged.p1, judged.p2, judged.p3, judged.p4)
    known = tuple(chance for chance in told if chance is not None)
    return known if len(known) == len(told) else None


def _level(value: int | None) -> Level | None:
    return None if value is None else Level(value)


def _action(finding: FindingRow) -> str:
    parts = []
    if finding.planned_for is not None:
        parts.append(f"repair planned for {day_words(finding.planned_for)}")
    if finding.work_order:
        parts.append(f"work order {finding.work_order}")
    if finding.interim_measure:
        parts.append(f"until then: {finding.interim_measure}")
    return "; ".join(parts)


def report_head(unit: Unit, round_id: int) -> ReportHead:
    """Client, people, instrument, permits and criteria of a round.

    Raises
    ------
    service.errors.NotFound
        No such round.
    """
    reader, second = aliased(PersonRow), aliased(PersonRow)
    query = (
        select(RoundRow, ClientRow, reader, second, InstrumentRow)
        .join(ClientRow, ClientRow.id == RoundRow.client_id)
        .outerjoin(reader, reader.id == RoundRow.person_id)
        .outerjoin(second, second.id == RoundRow.second_person_id)
        .outerjoin(InstrumentRow, InstrumentRow.id == RoundRow.instrument_id)
        .where(RoundRow.id == round_id)
    )
    record = unit.session.execute(query).one_or_none()
    if record is None:
        raise NotFound()
    row, client, first, assistant, instrument = record
    sites = unit.session.execute(
        select(SiteRow.name, SiteRow.time_zone, StopRow.position)
        .join(StopRow, StopRow.site_id == SiteRow.id)
        .where(StopRow.round_id == round_id)
        .order_by(StopRow.position)
    ).all()
    return ReportHead(
        round_id=row.id,
        code=row.code,
        name=row.name,
        state=RoundState(row.state),
        planned_on=row.planned_on,
        client=client.name,
        letterhead=client.letterhead,
        sites=tuple(dict.fromkeys(name for name, _zone, _position in sites)),
        read_by=first.name if first else "",
        assisted_by=assistant.name if assistant else "",
        certificates=tuple(_certificates(unit, [p.id for p in (first, assistant) if p])),
        signed_by=_signer(unit, round_id),
        signed_off_at=row.signed_off_at,
        instrument=f"{instrument.name}, serial {instrument.serial}" if instrument else "",
        calibration_due=instrument.calibration_due if instrument else None,
        weather=row.weather,
        permits=tuple(_permits(unit, round_id)),
        criteria=tuple(_criteria(unit, round_id)),
        time_zone=sites[0][1] if sites else "UTC",
    )


def _certificates(unit: Unit, person_ids: Iterable[int]) -> Iterable[str]:
    query = (
        select(PersonRow.name, CertificateRow)
        .join(CertificateRow, CertificateRow.person_id == PersonRow.id)
        .where(PersonRow.id.in_(list(person_ids)))
        .order_by(PersonRow.name, CertificateRow.expires_on)
    )
    for name, row in unit.session.execute(query):
        yield f"{name}: category {row.category}, {row.scope}, valid until {day_words(row.expires_on)}"


def _signer(unit: Unit, round_id: int) -> str:
    query = (
        select(PersonRow.name)
        .join(RoundMoveRow, RoundMoveRow.by_person_id == PersonRow.id)
        .where(RoundMoveRow.round_id == round_id, RoundMoveRow.to_state == RoundState.SIGNED_OFF.value)
    )
    return unit.session.scalar(query) or ""


def _permits(unit: Unit, round_id: int) -> Iterable[str]:
    query = select(PermitRow).where(PermitRow.round_id == round_id).order_by(PermitRow.id)
    for row in unit.session.scalars(query):
        number = row.number or "no number typed"
        yield f"{number}, {row.issuer or 'issuer not named'}, {row.state}"


def _criteria(unit: Unit, round_id: int) -> Iterable[str]:
    used = select(AssessmentRow.criteria_id).where(
        AssessmentRow.round_id == round_id, AssessmentRow.current.is_(True)
    )
    query = select(CriteriaSetRow).where(CriteriaSetRow.id.in_(used)).order_by(CriteriaSetRow.id)
    for row in unit.session.scalars(query):
        yield f"{row.title}, version {row.version}. {row.citation} ({Confidence(row.confidence).words})"
