"""Routes, rounds, stops, permits, the rows of a sheet and uploads."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.domain.words import PermitState, Reason, RoundState, RunRequestState
from service.storage.tables.base import Base, Kept, Keyed, Retirable, few, one_of, within


class RouteRow(Retirable, Base):
    __tablename__ = "routes"
    __table_args__ = (UniqueConstraint("client_id", "name"),)
    client_id: Mapped[int] = mapped_column(ForeignKey("clients.id"), index=True)
    name: Mapped[str]


class RouteStopRow(Keyed, Base):
    __tablename__ = "route_stops"
    __table_args__ = (UniqueConstraint("route_id", "equipment_id"),)
    route_id: Mapped[int] = mapped_column(ForeignKey("routes.id"), index=True)
    equipment_id: Mapped[int] = mapped_column(ForeignKey("equipment.id"))
    position: Mapped[int]


class RoundRow(Kept, Base):
    __tablename__ = "rounds"
    __table_args__ = (
        one_of("state", RoundState),
        within("start_min", 0, 1439),
        Index("ix_rounds_planned_on", "planned_on"),
        Index("ix_rounds_state", "state"),
    )
    client_id: Mapped[int] = mapped_column(ForeignKey("clients.id"), index=True)
    route_id: Mapped[int | None] = mapped_column(ForeignKey("routes.id"))
    code: Mapped[str] = mapped_column(unique=True)
    name: Mapped[str]
    planned_on: Mapped[date]
    start_min: Mapped[int] = mapped_column(default=420)
    state: Mapped[str] = mapped_column(default=RoundState.DRAFT.value)
    person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"), index=True)
    second_person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    instrument_id: Mapped[int | None] = mapped_column(ForeignKey("instruments.id"))
    weather: Mapped[str] = mapped_column(default="")
    #: what holds for all its readings where they say nothing: by quantity {value, half_width, standing, how}
    settings: Mapped[dict[str, Any] | None] = mapped_column(JSON)
    note: Mapped[str] = mapped_column(default="")
    issued_at: Mapped[datetime | None]
    returned_at: Mapped[datetime | None]
    signed_off_at: Mapped[datetime | None]


class RoundMoveRow(Keyed, Base):
    """Each move of a round: from state to state, who and when."""

    __tablename__ = "round_moves"
    round_id: Mapped[int] = mapped_column(ForeignKey("rounds.id"), index=True)
    at: Mapped[datetime]
    by_person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    from_state: Mapped[str]
    to_state: Mapped[str]
    note: Mapped[str] = mapped_column(default="")


class FormerWalkerRow(Keyed, Base):
    """Somebody who had an issued round in hand until it was given to somebody else."""

    __tablename__ = "former_walkers"
    __table_args__ = (UniqueConstraint("round_id", "person_id"),)
    round_id: Mapped[int] = mapped_column(ForeignKey("rounds.id"))
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    until_at: Mapped[datetime]


class PermitRow(Kept, Base):
    __tablename__ = "permits"
    __table_args__ = (one_of("state", PermitState),)
    round_id: Mapped[int] = mapped_column(ForeignKey("rounds.id"), index=True)
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"))
    number: Mapped[str] = mapped_column(default="")
    issuer: Mapped[str] = mapped_column(default="")
    covers: Mapped[str] = mapped_column(default="")
    valid_from: Mapped[datetime | None]
    valid_to: Mapped[datetime | None]
    escort: Mapped[str] = mapped_column(default="")
    stand_off: Mapped[str] = mapped_column(default="")
    state: Mapped[str] = mapped_column(default=PermitState.ASKED.value)
    asked_at: Mapped[datetime]
    asked_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    granted_at: Mapped[datetime | None]
    granted_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    closed_at: Mapped[datetime | None]
    closed_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))


class RunRequestRow(Kept, Base):
    """A site was asked to have a machine run for a visit; the newest of a round and machine counts."""

    __tablename__ = "run_requests"
    __table_args__ = (
        one_of("state", RunRequestState),
        Index("ix_run_requests_round_id_equipment_id", "round_id", "equipment_id"),
    )
    round_id: Mapped[int] = mapped_column(ForeignKey("rounds.id"))
    #: not of a stop: those of a draft come and go
    equipment_id: Mapped[int] = mapped_column(ForeignKey("equipment.id"))
    #: the day it is to run, which is the round's when it was asked
    day: Mapped[date]
    asked_of: Mapped[str] = mapped_column(default="")
    state: Mapped[str] = mapped_column(default=RunRequestState.ASKED.value)
    asked_at: Mapped[datetime]
    asked_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    answer: Mapped[str] = mapped_column(default="")
    answered_at: Mapped[datetime | None]
    answered_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))


class StopRow(Keyed, Base):
    __tablename__ = "stops"
    __table_args__ = (UniqueConstraint("round_id", "equipment_id"),)
    round_id: Mapped[int] = mapped_column(ForeignKey("rounds.id"), index=True)
    equipment_id: Mapped[int] = mapped_column(ForeignKey("equipment.id"), index=True)
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"), index=True)
    position: Mapped[int]
    minutes: Mapped[int]
    permit_id: Mapped[int | None] = mapped_column(ForeignKey("permits.id"))
    sheet_code: Mapped[str | None] = mapped_column(unique=True)


class RoundPointRow(Keyed, Base):
    """One point expected on a round: its row on the sheet and in the file."""

    __tablename__ = "round_rows"
    __table_args__ = (
        UniqueConstraint("round_id", "point_id"),
        few("ix_round_rows_not_read", "point_id", where="not_read_reason IS NOT NULL"),
        one_of("not_read_reason", Reason),
    )
    uid: Mapped[str] = mapped_column(unique=True)
    round_id: Mapped[int] = mapped_column(ForeignKey("rounds.id"), index=True)
    stop_id: Mapped[int] = mapped_column(ForeignKey("stops.id"), index=True)
    view_id: Mapped[int] = mapped_column(ForeignKey("views.id"))
    point_id: Mapped[int] = mapped_column(ForeignKey("points.id"), index=True)
    position: Mapped[int]
    visit_kind: Mapped[str] = mapped_column(default="routine")
    #: set at sign-off for a point with no row; before that it shows "not read"
    not_read_reason: Mapped[str | None]
    #: which of two readings the engineer chose; None while undecided
    chosen_source: Mapped[str | None]
    #: what the trend of its point foretold when the round was issued (domain/foretold.py)
    foretold: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True), deferred=True)


class UploadRow(Keyed, Base):
    __tablename__ = "uploads"
    __table_args__ = (UniqueConstraint("round_id", "content_hash"),)
    round_id: Mapped[int] = mapped_column(ForeignKey("rounds.id"), index=True)
    content_hash: Mapped[str]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    device: Mapped[str] = mapped_column(default="")
    received_at: Mapped[datetime]
    file_name: Mapped[str] = mapped_column(default="")
    channel: Mapped[str]
    rows_new: Mapped[int]
    rows_equal: Mapped[int]
    rows_corrected: Mapped[int]
    #: what was answered; whoever sends the same content again is told the same
    result: Mapped[dict[str, Any]] = mapped_column(JSON)
