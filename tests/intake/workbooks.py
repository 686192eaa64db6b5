"""Workbooks made for tests: sound ones, and archives crafted to break a reader."""

import io
import random
import struct
import warnings
import zipfile
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import xlsxwriter

MIB = 1024 * 1024


def workbook(sheets: Mapping[str, Sequence[Sequence[Any]]]) -> bytes:
    """A sound workbook with these cells."""
    buffer = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "default_date_format": "yyyy-mm-dd hh:mm"}
    book = xlsxwriter.Workbook(buffer, options)
    for name, rows in sheets.items():
        sheet = book.add_worksheet(name)
        for number, row in enumerate(rows):
            for column, cell in enumerate(row):
                if cell is not None:
                    sheet.write(number, column, cell)
    book.close()
    return buffer.getvalue()


def sound() -> bytes:
    return workbook({"Points": [["Point tag", "Point name"], ["A1", "L1"]]})


def parts_of(content: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(parts: Mapping[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", method) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return buffer.getvalue()


def with_part(name: str, content: bytes) -> bytes:
    """The sound workbook with one part more, or another in its place."""
    return packed(parts_of(sound()) | {name: content})


def with_sheet(xml: str) -> bytes:
    head = (
        '<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    )
    return with_part("xl/worksheets/sheet1.xml", f"{head}{xml}</worksheet>".encode())


def compressible(size: int, ratio: int) -> bytes:
    """Bytes that deflate to somewhat more than ``size / ratio``."""
    rng = random.Random(7)
    return b"".join(rng.randbytes(64) + bytes(64 * (ratio - 1)) for _ in range(size // (64 * ratio)))


def false_size(content: bytes) -> bytes:
    """Headers of the first sheet say ten bytes; the stream holds what it held."""
    changed = bytearray(content)
    name = b"xl/worksheets/sheet1.xml"
    at = 0
    while (at := changed.find(b"PK\x01\x02", at)) >= 0:
        length = struct.unpack("<H", changed[at + 28 : at + 30])[0]
        if bytes(changed[at + 46 : at + 46 + length]) == name:
            changed[at + 24 : at + 28] = struct.pack("<I", 10)
        at += 4
    at = changed.find(b"PK\x03\x04")
    while at >= 0:
        length = struct.unpack("<H", changed[at + 26 : at + 28])[0]
        if bytes(changed[at + 30 : at + 30 + length]) == name:
            changed[at + 22 : at + 26] = struct.pack("<I", 10)
        at = changed.find(b"PK\x03\x04", at + 4)
    return bytes(changed)


def flagged_encrypted(content: bytes) -> bytes:
    changed = bytearray(content)
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        at = changed.find(mark)
        changed[at + offset] |= 1
    return bytes(changed)


def doubled_entry() -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for name, content in parts_of(sound()).items():
            archive.writestr(name, content)
        archive.writestr("xl/workbook.xml", b"<other/>")
    return buffer.getvalue()


def _doctype(encoding: str) -> bytes:
    bomb = '<?xml version="1.0"?><!DOCTYPE sst [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]><sst>&b;</sst>'
    return with_part("xl/sharedStrings.xml", bomb.encode(encoding))


def _string_bomb() -> bytes:
    """One text of 40 kB, spoken of 50,000 times: two gigabytes once it is spelled out."""
    namespace = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
    text = "".join(random.Random(7).choices("abcdefghijklmnopqrstuvwxyz", k=40_000))
    parts = parts_of(sound())
    parts["xl/sharedStrings.xml"] = (
        f'<sst {namespace} count="1" uniqueCount="1"><si><t>{text}</t></si></sst>'.encode()
    )
    rows = "".join(f'<row r="{n}"><c r="A{n}" t="s"><v>0</v></c></row>' for n in range(1, 50_001))
    parts["xl/worksheets/sheet1.xml"] = (
        f"<worksheet {namespace}><sheetData>{rows}</sheetData></worksheet>".encode()
    )
    return packed(parts)


def _external(kind: str) -> bytes:
    relation = (
        '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
        f'<Relationship Id="rId9" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/{kind}" '
        'Target="http://192.0.2.1/x" TargetMode="External"/></Relationships>'
    )
    return with_part("xl/worksheets/_rels/sheet1.xml.rels", relation.encode())


def hyperlinked() -> bytes:
    """A mail address that a spreadsheet made a link of: harmless, and met every day."""
    return _external("hyperlink")


def _macro_type() -> bytes:
    parts = parts_of(sound())
    types = parts["[Content_Types].xml"].replace(b"spreadsheetml.sheet.main", b"sheet.macroEnabled.main")
    return packed(parts | {"[Content_Types].xml": types})


#: name of the danger → the file; none of them is to be read
CRAFTED: dict[str, Callable[[], bytes]] = {
    "an entry of a thousand to one": lambda: with_part("xl/media/big.xml", b"\0" * (5 * MIB)),
    "unpacks to more than a hundred mebibytes": lambda: packed(
        parts_of(sound()) | {f"xl/media/{n}.xml": compressible(12 * MIB, 80) for n in range(9)}
    ),
    "more than a thousand entries": lambda: packed(
        parts_of(sound()) | {f"xl/media/{n}.xml": b"<a/>" for n in range(1001)}
    ),
    "a size in the header that is false": lambda: false_size(sound()),
    "a document type in the strings": lambda: _doctype("utf-8"),
    "a document type in UTF-16": lambda: _doctype("utf-16"),
    "macros": lambda: with_part("xl/vbaProject.bin", b"\xd0\xcf\x11\xe0"),
    "a macro sheet": lambda: with_part("xl/macrosheets/sheet1.xml", b"<a/>"),
    "a macro type without macros": _macro_type,
    "a link to another workbook": lambda: with_part("xl/externalLinks/externalLink1.xml", b"<a/>"),
    "a template fetched from outside": lambda: _external("attachedTemplate"),
    "a connection to data": lambda: with_part("xl/connections.xml", b"<a/>"),
    "a workbook inside": lambda: with_part("xl/embeddings/inner.xlsx", sound()),
    "an archive inside": lambda: with_part("xl/media/inner.zip", packed({"a": b"\0" * MIB})),
    "one text spelled out to two gigabytes": _string_bomb,
    "a cell in the last corner": lambda: with_sheet(
        '<sheetData><row r="1"><c r="A1"><v>1</v></c></row>'
        '<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData>'
    ),
    "a password": lambda: flagged_encrypted(sound()),
    "a packing that is not used": lambda: packed(parts_of(sound()), zipfile.ZIP_BZIP2),
    "the same part twice": doubled_entry,
    "half an archive": lambda: sound()[: len(sound()) // 2],
    "an archive that is no workbook": lambda: packed({"content.xml": b"<office/>", "mimetype": b"ods"}),
    "an empty archive": lambda: b"PK\x05\x06" + b"\0" * 18,
    "a byte changed in the middle": lambda: _bitten(sound()),
}


def _bitten(content: bytes) -> bytes:
    """One byte of a sheet's packed stream changed: its checksum tells."""
    changed = bytearray(content)
    at = content.index(b"xl/worksheets/sheet1.xml") + 60
    changed[at] ^= 0x55
    return bytes(changed)
