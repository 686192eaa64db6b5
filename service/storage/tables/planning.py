"""Who walks when, what is closed when, plans of months and feeds of calendars."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.domain.planning import WalkPart
from service.storage.tables.base import Base, Kept, Keyed, one_of, within


class WalkingHoursRow(Kept, Base):
    """When somebody walks rounds, from where, and whether they read or go along."""

    __tablename__ = "walking_hours"
    __table_args__ = (
        one_of("part", WalkPart),
        within("start_latitude", -90, 90),
        within("start_longitude", -180, 180),
    )
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"), unique=True)
    part: Mapped[str]
    #: in the grammar of load hours: "mon-thu 07:30-15:30; fri 07:30-13:00"
    hours: Mapped[str]
    start_place: Mapped[str] = mapped_column(default="")
    start_latitude: Mapped[float | None]
    start_longitude: Mapped[float | None]
    #: whose public holidays are free: ISO 3166 country, or country and part ("GB-SCT"); empty: none
    holidays_of: Mapped[str] = mapped_column(default="")


class AbsenceRow(Keyed, Base):
    """Days on which somebody does not walk, both ends included."""

    __tablename__ = "absences"
    __table_args__ = (
        CheckConstraint("from_on <= to_on", name="from_on"),
        Index("ix_absences_person_id_to_on", "person_id", "to_on"),
    )
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    from_on: Mapped[date]
    to_on: Mapped[date]
    note: Mapped[str] = mapped_column(default="")


class SiteClosureRow(Keyed, Base):
    """Days on which nobody is let in at a site, both ends included."""

    __tablename__ = "site_closures"
    __table_args__ = (
        CheckConstraint("from_on <= to_on", name="from_on"),
        Index("ix_site_closures_site_id_to_on", "site_id", "to_on"),
    )
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"))
    from_on: Mapped[date]
    to_on: Mapped[date]
    reason: Mapped[str]


class SiteForecastRow(Keyed, Base):
    """The weather that somebody expects at a site on a day, as typed."""

    __tablename__ = "site_forecasts"
    __table_args__ = (
        UniqueConstraint("site_id", "day"),
        within("wind_m_s", 0, 100),
        within("rain_mm", 0, 2000),
    )
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"))
    day: Mapped[date]
    words: Mapped[str]
    wind_m_s: Mapped[float | None]
    rain_mm: Mapped[float | None]
    #: said so by whoever typed it, whatever wind and rain are
    unfit: Mapped[bool]
    at: Mapped[datetime]
    by_person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))


class MonthPlanRow(Kept, Base):
    """A plan of one month; ``current`` is the number of the version that counts."""

    __tablename__ = "month_plans"
    __table_args__ = (Index("ix_month_plans_client_id_month_on", "client_id", "month_on"),)
    client_id: Mapped[int] = mapped_column(ForeignKey("clients.id"))
    month_on: Mapped[date]
    name: Mapped[str]
    current: Mapped[int]
    newest: Mapped[int]
    #: while the service draws a version up: {what, base, done, of, value}; None: nothing is under way
    working: Mapped[dict[str, Any] | None] = mapped_column(JSON)


class MonthPlanVersionRow(Keyed, Base):
    """One state of a plan, never changed: what was asked for, by whom, and the whole plan it led to."""

    __tablename__ = "month_plan_versions"
    __table_args__ = (UniqueConstraint("plan_id", "number"),)
    plan_id: Mapped[int] = mapped_column(ForeignKey("month_plans.id"))
    number: Mapped[int]
    #: the version it was made from; 0 for the first
    parent: Mapped[int]
    #: drawn up beside the plan to see what would be, not one of its own steps
    aside: Mapped[bool]
    at: Mapped[datetime]
    by_person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    what: Mapped[str]
    body: Mapped[dict[str, Any]] = mapped_column(JSON)


class MonthPlanRoundRow(Keyed, Base):
    """Which round was made of which walk of a plan."""

    __tablename__ = "month_plan_rounds"
    __table_args__ = (UniqueConstraint("plan_id", "walk"),)
    plan_id: Mapped[int] = mapped_column(ForeignKey("month_plans.id"))
    walk: Mapped[str]
    round_id: Mapped[int] = mapped_column(ForeignKey("rounds.id"), index=True)


class CalendarFeedRow(Keyed, Base):
    """A secret address under which a calendar program reads somebody's rounds; only its digest is kept."""

    __tablename__ = "calendar_feeds"
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"), index=True)
    secret_hash: Mapped[str] = mapped_column(unique=True)
    prefix: Mapped[str]
    created_at: Mapped[datetime]
    used_at: Mapped[datetime | None]
    revoked_at: Mapped[datetime | None]
