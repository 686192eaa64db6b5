"""Runs alone as a child process: checks the archive, reads its sheets, answers with JSON."""

import io
import json
import re
import struct
import sys
import zipfile
import zlib
from datetime import date, datetime, time, timedelta
from typing import Any
from xml.etree import ElementTree

Problem = dict[str, str]
_DOCTYPES = tuple("<!DOCTYPE".encode(encoding) for encoding in ("ascii", "utf-16-le", "utf-16-be"))
_REFUSED = (
    (re.compile(r"vbaproject|xl/macrosheets/|xl/activex/|\.bin$"), "macros or programs"),
    (re.compile(r"xl/externallinks/|xl/connections\.xml|xl/querytables/"), "links to other files or data"),
    (re.compile(r"xl/embeddings/|\.(zip|xlsx|xlsm|docx|exe|js)$"), "another file inside"),
)
_BENIGN_BIN = re.compile(r"xl/printersettings/|customproperty")
_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_ERROR_CELL = re.compile(rb'<c\b(?=[^>]*\bt="e")[^>]*\br="([A-Z]{1,3}[0-9]{1,7})"')
_LINKED = re.compile(rb"<[^>]*TargetMode\s*=\s*[\"']External[\"'][^>]*>", re.IGNORECASE)


class Refused(Exception):
    """The archive is not opened any further."""

    def __init__(self, found: str, message: str, remedy: str) -> None:
        super().__init__(message)
        self.problem = problem("file", "", found, message=message, remedy=remedy)


def problem(where: str, field: str, found: str, *, message: str, remedy: str) -> Problem:
    return {"where": where, "field": field, "found": found, "message": message, "remedy": remedy}


def broken(found: str) -> Refused:
    return Refused(
        found, "This is not a sound .xlsx workbook.", "Open it, save it anew as .xlsx and send that."
    )


def inflate(content: bytes, entry: zipfile.ZipInfo, room: int, ratio: int) -> bytes:
    """The bytes of an entry, counted while they come; headers that lie are found out."""
    start = entry.header_offset
    head = content[start : start + 30]
    if len(head) < 30 or head[:4] != b"PK\x03\x04":
        raise broken(entry.filename)
    name_size, extra_size = struct.unpack("<HH", head[26:30])
    begin = start + 30 + name_size + extra_size
    packed = content[begin : begin + entry.compress_size]
    if entry.flag_bits & 1:
        raise Refused("a password", "This workbook is protected by a password.", "Save it without one.")
    if entry.compress_type == zipfile.ZIP_STORED:
        plain = packed
    elif entry.compress_type == zipfile.ZIP_DEFLATED:
        most = min(room, max(ratio * len(packed), 4096))
        machine = zlib.decompressobj(-15)
        try:
            plain = machine.decompress(packed, most + 1)
        except zlib.error as error:
            raise broken(entry.filename) from error
    else:
        raise broken(f"{entry.filename}: packed by method {entry.compress_type}")
    if len(plain) > room or (len(plain) > 4096 and len(plain) > ratio * max(1, len(packed))):
        raise Refused(
            f"{entry.filename} grows out of proportion when unpacked",
            "This workbook unpacks to more than is accepted.",
            "Copy the table alone into a new workbook, or save it as CSV.",
        )
    if len(plain) != entry.file_size or zlib.crc32(plain) != entry.CRC:
        raise broken(f"{entry.filename}: size or checksum differs from its header")
    return plain


def checked_entries(content: bytes, limits: dict[str, int]) -> dict[str, bytes]:
    """The XML parts that are looked at again, after every entry has passed.

    Raises
    ------
    Refused
        At the first breach.
    """
    try:
        entries = zipfile.ZipFile(io.BytesIO(content)).infolist()
    except (zipfile.BadZipFile, ValueError, NotImplementedError, OSError, struct.error) as error:
        raise broken("a damaged archive") from error
    if len(entries) > limits["entries"]:
        raise Refused(
            f"{len(entries)} parts",
            "This workbook has too many parts.",
            "Copy the table alone into a new workbook.",
        )
    room = limits["inflated"]
    kept: dict[str, bytes] = {}
    for entry in entries:
        name = entry.filename.lower().replace("\\", "/")
        if name in kept:
            raise broken(f"{entry.filename} is there twice")
        refuse_by_name(name)
        plain = inflate(content, entry, room, limits["ratio"])
        room -= len(plain)
        if name.endswith((".xml", ".rels", ".vml")):
            refuse_by_content(name, plain)
        worth = name.startswith("xl/worksheets/sheet") or name in (
            "xl/workbook.xml",
            "xl/_rels/workbook.xml.rels",
            "[content_types].xml",
        )
        kept[name] = plain if worth else b""
    if "xl/workbook.xml" not in kept or "[content_types].xml" not in kept:
        raise broken("an archive that is no .xlsx")
    if b"macroenabled" in kept["[content_types].xml"].lower():
        raise refused_part("macros or programs")
    return kept


def refused_part(what: str) -> Refused:
    return Refused(what, f"This workbook holds {what}.", "Save a copy with values only, as .xlsx.")


def refuse_by_name(name: str) -> None:
    for pattern, what in _REFUSED:
        if pattern.search(name) and not _BENIGN_BIN.search(name):
            raise refused_part(what)


def refuse_by_content(name: str, plain: bytes) -> None:
    if any(mark in plain for mark in _DOCTYPES):
        raise refused_part("a document type declaration")
    if name.endswith(".rels"):
        for linked in _LINKED.findall(plain):
            # a web or mail address in a cell is a text to us; anything else would be fetched
            if b"/hyperlink" not in linked:
                raise refused_part("links to other files or data")


def error_cells(parts: dict[str, bytes]) -> list[Problem]:
    """Cells such as #N/A: a reader of values would take them for empty."""
    problems: list[Problem] = []
    try:
        book = ElementTree.fromstring(parts["xl/workbook.xml"])  # noqa: S314 - no DTD got this far
        links = ElementTree.fromstring(parts.get("xl/_rels/workbook.xml.rels", b"<none/>"))  # noqa: S314
    except ElementTree.ParseError as error:
        raise broken("xl/workbook.xml") from error
    targets = {link.get("Id"): (link.get("Target") or "").lstrip("/").lower() for link in links}
    for sheet in book.iter(f"{_MAIN}sheet"):
        target = targets.get(sheet.get(_RELATION)) or ""
        plain = parts.get(target if target.startswith("xl/") else f"xl/{target}", b"")
        for match in _ERROR_CELL.finditer(plain):
            cell = match.group(1).decode()
            letters, row = re.fullmatch("([A-Z]+)([0-9]+)", cell).groups()  # type: ignore[union-attr]
            problems.append(
                problem(
                    f"sheet {sheet.get('name')}, row {row}",
                    f"column {letters}",
                    "an error such as #N/A",
                    message="This cell holds an error instead of a value.",
                    remedy="Mend the formula, or type the value.",
                )
            )
            if len(problems) >= 1000:
                return problems
    return problems


def plain_cell(cell: Any) -> Any:
    if isinstance(cell, str):
        return cell or None
    if isinstance(cell, datetime):
        return {"moment": cell.isoformat()}
    if isinstance(cell, date):
        return {"day": cell.isoformat()}
    if isinstance(cell, time):
        return {"clock": cell.isoformat()}
    if isinstance(cell, timedelta):
        return {"seconds": cell.total_seconds()}
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 2**53:
        return int(cell)
    if isinstance(cell, float) and cell != cell:
        return None
    return cell


def weight(cell: Any) -> int:
    """What a cell costs the parent, roughly, in bytes."""
    return 1 if cell is None else 16 + (len(cell) if isinstance(cell, str) else 0)


def read(content: bytes, limits: dict[str, int]) -> dict[str, Any]:
    """Everything a parent wants to know: sheets with rows, or problems.

    Raises
    ------
    Refused
        The archive breaks a limit.
    """
    from python_calamine import CalamineError, CalamineWorkbook, SheetTypeEnum

    parts = checked_entries(content, limits)
    problems = error_cells(parts)
    parts.clear()
    sheets: list[dict[str, Any]] = []
    room = limits["text"]
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(content))
        names = [m.name for m in book.sheets_metadata if m.typ == SheetTypeEnum.WorkSheet]
        for name in names:
            rows: list[list[Any]] = []
            sheet = book.get_sheet_by_name(name)
            told = whole_sheet_problems(sheet, name, limits)
            if told:
                problems += told
                continue
            for row in sheet.iter_rows():
                cells = [plain_cell(cell) for cell in row]
                room -= sum(weight(cell) for cell in cells)
                if room < 0:
                    raise Refused("", "This workbook holds more text than is accepted.", "Split the file.")
                rows.append(cells)
            sheets.append({"name": name, "rows": rows})
    except CalamineError as error:
        raise broken(str(error)[:60]) from error
    return {"sheets": sheets, "problems": problems}


def whole_sheet_problems(sheet: Any, name: str, limits: dict[str, int]) -> list[Problem]:
    found = []
    # twice the limit: a sheet may have empty rows in it; the filled ones are counted later
    if sheet.total_height > 2 * limits["rows"]:
        found.append((f"{sheet.total_height} rows", f"More than {limits['rows']} rows."))
    if sheet.total_width > limits["columns"]:
        found.append((f"{sheet.total_width} columns", f"More than {limits['columns']} columns."))
    return [
        problem(
            f"sheet {name}",
            "",
            what,
            message=message,
            remedy="Delete stray cells below and beside the table, or split the file.",
        )
        for what, message in found
    ]


def main() -> None:
    limits = json.loads(sys.argv[1])
    content = sys.stdin.buffer.read()
    try:
        reply = read(content, limits)
    except Refused as refused:
        reply = {"sheets": [], "problems": [refused.problem]}
    sys.stdout.buffer.write(json.dumps(reply, ensure_ascii=True).encode())


if __name__ == "__main__":
    main()
