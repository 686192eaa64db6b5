"""What the register and the record say of the equipment, views and points of a round."""

from dataclasses import dataclass
from datetime import date, datetime

from service.domain.words import Access


@dataclass(frozen=True, slots=True)
class EquipmentFacts:
    """One equipment as a round needs it: where, how reached, when loaded."""

    id: int
    client_id: int
    site_id: int
    site_name: str
    time_zone: str
    latitude: float | None
    longitude: float | None
    setup_minutes: int
    area_id: int
    area_name: str
    area_order: int
    x_m: float | None
    y_m: float | None
    tag: str
    name: str
    walking_order: int
    access: Access
    minutes: int
    load_hours: str
    usual_load_share: float | None
    stand_off: str
    ppe: str
    outdoor: bool
    criticality: str
    rated_current_a: float | None
    settle_minutes: float | None
    contact_name: str
    contact_phone: str
    safety_text: str
    voltage_class: str
    phase_names: str
    retired_at: datetime | None
    duty_group: str = ""
    run_on_request: bool = False

    @property
    def title(self) -> str:
        return f"{self.site_name}, {self.name}"


@dataclass(frozen=True, slots=True)
class PointTally:
    """What the points of one equipment stand at, and what of it is due.

    ``due`` counts points whose day has come; ``reason`` is that of the earliest of them.
    ``worst_id`` is the point whose stroke stands for the equipment; ``free`` counts points of
    kinds that stand free, without a front.
    """

    equipment_id: int
    points: int = 0
    due: int = 0
    due_on: date | None = None
    reason: str = ""
    level: int | None = None
    at_least: bool = False
    worsening: int = 0
    above_nothing: int = 0
    read_again: int = 0
    free: int = 0
    worst_id: int | None = None
    worst_name: str = ""
    worst_trend: str = ""
    height_now: float | None = None
    height_year_ago: float | None = None


@dataclass(frozen=True, slots=True)
class DueTotal:
    """How much is due at one site: ``taken`` of its points are on a round to come."""

    site_id: int
    client_id: int
    name: str
    points: int
    taken: int
    equipment: int
    minutes: int


@dataclass(frozen=True, slots=True)
class SheetPoint:
    """One row of a sheet or of the file: the point, its view and what it said last.

    ``row_uid`` is empty until the round is issued. Temperatures in °C, rises in K, currents in A.
    """

    row_uid: str
    stop_id: int
    view_id: int
    view_tag: str
    view_name: str
    view_order: int
    phase_names: str
    asks_amps: bool
    asks_neutral: bool
    point_id: int
    tag: str
    name: str
    phase: str
    kind: str
    component: str
    order: int
    visit_kind: str
    reference_kind: str
    common_load_a: float | None
    rated_rise_k: float | None
    baseline_k: float | None
    emissivity: float | None
    reflected_habit: str
    distance_m: float | None
    target_mm: float | None
    window_transmission: float | None
    last_read_at: datetime | None
    last_c: float | None
    last_a: float | None
    level: int | None
    at_least: bool
    value_k: float | None
    not_assessable: str
    not_read_reason: str


@dataclass(frozen=True, slots=True)
class DuePoint:
    """What the interval rule needs of one point, and what is stored for it now.

    ``last_full_at`` is its last visit that could have cleared it; ``last_seen_at`` its last
    reading of any kind. ``repaired_at`` is set while a repair waits for its proof.
    ``fresh_place`` counts its site among those of the client, for points never read at sites
    never visited; None where the site has been visited. ``crossing_from`` is the early end of the
    range in which its trend may reach its Act-now line.
    """

    point_id: int
    site_id: int
    equipment_id: int
    kind: str
    criticality: str
    condition: str
    interval_months: float | None
    pf_interval_months: float | None
    repair_lead_days: int | None
    made_on: date
    last_full_at: datetime | None
    last_seen_at: datetime | None
    level: int | None
    trend: str
    repaired_at: datetime | None
    retired: bool
    fresh_place: int | None
    fresh_places: int
    has_state: bool
    due_on: date | None
    due_reason: str
    crossing_from: date | None = None
