"""Raw tables → things of the register, typed, with every problem of every cell."""

from collections.abc import Mapping
from dataclasses import replace

from service.domain.cells import Cell, Sign, cell_text, decimal_signs
from service.domain.fields import Field, FieldKind, Value
from service.domain.register import KEY_FIELDS, PARENTS, Noun
from service.domain.register_columns import (
    FILED,
    NOTES,
    SHEETS,
    column_of,
    key_title,
    nearest_title,
)
from service.domain.register_file import FiledThing, Key, RegisterFile
from service.intake.collecting import Problems
from service.intake.tables import RawRow, RawTable, read_tables

_NUMBERS = (FieldKind.NUMBER, FieldKind.INTEGER)
#: things that belong to a client and need no site to be told apart
_CLIENT_WIDE = (Noun.CLIENT, Noun.SITE, Noun.INSTRUMENT)
Columns = list[tuple[int, Noun, Field]]


def read_register(
    content: bytes, problems: Problems, *, client_code: str = "", decimal: Sign | None = None
) -> RegisterFile | None:
    """The things of a workbook or a CSV file, one mechanism for both forms.

    Every row speaks of the things whose key column it fills, from the client down; the other
    filled cells are their fields. A sheet per noun and one flat table are thus read alike, and
    where two rows speak of one thing they must agree.

    Parameters
    ----------
    content : bytes
        The file.
    problems : Problems
        Takes what is wrong, cell by cell.
    client_code : str
        Whose plant a row is about when it does not say.
    decimal : {".", ","}, optional
        Decimal sign of numbers that are texts; without it the whole file must show which it is.

    Returns
    -------
    RegisterFile or None
        None when the titles or the decimal sign leave nothing to be read.

    Raises
    ------
    service.errors.Invalid
        The file itself cannot be read.
    """
    tables = read_tables(content, skip=lambda sheet: sheet.strip().casefold().startswith(NOTES))
    laid_out = [(table, _columns(table, problems)) for table in tables]
    if not any(table.rows for table in tables):
        problems.add(
            "file",
            "",
            "titles only",
            message="There is no row in it.",
            remedy=f"Fill in rows under the titles; the sheets are {', '.join(s.name for s in SHEETS)}.",
        )
    sign, found_by = _decimal(laid_out, problems, given=decimal)
    if sign is None or not any(columns for _, columns in laid_out):
        return None
    reader = _Reader(problems, sign, client_code)
    for table, columns in laid_out:
        for row in table.rows:
            reader.read_row(table.where(row), row, columns)
    return RegisterFile(
        reader.things,
        tuple(table.sheet for table in tables if table.sheet),
        sum(len(table.rows) for table in tables),
        sign,
        found_by,
    )


def _columns(table: RawTable, problems: Problems) -> Columns:
    """Which column holds which field; unknown titles, and sheets without any known one, are told."""
    columns: Columns = []
    unknown: list[str] = []
    for position, title in enumerate(table.header):
        meant = column_of(title)
        if meant is None:
            unknown.append(title)
        elif any(field is meant[1] for _, _, field in columns):
            problems.add(
                table.where(table.header_row),
                title,
                title,
                message="Two columns mean the same.",
                remedy="Keep one of them.",
            )
        else:
            columns.append((position, *meant))
    where = table.where(table.header_row)
    if not any(field.name == KEY_FIELDS[noun] for _, noun, field in columns):
        problems.add(
            where,
            "",
            ", ".join(table.header),
            message="No column here says which thing a row is about.",
            remedy="Use the titles of the template, such as Point tag; or name the sheet Notes to have it left out.",
        )
        return []
    for title in unknown:
        near = nearest_title(title)
        problems.add(
            where,
            title,
            title,
            message="The template has no such column.",
            remedy=f"Is it {near}?" if near else "Delete the column, or give it a title of the template.",
        )
    return columns


def _decimal(
    laid_out: list[tuple[RawTable, Columns]], problems: Problems, *, given: Sign | None
) -> tuple[Sign | None, str]:
    """The decimal sign of the whole file: given, seen in it, or asked for."""
    if given is not None:
        return given, "given"
    signs = decimal_signs(
        row.cells[position]
        for table, columns in laid_out
        for position, _, field in columns
        if field.kind in _NUMBERS
        for row in table.rows
    )
    if signs.must_be_asked:
        both = [e for e in (signs.comma_example, signs.point_example, signs.unsure_example) if e]
        problems.add(
            "file",
            "decimal",
            " and ".join(both),
            message="The file does not say whether its decimal sign is a comma or a point.",
            remedy="Choose the decimal sign, and send the file again.",
        )
        return None, ""
    if signs.sign is not None:
        return signs.sign, "seen"
    return ".", "not needed"


class _Reader:
    """Reads rows one by one; things that come up again are joined."""

    def __init__(self, problems: Problems, decimal: Sign, client_code: str) -> None:
        self.problems = problems
        self.client_code = client_code
        self.decimal: Sign = decimal
        self.things: dict[Noun, dict[Key, FiledThing]] = {noun: {} for noun in FILED}
        self._known: dict[tuple[Noun, str, type, Cell], Value] = {}

    def read_row(self, where: str, row: RawRow, columns: Columns) -> None:
        filled: dict[Noun, list[tuple[Field, Cell]]] = {}
        for position, noun, field in columns:
            cell = row.cells[position]
            if cell is not None:
                filled.setdefault(noun, []).append((field, cell))
        keys = self._keys(where, filled)
        for noun in FILED:
            if noun in keys:
                self._take(noun, keys, filled.get(noun, []), where)

    def _keys(self, where: str, filled: Mapping[Noun, list[tuple[Field, Cell]]]) -> dict[Noun, Key]:
        """Keys of the things a row is about, each with those above that make it one of its kind."""
        own: dict[Noun, str] = {}
        for noun, cells in filled.items():
            key = next((cell for field, cell in cells if field.name == KEY_FIELDS[noun]), None)
            if key is not None:
                own[noun] = cell_text(key)
            elif noun is Noun.CLIENT and self.client_code:
                own[noun] = self.client_code
            else:
                self._missing(where, noun, f"The row says something of {_one(noun)} but not which.")
        if not own:
            return {}
        client = own.setdefault(Noun.CLIENT, self.client_code)
        if not client:
            self._missing(where, Noun.CLIENT, "The row does not say whose plant this is.")
            return {}
        site = own.get(Noun.SITE)
        if site is None and any(noun not in _CLIENT_WIDE for noun in own):
            self._missing(where, Noun.SITE, "The row does not say at which site.")
        keys: dict[Noun, Key] = {}
        for noun, key in own.items():
            if noun is Noun.CLIENT:
                keys[noun] = (client,)
            elif noun in _CLIENT_WIDE:
                keys[noun] = (client, key)
            elif site is not None:
                keys[noun] = (client, site, key)
        return keys

    def _missing(self, where: str, noun: Noun, message: str) -> None:
        title = key_title(noun)
        self.problems.add(where, title, "", message=message, remedy=f"Fill in {title}.")

    def _take(
        self, noun: Noun, keys: Mapping[Noun, Key], cells: list[tuple[Field, Cell]], where: str
    ) -> None:
        key = keys[noun]
        thing = self.things[noun].get(key)
        if thing is None:
            thing = self.things[noun][key] = FiledThing(noun, key, where)
        above = PARENTS.get(noun)
        if above is not None and above in keys:
            self._stand(thing, keys[above], where)
        for field, cell in cells:
            self._set(thing, field, cell, where)

    def _stand(self, thing: FiledThing, parent: Key, where: str) -> None:
        if thing.parent is None:
            thing.parent, thing.parent_where = parent, where
        elif thing.parent != parent:
            above = PARENTS[thing.noun]
            self.problems.add(
                where,
                key_title(above),
                parent[-1],
                message=f"{thing.key[-1]} stands in {thing.parent[-1]} in {thing.parent_where}.",
                remedy=f"One {thing.noun} stands in one {above}: make the rows agree.",
            )

    def _set(self, thing: FiledThing, field: Field, cell: Cell, where: str) -> None:
        known = (thing.noun, field.name, type(cell), cell)
        if known in self._known:
            value = self._known[known]
        else:
            value, problem = field.read(cell, where, decimal=self.decimal)
            if problem is not None:
                thing.places.setdefault(field.name, where)
                self.problems.take(replace(problem, field=field.column))
                return
            self._known[known] = value
        if field.name == KEY_FIELDS[thing.noun]:
            return
        if field.name in thing.given and thing.given[field.name] != value:
            self.problems.add(
                where,
                field.column,
                cell,
                message=f"{thing.places[field.name]} says something else of {thing.key[-1]}.",
                remedy="Make the rows agree, or fill the cell in one of them only.",
            )
            return
        thing.given[field.name] = value
        thing.places.setdefault(field.name, where)


def _one(noun: Noun) -> str:
    if noun is Noun.EQUIPMENT:
        return noun
    return f"an {noun}" if noun in (Noun.AREA, Noun.INSTRUMENT) else f"a {noun}"
