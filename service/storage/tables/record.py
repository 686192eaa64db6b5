"""Jobs with leases, idempotency keys and the audit trail."""

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, LargeBinary, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.storage.tables.base import Base, Keyed, one_of


class JobRow(Keyed, Base):
    __tablename__ = "jobs"
    __table_args__ = (
        one_of("state", ("ready", "running", "done", "failed")),
        Index("ix_jobs_state_run_at", "state", "run_at"),
    )
    kind: Mapped[str]
    payload: Mapped[dict[str, Any]] = mapped_column(JSON)
    #: carried only while the job waits: jobs with one key are one
    dedupe_key: Mapped[str | None] = mapped_column(unique=True)
    #: taken for ever: one job per slot of the calendar
    slot: Mapped[str | None] = mapped_column(unique=True)
    state: Mapped[str] = mapped_column(default="ready")
    run_at: Mapped[datetime]
    lease_until: Mapped[datetime | None]
    worker: Mapped[str] = mapped_column(default="")
    attempts: Mapped[int] = mapped_column(default=0)
    last_error: Mapped[str] = mapped_column(Text, default="")
    created_at: Mapped[datetime]
    done_at: Mapped[datetime | None]


class IdempotencyKeyRow(Keyed, Base):
    """A send and the reply it got, kept so that replays are harmless."""

    __tablename__ = "idempotency_keys"
    __table_args__ = (
        UniqueConstraint("person_id", "key"),
        one_of("state", ("running", "done")),
    )
    key: Mapped[str]
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    request: Mapped[str]
    body_hash: Mapped[str]
    state: Mapped[str]
    status: Mapped[int | None]
    reply: Mapped[bytes | None] = mapped_column(LargeBinary)
    reply_type: Mapped[str] = mapped_column(default="application/json")
    created_at: Mapped[datetime]


class StagedFileRow(Keyed, Base):
    """A file that was looked at and waits for its sender's yes, for a day at most."""

    __tablename__ = "staged_files"
    uid: Mapped[str] = mapped_column(unique=True)
    person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"), index=True)
    file_name: Mapped[str]
    content: Mapped[bytes] = mapped_column(LargeBinary)
    created_at: Mapped[datetime]


class AuditRow(Keyed, Base):
    """Who changed what, when; rows are only ever added (the hashes chain them later)."""

    __tablename__ = "audit"
    __table_args__ = (Index("ix_audit_noun_noun_id", "noun", "noun_id"), Index("ix_audit_at", "at"))
    at: Mapped[datetime]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    person_name: Mapped[str]
    verb: Mapped[str]
    noun: Mapped[str]
    noun_id: Mapped[int | None]
    site_id: Mapped[int | None] = mapped_column(ForeignKey("sites.id"))
    before: Mapped[dict[str, Any] | None] = mapped_column(JSON)
    after: Mapped[dict[str, Any] | None] = mapped_column(JSON)
    previous_hash: Mapped[str | None]
    row_hash: Mapped[str | None]
