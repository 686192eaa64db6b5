"""Invented pictures for the demonstration: drawn by code, labelled as such, brought like anybody's."""

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from PIL import Image, ImageDraw, ImageFont

from seed_data.rasters import MIDDLES, SEED, scene
from seed_data.utility import TIME_ZONE
from service.charts.raster_picture import raster_png
from service.charts.raster_scale import Scale
from service.domain.people import Actor
from service.domain.pictures import Mark, MarkShape, Picture, PictureKind
from service.domain.readings import Reading
from service.storage.files import Shelf
from service.storage.unit import Store
from service.usecases.condition.point_history import see_point_history
from service.usecases.pictures.bring import Sent, bring_picture
from service.usecases.pictures.change import PictureWish, change_picture
from service.usecases.pictures.see import list_round_pictures
from service.usecases.rounds.list_readings import list_point_readings, list_round_readings

LABEL = "INVENTED FOR THE DEMONSTRATION"
#: points with pictures, and of how many of their last visits
PICTURED = {"SAL-MCC1-F03-L1": 2, "QUA-MCC1-F02-L2": 1}
#: a picture's width and height, the pixels of a raster four times as large
SIZE = (640, 480)
ENLARGED = 4
METAL, COVER, CABLE = "#b9b4a6", "#d8d5cb", ("#6b4a35", "#2f2f2f", "#7d7f84")
NOTE = "Hottest at the bolted joint; the cable beside it is cooler."


@dataclass(frozen=True, slots=True)
class Visit:
    """A visit with what was read at each part, hottest scale and all."""

    reading: Reading
    parts_c: tuple[float, ...]
    ambient_c: float


def thermal(visit: Visit, *, low_c: float, high_c: float, at: datetime, seed: int) -> bytes:
    """The scene of the readings as a camera might show it [°C], saved without its temperatures."""
    grid = scene(visit.parts_c, visit.ambient_c, seed=seed)
    small = Image.open(io.BytesIO(raster_png(grid, scale=Scale.PETROL, low_c=low_c, high_c=high_c)))
    return _saved(small.convert("RGB").resize(SIZE, Image.Resampling.BILINEAR), "PNG", exif=_shot(at))


def visible(parts: int, *, at: datetime) -> bytes:
    """Lugs side by side under an open cover."""
    picture = Image.new("RGB", SIZE, COVER)
    pen = ImageDraw.Draw(picture)
    pen.rectangle((16, 16, SIZE[0] - 17, SIZE[1] - 17), outline="#8d8a80", width=6)
    for (row, column), colour in list(zip(MIDDLES, CABLE, strict=True))[:parts]:
        x, y = column * ENLARGED, row * ENLARGED
        pen.rectangle((x - 18, y, x + 18, SIZE[1] - 24), fill=colour)
        pen.rounded_rectangle(
            (x - 30, y - 38, x + 30, y + 38), radius=8, fill=METAL, outline="#6f6c62", width=3
        )
        pen.regular_polygon((x, y, 17), 6, fill="#8f8b80", outline="#55534c")
    return _saved(picture, "JPEG", exif=_shot(at))


def _shot(at: datetime) -> Image.Exif:
    """The camera's time and no position."""
    exif = Image.Exif()
    exif[0x010E] = LABEL
    exif.get_ifd(0x8769)[0x9003] = at.strftime("%Y:%m:%d %H:%M:%S")
    return exif


def _saved(picture: Image.Image, kind: str, **more: object) -> bytes:
    pen = ImageDraw.Draw(picture)
    pen.rectangle((0, SIZE[1] - 22, SIZE[0], SIZE[1]), fill="#182225")
    pen.text((10, SIZE[1] - 19), LABEL, fill="#fffefb", font=ImageFont.load_default(14))
    out = io.BytesIO()
    picture.save(out, kind, **more)
    return out.getvalue()


def bring_pictures(
    store: Store,
    actor: Actor,
    *,
    shelf: Shelf,
    point_id: int,
    tag: str,
    visits: int,
    now: datetime,
) -> None:
    """Pairs of a point's last visits: the thermal one by its tag, the visible one by the camera's clock.

    That clock is as wrong as the register says of it, so that its pictures are put right again.
    """
    shown = _visits(store, actor, point_id, most=visits, now=now)
    temperatures = [part for visit in shown for part in (*visit.parts_c, visit.ambient_c)]
    for number, visit in enumerate(shown):
        round_id = visit.reading.round_id
        assert round_id is not None
        ahead = timedelta(seconds=list_round_pictures(store, actor, round_id).ahead_s)
        on_camera = (visit.reading.taken_at + ahead).astimezone(ZoneInfo(TIME_ZONE))
        warm = thermal(
            visit, low_c=min(temperatures), high_c=max(temperatures) + 1, at=on_camera, seed=SEED + number
        )
        pair = (
            Sent(warm, file_name=f"{tag}_{number + 1}.png"),
            Sent(
                visible(len(visit.parts_c), at=on_camera),
                file_name=f"DC_{visit.reading.id % 10_000:04d}.jpg",
                kind=PictureKind.VISIBLE,
            ),
        )
        first, *_ = [
            bring_picture(store, actor, round_id, sent, shelf=shelf, now=now).picture for sent in pair
        ]
        if number == len(shown) - 1:
            _draw_on(store, actor, first, visit, now=now)


def _draw_on(store: Store, actor: Actor, picture: Picture, visit: Visit, *, now: datetime) -> None:
    """A ring about the hottest lug, on the copy, and what it says."""
    hottest = max(range(len(visit.parts_c)), key=lambda part: visit.parts_c[part])
    row, column = MIDDLES[hottest]
    x, y = column * ENLARGED / SIZE[0] * 100, row * ENLARGED / SIZE[1] * 100
    ring = Mark(MarkShape.RING, x - 9, y - 13, x + 9, y + 13, "hottest")
    wish = PictureWish(note=NOTE, marks=(ring,))
    change_picture(store, actor, picture.uid, wish, version=picture.version, now=now)


def _visits(store: Store, actor: Actor, point_id: int, *, most: int, now: datetime) -> list[Visit]:
    """The last visits that read the point, oldest first."""
    found = list_point_readings(store, actor, point_id=point_id, after=0, limit=500)
    read = [
        one for one in found if one.current and one.temperature_c is not None and one.round_id is not None
    ]
    latest = sorted(read, key=lambda one: one.taken_at)[-most:]
    history = see_point_history(store, actor, point_id=point_id, told=0, now=now)
    members = sorted({point_id, *(part.point_id for part in history.like_parts)})[: len(MIDDLES)]
    return [
        Visit(reading, tuple(_parts(store, actor, reading, members)), reading.ambient_c or 20.0)
        for reading in latest
    ]


def _parts(store: Store, actor: Actor, reading: Reading, members: Sequence[int]) -> Iterable[float]:
    assert reading.round_id is not None
    typed = {
        one.point_id: one.temperature_c
        for one in list_round_readings(store, actor, round_id=reading.round_id, after=0, limit=500)
        if one.current and one.temperature_c is not None
    }
    return [typed[member] for member in members if member in typed]
