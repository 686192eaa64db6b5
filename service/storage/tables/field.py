"""What devices send from the walk: every send once, visits of stops, camera clocks, and what is held aside."""

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, ForeignKey, Text
from sqlalchemy.orm import Mapped, mapped_column

from service.domain.field_records import HeldState, SendKind
from service.storage.tables.base import Base, Key, Keyed, few, one_of


class FieldSendRow(Keyed, Base):
    """One send that was stored, with what it was answered: sent again it is answered the same."""

    __tablename__ = "field_sends"
    __table_args__ = (one_of("kind", SendKind),)
    uid: Mapped[str] = mapped_column(unique=True)
    kind: Mapped[str]
    round_id: Mapped[int] = mapped_column(ForeignKey("rounds.id"), index=True)
    person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    content_hash: Mapped[str]
    received_at: Mapped[datetime]
    device_time: Mapped[str]
    skew_s: Mapped[float | None]
    finding_id: Mapped[int | None] = mapped_column(ForeignKey("findings.id"))


class ReplacedSendRow(Keyed, Base):
    """A send that its own device has replaced by a later one: if it comes after all, it comes too late."""

    __tablename__ = "replaced_sends"
    uid: Mapped[str] = mapped_column(unique=True)
    by_uid: Mapped[str]


class StopVisitRow(Keyed, Base):
    __tablename__ = "stop_visits"
    uid: Mapped[str] = mapped_column(unique=True)
    round_id: Mapped[int] = mapped_column(ForeignKey("rounds.id"), index=True)
    stop_id: Mapped[int] = mapped_column(ForeignKey("stops.id"), index=True)
    person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    #: put right by the measured offset; NULL where the clock was not believed
    started_at: Mapped[datetime | None]
    ended_at: Mapped[datetime | None]
    cautions_at: Mapped[datetime | None]
    seen: Mapped[str] = mapped_column(Text)
    heard: Mapped[str] = mapped_column(Text)
    smelt: Mapped[str] = mapped_column(Text)
    #: as it came, times by the device's clock
    typed: Mapped[dict[str, Any]] = mapped_column(JSON)
    #: a later send stands for it
    replaced: Mapped[bool] = mapped_column(default=False)


class CameraClockRow(Keyed, Base):
    __tablename__ = "camera_clocks"
    uid: Mapped[str] = mapped_column(unique=True)
    round_id: Mapped[int] = mapped_column(ForeignKey("rounds.id"), index=True)
    instrument_id: Mapped[int] = mapped_column(ForeignKey("instruments.id"), index=True)
    person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    at: Mapped[datetime]
    camera_time: Mapped[str]
    #: camera minus true time
    offset_s: Mapped[float]
    replaced: Mapped[bool] = mapped_column(default=False)


class HeldSendRow(Keyed, Base):
    """A send with no place any more: kept whole until somebody decides, and afterwards."""

    __tablename__ = "held_sends"
    __table_args__ = (
        one_of("kind", SendKind),
        one_of("state", HeldState),
        few("ix_held_sends_waiting", "received_at", where="state = 'waiting'"),
    )
    uid: Mapped[str] = mapped_column(unique=True)
    kind: Mapped[str]
    state: Mapped[str] = mapped_column(default=HeldState.WAITING.value)
    round_id: Mapped[int] = mapped_column(ForeignKey("rounds.id"), index=True)
    site_id: Mapped[int | None] = mapped_column(ForeignKey("sites.id"))
    point_id: Mapped[int | None] = mapped_column(ForeignKey("points.id"))
    person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    device: Mapped[str] = mapped_column(default="")
    received_at: Mapped[datetime]
    body: Mapped[dict[str, Any]] = mapped_column(JSON)
    content_hash: Mapped[str]
    device_time: Mapped[str]
    skew_s: Mapped[float | None]
    reason: Mapped[str] = mapped_column(Text)
    decided_at: Mapped[datetime | None]
    decided_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    decision: Mapped[str] = mapped_column(Text, default="")
    #: the round that took it; rounds are never deleted, so that no key has to guard it
    into_round_id: Mapped[int | None] = mapped_column(Key)
