"""Many rows in one go: rows of given ids, keys reserved ahead, inserts at the driver's speed."""

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import UTC, date, datetime
from functools import cache
from typing import Any

from sqlalchemy import (
    JSON,
    BigInteger,
    BindParameter,
    ColumnElement,
    Table,
    any_,
    bindparam,
    cast,
    text,
)
from sqlalchemy.dialects import postgresql
from sqlalchemy.dialects.postgresql import ARRAY
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import DeclarativeBase

from service.storage.tables.base import UtcDateTime
from service.storage.unit import Unit

Values = Sequence[Any]
#: From so many rows on PostgreSQL is quicker with a COPY aside than with one statement a row.
WORTH_COPYING = 50
_LISTED = text("SELECT value FROM json_each(:listed)")
#: Rows that PostgreSQL surely writes within its ordinary limit of time.
MANY_ROWS = 5000


def allow_time(unit: Unit, rows: int) -> None:
    """A statement that writes tens of thousands of rows may take longer than others are given."""
    if unit.dialect == "postgresql" and rows > MANY_ROWS:
        unit.connection.exec_driver_sql("SET LOCAL statement_timeout = '60s'")


def table_of(kind: type[DeclarativeBase]) -> Table:
    table = kind.__table__
    assert isinstance(table, Table)
    return table


def is_one_of(unit: Unit, column: Any, ids: Iterable[int]) -> ColumnElement[bool]:
    """``column`` is one of the ids, as one bound value however many there are.

    A list of thousands of single bindings costs more to compile than the query itself, and
    SQLite stops at 32,766 of them.
    """
    wanted = list(ids)
    if unit.dialect == "sqlite":
        return _is_listed(column, wanted)
    # an array from the first: one that is cast from text would be read anew for every row
    array = cast(bindparam(None, wanted, type_=ARRAY(BigInteger)), ARRAY(BigInteger))
    among: ColumnElement[bool] = column == any_(array)
    return among


def is_one_of_texts(unit: Unit, column: Any, texts: Iterable[str]) -> ColumnElement[bool]:
    """The same for a text column."""
    wanted = list(texts)
    if unit.dialect == "sqlite":
        return _is_listed(column, wanted)
    array = cast(bindparam(None, wanted, type_=ARRAY(column.type)), ARRAY(column.type))
    among: ColumnElement[bool] = column == any_(array)
    return among


def _is_listed(column: Any, wanted: list[Any]) -> ColumnElement[bool]:
    """Said in words: a table made of expressions takes four times as long to build, for every query anew."""
    listed: BindParameter[str] = bindparam("listed", json.dumps(wanted), unique=True)
    matched: ColumnElement[bool] = column.in_(_LISTED.bindparams(listed))
    return matched


def reserve_keys(unit: Unit, kind: type[DeclarativeBase] | str, count: int) -> Sequence[int]:
    """Keys for ``count`` new rows, so that children can name their parents before either is written.

    PostgreSQL counts its sequence on; the keys are sent one by one only where another upload has
    drawn between them. SQLite lets one writer in at a time, and this unit is it,
    so the keys after the highest one are ours.
    """
    if count == 0:
        return ()
    name = kind if isinstance(kind, str) else table_of(kind).name
    if unit.dialect == "sqlite":
        highest = unit.connection.execute(text(f"SELECT coalesce(max(id), 0) FROM {name}")).scalar_one()
        return range(int(highest) + 1, int(highest) + 1 + count)
    drawn = text(
        f"WITH drawn AS (SELECT nextval(s) AS key FROM (SELECT pg_get_serial_sequence('{name}', 'id')::regclass "
        "AS s) AS q, generate_series(1, :count)) SELECT min(key), max(key), "
        "CASE WHEN max(key) - min(key) >= count(*) THEN array_agg(key) END FROM drawn"
    )
    first, last, keys = unit.connection.execute(drawn, {"count": count}).one()
    return range(first, last + 1) if keys is None else list(keys)


def insert_rows(
    unit: Unit, kind: type[DeclarativeBase], names: Sequence[str], *, rows: Sequence[Values]
) -> None:
    """Add rows given as plain values in the order of ``names``; defaults are the caller's affair.

    SQLite takes one prepared statement for all rows, PostgreSQL a COPY in its binary form.
    """
    if not rows:
        return
    table = table_of(kind)
    columns = ", ".join(f'"{name}"' for name in names)
    if unit.dialect == "sqlite":
        marks = ", ".join("?" * len(names))
        statement = f'INSERT INTO "{table.name}" ({columns}) VALUES ({marks})'
        unit.connection.exec_driver_sql(statement, [tuple(row) for row in _for_sqlite(table, names, rows)])
        return
    _copy(unit, f'"{table.name}" ({columns})', table, names, rows=rows)


def upsert_rows(
    unit: Unit,
    kind: type[DeclarativeBase],
    names: Sequence[str],
    *,
    rows: Sequence[Values],
    key: Sequence[str],
    change: Sequence[str],
) -> None:
    """Add rows, or where one with this ``key`` is there already, set the columns of ``change``."""
    if not rows:
        return
    table = table_of(kind)
    columns = ", ".join(f'"{name}"' for name in names)
    setting = ", ".join(f'"{name}" = excluded."{name}"' for name in change)
    keys = ", ".join(f'"{name}"' for name in key)
    conflict = f"ON CONFLICT ({keys}) DO UPDATE SET {setting}"
    if unit.dialect == "sqlite" or len(rows) < WORTH_COPYING:
        mark = "?" if unit.dialect == "sqlite" else "%s"
        statement = (
            f'INSERT INTO "{table.name}" ({columns}) VALUES ({", ".join([mark] * len(names))}) {conflict}'
        )
        values = (_for_sqlite if unit.dialect == "sqlite" else _for_postgres)(table, names, rows)
        unit.connection.exec_driver_sql(statement, [tuple(row) for row in values])
        return
    aside = f"aside_{table.name}"
    run = unit.connection.exec_driver_sql
    run(f'CREATE TEMP TABLE IF NOT EXISTS {aside} (LIKE "{table.name}") ON COMMIT DELETE ROWS')
    if aside in unit.session.info.setdefault("aside", set()):
        run(f"DELETE FROM {aside}")
    unit.session.info["aside"].add(aside)
    _copy(unit, f"{aside} ({columns})", table, names, rows=rows)
    run(f'INSERT INTO "{table.name}" ({columns}) SELECT {columns} FROM {aside} {conflict}')


#: By the name of a column's type how its values are packed. JSON in a COPY is its text.
_PACKED = {
    "BIGINT": "int8",
    "INTEGER": "int4",
    "DOUBLE PRECISION": "float8",
    "BOOLEAN": "bool",
    "DATE": "date",
    "TIMESTAMP WITH TIME ZONE": "timestamptz",
    "VARCHAR": "varchar",
    "TEXT": "text",
    "JSON": "text",
}
#: What an INTEGER holds, below and above 0; the driver would cut off the bits of a larger one.
_INTEGER_ENDS = -(2**31), 2**31 - 1


def _copy(unit: Unit, into: str, table: Table, names: Sequence[str], *, rows: Sequence[Values]) -> None:
    """Binary, since neither side writes or reads a figure digit by digit: a quarter of the time of text."""
    dialect = unit.connection.dialect
    cursor: Any = unit.connection.connection.cursor()
    assert dialect.dbapi is not None
    refused: type[Exception] = dialect.dbapi.Error
    packed = _packed(table, tuple(names))
    _refuse_large(packed, rows)
    try:
        with cursor, cursor.copy(f"COPY {into} FROM STDIN (FORMAT BINARY)") as copy:
            copy.set_types(packed)
            for row in _for_postgres(table, names, rows):
                copy.write_row(row)
    except refused as error:
        # told like the refusal of any other statement
        raise DBAPIError.instance(f"COPY {into}", None, error, refused, dialect=dialect) from error


@cache
def _packed(table: Table, names: tuple[str, ...]) -> tuple[str, ...]:
    """How the values of each of these columns are packed."""
    speaks = postgresql.dialect()  # type: ignore[no-untyped-call]
    told = (table.columns[name].type.compile(dialect=speaks) for name in names)
    return tuple(_PACKED[kind.partition("(")[0]] for kind in told)


def _refuse_large(packed: Sequence[str], rows: Sequence[Values]) -> None:
    lowest, highest = _INTEGER_ENDS
    for place, kind in enumerate(packed):
        if kind != "int4":
            continue
        numbers = [row[place] for row in rows if row[place] is not None]
        if numbers and not lowest <= min(numbers) <= max(numbers) <= highest:
            raise OverflowError("a number is larger than its column")


def _for_sqlite(table: Table, names: Sequence[str], rows: Sequence[Values]) -> Iterable[Values]:
    return _converted(table, names, rows, ways={UtcDateTime: _instants(), JSON: _json, date: _days})


def _for_postgres(table: Table, names: Sequence[str], rows: Sequence[Values]) -> Iterable[Values]:
    return _converted(table, names, rows, ways={JSON: _json})


def _converted(
    table: Table, names: Sequence[str], rows: Sequence[Values], *, ways: dict[type, Callable[[Any], Any]]
) -> Iterable[Values]:
    """Rows with the few columns converted that the driver does not take as they are."""
    places = {place: way for place, name in enumerate(names) if (way := _way_of(table, name, ways))}
    if not places:
        return rows
    columns: list[Iterable[Any]] = list(zip(*rows, strict=True))
    for place, way in places.items():
        columns[place] = [None if value is None else way(value) for value in columns[place]]
    return _zipped(columns)


def _zipped(columns: list[Iterable[Any]]) -> Iterator[Values]:
    return zip(*columns, strict=True)


def _way_of(table: Table, name: str, ways: dict[type, Callable[[Any], Any]]) -> Callable[[Any], Any] | None:
    kind = table.columns[name].type
    for wanted, way in ways.items():
        if isinstance(kind, wanted):
            return way
    if date in ways and kind.python_type is date:
        return ways[date]
    return None


def _instants() -> Callable[[datetime], str]:
    """As SQLAlchemy writes them to SQLite; the same few instants fill a whole upload."""
    known: dict[datetime, str] = {}

    def written(value: datetime) -> str:
        found = known.get(value)
        if found is None:
            if value.tzinfo is None:
                raise ValueError("an instant needs its time zone")
            found = known[value] = value.astimezone(UTC).strftime("%Y-%m-%d %H:%M:%S.%f")
        return found

    return written


def _json(value: Any) -> str:
    return json.dumps(value)


def _days(value: date) -> str:
    return value.isoformat()
