"""People, certificates, grants, sessions, tokens and tries."""

from datetime import date, datetime

from sqlalchemy import ForeignKey, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.domain.words import Role, TemperatureUnit
from service.storage.tables.base import Base, Kept, Keyed, one_of, within


class PersonRow(Kept, Base):
    __tablename__ = "people"
    __table_args__ = (one_of("role", Role), one_of("temperature_unit", TemperatureUnit))
    login: Mapped[str] = mapped_column(unique=True)
    name: Mapped[str]
    email: Mapped[str] = mapped_column(default="")
    role: Mapped[str]
    password_hash: Mapped[str]
    qualified: Mapped[bool] = mapped_column(default=False)
    active: Mapped[bool] = mapped_column(default=True)
    demo: Mapped[bool] = mapped_column(default=False)
    #: in which unit temperatures are shown to them and read from them; stored is °C
    temperature_unit: Mapped[str] = mapped_column(
        default=TemperatureUnit.CELSIUS.value, server_default=TemperatureUnit.CELSIUS.value
    )


class CertificateRow(Kept, Base):
    __tablename__ = "certificates"
    __table_args__ = (within("category", 1, 4),)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"), index=True)
    category: Mapped[int]
    scope: Mapped[str] = mapped_column(default="thermography")
    number: Mapped[str] = mapped_column(default="")
    expires_on: Mapped[date]


class GrantRow(Keyed, Base):
    __tablename__ = "grants"
    __table_args__ = (UniqueConstraint("person_id", "client_id", "site_id"),)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"), index=True)
    client_id: Mapped[int] = mapped_column(ForeignKey("clients.id"))
    site_id: Mapped[int | None] = mapped_column(ForeignKey("sites.id"))


class SessionRow(Keyed, Base):
    __tablename__ = "sessions"
    secret_hash: Mapped[str] = mapped_column(unique=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"), index=True)
    created_at: Mapped[datetime]
    expires_at: Mapped[datetime]
    seen_at: Mapped[datetime]
    revoked_at: Mapped[datetime | None]


class TokenRow(Keyed, Base):
    __tablename__ = "tokens"
    secret_hash: Mapped[str] = mapped_column(unique=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"), index=True)
    name: Mapped[str]
    prefix: Mapped[str]
    round_id: Mapped[int | None] = mapped_column(ForeignKey("rounds.id"))
    created_at: Mapped[datetime]
    expires_at: Mapped[datetime]
    used_at: Mapped[datetime | None]
    revoked_at: Mapped[datetime | None]


class LoginTryRow(Keyed, Base):
    __tablename__ = "login_tries"
    __table_args__ = (Index("ix_login_tries_key_at", "key", "at"),)
    key: Mapped[str]
    at: Mapped[datetime]
