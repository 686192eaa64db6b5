"""A register of three sites as an engineer would type it, and months of rounds beside the browser's."""

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from sqlalchemy import select

from service.domain.fields import Value
from service.domain.register import Noun
from service.domain.words import Role
from service.reports.register_workbook import register_workbook
from service.storage.tables.register import EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.unit import Store
from service.usecases.condition.trend import assess_trends
from tests.builders import Plant
from tests.readings.builders import Issued, issue

SITES = (("NOR", "Northing works"), ("EAS", "Easting pumps"), ("WES", "Westing booster"))
Rows = list[dict[tuple[Noun, str], Value]]


@dataclass
class MovingClock:
    """A clock that stands until the test moves it."""

    now: datetime

    def __call__(self) -> datetime:
        return self.now


def three_sites() -> bytes:
    """A workbook: per site a switchroom with one board of two feeders (closed front) and a pump's bearing."""
    filled: dict[Noun, Rows] = {noun: [] for noun in Noun if noun is not Noun.CLIENT}
    for code, name in SITES:
        site: dict[tuple[Noun, str], Value] = {(Noun.CLIENT, "code"): "MW"}
        filled[Noun.SITE].append(
            site
            | {
                (Noun.SITE, "code"): code,
                (Noun.SITE, "name"): name,
                (Noun.SITE, "time_zone"): "Europe/London",
            }
        )
        area = site | {(Noun.SITE, "code"): code}
        filled[Noun.AREA].append(area | {(Noun.AREA, "code"): "SWR", (Noun.AREA, "name"): "Switchroom"})
        placed = area | {(Noun.AREA, "code"): "SWR"}
        for tag, words, kind in ((f"{code}-MCC1", "MCC 1", "switchboard"), (f"{code}-P1", "Pump 1", "pump")):
            filled[Noun.EQUIPMENT].append(
                placed
                | {
                    (Noun.EQUIPMENT, "tag"): tag,
                    (Noun.EQUIPMENT, "name"): words,
                    (Noun.EQUIPMENT, "minutes"): 6,
                }
                | {
                    (Noun.EQUIPMENT, "equipment_class"): kind,
                    (Noun.EQUIPMENT, "load_hours"): "mon-sun 06:00-20:00",
                }
            )
        for way in (1, 2):
            _view(filled, area, f"{code}-MCC1", f"{code}-F0{way}", f"Feeder 0{way}", ("L1", "L2", "L3"))
        _view(filled, area, f"{code}-P1", f"{code}-P1-DE", "Bearing, drive end", ())
    return register_workbook(filled)


def _view(
    filled: dict[Noun, Rows],
    area: dict[tuple[Noun, str], Value],
    equipment: str,
    tag: str,
    name: str,
    phases: tuple[str, ...],
) -> None:
    stands = area | {(Noun.EQUIPMENT, "tag"): equipment}
    filled[Noun.VIEW].append(
        stands | {(Noun.VIEW, "tag"): tag, (Noun.VIEW, "name"): name, (Noun.VIEW, "asks_amps"): bool(phases)}
    )
    for phase in phases or ("",):
        point: dict[tuple[Noun, str], Value] = {
            (Noun.VIEW, "tag"): tag,
            (Noun.POINT, "tag"): f"{tag}-{phase}" if phase else f"{tag}-B",
            (Noun.POINT, "name"): f"Line terminal {phase}" if phase else "Bearing",
            (Noun.POINT, "kind"): "joint" if phase else "bearing",
            (Noun.POINT, "phase"): phase,
            (Noun.POINT, "reference_kind"): "over like parts" if phase else "over its own baseline",
            (Noun.POINT, "common_load_a"): 100.0 if phase else None,
            (Noun.POINT, "common_load_source"): "highest known" if phase else "",
        }
        filled[Noun.POINT].append(stands | {key: value for key, value in point.items() if value is not None})


def imported(store: Store, plant: Plant) -> Plant:
    """The plant with what the browser brought in."""
    with store.look() as unit:
        plant.site_ids = list(unit.session.scalars(select(SiteRow.id).order_by(SiteRow.id)))
        plant.equipment_ids = list(unit.session.scalars(select(EquipmentRow.id).order_by(EquipmentRow.id)))
        plant.view_ids = list(unit.session.scalars(select(ViewRow.id).order_by(ViewRow.id)))
        plant.point_ids = list(unit.session.scalars(select(PointRow.id).order_by(PointRow.id)))
    return plant


def walk_month(store: Store, plant: Plant, at: datetime, *, hot: str, hot_k: float) -> Issued:
    """One round of everything at 90 % load, one point ``hot_k`` over its like parts."""
    made = issue(store, plant=plant, walked_at=at)
    made.bring(
        [
            made.record(place, 40.0 + (hot_k if tag == hot else 0.0))
            for place, (_uid, tag, _point, _view) in enumerate(made.rows)
        ]
    )
    assess_trends(store, point_ids=[row[2] for row in made.rows], now=at + timedelta(hours=10))
    return made


def filled_csv(
    blank: bytes,
    day: datetime,
    *,
    temperature: Callable[[str], float | str],
    change: dict[str, dict[str, str]],
) -> bytes:
    """The round's own file, filled in; ``change`` overrides cells by point tag and column."""
    reader = csv.DictReader(io.StringIO(blank.decode("utf-8-sig")))
    out = io.StringIO()
    writer = csv.DictWriter(out, reader.fieldnames or [])
    writer.writeheader()
    minute = 0
    for row in reader:
        tag = row["Point tag"]
        if tag:
            minute += 1
            row["Taken"] = (day + timedelta(minutes=minute)).astimezone(UTC).strftime("%Y-%m-%d %H:%M")
            row["Temperature °C"] = str(temperature(tag))
            row["Ambient °C"] = "25"
            row["Amps A"] = "90" if row["Phase"] else ""
            row |= change.get(tag, {})
        writer.writerow(row)
    return ("\ufeff" + out.getvalue()).encode()


def people_of(plant: Plant) -> dict[str, int]:
    return {role.value: plant.people[role] for role in (Role.ENGINEER, Role.TECHNICIAN, Role.MANAGER)}
