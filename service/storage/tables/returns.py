"""What comes back beside the readings: scans of signed sheets, spoken notes, permits typed on walks, questions."""

from datetime import datetime

from sqlalchemy import ForeignKey, Text
from sqlalchemy.orm import Mapped, mapped_column

from service.domain.scans import Matched, ScanKind
from service.domain.spoken_notes import SpokenKind
from service.storage.tables.base import Base, Kept, Keyed, few, one_of


class SheetScanRow(Keyed, Base):
    """A scan of a signed sheet, kept as it came; the file itself lies beside the database."""

    __tablename__ = "sheet_scans"
    __table_args__ = (one_of("kind", ScanKind), one_of("matched", Matched))
    uid: Mapped[str] = mapped_column(unique=True)
    round_id: Mapped[int] = mapped_column(ForeignKey("rounds.id"), index=True)
    #: NULL: of the whole round
    stop_id: Mapped[int | None] = mapped_column(ForeignKey("stops.id"), index=True)
    matched: Mapped[str]
    file_name: Mapped[str]
    kind: Mapped[str]
    content_hash: Mapped[str]
    stored_as: Mapped[str]
    size_bytes: Mapped[int]
    received_at: Mapped[datetime]
    by_person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    taken_back_at: Mapped[datetime | None]
    taken_back_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    taken_back_reason: Mapped[str] = mapped_column(default="")


class SpokenNoteRow(Keyed, Base):
    """A note spoken on the walk to a reading or a stop; the file itself lies beside the database."""

    __tablename__ = "spoken_notes"
    __table_args__ = (one_of("kind", SpokenKind),)
    #: made by the device that recorded it, so that a repeated send is one note
    uid: Mapped[str] = mapped_column(unique=True)
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"))
    round_id: Mapped[int] = mapped_column(ForeignKey("rounds.id"), index=True)
    stop_id: Mapped[int] = mapped_column(ForeignKey("stops.id"))
    #: NULL: of the stop as a whole
    row_id: Mapped[int | None] = mapped_column(ForeignKey("round_rows.id"))
    point_id: Mapped[int | None] = mapped_column(ForeignKey("points.id"), index=True)
    kind: Mapped[str]
    content_hash: Mapped[str]
    stored_as: Mapped[str]
    size_bytes: Mapped[int]
    #: on a true clock; NULL where the device's could not be believed
    taken_at: Mapped[datetime | None]
    received_at: Mapped[datetime]
    by_person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    taken_back_at: Mapped[datetime | None]
    taken_back_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    taken_back_reason: Mapped[str] = mapped_column(default="")


class TypedPermitRow(Keyed, Base):
    """What was typed of a permit on the walk, as shown by its issuer; it grants nothing."""

    __tablename__ = "typed_permits"
    #: made by the device, so that a repeated send is one
    uid: Mapped[str] = mapped_column(unique=True)
    round_id: Mapped[int] = mapped_column(ForeignKey("rounds.id"))
    permit_id: Mapped[int] = mapped_column(ForeignKey("permits.id"), index=True)
    stop_id: Mapped[int] = mapped_column(ForeignKey("stops.id"))
    number: Mapped[str]
    valid_from: Mapped[datetime]
    valid_to: Mapped[datetime]
    #: it was put on the permit, where no engineer had typed another
    stands: Mapped[bool]
    typed_at: Mapped[datetime | None]
    received_at: Mapped[datetime]
    by_person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    #: an engineer has kept, granted or closed the permit since
    settled_at: Mapped[datetime | None]
    settled_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))


class RoundQuestionRow(Kept, Base):
    """A question about one point, sent back to those who walked the round."""

    __tablename__ = "round_questions"
    __table_args__ = (few("ix_round_questions_open", "round_id", where="answered_at IS NULL"),)
    round_id: Mapped[int] = mapped_column(ForeignKey("rounds.id"), index=True)
    row_id: Mapped[int] = mapped_column(ForeignKey("round_rows.id"))
    asked_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    question: Mapped[str] = mapped_column(Text)
    answered_at: Mapped[datetime | None]
    answered_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    answer: Mapped[str] = mapped_column(Text, default="")
