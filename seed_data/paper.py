"""What comes back on paper and is asked back, in the demonstration: invented, drawn by code, labelled as such."""

import io
from datetime import datetime

from PIL import Image, ImageDraw, ImageFont

from seed_data.pictures import LABEL
from seed_data.walking import Walk
from service.domain.pictures import PictureKind
from service.storage.files import FileShelf, Shelf
from service.usecases.labels.make import Wanted, make_labels
from service.usecases.pictures.bring import Sent, bring_picture
from service.usecases.rounds.questions import answer, ask
from service.usecases.rounds.sheet_scans import ScannedStop, SentFile, bring_scans, read_scans
from service.usecases.rounds.sheets import read_rows

#: a sheet of paper, and a drawing [pixels]
A4, DRAWN = (620, 877), (960, 600)
PAPER, INK, PEN = "#fdfcf7", "#182225", "#23408e"
QUESTION = "How long had the cover been open when this was read?"
ANSWER = "About five minutes: the duty electrician opened it, and we read at once."


def bring_paper(walk: Walk, *, files: FileShelf, now: datetime) -> None:
    """The signed sheet of a returned round's first stop, and a question that was sent back and answered."""
    ground, round_ = walk.ground, walk.required
    technician = ground.actors[walk.story.technician]
    first = read_scans(ground.store, technician, round_.id).stops[0]
    scan = SentFile(f"{first.stop.sheet_code}.jpg", signed_sheet(first, walk.story.technician))
    bring_scans(ground.store, technician, round_.id, files=files, sent=[scan], typed_code="", now=now)
    warmest = max(
        (row for row in walk.story.rows if row.temperature_c is not None),
        key=lambda row: row.temperature_c or 0.0,
    )
    rows = read_rows(ground.store, ground.engineer, round_.id)
    row_uid = next(row.row_uid for row in rows if row.tag == warmest.tag)
    asked = ask(ground.store, ground.engineer, round_.id, row_uid=row_uid, text=QUESTION, now=now)
    answer(
        ground.store, technician, round_.id, asked.id, text=ANSWER, version=asked.version, now=now
    )  # fmt: skip


def print_labels(walk: Walk, *, now: datetime) -> None:
    """Labels for all equipment of the round's site."""
    ground = walk.ground
    make_labels(ground.store, ground.engineer, Wanted(site_id=ground.site_ids[walk.story.site]), now=now)


def bring_drawing(walk: Walk, *, shelf: Shelf, now: datetime) -> None:
    """A single-line drawing of the round's first stop, which later rounds take along."""
    ground, round_ = walk.ground, walk.required
    first = read_scans(ground.store, ground.engineer, round_.id).stops[0]
    sent = Sent(
        single_line(first.title),
        file_name="single-line.png",
        kind=PictureKind.DRAWING,
        stop_id=first.stop.id,
    )
    bring_picture(ground.store, ground.engineer, round_.id, sent, shelf=shelf, now=now)


def signed_sheet(stop: ScannedStop, by: str) -> bytes:
    """A sheet as a scanner sees it: its code, boxes with figures by hand, a name under a line."""
    page = Image.new("RGB", A4, PAPER)
    pen = ImageDraw.Draw(page)
    pen.text((40, 36), f"{stop.title}   {stop.stop.sheet_code}", fill=INK, font=ImageFont.load_default(20))
    for line in range(9):
        y = 110 + 60 * line
        for box in range(4):
            x = 40 + 140 * box
            pen.rectangle((x, y, x + 120, y + 44), outline=INK, width=2)
            pen.text(
                (x + 26, y + 10), f"{31 + (7 * line + 3 * box) % 9}.{line}", fill=PEN,
                font=ImageFont.load_default(22),
            )  # fmt: skip
    pen.line((330, 790, 580, 790), fill=INK, width=2)
    pen.text((350, 756), by, fill=PEN, font=ImageFont.load_default(26))
    return _saved(page, "JPEG")


def single_line(title: str) -> bytes:
    """A bar with four feeders: a line, a breaker and a load each."""
    page = Image.new("RGB", DRAWN, PAPER)
    pen = ImageDraw.Draw(page)
    pen.text((40, 28), title, fill=INK, font=ImageFont.load_default(26))
    pen.line((480, 80, 480, 170), fill=INK, width=4)
    pen.line((90, 170, 870, 170), fill=INK, width=9)
    for feeder in range(4):
        x = 180 + 200 * feeder
        pen.line((x, 170, x, 260), fill=INK, width=4)
        pen.line((x, 260, x + 34, 316), fill=INK, width=4)
        pen.line((x, 320, x, 440), fill=INK, width=4)
        pen.ellipse((x - 40, 440, x + 40, 520), outline=INK, width=4)
        pen.text((x - 22, 464), f"F{feeder + 1:02d}", fill=INK, font=ImageFont.load_default(24))
    return _saved(page, "PNG")


def _saved(page: Image.Image, kind: str) -> bytes:
    width, height = page.size
    pen = ImageDraw.Draw(page)
    pen.rectangle((0, height - 30, width, height), fill=INK)
    pen.text((10, height - 26), LABEL, fill=PAPER, font=ImageFont.load_default(16))
    out = io.BytesIO()
    page.save(out, kind)
    return out.getvalue()
