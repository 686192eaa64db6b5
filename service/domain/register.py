"""The register: clients, sites, areas, equipment, views, points and instruments."""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from service.domain.words import Access, PointKind, ReferenceKind, SettingSource


class Noun(StrEnum):
    """What the register holds, from the top down; an instrument stands beside the sites."""

    CLIENT = "client"
    SITE = "site"
    AREA = "area"
    EQUIPMENT = "equipment"
    VIEW = "view"
    POINT = "point"
    INSTRUMENT = "instrument"

    @property
    def plural(self) -> str:
        return self.value if self is Noun.EQUIPMENT else f"{self.value}s"


#: what each thing stands in, and the field that says which
PARENTS: dict[Noun, Noun] = {
    Noun.SITE: Noun.CLIENT,
    Noun.AREA: Noun.SITE,
    Noun.EQUIPMENT: Noun.AREA,
    Noun.VIEW: Noun.EQUIPMENT,
    Noun.POINT: Noun.VIEW,
    Noun.INSTRUMENT: Noun.CLIENT,
}
PARENT_FIELDS: dict[Noun, str] = {noun: f"{parent.value}_id" for noun, parent in PARENTS.items()}
#: the field by which people know it
KEY_FIELDS: dict[Noun, str] = {
    Noun.CLIENT: "code",
    Noun.SITE: "code",
    Noun.AREA: "code",
    Noun.EQUIPMENT: "tag",
    Noun.VIEW: "tag",
    Noun.POINT: "tag",
    Noun.INSTRUMENT: "serial",
}
#: the tree, from the top down
TREE = (Noun.CLIENT, Noun.SITE, Noun.AREA, Noun.EQUIPMENT, Noun.VIEW, Noun.POINT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Registered:
    """What everything in the register carries; retired things stay and keep their tag."""

    id: int
    version: int
    created_at: datetime
    changed_at: datetime
    retired_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Client(Registered):
    code: str
    name: str
    letterhead: str
    phase_names: str
    carried_over_most: int
    cover_minutes: float
    criteria_id: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Site(Registered):
    client_id: int
    code: str
    name: str
    time_zone: str
    latitude: float | None
    longitude: float | None
    setup_minutes: int
    opening_hours: str
    two_people: bool
    contact_name: str
    contact_phone: str
    safety_text: str
    phase_names: str
    criteria_id: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Area(Registered):
    site_id: int
    code: str
    name: str
    walking_order: int
    x_m: float | None
    y_m: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Equipment(Registered):
    """One thing a technician stops at; ``usual_load_share`` is a share of its rated current."""

    site_id: int
    area_id: int
    tag: str
    name: str
    equipment_class: str
    walking_order: int
    criticality: str
    condition: str
    rated_current_a: float | None
    voltage_class: str
    outdoor: bool
    access: Access
    minutes: int
    load_hours: str
    usual_load_share: float | None
    duty_group: str
    run_on_request: bool
    settle_minutes: float | None
    stand_off: str
    ppe: str
    interval_months: float | None
    pf_interval_months: float | None
    repair_lead_days: int | None
    cost_per_hour: float | None
    consequence_people: str
    consequence_environment: str
    consequence_quality: str
    consequence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class View(Registered):
    """What is framed from one place: its like parts, its amps, its picture pair."""

    site_id: int
    equipment_id: int
    tag: str
    name: str
    walking_order: int
    phase_names: str
    asks_amps: bool
    asks_neutral: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Point(Registered):
    """One measuring place. ``like_part``: it is compared with the like parts of its view now."""

    site_id: int
    view_id: int
    tag: str
    name: str
    kind: PointKind
    walking_order: int
    component: str
    phase: str
    coating: str
    medium: str
    emissivity: float | None
    emissivity_source: str
    emissivity_standing: SettingSource | None
    emissivity_finish: str
    emissivity_half_width: float | None
    reflected_habit: str
    reflected_c: float | None
    reflected_half_width_k: float | None
    distance_m: float | None
    target_mm: float | None
    window_transmission: float | None
    window_transmission_half_width: float | None
    reference_kind: ReferenceKind
    rated_rise_k: float | None
    common_load_a: float | None
    common_load_source: str
    common_load_version: int
    no_heat_answer: str
    last_greased_on: date | None
    like_part: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument(Registered):
    client_id: int
    serial: str
    name: str
    kind: str
    band_low_um: float | None
    band_high_um: float | None
    field_of_view_deg: float | None
    pixels: int | None
    ifov_mrad: float | None
    range_low_c: float | None
    range_high_c: float | None
    accuracy_k: float | None
    accuracy_percent: float | None
    clock_offset_s: float
    calibration_due: date | None


RECORDS: dict[Noun, type[Registered]] = {
    Noun.CLIENT: Client,
    Noun.SITE: Site,
    Noun.AREA: Area,
    Noun.EQUIPMENT: Equipment,
    Noun.VIEW: View,
    Noun.POINT: Point,
    Noun.INSTRUMENT: Instrument,
}


@dataclass(frozen=True, slots=True)
class CommonLoad:
    """One version of the load to which a point's rises are brought."""

    version: int
    amps: float | None
    source: str
    at: datetime
    reason: str


@dataclass(frozen=True, slots=True)
class Place:
    """Where a thing of the register stands, for grants and for the line above its title."""

    client_id: int
    site_id: int | None
    ancestors: tuple[tuple[Noun, int, str], ...] = ()
