"""Pictures of rounds and findings, and the phrases of a client for their notes."""

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, ForeignKey, Text
from sqlalchemy.orm import Mapped, mapped_column

from service.domain.pictures import MatchedBy, PictureKind, TimeFrom
from service.storage.tables.base import Base, Kept, few, one_of


class PictureRow(Kept, Base):
    """A picture drawn anew from what was sent; the files lie on the shelf and never change."""

    __tablename__ = "pictures"
    __table_args__ = (
        one_of("kind", PictureKind),
        one_of("matched", MatchedBy),
        one_of("time_from", TimeFrom),
        few("ix_pictures_drawings", "stop_id", where="kind = 'drawing'"),
    )
    #: made by the device that took it, so that a repeated send is one picture
    uid: Mapped[str] = mapped_column(unique=True)
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"))
    #: NULL for one brought to a finding that no round met
    round_id: Mapped[int | None] = mapped_column(ForeignKey("rounds.id"), index=True)
    stop_id: Mapped[int | None] = mapped_column(ForeignKey("stops.id"))
    row_id: Mapped[int | None] = mapped_column(ForeignKey("round_rows.id"))
    point_id: Mapped[int | None] = mapped_column(ForeignKey("points.id"))
    #: what it shows: a pair of pictures belongs to all like parts of its view
    view_id: Mapped[int | None] = mapped_column(ForeignKey("views.id"), index=True)
    finding_id: Mapped[int | None] = mapped_column(ForeignKey("findings.id"), index=True)
    kind: Mapped[str]
    stored_as: Mapped[str]
    preview_as: Mapped[str]
    width: Mapped[int]
    height: Mapped[int]
    #: pictures in the file that came; the first is kept
    frames: Mapped[int] = mapped_column(default=1)
    #: SHA-256 of the bytes as they were sent, which are not kept
    sent_hash: Mapped[str]
    #: on a true clock: the camera's is put right by what its instrument was ahead
    taken_at: Mapped[datetime | None]
    time_from: Mapped[str | None]
    received_at: Mapped[datetime]
    by_person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    file_name: Mapped[str] = mapped_column(default="")
    code: Mapped[str] = mapped_column(default="")
    matched: Mapped[str | None]
    note: Mapped[str] = mapped_column(Text, default="")
    #: vectors in per cent of the picture, drawn over a copy
    marks: Mapped[list[dict[str, Any]]] = mapped_column(JSON)
    voice_as: Mapped[str] = mapped_column(default="")
    retired_at: Mapped[datetime | None]
    retired_reason: Mapped[str] = mapped_column(default="")


class PhrasesRow(Kept, Base):
    """The phrases a client's people pick from; no row: those that the list begins with."""

    __tablename__ = "phrases"
    client_id: Mapped[int] = mapped_column(ForeignKey("clients.id"), unique=True)
    lines: Mapped[list[str]] = mapped_column(JSON)
