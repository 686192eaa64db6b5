"""Rows given as columns: arrays, lists, or one value for all of them."""

from typing import Any

import numpy as np
from sqlalchemy import Integer
from sqlalchemy.orm import DeclarativeBase

from service.storage.bulk import insert_rows, table_of
from service.storage.unit import Unit


def write(unit: Unit, kind: type[DeclarativeBase], count: int, /, **columns: Any) -> None:
    """Add ``count`` rows; columns not given take the table's default, NaN is NULL."""
    table, given = table_of(kind).columns, dict(columns)
    for column in table:
        default: Any = column.default
        if column.name not in given and default is not None and default.is_scalar:
            given[column.name] = default.arg
    cells = [
        _cells(value, count, whole=isinstance(table[name].type, Integer)) for name, value in given.items()
    ]
    insert_rows(unit, kind, tuple(given), rows=list(zip(*cells, strict=True)))


def _cells(value: Any, count: int, *, whole: bool) -> list[Any]:
    if isinstance(value, np.ndarray) and value.dtype.kind == "f":
        known = (np.nan_to_num(value).astype(int) if whole else value).astype(object)
        known[np.isnan(value)] = None
        return list(known.tolist())
    if isinstance(value, np.ndarray):
        return list(value.tolist())
    return value if isinstance(value, list) else [value] * count
