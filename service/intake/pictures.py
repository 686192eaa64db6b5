"""Bytes of a picture → one drawn anew with its preview and the camera's time, or the reason why it is none."""

import json
import re
import struct
import threading
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Literal

from service.domain.picture_places import CameraTime
from service.intake.collecting import one_problem
from service.intake.confined import TooMuch, read_confined
from service.intake.limits import (
    LONGEST_PICTURE_SIDE,
    MOST_PICTURE_BYTES,
    MOST_PICTURE_PIXELS,
    MOST_VOICE_BYTES,
)

PictureFile = Literal["jpg", "png", "webp"]
VoiceFile = Literal["webm", "ogg", "m4a"]

#: longer side of a preview [px]: a tablet's width
PREVIEW_SIDE = 1024
#: address space of the reading process, its processor seconds, and how long it is waited for
MEMORY_BYTES = 1024 * 1024 * 1024
PROCESSOR_SECONDS = 30
WALL_SECONDS = 45

_at_once = threading.BoundedSemaphore(2)
_LIMITS = {
    "pixels": MOST_PICTURE_PIXELS,
    "side": LONGEST_PICTURE_SIDE,
    "preview": PREVIEW_SIDE,
    "memory": MEMORY_BYTES,
    "seconds": PROCESSOR_SECONDS,
}
_TAKE_PICTURE = "Send the picture itself, as JPEG, PNG or WebP."
#: what people send by mistake, told by its first bytes, and what to do about it
_OTHERS: tuple[tuple[re.Pattern[bytes], str, str], ...] = (
    (re.compile(rb"%PDF"), "a PDF", "Take the picture out of it, or take it from the camera."),
    (re.compile(rb"GIF8"), "a GIF picture", "Save it as PNG or JPEG."),
    (re.compile(rb"BM"), "a BMP picture", "Save it as PNG or JPEG."),
    (
        re.compile(rb"II\*\0|MM\0\*|II\+\0|MM\0\+"),
        "a TIFF",
        "Temperatures go with their reading as a raster; a picture to look at is saved as PNG or JPEG.",
    ),
    (
        re.compile(rb"(?s)....ftyp(?:hei|hev|mif|msf|avi)"),
        "a HEIC or AVIF picture",
        "Let the phone save pictures as JPEG (in its camera settings: most compatible).",
    ),
    (re.compile(rb"PK\x03\x04"), "a workbook or a packed file", "Unpack it and send the pictures."),
    (re.compile(rb"\x1f\x8b|7z\xbc\xaf|Rar!"), "a packed file", "Unpack it and send the pictures."),
)
_MARKUP = re.compile(rb"(?is)\s*<(?:\?xml|!doctype|!--|svg|html|head|body|script)")


@dataclass(frozen=True, slots=True)
class ReadPicture:
    """A picture drawn anew: its pixels are those that came, all else is gone.

    ``frames`` is above one where the file held several pictures; the first is kept.
    """

    content: bytes
    preview: bytes
    kind: PictureFile
    width: int
    height: int
    frames: int
    shot: CameraTime | None


def read_picture(content: bytes) -> ReadPicture:
    """A JPEG, PNG or WebP by its content, whatever it is called, without what was written into it.

    Parameters
    ----------
    content : bytes
        The whole file. Orientation is applied; position, maker notes, profiles, comments and
        anything after the picture's end do not come along, since only pixels do.

    Raises
    ------
    service.errors.Invalid
        None of the three, too large, damaged, or more memory or time than one picture may take.
    """
    _refuse_size(content, MOST_PICTURE_BYTES, "picture", "Save it smaller, or as JPEG.")
    _refuse_others(content)
    try:
        with _at_once:
            reply = read_confined("picture_reader.py", content, _LIMITS, wall_s=WALL_SECONDS)
    except TooMuch as error:
        raise _too_much(str(error)) from error
    return _told(reply)


def read_voice(content: bytes) -> VoiceFile:
    """The kind of a spoken note by its first bytes; it is kept as it came and never opened here.

    Raises
    ------
    service.errors.Invalid
        Empty, too large, or none of WebM, Ogg and MP4.
    """
    _refuse_size(content, MOST_VOICE_BYTES, "spoken note", "Record a shorter one.")
    if content.startswith(b"\x1a\x45\xdf\xa3"):
        return "webm"
    if content.startswith(b"OggS"):
        return "ogg"
    if content[4:8] == b"ftyp":
        return "m4a"
    raise one_problem(
        "file",
        "",
        "bytes that are no recording",
        message="This is none of WebM, Ogg and MP4 sound.",
        remedy="Send the recording as the phone or browser made it.",
    )


def _refuse_size(content: bytes, most: int, noun: str, remedy: str) -> None:
    if not content:
        raise one_problem(
            "file", "", "", message="The file is empty.", remedy="Choose it again, or copy it again."
        )
    if len(content) > most:
        raise one_problem(
            "file",
            "",
            f"{len(content) / 1048576:.1f} MiB",
            message=f"The {noun} is larger than {most // 1048576} MiB.",
            remedy=remedy,
        )


def _refuse_others(content: bytes) -> None:
    start = content[:4096]
    if start.startswith((b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n")) or (
        start[:4] == b"RIFF" and start[8:12] == b"WEBP"
    ):
        return
    found, remedy = "bytes that are no picture", _TAKE_PICTURE
    if _MARKUP.match(start.removeprefix(b"\xef\xbb\xbf")):
        found = "an SVG drawing" if b"<svg" in start.lower() else "a page (HTML or XML)"
        remedy = "Save it as PNG." if "SVG" in found else _TAKE_PICTURE
    for pattern, name, what_to_do in _OTHERS:
        if pattern.match(start):
            found, remedy = name, what_to_do
    raise one_problem("file", "", found, message="This is no JPEG, PNG or WebP picture.", remedy=remedy)


def _told(reply: bytes) -> ReadPicture:
    head_size, size, preview_size = struct.unpack(">III", reply[:12])
    told: dict[str, Any] = json.loads(reply[12 : 12 + head_size])
    if problem := told.get("problem"):
        raise one_problem("file", "", problem["found"], message=problem["message"], remedy=problem["remedy"])
    begin = 12 + head_size
    return ReadPicture(
        content=reply[begin : begin + size],
        preview=reply[begin + size : begin + size + preview_size],
        kind=told["kind"],
        width=told["width"],
        height=told["height"],
        frames=told["frames"],
        shot=_shot(told["shot"]),
    )


def _shot(told: dict[str, str]) -> CameraTime | None:
    """The camera's time; None where it wrote none, or one that no calendar has."""
    try:
        local = datetime.fromisoformat(told["local"])
    except (KeyError, ValueError):
        return None
    offset = None
    if said := told.get("offset", ""):
        ahead = timedelta(hours=int(said[1:3]), minutes=int(said[4:6]))
        offset = -ahead if said[0] == "-" else ahead
    return CameraTime(local, offset if offset is None or abs(offset) < timedelta(hours=24) else None)


def _too_much(what: str) -> Exception:
    return one_problem(
        "file",
        "",
        "",
        message=f"The picture needs more {what} than one picture may take.",
        remedy="Save it smaller: 2,048 pixels on the longer side show all that a report can.",
    )
