"""Scans of signed sheets: what is kept of them, and which stop a file belongs to."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from service.domain.sheet_codes import read_code

#: longest reason for taking one back
LONGEST_REASON = 500
LONGEST_FILE_NAME = 200


class ScanKind(StrEnum):
    """What a scan may be; the value is the end of its kept name."""

    JPEG = "jpg"
    PNG = "png"
    WEBP = "webp"
    PDF = "pdf"

    @property
    def media_type(self) -> str:
        return {
            "jpg": "image/jpeg",
            "png": "image/png",
            "webp": "image/webp",
            "pdf": "application/pdf",
        }[self.value]


class Matched(StrEnum):
    """How a scan came to its stop."""

    TYPED = "sheet code typed"
    NAME = "sheet code in its name"
    HAND = "chosen by hand"
    ROUND = "of the whole round"


@dataclass(frozen=True, slots=True)
class SheetScan:
    """One scan as it is kept; ``stop_id`` None is one of the whole round."""

    id: int
    uid: str
    round_id: int
    stop_id: int | None
    matched: Matched
    file_name: str
    kind: ScanKind
    content_hash: str
    stored_as: str
    size_bytes: int
    received_at: datetime
    by: str
    taken_back_at: datetime | None
    taken_back_by: str
    taken_back_reason: str


#: letters and digits that may be a code, with or without its hyphen, not inside a longer word
_LIKE_CODE = re.compile(r"(?<![A-Za-z0-9])[A-Za-z0-9]{3}-?[A-Za-z0-9]{3}(?![A-Za-z0-9])")


def stop_in_name(file_name: str, stops_by_code: Mapping[str, int]) -> int | None:
    """The stop whose sheet code stands in a file's name; None where none or several do."""
    read = (read_code(found) or "" for found in _LIKE_CODE.findall(file_name))
    named = {stops_by_code[code] for code in read if code in stops_by_code}
    return named.pop() if len(named) == 1 else None


def plain_name(file_name: str, kind: ScanKind) -> str:
    """The last part of the sender's name, printable; one of ours where there is none."""
    last = file_name.replace("\\", "/").rsplit("/", 1)[-1]
    plain = "".join(sign for sign in last if sign.isprintable()).strip()
    return plain[-LONGEST_FILE_NAME:] or f"sheet.{kind.value}"
