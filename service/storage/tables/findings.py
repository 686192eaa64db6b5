"""Findings, their moves, repairs and whom was told."""

from datetime import date, datetime

from sqlalchemy import ForeignKey, Text
from sqlalchemy.orm import Mapped, mapped_column

from service.domain.words import FindingState
from service.storage.tables.base import Base, Kept, Keyed, one_of, within


class FindingRow(Kept, Base):
    __tablename__ = "findings"
    __table_args__ = (one_of("state", FindingState), within("level", 0, 4))
    client_id: Mapped[int] = mapped_column(ForeignKey("clients.id"), index=True)
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"), index=True)
    #: None for a hot part met off the round: place and picture number say where
    point_id: Mapped[int | None] = mapped_column(ForeignKey("points.id"), index=True)
    round_id: Mapped[int | None] = mapped_column(ForeignKey("rounds.id"))
    reading_id: Mapped[int | None] = mapped_column(ForeignKey("readings.id"))
    place: Mapped[str] = mapped_column(default="")
    picture: Mapped[str] = mapped_column(default="")
    title: Mapped[str]
    state: Mapped[str] = mapped_column(default=FindingState.OPEN.value, index=True)
    attempt: Mapped[int] = mapped_column(default=1)
    level: Mapped[int | None]
    value_k: Mapped[float | None]
    common_k: Mapped[float | None]
    load_ratio: Mapped[float | None]
    current_a: Mapped[float | None]
    opened_at: Mapped[datetime]
    opened_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    owner_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"), index=True)
    due_on: Mapped[date | None]
    work_order: Mapped[str] = mapped_column(default="")
    cause: Mapped[str] = mapped_column(Text, default="")
    root_cause: Mapped[str] = mapped_column(Text, default="")
    interim_measure: Mapped[str] = mapped_column(Text, default="")
    cost: Mapped[float | None]
    consequence: Mapped[str] = mapped_column(Text, default="")
    planned_for: Mapped[date | None]
    set_aside_reason: Mapped[str] = mapped_column(Text, default="")
    review_on: Mapped[date | None]
    risk_accepted_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    risk_accepted_at: Mapped[datetime | None]
    risk_accepted_note: Mapped[str] = mapped_column(Text, default="")
    outcome: Mapped[str] = mapped_column(default="")
    closed_at: Mapped[datetime | None]


class FindingMoveRow(Keyed, Base):
    __tablename__ = "finding_moves"
    finding_id: Mapped[int] = mapped_column(ForeignKey("findings.id"), index=True)
    at: Mapped[datetime]
    by_person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    from_state: Mapped[str]
    to_state: Mapped[str]
    note: Mapped[str] = mapped_column(Text, default="")


class RepairRow(Keyed, Base):
    """One attempt: as found, as left, and how it ended."""

    __tablename__ = "repairs"
    __table_args__ = (one_of("outcome", ("proven", "not proven")),)
    finding_id: Mapped[int] = mapped_column(ForeignKey("findings.id"), index=True)
    attempt: Mapped[int]
    repaired_at: Mapped[datetime]
    by: Mapped[str] = mapped_column(default="")
    recorded_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    as_found: Mapped[str] = mapped_column(Text, default="")
    as_left: Mapped[str] = mapped_column(Text, default="")
    torque_found_nm: Mapped[float | None]
    torque_left_nm: Mapped[float | None]
    micro_ohm_found: Mapped[float | None]
    micro_ohm_left: Mapped[float | None]
    replaced: Mapped[bool] = mapped_column(default=False)
    #: what the opened part showed, in the words of ``Found``; None where nobody said
    found: Mapped[str | None]
    cost: Mapped[float | None]
    outcome: Mapped[str | None]
    outcome_at: Mapped[datetime | None]
    outcome_reading_id: Mapped[int | None] = mapped_column(ForeignKey("readings.id"))


class TellingRow(Keyed, Base):
    """Act now: told whom, when, and what they answered."""

    __tablename__ = "tellings"
    finding_id: Mapped[int] = mapped_column(ForeignKey("findings.id"), index=True)
    told_whom: Mapped[str]
    told_at: Mapped[datetime]
    answer: Mapped[str] = mapped_column(Text, default="")
    by_person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
