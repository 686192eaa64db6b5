"""Invented pictures with all that a camera may write into them, and rounds that they are brought to."""

import io
import struct
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from PIL import Image, ImageCms, ImageDraw, PngImagePlugin

from service.domain.people import Actor
from service.domain.pictures import Picture
from service.domain.words import Role
from service.storage.files import FileShelf
from service.storage.unit import Store
from service.usecases.pictures.bring import Brought, Sent, bring_picture
from tests.doors import files_of
from tests.readings.builders import Issued, issue

#: what must never come out again
XMP = b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:exif="http://ns.adobe.com/exif/1.0/"/></x:xmpmeta>'
SECRET = "GATE CODE 4711"


def drawn(number: int = 0, size: tuple[int, int] = (64, 48)) -> Image.Image:
    """A picture like no other of another number: a gradient, a box and the number as a bar code."""
    picture = Image.new("RGB", size, (30 + number % 200, 60, 90))
    pen = ImageDraw.Draw(picture)
    pen.rectangle((8, 8, size[0] // 2, size[1] // 2), fill=(220, number * 7 % 256, 40))
    for bit in range(16):
        if number >> bit & 1:
            pen.line((2 + 3 * bit, size[1] - 6, 2 + 3 * bit, size[1] - 1), fill="white")
    return picture


def exif_of(
    at: str = "2026:11:24 08:30:00", *, offset: str = "", part: str = "", orientation: int = 1
) -> Image.Exif:
    """Time, position, orientation, serial numbers and maker notes, as a camera writes them."""
    exif = Image.Exif()
    exif[0x010F], exif[0x0112], exif[0x013B] = "Invented maker", orientation, SECRET
    inner = {0x9003: at, 0x927C: b"maker notes: " + SECRET.encode(), 0xA431: "SERIAL-0001"}
    inner |= {0x9011: offset} if offset else {}
    inner |= {0x9291: part} if part else {}
    exif.get_ifd(0x8769).update(inner)
    exif.get_ifd(0x8825).update({1: "N", 2: (54.0, 30.0, 10.5), 3: "W", 4: (2.0, 10.0, 5.5)})
    return exif


def encoded(
    kind: str = "JPEG",
    number: int = 0,
    *,
    picture: Image.Image | None = None,
    exif: Image.Exif | None = None,
    told: bool = False,
) -> bytes:
    """A file of a kind; ``told`` puts EXIF with a position, XMP, a colour profile and comments into it."""
    out = io.BytesIO()
    shown = drawn(number) if picture is None else picture
    more: dict[str, Any] = {} if exif is None else {"exif": exif}
    if told:
        profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
        more = {"exif": exif or exif_of(), "icc_profile": profile}
        if kind == "PNG":
            text = PngImagePlugin.PngInfo()
            text.add_text("Comment", SECRET)
            text.add_itxt("XML:com.adobe.xmp", XMP.decode())
            more["pnginfo"] = text
        elif kind == "JPEG":
            more |= {"comment": SECRET, "xmp": XMP}
        else:
            more["xmp"] = XMP
    shown.save(out, kind, **more)
    return out.getvalue()


def png_chunk(name: bytes, content: bytes) -> bytes:
    import zlib

    return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))


def png_of_size(width: int, height: int) -> bytes:
    """A PNG that says it is so large and holds next to nothing."""
    import zlib

    head = png_chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    body = png_chunk(b"IDAT", zlib.compress(b"\0" * 1000))
    return b"\x89PNG\r\n\x1a\n" + head + body + png_chunk(b"IEND", b"")


@dataclass
class Walked:
    """A returned round, and the shelf its pictures lie on."""

    store: Store
    issued: Issued
    shelf: FileShelf = field(init=False)

    def __post_init__(self) -> None:
        self.shelf = FileShelf(files_of(self.store))

    @property
    def technician(self) -> Actor:
        return self.issued.technician

    @property
    def engineer(self) -> Actor:
        return self.issued.engineer

    @property
    def other_technician(self) -> Actor:
        """A technician who walks no round of this plant."""
        return self.issued.plant.actor(Role.TECHNICIAN, person_id=987_654)

    def bring(self, content: bytes | None = None, *, actor: Actor | None = None, **told: Any) -> Picture:
        return self.bring_again(content, actor=actor, **told).picture

    def bring_again(
        self, content: bytes | None = None, *, actor: Actor | None = None, **told: Any
    ) -> Brought:
        now: datetime = told.pop("now", self.issued.received_at)
        sent = Sent(encoded() if content is None else content, **told)
        return bring_picture(
            self.store, actor or self.technician, self.issued.round_id, sent, shelf=self.shelf, now=now
        )


def walked(
    store: Store, *, day: date = date(2026, 11, 24), plant: Any = None, bring: bool = True, **kinds: int
) -> Walked:
    """A round read a row a minute from 08:00 UTC on; its picture numbers are 401, 402, …"""
    made = kinds or {"boards": 2, "views": 2}
    issued = issue(store, day=day, plant=plant, **({} if plant else made))
    if bring:
        issued.bring(
            [record | {"picture": f"{401 + place}"} for place, record in enumerate(issued.all_records())]
        )
    return Walked(store, issued)
