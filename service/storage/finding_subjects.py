"""What a finding is about: the point, its place and what its state says when it is opened."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from sqlalchemy import or_, select, update

from service.domain.standing import proven
from service.domain.words import Level, PointKind
from service.errors import NotFound
from service.storage.tables.people import GrantRow, PersonRow
from service.storage.tables.readings import AssessmentRow, PointStateRow
from service.storage.tables.register import ClientRow, EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.tables.rounds import RoundPointRow, RoundRow
from service.storage.unit import Unit


@dataclass(frozen=True, slots=True)
class PointSubject:
    """A point with its place and the last that was read of it."""

    client_id: int
    site_id: int
    equipment_id: int
    title: str
    consequence: str
    level: Level | None
    value_k: float | None
    common_k: float | None
    load_ratio: float | None
    current_a: float | None
    round_id: int | None
    reading_id: int | None


def point_subject(unit: Unit, point_id: int, *, person_id: int | None) -> PointSubject:
    """The point as a finding sees it; ``person_id`` limits to rounds given to that person.

    Raises
    ------
    NotFound
        No such point, or not on a round of this person.
    """
    query = (
        select(PointRow, ViewRow, EquipmentRow, SiteRow.client_id, PointStateRow, AssessmentRow)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .join(SiteRow, SiteRow.id == PointRow.site_id)
        .outerjoin(PointStateRow, PointStateRow.point_id == PointRow.id)
        .outerjoin(AssessmentRow, AssessmentRow.id == PointStateRow.assessment_id)
        .where(PointRow.id == point_id)
    )
    record = unit.session.execute(query).one_or_none()
    if record is None or (person_id is not None and not _on_rounds_of(unit, person_id, point_id)):
        raise NotFound()
    point, view, equipment, client_id, state, assessment = record
    return PointSubject(
        client_id=client_id,
        site_id=point.site_id,
        equipment_id=equipment.id,
        title=f"{equipment.name}, {view.name}: {point.name}",
        consequence=equipment.consequence,
        level=None if state is None or state.level is None else Level(state.level),
        value_k=None if state is None else state.value_k,
        common_k=None if state is None else state.common_k,
        load_ratio=None if state is None else state.load_ratio,
        current_a=None if state is None else state.last_current_a,
        round_id=None if assessment is None else assessment.round_id,
        reading_id=None if assessment is None else assessment.reading_id,
    )


def _on_rounds_of(unit: Unit, person_id: int, point_id: int) -> bool:
    query = (
        select(RoundPointRow.id)
        .join(RoundRow, RoundRow.id == RoundPointRow.round_id)
        .where(
            RoundPointRow.point_id == point_id,
            or_(RoundRow.person_id == person_id, RoundRow.second_person_id == person_id),
        )
        .limit(1)
    )
    return unit.session.scalar(query) is not None


def client_of_site(unit: Unit, site_id: int) -> int:
    client_id = unit.session.scalar(
        select(ClientRow.id).join(SiteRow, SiteRow.client_id == ClientRow.id).where(SiteRow.id == site_id)
    )
    if client_id is None:
        raise NotFound()
    return client_id


def point_to_finding(unit: Unit, point_id: int, finding_id: int | None) -> None:
    """Keep in the point's state which live finding it has."""
    _set_state(unit, [point_id], finding_id=finding_id)


def reset_standing(unit: Unit, point_id: int, *, on: date) -> None:
    """*Proven* resets the standing: nothing of before counts (design §2)."""
    start = proven(on)
    _set_state(
        unit,
        [point_id],
        level=start.level,
        reading_level=start.reading_level,
        at_least=start.at_least,
        since=on,
        lower_run=start.lower_run,
        lower_peak=start.lower_peak,
        clear_run=start.clear_run,
    )


def kinds_of(unit: Unit, point_ids: Iterable[int]) -> dict[int, PointKind]:
    query = select(PointRow.id, PointRow.kind).where(PointRow.id.in_(list(point_ids)))
    return {int(point_id): PointKind(kind) for point_id, kind in unit.session.execute(query)}


def _set_state(unit: Unit, point_ids: Iterable[int], **values: object) -> None:
    unit.session.execute(
        update(PointStateRow)
        .where(PointStateRow.point_id.in_(list(point_ids)))
        .values(data_version=PointStateRow.data_version + 1, **values)
        .execution_options(synchronize_session=False)
    )


def live_finding_id(unit: Unit, point_id: int) -> int | None:
    """The finding that the point's state names."""
    return unit.session.scalar(select(PointStateRow.finding_id).where(PointStateRow.point_id == point_id))


def people_of_sites(unit: Unit, client_ids: Iterable[int] | None) -> tuple[tuple[int, str], ...]:
    """Active people with a grant at one of the clients (None: all), by name."""
    query = select(PersonRow.id, PersonRow.name).where(PersonRow.active.is_(True)).order_by(PersonRow.name)
    if client_ids is not None:
        granted = select(GrantRow.person_id).where(GrantRow.client_id.in_(sorted(client_ids)))
        query = query.where(PersonRow.id.in_(granted))
    return tuple((int(i), name) for i, name in unit.session.execute(query))


def sites_to_choose(unit: Unit, site_ids: Iterable[int] | None) -> tuple[tuple[int, str], ...]:
    query = select(SiteRow.id, SiteRow.name).where(SiteRow.retired_at.is_(None)).order_by(SiteRow.name)
    if site_ids is not None:
        query = query.where(SiteRow.id.in_(sorted(site_ids)))
    return tuple((int(i), name) for i, name in unit.session.execute(query))


def points_on_rounds_of(unit: Unit, person_id: int) -> frozenset[int]:
    """Points that were ever on a round given to this person."""
    query = (
        select(RoundPointRow.point_id)
        .join(RoundRow, RoundRow.id == RoundPointRow.round_id)
        .where(or_(RoundRow.person_id == person_id, RoundRow.second_person_id == person_id))
        .distinct()
    )
    return frozenset(unit.session.scalars(query))
