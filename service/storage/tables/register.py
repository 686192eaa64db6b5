"""Clients, sites, areas, equipment, views, points and what belongs to them."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, Text, UniqueConstraint, false
from sqlalchemy.orm import Mapped, mapped_column

from service.domain.words import Access, PointKind, ReferenceKind, SettingSource
from service.storage.tables.base import Base, Keyed, Retirable, few, one_of, within


class ClientRow(Retirable, Base):
    __tablename__ = "clients"
    code: Mapped[str] = mapped_column(unique=True)
    name: Mapped[str]
    letterhead: Mapped[str] = mapped_column(Text, default="")
    phase_names: Mapped[str] = mapped_column(default="L1,L2,L3")
    #: visits in a row without a usable reading after which the Desk says so
    carried_over_most: Mapped[int] = mapped_column(default=3, server_default="3")
    #: reading minutes that one opened cover is worth to a plan; 0: covers are counted only
    cover_minutes: Mapped[float] = mapped_column(default=0.0, server_default="0")
    criteria_id: Mapped[int | None] = mapped_column(ForeignKey("criteria_sets.id"))


class SiteRow(Retirable, Base):
    __tablename__ = "sites"
    __table_args__ = (
        UniqueConstraint("client_id", "code"),
        within("latitude", -90, 90),
        within("longitude", -180, 180),
        within("setup_minutes", 0, 600),
    )
    client_id: Mapped[int] = mapped_column(ForeignKey("clients.id"), index=True)
    code: Mapped[str]
    name: Mapped[str]
    time_zone: Mapped[str] = mapped_column(default="UTC")
    latitude: Mapped[float | None]
    longitude: Mapped[float | None]
    setup_minutes: Mapped[int] = mapped_column(default=10)
    #: when its gate lets people in, in the grammar of load hours; empty: at any hour
    opening_hours: Mapped[str] = mapped_column(default="", server_default="")
    #: nobody works there alone
    two_people: Mapped[bool] = mapped_column(default=False, server_default=false())
    contact_name: Mapped[str] = mapped_column(default="")
    contact_phone: Mapped[str] = mapped_column(default="")
    safety_text: Mapped[str] = mapped_column(Text, default="")
    phase_names: Mapped[str] = mapped_column(default="")
    criteria_id: Mapped[int | None] = mapped_column(ForeignKey("criteria_sets.id"))


class CriteriaOfClassRow(Keyed, Base):
    """The criteria of one class of equipment at a site, where they are not the site's own."""

    __tablename__ = "criteria_of_classes"
    __table_args__ = (UniqueConstraint("site_id", "equipment_class"),)
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"))
    equipment_class: Mapped[str]
    criteria_id: Mapped[int] = mapped_column(ForeignKey("criteria_sets.id"))
    at: Mapped[datetime]
    by_person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))


class AreaRow(Retirable, Base):
    __tablename__ = "areas"
    __table_args__ = (UniqueConstraint("site_id", "code"),)
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"), index=True)
    code: Mapped[str]
    name: Mapped[str]
    walking_order: Mapped[int] = mapped_column(default=0)
    x_m: Mapped[float | None]
    y_m: Mapped[float | None]


class EquipmentRow(Retirable, Base):
    __tablename__ = "equipment"
    __table_args__ = (
        UniqueConstraint("site_id", "tag"),
        few("ix_equipment_duty_group", "site_id", where="duty_group <> ''"),
        one_of("access", Access),
        one_of("criticality", ("low", "medium", "high")),
        one_of("condition", ("good", "average", "poor")),
        within("minutes", 0, 600),
        within("rated_current_a", 0, 100000),
        within("settle_minutes", 0, 10000),
    )
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"), index=True)
    area_id: Mapped[int] = mapped_column(ForeignKey("areas.id"), index=True)
    tag: Mapped[str]
    name: Mapped[str]
    equipment_class: Mapped[str] = mapped_column(default="")
    walking_order: Mapped[int] = mapped_column(default=0)
    criticality: Mapped[str] = mapped_column(default="medium")
    condition: Mapped[str] = mapped_column(default="average")
    rated_current_a: Mapped[float | None]
    voltage_class: Mapped[str] = mapped_column(default="")
    outdoor: Mapped[bool] = mapped_column(default=False)
    access: Mapped[str] = mapped_column(default=Access.CLOSED_FRONT.value)
    minutes: Mapped[int] = mapped_column(default=5)
    #: "mon-fri 07:00-11:30; 13:15-15:00": hours in which it usually carries ≥ 40 % load
    load_hours: Mapped[str] = mapped_column(default="")
    usual_load_share: Mapped[float | None]
    #: how long its heat takes to settle: the time constant of its warming up [min]
    settle_minutes: Mapped[float | None]
    stand_off: Mapped[str] = mapped_column(default="")
    ppe: Mapped[str] = mapped_column(default="")
    interval_months: Mapped[float | None]
    pf_interval_months: Mapped[float | None]
    repair_lead_days: Mapped[int | None]
    cost_per_hour: Mapped[float | None]
    consequence_people: Mapped[str] = mapped_column(default="")
    consequence_environment: Mapped[str] = mapped_column(default="")
    consequence_quality: Mapped[str] = mapped_column(default="")
    consequence: Mapped[str] = mapped_column(default="")
    #: what its label says to a camera; drawn when the first label is made, then kept for ever
    label_code: Mapped[str | None] = mapped_column(index=True, unique=True)
    #: equipment of a site under one name runs in turn, one at a time
    duty_group: Mapped[str] = mapped_column(default="", server_default="")
    #: the site lets it run for a visit when asked
    run_on_request: Mapped[bool] = mapped_column(default=False, server_default=false())


class ViewRow(Retirable, Base):
    __tablename__ = "views"
    __table_args__ = (UniqueConstraint("site_id", "tag"),)
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"), index=True)
    equipment_id: Mapped[int] = mapped_column(ForeignKey("equipment.id"), index=True)
    tag: Mapped[str]
    name: Mapped[str]
    walking_order: Mapped[int] = mapped_column(default=0)
    phase_names: Mapped[str] = mapped_column(default="")
    asks_amps: Mapped[bool] = mapped_column(default=True)
    asks_neutral: Mapped[bool] = mapped_column(default=False)


class PointRow(Retirable, Base):
    __tablename__ = "points"
    __table_args__ = (
        UniqueConstraint("site_id", "tag"),
        few("ix_points_retired", "id", where="retired_at IS NOT NULL"),
        one_of("kind", PointKind),
        one_of("reference_kind", ReferenceKind),
        within("emissivity", 0.01, 1),
        within("window_transmission", 0.01, 1),
        within("distance_m", 0, 1000),
        within("rated_rise_k", 0, 1000),
        within("common_load_a", 0, 100000),
        within("emissivity_half_width", 0, 0.5),
        within("reflected_c", -90, 1000),
        within("reflected_half_width_k", 0, 100),
        within("window_transmission_half_width", 0, 0.5),
        within("target_mm", 0, 100000),
        one_of("emissivity_standing", SettingSource),
    )
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"), index=True)
    view_id: Mapped[int] = mapped_column(ForeignKey("views.id"), index=True)
    tag: Mapped[str]
    name: Mapped[str]
    kind: Mapped[str]
    walking_order: Mapped[int] = mapped_column(default=0)
    component: Mapped[str] = mapped_column(default="")
    phase: Mapped[str] = mapped_column(default="")
    coating: Mapped[str] = mapped_column(default="")
    medium: Mapped[str] = mapped_column(default="air")
    emissivity: Mapped[float | None]
    #: how the number was found, in the engineer's words
    emissivity_source: Mapped[str] = mapped_column(default="")
    #: measured, from a table, or assumed; NULL is assumed
    emissivity_standing: Mapped[str | None]
    #: row of the emissivity table it was taken from
    emissivity_finish: Mapped[str] = mapped_column(default="", server_default="")
    emissivity_half_width: Mapped[float | None]
    reflected_habit: Mapped[str] = mapped_column(default="")
    reflected_c: Mapped[float | None]
    reflected_half_width_k: Mapped[float | None]
    distance_m: Mapped[float | None]
    window_transmission: Mapped[float | None]
    window_transmission_half_width: Mapped[float | None]
    #: smallest width of what is to be seen [mm]: whether the instrument's spot fits on it
    target_mm: Mapped[float | None]
    reference_kind: Mapped[str] = mapped_column(default=ReferenceKind.LIKE_PARTS.value)
    rated_rise_k: Mapped[float | None]
    common_load_a: Mapped[float | None]
    common_load_source: Mapped[str] = mapped_column(default="")
    common_load_version: Mapped[int] = mapped_column(default=1)
    #: the answer given once for the point to "load or bare metal?" (standards.md §1a.7)
    no_heat_answer: Mapped[str] = mapped_column(default="")
    last_greased_on: Mapped[date | None]


class ViewMemberRow(Keyed, Base):
    """Which points were like parts of a view, and when."""

    __tablename__ = "view_members"
    __table_args__ = (Index("ix_view_members_view_id_point_id", "view_id", "point_id"),)
    view_id: Mapped[int] = mapped_column(ForeignKey("views.id"))
    point_id: Mapped[int] = mapped_column(ForeignKey("points.id"), index=True)
    from_at: Mapped[datetime]
    to_at: Mapped[datetime | None]


class CommonLoadRow(Keyed, Base):
    """Versions of a point's common load; a change is a re-evaluation."""

    __tablename__ = "common_loads"
    __table_args__ = (UniqueConstraint("point_id", "version"),)
    point_id: Mapped[int] = mapped_column(ForeignKey("points.id"))
    version: Mapped[int]
    amps: Mapped[float | None]
    source: Mapped[str]
    at: Mapped[datetime]
    by_person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    reason: Mapped[str] = mapped_column(default="")


class AnswerRow(Keyed, Base):
    """Questions asked once per point, with their answers."""

    __tablename__ = "answers"
    __table_args__ = (UniqueConstraint("point_id", "question"),)
    point_id: Mapped[int] = mapped_column(ForeignKey("points.id"))
    question: Mapped[str]
    answer: Mapped[str]
    at: Mapped[datetime]
    by_person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))


class SeriesCutRow(Keyed, Base):
    """Where a point's series is cut, and why: no trend runs across."""

    __tablename__ = "series_cuts"
    __table_args__ = (
        one_of("reason", ("repaired", "replaced", "surface changed", "reference changed", "band changed")),
    )
    point_id: Mapped[int] = mapped_column(ForeignKey("points.id"), index=True)
    at: Mapped[datetime]
    reason: Mapped[str]
    note: Mapped[str] = mapped_column(default="")
    finding_id: Mapped[int | None] = mapped_column(ForeignKey("findings.id"))


class InstrumentRow(Retirable, Base):
    __tablename__ = "instruments"
    __table_args__ = (
        UniqueConstraint("client_id", "serial"),
        one_of("kind", ("camera", "thermometer", "ammeter", "other")),
    )
    client_id: Mapped[int] = mapped_column(ForeignKey("clients.id"), index=True)
    serial: Mapped[str]
    name: Mapped[str]
    kind: Mapped[str] = mapped_column(default="camera")
    band_low_um: Mapped[float | None]
    band_high_um: Mapped[float | None]
    field_of_view_deg: Mapped[float | None]
    pixels: Mapped[int | None]
    ifov_mrad: Mapped[float | None]
    range_low_c: Mapped[float | None]
    range_high_c: Mapped[float | None]
    accuracy_k: Mapped[float | None]
    accuracy_percent: Mapped[float | None]
    clock_offset_s: Mapped[float] = mapped_column(default=0.0)
    calibration_due: Mapped[date | None]


class InstrumentCheckRow(Keyed, Base):
    """A check against a reference: at start, at end, after a drop."""

    __tablename__ = "instrument_checks"
    __table_args__ = (one_of("occasion", ("start", "end", "after a drop")),)
    instrument_id: Mapped[int] = mapped_column(ForeignKey("instruments.id"), index=True)
    round_id: Mapped[int | None] = mapped_column(ForeignKey("rounds.id"))
    at: Mapped[datetime]
    occasion: Mapped[str]
    reference_c: Mapped[float | None]
    shown_c: Mapped[float | None]
    note: Mapped[str] = mapped_column(default="")


class CriteriaSetRow(Keyed, Base):
    """A versioned set of rules; once used it is locked."""

    __tablename__ = "criteria_sets"
    __table_args__ = (UniqueConstraint("name", "version"),)
    name: Mapped[str]
    version: Mapped[int]
    title: Mapped[str]
    citation: Mapped[str] = mapped_column(Text)
    confidence: Mapped[str]
    body: Mapped[dict[str, Any]] = mapped_column(JSON)
    valid_from: Mapped[date]
    locked: Mapped[bool] = mapped_column(default=False)
    created_at: Mapped[datetime]
    by_person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
