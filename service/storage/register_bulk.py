"""The register by the thousand: what is there under which key, and many rows written at once."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import bindparam, select, update
from sqlalchemy.sql.schema import ScalarElementColumnDefault

from service.domain.fields import Value
from service.domain.people import Actor
from service.domain.register import KEY_FIELDS, PARENT_FIELDS, PARENTS, Noun
from service.domain.register_fields import FIELDS
from service.storage import audit
from service.storage.bulk import insert_rows, is_one_of, reserve_keys, table_of
from service.storage.register_points import NEVER_READ
from service.storage.register_rows import TABLES
from service.storage.tables.readings import PointStateRow
from service.storage.tables.register import (
    ClientRow,
    CommonLoadRow,
    PointRow,
    ViewMemberRow,
)
from service.storage.unit import Unit


@dataclass(frozen=True, slots=True)
class Standing:
    """A thing that is there: its values by the names of the catalogue."""

    id: int
    parent_id: int | None
    site_id: int | None
    version: int
    retired: bool
    values: Mapping[str, Value]
    common_load_version: int = 0


@dataclass(frozen=True, slots=True)
class NewThing:
    """A thing to be written, under an id reserved for it."""

    id: int
    parent_id: int | None
    site_id: int | None
    values: Mapping[str, Value]


@dataclass(frozen=True, slots=True)
class ChangedThing:
    """A thing to be changed: the fields that differ, and for a move the new parent."""

    standing: Standing
    changes: Mapping[str, Value]
    parent_id: int | None = None


def clients_by_code(unit: Unit, codes: Iterable[str]) -> dict[str, Standing]:
    found = _standing(unit, Noun.CLIENT, ClientRow.code.in_(sorted(set(codes))))
    return {key: thing for (_, key), thing in found.items()}


def things_of_clients(unit: Unit, noun: Noun, client_ids: Iterable[int]) -> dict[tuple[int, str], Standing]:
    """Sites or instruments by client id and key, retired ones included."""
    return _standing(unit, noun, is_one_of(unit, TABLES[noun].client_id, client_ids))


def things_of_sites(unit: Unit, noun: Noun, site_ids: Iterable[int]) -> dict[tuple[int, str], Standing]:
    """Areas, equipment, views or points by site id and key, retired ones included."""
    return _standing(unit, noun, is_one_of(unit, TABLES[noun].site_id, site_ids))


def _standing(unit: Unit, noun: Noun, which: Any) -> dict[tuple[int, str], Standing]:
    table = table_of(TABLES[noun])
    names = [field.name for field in FIELDS[noun] if field.name in table.columns]
    extra = ["id", "version", "retired_at"]
    scope = "id" if noun is Noun.CLIENT else ("client_id" if "client_id" in table.columns else "site_id")
    if noun is Noun.POINT:
        extra.append("common_load_version")
    parent = PARENT_FIELDS.get(noun)
    columns: list[Any] = [table.columns[name] for name in (*names, *extra)]
    columns += [table.columns[scope].label("scope_id")]
    if parent is not None:
        columns.append(table.columns[parent].label("above_id"))
    members: set[int] = _members_now(unit, which) if noun is Noun.POINT else set()
    found: dict[tuple[int, str], Standing] = {}
    for row in unit.session.execute(select(*columns).where(which)).mappings():
        values: dict[str, Value] = {name: row[name] for name in names}
        if noun is Noun.POINT:
            values["like_part"] = row["id"] in members
        found[(row["scope_id"], row[KEY_FIELDS[noun]])] = Standing(
            id=row["id"],
            parent_id=None if parent is None else row["above_id"],
            site_id=row["scope_id"] if scope == "site_id" else (row["id"] if noun is Noun.SITE else None),
            version=row["version"],
            retired=row["retired_at"] is not None,
            values=values,
            common_load_version=row["common_load_version"] if noun is Noun.POINT else 0,
        )
    return found


def _members_now(unit: Unit, which: Any) -> set[int]:
    query = select(ViewMemberRow.point_id).join(PointRow, PointRow.id == ViewMemberRow.point_id)
    return set(unit.session.scalars(query.where(which, ViewMemberRow.to_at.is_(None))))


def reserve_ids(unit: Unit, noun: Noun, count: int) -> Sequence[int]:
    return reserve_keys(unit, TABLES[noun], count)


def add_things(
    unit: Unit,
    noun: Noun,
    things: Sequence[NewThing],
    *,
    now: datetime,
    by_person_id: int | None,
    equipment_of_view: Mapping[int, int],
) -> None:
    """Write new things of one noun; points with what goes with them.

    ``equipment_of_view`` is asked for points only: their state names their equipment.
    """
    if not things:
        return
    table = table_of(TABLES[noun])
    names = [field.name for field in FIELDS[noun] if field.name in table.columns]
    parent = PARENT_FIELDS.get(noun)
    stands = [parent] if parent is not None else []
    if "site_id" in table.columns and parent != "site_id":
        stands.append("site_id")
    fixed: dict[str, Any] = {"version": 1, "created_at": now, "changed_at": now}
    if noun is Noun.POINT:
        fixed["common_load_version"] = 1
    rows: list[Sequence[Any]] = [
        (
            thing.id,
            *(thing.parent_id if name == parent else thing.site_id for name in stands),
            *fixed.values(),
            *(thing.values[name] for name in names),
        )
        for thing in things
    ]
    insert_rows(unit, TABLES[noun], ["id", *stands, *fixed, *names], rows=rows)
    if noun is Noun.POINT:
        _begin_points(unit, things, now=now, by_person_id=by_person_id, equipment_of_view=equipment_of_view)


def _begin_points(
    unit: Unit,
    things: Sequence[NewThing],
    *,
    now: datetime,
    by_person_id: int | None,
    equipment_of_view: Mapping[int, int],
) -> None:
    """State, membership and the first common load of each new point."""
    defaults = _defaults(PointStateRow) | {"due_on": now.date(), "due_reason": NEVER_READ}
    states: list[Sequence[Any]] = [
        (t.id, t.site_id, equipment_of_view[t.parent_id or 0], *defaults.values()) for t in things
    ]
    insert_rows(unit, PointStateRow, ["point_id", "site_id", "equipment_id", *defaults], rows=states)
    members: list[Sequence[Any]] = [(t.parent_id, t.id, now) for t in things if t.values["like_part"]]
    insert_rows(unit, ViewMemberRow, ["view_id", "point_id", "from_at"], rows=members)
    loads: list[Sequence[Any]] = [
        (t.id, 1, t.values["common_load_a"], t.values["common_load_source"], now, by_person_id, "")
        for t in things
    ]
    names = ["point_id", "version", "amps", "source", "at", "by_person_id", "reason"]
    insert_rows(unit, CommonLoadRow, names, rows=loads)


def _defaults(kind: Any) -> dict[str, Any]:
    """Plain defaults of a table's columns, which only the mapper would fill in."""
    return {
        column.name: column.default.arg
        for column in table_of(kind).columns
        if isinstance(column.default, ScalarElementColumnDefault)
    }


def change_things(
    unit: Unit,
    noun: Noun,
    changes: Sequence[ChangedThing],
    *,
    now: datetime,
    by_person_id: int | None,
    reason: str,
) -> None:
    """Write changes of one noun, grouped by the set of fields that change."""
    table = table_of(TABLES[noun])
    groups: dict[tuple[str, ...], list[dict[str, Any]]] = {}
    for change in changes:
        fields: dict[str, Any] = {k: v for k, v in change.changes.items() if k in table.columns}
        if change.parent_id is not None and noun in PARENTS:
            fields[PARENT_FIELDS[noun]] = change.parent_id
        if noun is Noun.POINT and _load_changes(change):
            fields["common_load_version"] = change.standing.common_load_version + 1
        groups.setdefault(tuple(sorted(fields)), []).append(
            {f"to_{name}": value for name, value in fields.items()} | {"of_id": change.standing.id}
        )
    for names, rows in groups.items():
        setting = {name: bindparam(f"to_{name}", type_=table.columns[name].type) for name in names}
        statement = (
            update(table)
            .where(table.columns["id"] == bindparam("of_id"))
            .values(**setting, version=table.columns["version"] + 1, changed_at=now)
        )
        unit.connection.execute(statement, rows)
    if noun is Noun.POINT:
        _change_points(unit, changes, now=now, by_person_id=by_person_id, reason=reason)


def _load_changes(change: ChangedThing) -> bool:
    return "common_load_a" in change.changes or "common_load_source" in change.changes


def _change_points(
    unit: Unit,
    changes: Sequence[ChangedThing],
    *,
    now: datetime,
    by_person_id: int | None,
    reason: str,
) -> None:
    loads: list[Sequence[Any]] = []
    joining: list[Sequence[Any]] = []
    leaving: list[int] = []
    for change in changes:
        thing = change.standing
        values = {**thing.values, **change.changes}
        if _load_changes(change):
            version = thing.common_load_version + 1
            amps, source = values["common_load_a"], values["common_load_source"]
            loads.append((thing.id, version, amps, source, now, by_person_id, reason))
        if change.changes.get("like_part") is True:
            joining.append((thing.parent_id, thing.id, now))
        elif change.changes.get("like_part") is False:
            leaving.append(thing.id)
    names = ["point_id", "version", "amps", "source", "at", "by_person_id", "reason"]
    insert_rows(unit, CommonLoadRow, names, rows=loads)
    insert_rows(unit, ViewMemberRow, ["view_id", "point_id", "from_at"], rows=joining)
    if leaving:
        which = is_one_of(unit, ViewMemberRow.point_id, leaving) & ViewMemberRow.to_at.is_(None)
        statement = update(ViewMemberRow).where(which).values(to_at=now)
        unit.session.execute(statement.execution_options(synchronize_session=False))


def note_changes(
    unit: Unit, actor: Actor, noun: Noun, changes: Sequence[ChangedThing], *, now: datetime
) -> None:
    """One line of the audit trail for every changed thing, before and after."""
    for change in changes:
        thing = change.standing
        audit.note(
            unit,
            actor,
            verb="edit",
            noun=noun.value,
            noun_id=thing.id,
            site_id=thing.site_id,
            now=now,
            before={name: thing.values[name] for name in change.changes},
            after=dict(change.changes),
        )
    unit.session.flush()
