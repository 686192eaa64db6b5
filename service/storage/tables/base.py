"""What every table shares: naming, UTC instants, checks written by hand."""

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any, ClassVar

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    DateTime,
    Index,
    Integer,
    MetaData,
    String,
    TypeDecorator,
    text,
)
from sqlalchemy.engine import Dialect
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}

#: SQLite only numbers rows by itself in an INTEGER key; PostgreSQL wants the wide type.
Key = BigInteger().with_variant(Integer, "sqlite")


class UtcDateTime(TypeDecorator[datetime]):
    """An instant: aware in, UTC in the table, aware UTC out (SQLite forgets the zone)."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("an instant needs its time zone")
        utc = value.astimezone(UTC)
        return utc if dialect.name != "sqlite" else utc.replace(tzinfo=None)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Base(DeclarativeBase):
    metadata = MetaData(naming_convention=NAMING)
    type_annotation_map: ClassVar = {datetime: UtcDateTime(), str: String()}


class Keyed:
    id: Mapped[int] = mapped_column(Key, primary_key=True)


class Kept(Keyed):
    """Editable things carry the version that ETags speak of, and who made them when."""

    version: Mapped[int] = mapped_column(Integer, default=1, server_default="1")
    created_at: Mapped[datetime]
    changed_at: Mapped[datetime]


class Retirable(Kept):
    """Things of the register are retired, never deleted."""

    retired_at: Mapped[datetime | None]


def one_of(column: str, values: Iterable[str], *, name: str | None = None) -> CheckConstraint:
    """A CHECK that a text column holds one of the words (or NULL)."""
    quoted = ", ".join("'" + str(v).replace("'", "''") + "'" for v in values)
    return CheckConstraint(f"{column} IN ({quoted})", name=name or column)


def within(column: str, low: float, high: float) -> CheckConstraint:
    """A CHECK that a number lies in a closed range (or is NULL)."""
    return CheckConstraint(f"{column} >= {low} AND {column} <= {high}", name=column)


def few(name: str, *columns: str, where: str, on_sqlite: str = "") -> Index:
    """An index of the few rows for which a condition holds; a query that says it in these words is fast.

    SQLite has no truth values of its own, so that there a condition on one reads ``= 0`` or ``= 1``.
    """
    return Index(name, *columns, sqlite_where=text(on_sqlite or where), postgresql_where=text(where))


Json = dict[str, Any]
