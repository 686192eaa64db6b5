"""A plant of every kind of point and habit, visited at random: for both to judge, device and service."""

import random
from datetime import UTC, date, datetime, timedelta
from typing import Any

from service.domain.boxes import boxes_of
from service.domain.words import Access, PointKind, ReferenceKind
from service.storage.tables.register import EquipmentRow, InstrumentRow, PointRow, SeriesCutRow, ViewRow
from service.storage.unit import Store, Unit
from tests.builders import STAMPS, Plant, add
from tests.condition.criteria_builders import Sets, lay_sets

#: kinds as often as they are met, so that joints and bearings are many and all others some
KINDS = (
    *(PointKind.JOINT,) * 8,
    *(PointKind.FUSE, PointKind.CABLE_END) * 2,
    *(PointKind.BEARING, PointKind.COUPLING, PointKind.MOTOR, PointKind.TRANSFORMER) * 2,
    *(PointKind.STEAM_TRAP, PointKind.REFRACTORY, PointKind.PHOTOVOLTAIC, PointKind.OTHER),
)
COMPONENTS = {
    PointKind.JOINT: ("", "", "bolted joint", "contact", "external terminal"),
    PointKind.COUPLING: ("jaw coupling", "v-belt"),
    PointKind.TRANSFORMER: ("top oil", "bushing", "tap changer"),
}
COATINGS = ("", "", "tinned", "bare copper", "bare copper / tinned", "silver")
CLASSES = ("switchboard", "switchboard", "variable speed drive", "pump", "Rectifiers, 48 V")
#: bands of a site for kinds that ship without: edges, levels
FILLED = {
    "inlet over outlet": ((5.0, 20.0), (3, 2, 0)),
    "inlet under steam temperature": ((15.0, 40.0), (0, 1, 2)),
    "surface temperature": ((60.0, 90.0), (0, 2, 4)),
    "over the main tank": ((3.0, 8.0), (0, 2, 3)),
    "rise": ((4.0, 10.0, 20.0), (0, 1, 2, 4)),
}
WORDS = "abcdefgh"


#: views of one piece of equipment
VIEWS_EACH = 4


def lay_plant(store: Store, *, views: int, seed: int) -> Plant:
    """Two sites, one judged by the shipped set and one by its own, with views of every kind."""
    sets = lay_sets(store, boards=1, views=1)
    _choose_own_criteria(sets)
    plant, rng = sets.plant, random.Random(seed)
    plant.equipment_ids.clear()
    with store.begin() as unit:
        _describe_instrument(unit, plant)
        for number in range(views // VIEWS_EACH):
            _lay_equipment(unit, plant, rng, number)
    return plant


def _choose_own_criteria(sets: Sets) -> None:
    own = sets.own()
    body = own.criteria.to_dict()
    for template in body["templates"]:
        edges, levels = FILLED[template["measure"]]
        template["rule"] |= {
            "edges": [{"value": value} for value in edges],
            "levels": list(levels),
            "bands": [f"band {n}" for n in range(len(levels))],
            "source": "Site rule 7",
            "confidence": "own proposal",
        }
    sets.choose(sets.edited(own, templates=body["templates"], relative_on=True).id, place=1)


def _describe_instrument(unit: Unit, plant: Plant) -> None:
    first = unit.session.get_one(InstrumentRow, plant.instrument_id)
    first.ifov_mrad, first.range_low_c, first.range_high_c = 1.31, 5.0, 150.0
    add(
        unit,
        InstrumentRow(
            client_id=plant.client_id, serial="IR-2", name="Camera 2", accuracy_k=1.0, accuracy_percent=1.0,
            band_low_um=7.5, band_high_um=13.0, field_of_view_deg=24.0, pixels=320, range_low_c=-20.0,
            range_high_c=650.0, **STAMPS,
        ),
    )  # fmt: skip


def _lay_equipment(unit: Unit, plant: Plant, rng: random.Random, number: int) -> None:
    """One piece of equipment with its own access, class and ratings, and a few views."""
    site_id = plant.site_ids[number % 2]
    area_id = unit.session.query(EquipmentRow).filter_by(site_id=site_id).first().area_id  # type: ignore[union-attr]
    equipment = add(
        unit,
        EquipmentRow(
            site_id=site_id, area_id=area_id, tag=f"R{number:03d}", name=f"Random {number}",
            equipment_class=rng.choice(CLASSES), walking_order=number, outdoor=rng.random() < 0.3,
            rated_current_a=rng.choice((None, 120.0, 400.0)), voltage_class=rng.choice(("", "400 V", "11 kV")),
            access=rng.choice((*(Access.CLOSED_FRONT.value,) * 4, Access.WINDOW.value)),
            duty_group=rng.choice(("", "", "", "high lift")),
            settle_minutes=rng.choice((None, None, None, 12.0)), usual_load_share=0.7, minutes=1, **STAMPS,
        ),
    )  # fmt: skip
    plant.equipment_ids.append(equipment.id)
    for place in range(VIEWS_EACH):
        tag = f"{equipment.tag}-V{place}"
        asks_neutral = rng.random() < 0.2
        fields = {"site_id": site_id, "equipment_id": equipment.id, "asks_neutral": asks_neutral}
        view = add(unit, ViewRow(tag=tag, name="View", walking_order=place, **fields, **STAMPS))
        plant.view_ids.append(view.id)
        _lay_points(unit, plant, rng, view, neutral=asks_neutral)


def _lay_points(unit: Unit, plant: Plant, rng: random.Random, view: ViewRow, *, neutral: bool) -> None:
    kind = rng.choice(KINDS)
    habit = rng.choice((ReferenceKind.LIKE_PARTS,) * 5 + tuple(ReferenceKind))
    component = rng.choice(COMPONENTS.get(kind, ("",)))
    common_load_a = rng.choice((None, 100.0, 100.0, 300.0))
    shared: dict[str, Any] = {
        "site_id": view.site_id, "view_id": view.id, "kind": kind.value, "component": component,
        "reference_kind": habit.value, "coating": rng.choice(COATINGS), "common_load_a": common_load_a,
        "rated_rise_k": rng.choice((None, None, 50.0)), "window_transmission": rng.choice((None, 0.8, 0.8, 0.6, 0.45, 0.2)),
        "target_mm": rng.choice((None, None, None, 10.0, 40.0)), "distance_m": rng.choice((None, 1.0, 1.0, 3.0, 12.0)),
        "no_heat_answer": rng.choice((*("",) * 7, "bare metal", "no load", "runs cool")),
        "last_greased_on": rng.choice((None, None, date(2026, 4, 12))),
        **STAMPS,
    }  # fmt: skip
    phases = ("L1", "L2", "L3", "L4")[: rng.choice((1, 2, 3, 3, 3, 4))] + (("N",) if neutral else ())
    for order, phase in enumerate(phases):
        point = add(
            unit,
            PointRow(
                tag=f"{view.tag}-{order}", name=f"Part {phase}", phase=phase, walking_order=order,
                **shared, **_surface(rng),
            ),
        )  # fmt: skip
        plant.point_ids.append(point.id)
        if rng.random() < 0.05:
            repaired = datetime(2026, 3, 20, 8, 0, tzinfo=UTC)
            add(unit, SeriesCutRow(point_id=point.id, at=repaired, reason="repaired"))


def _surface(rng: random.Random) -> dict[str, Any]:
    emissivity = rng.choice((None, *(0.95, 0.95, 0.92, 0.9) * 3, 0.75, 0.6, 0.45, 0.25))
    half_width = None if emissivity is None else rng.choice((None, 0.03))
    standing = None if emissivity is None else rng.choice((None, "measured", "table"))
    reflected_c = rng.choice((None, None, None, 18.0, -15.0))
    return {
        "emissivity": emissivity, "emissivity_half_width": half_width, "emissivity_standing": standing,
        "emissivity_source": "contact thermometer" if standing else "", "reflected_c": reflected_c,
        "reflected_half_width_k": None if reflected_c is None else rng.choice((None, 3.0)),
    }  # fmt: skip


# ---- what is typed on a visit --------------------------------------------------------------------


def typed_of(view: dict[str, Any], rng: random.Random, *, calm: bool) -> dict[str, dict[str, Any]]:
    """By row id what somebody types of a view; on a calm visit nothing hides and little is hot.

    Parameters
    ----------
    view : dict
        The view as its pack tells it.
    rng : random.Random
        What chance says.
    calm : bool
        An early visit, to form baselines by.
    """
    around = _around(rng, calm=calm)
    usual_k, load = rng.uniform(2, 25), rng.choice((0.95, 0.8, 0.7, 0.62, 0.5, 0.45, 0.405, 0.3))
    odd = None if calm else rng.choice((None, None, "hot", "hot", "cold", "unequal", "no amps"))
    odd_place = rng.randrange(len(view["points"]))
    typed = {}
    for place, point in enumerate(view["points"]):
        full = point["judging"]["brought_to_a"] or 100.0
        said = dict(around)
        warm = around.get("ambient_c", 20.0) + usual_k + rng.gauss(0, 0.4)
        said["current_a"] = round(full * load * rng.uniform(0.97, 1.03), 1)
        if place == odd_place:
            warm += {"hot": rng.uniform(0.5, 60), "cold": -rng.uniform(2, 30)}.get(str(odd), 0.0)
            said["current_a"] *= {"unequal": rng.choice((0.05, 0.5, 0.8))}.get(str(odd), 1.0)
        if odd == "no amps" or (not calm and rng.random() < 0.05):
            del said["current_a"]
        said["temperature_c"] = round(warm, 1)
        if not calm:
            said |= _of_part(point, rng)
        typed[point["row_uid"]] = said
    return typed


def _around(rng: random.Random, *, calm: bool) -> dict[str, Any]:
    around: dict[str, Any] = {"ambient_c": round(rng.uniform(8, 38), 1)}
    around |= {"window_c": around["ambient_c"]} if calm or rng.random() < 0.9 else {}
    if calm:
        return around
    maybe: dict[str, tuple[Any, ...]] = {
        "reflected_c": (18.0, 30.0, -20.0),
        "wind_m_s": (0.5, 2.5, 4.0, 7.0),
        "humidity_percent": (20.0, 55.0, 90.0),
        "distance_m": (0.4, 1.0, 2.0, 8.0, 40.0),
        "emissivity_set": (1.0, 0.95, 0.8),
        "reflected_set_c": (20.0, 25.0),
        "transmission_set": (1.0, 0.98),
        "path_transmission": (0.97, 0.9),
        "minutes_at_load": (10.0, 45.0, 300.0),
        "fan_on_part": (True,),
        "through_window": (True, False),
        "window_transmission": (0.85, 0.5, 0.31),
        "reflected_standing": ("measured", "assumed"),
    }
    around |= {name: rng.choice(values) for name, values in maybe.items() if rng.random() < 0.12}
    if rng.random() < 0.06:
        del around["ambient_c"]
    return around


def _of_part(point: dict[str, Any], rng: random.Random) -> dict[str, Any]:
    said: dict[str, Any] = {}
    if rng.random() < 0.03:
        return {"reason": rng.choice("KQOCWSBNTX"), "temperature_c": None}
    if rng.random() < 0.15:
        said["emissivity"] = rng.choice((0.97, 0.85, 0.55, 0.2))
        said["emissivity_standing"] = rng.choice(("measured", "table", "assumed"))
    if rng.random() < 0.03:
        said["temperature_c"] = rng.choice((150.0, 151.5, 5.0, 3.0, -12.0, 420.0))
    boxes = {}
    for box in boxes_of(PointKind(point["kind"]), point["component"]):
        if rng.random() < 0.7:
            boxes[box.key] = _answer(box, rng)
    if boxes.get("second_method_agrees") and "second_method" not in boxes:
        boxes["second_method"] = "vibration"
    return said | ({"boxes": boxes} if boxes else {})


def _answer(box: Any, rng: random.Random) -> Any:
    ranges = {
        "greased_hours_before": (1, 90), "line_pressure_bar": (2, 14), "return_pressure_bar": (0, 3),
        "irradiance_w_m2": (400, 1000), "inlet_c": (90, 190), "outlet_c": (90, 180), "main_tank_c": (15, 60),
        "fuse_rating_a": (100, 140), "top_oil_gauge_c": (20, 80),
    }  # fmt: skip
    if box.words:
        return rng.choice(box.words)
    if box.value.value == "yes or no":
        return rng.random() < 0.5
    if box.value.value == "text":
        return rng.choice(WORDS)
    low, high = ranges.get(box.key, (max(box.low, 0.5), min(box.high, 10)))
    return round(rng.uniform(low, high), 1)


def record_of(uid: str, said: dict[str, Any], taken_at: datetime, serials: dict[int, str]) -> dict[str, Any]:
    """A row as an upload carries it: the same names, but the instrument by its serial."""
    row = {name: value for name, value in said.items() if name != "instrument_id"}
    serial = serials.get(said.get("instrument_id", 0))
    return (
        row
        | {"row_uid": uid, "taken_at": taken_at.isoformat()}
        | ({"instrument_serial": serial} if serial else {})
    )


NEXT_ROUND = timedelta(days=28)
