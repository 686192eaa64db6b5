"""The invented register as the workbook that an engineer would import, made when it is asked for."""

import sys
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path

from seed_data.utility import (
    CLIENT_CODE,
    TIME_ZONE,
    EquipmentSpec,
    PointSpec,
    SiteSpec,
    ViewSpec,
    build_utility,
)
from service.domain.fields import Value
from service.domain.register import Noun
from service.reports.register_workbook import Filled, register_workbook

SAFETY = (
    "Report to the control room before any door is opened. The permit, the label on the door and the "
    "qualified person decide; a round sheet permits nothing."
)
CAMERAS = {"a.quill": "MW-IR-1", "t.marsh": "MW-IR-2"}


def register_file(sites: Sequence[SiteSpec], *, today: date, month: int) -> bytes:
    """The register as it is in one month of the history, as XLSX.

    Equipment commissioned later is not in it yet. Calibration dates stand relative to ``today``.
    """
    return register_workbook(
        {
            Noun.SITE: [_site(number, site) for number, site in enumerate(sites)],
            Noun.AREA: [row for site in sites for row in _areas(site)],
            Noun.EQUIPMENT: [row for site in sites for row in _equipment(site, month)],
            Noun.VIEW: [row for site in sites for row in _views(site, month)],
            Noun.POINT: [row for site in sites for row in _points(site, month)],
            Noun.INSTRUMENT: list(_instruments(today)),
        }
    )


def _row(noun: Noun, values: Mapping[str, Value], **stands_in: str) -> Filled:
    keys: dict[tuple[Noun, str], Value] = {(Noun.CLIENT, "code"): CLIENT_CODE}
    for parent, key in stands_in.items():
        keys[Noun(parent), "tag" if parent in ("equipment", "view") else "code"] = key
    return keys | {(noun, name): value for name, value in values.items()}


def _site(number: int, site: SiteSpec) -> Filled:
    return _row(
        Noun.SITE,
        {
            "code": site.code,
            "name": site.name,
            "time_zone": TIME_ZONE,
            "latitude": site.latitude,
            "longitude": site.longitude,
            "setup_minutes": 15 if site.interval_months == 1 else 10,
            "contact_name": "Control room, Merrowdale Water (invented)",
            "contact_phone": f"01632 960{100 + number}",
            "safety_text": SAFETY,
        },
    )


def _areas(site: SiteSpec) -> Iterator[Filled]:
    for order, area in enumerate(site.areas, start=1):
        values: dict[str, Value] = {"code": area.code, "name": area.name, "walking_order": 10 * order}
        yield _row(Noun.AREA, values | {"x_m": area.x_m, "y_m": area.y_m}, site=site.code)


_EQUIPMENT = (
    "tag", "name", "equipment_class", "criticality", "condition", "rated_current_a", "voltage_class",
    "outdoor", "access", "minutes", "load_hours", "usual_load_share", "stand_off", "ppe", "interval_months",
    "pf_interval_months", "repair_lead_days", "cost_per_hour", "consequence",
)  # fmt: skip


def _there(site: SiteSpec, month: int) -> Iterator[EquipmentSpec]:
    return (equipment for equipment in site.equipment if equipment.commissioned <= month)


def _equipment(site: SiteSpec, month: int) -> Iterator[Filled]:
    for equipment in _there(site, month):
        values: dict[str, Value] = {name: getattr(equipment, name) for name in _EQUIPMENT}
        if equipment.criticality == "high":
            values["consequence_quality"] = "Pressure falls in the high zone within hours."
        yield _row(Noun.EQUIPMENT, values, site=site.code, area=equipment.area)


def _views(site: SiteSpec, month: int) -> Iterator[Filled]:
    for equipment in _there(site, month):
        for view in equipment.views:
            values = {name: getattr(view, name) for name in ("tag", "name", "asks_amps", "asks_neutral")}
            yield _row(Noun.VIEW, values, site=site.code, equipment=equipment.tag)


def _points(site: SiteSpec, month: int) -> Iterator[Filled]:
    for equipment in _there(site, month):
        for view in equipment.views:
            for order, point in enumerate(view.points, start=1):
                values = _point(view, point) | {"walking_order": order}
                yield _row(Noun.POINT, values, site=site.code, view=view.tag)


def _point(view: ViewSpec, point: PointSpec) -> dict[str, Value]:
    from_table = point.emissivity_source == "table"
    return {
        "tag": point.tag,
        "name": point.name,
        "kind": point.kind,
        "component": point.component,
        "phase": point.phase,
        "coating": point.coating,
        "emissivity": point.emissivity,
        "emissivity_source": point.emissivity_source,
        "emissivity_finish": "oil-paint" if from_table else "",
        "emissivity_standing": "table" if from_table else None,
        "reflected_habit": "air",
        "distance_m": 1.2 if point.phase else 0.8,
        "reference_kind": point.reference,
        "like_part": len(view.points) > 1,
        "rated_rise_k": point.rated_rise_k,
        "common_load_a": point.common_load_a,
        "common_load_source": "" if point.common_load_a is None else "highest known",
    }


def _instruments(today: date) -> Iterator[Filled]:
    camera: dict[str, Value] = {
        "kind": "camera", "band_low_um": 7.5, "band_high_um": 14.0, "field_of_view_deg": 24.0, "pixels": 320,
        "ifov_mrad": 1.31, "range_low_c": -20.0, "range_high_c": 350.0, "accuracy_k": 2.0, "accuracy_percent": 2.0,
    }  # fmt: skip
    instruments: tuple[tuple[str, dict[str, Value]], ...] = (
        (CAMERAS["a.quill"], {**camera, "name": "Camera 1", "clock_offset_s": 35.0}),
        (CAMERAS["t.marsh"], {**camera, "name": "Camera 2", "clock_offset_s": -20.0}),
        ("MW-TH-1", {"name": "Air thermometer", "kind": "thermometer", "range_low_c": -30.0,
                     "range_high_c": 70.0, "accuracy_k": 0.5}),
        ("MW-CL-1", {"name": "Clamp ammeter", "kind": "ammeter", "accuracy_percent": 1.5}),
    )  # fmt: skip
    for serial, values in instruments:
        due = today + timedelta(days=_CALIBRATION_DAYS[serial])
        yield _row(Noun.INSTRUMENT, values | {"serial": serial, "calibration_due": due})


#: days from the loading of the demo until each calibration is due; one has just passed
_CALIBRATION_DAYS = {"MW-IR-1": 160, "MW-IR-2": 19, "MW-TH-1": 75, "MW-CL-1": -12}


def main() -> None:
    """Write the workbook to the file named on the command line, to be imported by hand."""
    target = Path(sys.argv[1] if len(sys.argv) > 1 else "register.xlsx")
    target.write_bytes(register_file(build_utility(), today=date.today(), month=10**6))  # noqa: DTZ011
    print(f"{target}: the invented register of Merrowdale Water")


if __name__ == "__main__":
    main()
