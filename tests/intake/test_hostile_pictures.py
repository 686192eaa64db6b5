"""R19: pictures that want to break something are refused or neutralised, and none keeps what was written into it."""

import io
import json
import re
import struct
import zipfile
from collections.abc import Callable, Iterator
from random import Random

import pytest
from PIL import Image
from starlette.testclient import TestClient

from service.domain.words import Role
from service.errors import Invalid
from service.intake.limits import LONGEST_PICTURE_SIDE, MOST_PICTURE_BYTES, MOST_PICTURE_PIXELS
from service.intake.picture_reader import Refused, read
from service.intake.pictures import PREVIEW_SIDE, ReadPicture, read_picture, read_voice
from service.storage.unit import Store
from tests.conftest import NOW
from tests.doors import open_app, program_as
from tests.pictures.builders import (
    SECRET,
    XMP,
    Walked,
    drawn,
    encoded,
    exif_of,
    png_chunk,
    png_of_size,
    walked,
)

KINDS = ("JPEG", "PNG", "WEBP")
PICTURES = 200
SEED = 20_261_128
LIMITS = {"pixels": MOST_PICTURE_PIXELS, "side": LONGEST_PICTURE_SIDE, "preview": PREVIEW_SIDE}
#: what betrays that something beside the pixels came along
TRACES = (
    b"Exif",
    b"eXIf",
    b"EXIF",
    b"http://ns.adobe.com",
    b"xmpmeta",
    b"XMP ",
    b"GPS",
    b"ICC_PROFILE",
    b"iCCP",
    b"ICCP",
    b"tEXt",
    b"iTXt",
    b"zTXt",
    b"maker notes",
    b"SERIAL-0001",
    b"Invented maker",
    SECRET.encode(),
)


@pytest.fixture(autouse=True)
def decoder_as_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    """Reading in this process sets the decoder's own limit; it is put back."""
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", Image.MAX_IMAGE_PIXELS)


def redrawn(content: bytes) -> list[bytes]:
    """What is kept of a picture: itself and its preview, read by the child's own function."""
    _, picture, preview = read(content, LIMITS)
    return [picture, preview]


def traces_in(content: bytes) -> list[str]:
    """Everything beside pixels that is left in a file: by its bytes, and as Pillow reads it."""
    found = [trace.decode() for trace in TRACES if trace in content]
    with Image.open(io.BytesIO(content)) as picture:
        exif = picture.getexif()
        found += ["EXIF as read"] if len(exif) or exif.get_ifd(0x8769) or exif.get_ifd(0x8825) else []
        left = set(picture.info) & {"exif", "xmp", "icc_profile", "comment", "photoshop", "XML:com.adobe.xmp"}
    return found + sorted(left)


def refusal(content: bytes) -> tuple[str, str, str]:
    """What was found, what is wrong, what to do."""
    with pytest.raises(Invalid) as refused:
        read_picture(content)
    (problem,) = refused.value.problems
    assert problem.remedy
    return problem.found, problem.message, problem.remedy


# ---- nothing but pixels comes along --------------------------------------------------------------


def generated(number: int) -> bytes:
    """A picture of an invented camera, each with a place on earth, serial numbers, XMP and a profile."""
    chance = Random(SEED + number)
    exif = exif_of(
        f"2026:11:{chance.randint(1, 28):02d} {chance.randint(0, 23):02d}:{chance.randint(0, 59):02d}:07",
        offset=chance.choice(("", "+01:00", "-05:30")),
        part=chance.choice(("", "25")),
        orientation=chance.randint(1, 8),
    )
    size = (chance.randint(20, 90), chance.randint(20, 90))
    kind = KINDS[number % 3]
    content = encoded(kind, picture=drawn(number, size), exif=exif, told=True)
    return content + chance.choice((b"", b"\0" * 40, b"PK\x03\x04" + SECRET.encode()))


def leaks(keep: Callable[[bytes], list[bytes]], pictures: int = PICTURES) -> dict[int, list[str]]:
    """By number, what was left in the files that a way of keeping made of the generated pictures."""
    found = {}
    for number in range(pictures):
        traces = [trace for kept in keep(generated(number)) for trace in traces_in(kept)]
        if traces:
            found[number] = traces
    return found


def test_none_of_two_hundred_pictures_keeps_a_place_a_name_or_a_profile() -> None:
    assert all(traces_in(generated(number)) for number in range(6)), "they did have something to lose"
    assert leaks(redrawn) == {}


def test_twin_a_door_that_keeps_the_bytes_as_they_came_is_caught() -> None:
    assert len(leaks(lambda content: [content], 30)) == 30


def test_twin_a_door_that_only_drops_the_exif_is_caught() -> None:
    def careless(content: bytes) -> list[bytes]:
        with Image.open(io.BytesIO(content)) as picture:
            out = io.BytesIO()
            picture.save(out, picture.format, exif=b"", icc_profile=picture.info.get("icc_profile"))
        return [out.getvalue()]

    assert len(leaks(careless, 30)) == 30


@pytest.mark.parametrize("kind", KINDS)
def test_the_whole_way_through_the_child_keeps_pixels_time_and_nothing_else(kind: str) -> None:
    exif = exif_of("2026:11:24 08:30:07", offset="+01:00", part="25", orientation=6)
    found = read_picture(encoded(kind, 5, exif=exif, told=True))
    assert [traces_in(found.content), traces_in(found.preview)] == [[], []]
    assert (found.width, found.height) == (48, 64), "turned upright (Exif 2.32, orientation 6)"
    assert found.shot is not None
    assert found.shot.local.isoformat() == "2026-11-24T08:30:07.250000"
    assert found.shot.offset is not None
    assert found.shot.offset.total_seconds() == 3600
    with Image.open(io.BytesIO(found.content)) as picture:
        assert picture.size == (48, 64)
        assert picture.format == kind


@pytest.mark.parametrize("turned", range(1, 9))
def test_a_picture_stands_upright_whatever_way_the_camera_was_held(turned: int) -> None:
    """Exif 2.32 (CIPA DC-008), tag 0x0112: where row 0 and column 0 of the stored pixels belong."""
    corners = {  # orientation → where the stored top left corner is seen
        1: "top left", 2: "top right", 3: "bottom right", 4: "bottom left",
        5: "top left", 6: "top right", 7: "bottom right", 8: "bottom left",
    }  # fmt: skip
    stored = Image.new("RGB", (40, 24), "black")
    stored.paste((255, 255, 255), (0, 0, 8, 8))
    told, content, _ = read(encoded("PNG", picture=stored, exif=exif_of(orientation=turned)), LIMITS)
    assert (told["width"], told["height"]) == ((40, 24) if turned < 5 else (24, 40))
    with Image.open(io.BytesIO(content)) as seen:
        across, down = seen.width - 4, seen.height - 4
        places = {"top left": (3, 3), "top right": (across, 3)}
        places |= {"bottom left": (3, down), "bottom right": (across, down)}
        white = [name for name, place in places.items() if seen.getpixel(place) == (255, 255, 255)]
    assert white == [corners[turned]]


# ---- too much of it ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("width", "height"),
    [(30_000, 30_000), (65_535, 65_535), (65_535, 100), (16_384, 10), (2**31 - 1, 2**31 - 1)],
)
def test_a_size_is_refused_before_a_pixel_is_decoded(width: int, height: int) -> None:
    found, message, remedy = refusal(png_of_size(width, height))
    assert "larger than 40 million pixels" in message, "told as large, not as damaged: nothing was decoded"
    assert "2,048" in remedy
    assert found


def test_a_jpeg_that_says_65535_by_65535_is_refused() -> None:
    content = bytearray(encoded())
    frame = re.search(rb"\xff\xc0..\x08", bytes(content), re.DOTALL)
    assert frame is not None
    content[frame.end() : frame.end() + 4] = struct.pack(">HH", 65_535, 65_535)
    assert "larger than 40 million pixels" in refusal(bytes(content))[1]


def test_a_file_over_fifteen_mib_is_refused_unopened() -> None:
    found, message, _ = refusal(encoded() + b"\0" * MOST_PICTURE_BYTES)
    assert message == "The picture is larger than 15 MiB."
    assert found == "15.0 MiB"


def test_a_text_that_unpacks_to_a_flood_is_refused() -> None:
    import zlib

    flood = b"Comment\0\0" + zlib.compress(b"A" * 80_000_000)
    sound = encoded("PNG")
    content = sound[:33] + png_chunk(b"zTXt", flood) + sound[33:]
    with pytest.raises(Refused):
        read(content, LIMITS)


def test_of_a_moving_picture_the_first_frame_is_kept_and_said() -> None:
    out = io.BytesIO()
    drawn(1).save(out, "PNG", save_all=True, append_images=[drawn(2), drawn(3)])
    found = read_picture(out.getvalue())
    assert found.frames == 3
    with Image.open(io.BytesIO(found.content)) as picture:
        assert getattr(picture, "n_frames", 1) == 1
        assert picture.convert("RGB").tobytes() == drawn(1).tobytes()


def test_numbers_of_sixteen_bits_are_no_picture() -> None:
    out = io.BytesIO()
    Image.new("I;16", (40, 30), 3000).save(out, "PNG")
    _, message, remedy = refusal(out.getvalue())
    assert "grid of numbers" in message
    assert "raster" in remedy


# ---- two things in one file ----------------------------------------------------------------------

PAGE = b"<html><script>alert(1)</script></html>"


def polyglots() -> Iterator[tuple[str, bytes]]:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("run.js", "alert(1)")
    jpeg, png = encoded(), encoded("PNG")
    yield "a page behind a JPEG", jpeg + PAGE
    yield (
        "a page in a JPEG's comment",
        jpeg[:2] + b"\xff\xfe" + struct.pack(">H", len(PAGE) + 2) + PAGE + jpeg[2:],
    )
    yield "an archive behind a PNG", png + packed.getvalue()
    yield "a page in a PNG's text", png[:33] + png_chunk(b"tEXt", b"Comment\0" + PAGE) + png[33:]
    yield "a PDF behind a WebP", encoded("WEBP") + b"%PDF-1.7 " + PAGE
    yield "a second JPEG behind a JPEG", jpeg + encoded(number=9, exif=exif_of(), told=True)


@pytest.mark.parametrize(("what", "content"), [pytest.param(*one, id=one[0]) for one in polyglots()])
def test_the_other_half_of_a_polyglot_is_gone(what: str, content: bytes) -> None:
    for kept in redrawn(content):
        assert traces_in(kept) == [], what
        for other in (b"<script", b"<html", b"PK\x03\x04", b"%PDF", b"alert"):
            assert other not in kept, what


# ---- something else, or half of it -----------------------------------------------------------------

SVG = b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'
OTHERS = {
    "SVG with a script": (SVG, "an SVG drawing"),
    "SVG without its head": (SVG[21:], "an SVG drawing"),
    "SVG behind a mark of order": (b"\xef\xbb\xbf" + SVG, "an SVG drawing"),
    "page": (b"<!DOCTYPE html>" + PAGE, "a page (HTML or XML)"),
    "page with blanks before it": (b"\n\t " + PAGE, "a page (HTML or XML)"),
    "PDF": (b"%PDF-1.7\n", "a PDF"),
    "GIF": (b"GIF89a" + PAGE, "a GIF picture"),
    "BMP": (b"BM" + b"\0" * 60, "a BMP picture"),
    "TIFF": (b"II*\0" + b"\0" * 60, "a TIFF"),
    "archive": (b"PK\x03\x04" + b"\0" * 60, "a workbook or a packed file"),
    "HEIC": (b"\0\0\0\x18ftypheic\0\0\0\0", "a HEIC or AVIF picture"),
    "text": (b"just words", "bytes that are no picture"),
    "almost a JPEG": (b"\xff\xd8\x00", "bytes that are no picture"),
    "almost a WebP": (b"RIFF\0\0\0\0WAVE", "bytes that are no picture"),
}


@pytest.mark.parametrize("name", OTHERS)
def test_what_is_no_picture_is_told_by_what_it_is(name: str) -> None:
    content, what = OTHERS[name]
    found, message, _ = refusal(content)
    assert (found, message) == (what, "This is no JPEG, PNG or WebP picture.")


def test_nothing_at_all_is_refused() -> None:
    assert refusal(b"")[1] == "The file is empty."


@pytest.mark.parametrize("kind", KINDS)
def test_a_picture_cut_off_anywhere_is_refused_or_drawn_clean(kind: str) -> None:
    whole = encoded(kind, 3, picture=drawn(3, (120, 90)), told=True)
    refused = 0
    for end in sorted({len(whole) * part // 80 for part in range(1, 80)}):
        try:
            kept = redrawn(whole[:end])
        except Refused:
            refused += 1
        else:
            assert [trace for one in kept for trace in traces_in(one)] == []
    assert refused > 60, "most places cut pixels away"


def test_a_picture_with_broken_bytes_is_refused_or_drawn_clean() -> None:
    chance = Random(SEED)
    for number in range(150):
        content = bytearray(encoded(KINDS[number % 3], number, told=True))
        for _ in range(chance.randint(1, 12)):
            content[chance.randrange(12, len(content))] = chance.randrange(256)
        try:
            kept = redrawn(bytes(content))
        except Refused:
            continue
        else:
            assert [trace for one in kept for trace in traces_in(one)] == []


def test_a_child_that_dies_is_told_as_too_much(monkeypatch: pytest.MonkeyPatch) -> None:
    """Thirty-two MiB are too few for five million pixels: the child dies, the service does not."""
    told = json.dumps(LIMITS | {"memory": 32 * 1024 * 1024, "seconds": 5})
    monkeypatch.setattr("service.intake.pictures._LIMITS", told)
    _, message, _ = refusal(encoded(picture=drawn(1, (2500, 2000))))
    assert message == "The picture needs more memory or time than one picture may take."


def test_a_time_no_calendar_has_is_no_time() -> None:
    for wrong in ("2026:13:45 99:00:00", "0000:00:00 00:00:00", "yesterday", ""):
        found = read_picture(encoded(exif=exif_of(wrong)))
        assert isinstance(found, ReadPicture)
        assert found.shot is None, wrong


# ---- spoken notes ----------------------------------------------------------------------------------


def test_a_spoken_note_is_told_by_its_first_bytes() -> None:
    assert read_voice(b"\x1a\x45\xdf\xa3" + b"\0" * 30) == "webm"
    assert read_voice(b"OggS" + b"\0" * 30) == "ogg"
    assert read_voice(b"\0\0\0\x18ftypM4A " + b"\0" * 30) == "m4a"
    for wrong in (b"", PAGE, SVG, encoded(), b"OggS" + b"\0" * 2 * 1024 * 1024):
        with pytest.raises(Invalid):
            read_voice(wrong)


# ---- at the door -----------------------------------------------------------------------------------


@pytest.fixture
def round_walked(store: Store) -> Walked:
    return walked(store, boards=1, views=1)


@pytest.fixture
def client(store: Store, round_walked: Walked) -> Iterator[TestClient]:
    with program_as(
        open_app(store, lambda: NOW), store, round_walked.issued.plant, Role.TECHNICIAN, NOW
    ) as made:
        yield made


def address(walk: Walked, uid: str = "picture-0001") -> str:
    return f"/api/v1/rounds/{walk.issued.round_id}/pictures/{uid}"


def test_two_hundred_megabytes_are_refused_by_what_they_say(client: TestClient, round_walked: Walked) -> None:
    answer = client.put(
        address(round_walked), content=b"\xff\xd8\xff", headers={"Content-Length": "200000000"}
    )
    assert answer.status_code == 413
    assert answer.headers["content-type"] == "application/problem+json"


def test_a_body_over_the_limit_is_refused_though_it_does_not_say_its_size(
    client: TestClient, round_walked: Walked
) -> None:
    pieces = (b"\xff" * 1_000_000 for _ in range(17))
    assert client.put(address(round_walked), content=pieces).status_code == 413


def test_a_name_never_decides_what_a_file_is(client: TestClient, round_walked: Walked) -> None:
    page = client.put(address(round_walked), params={"name": "board.jpg"}, content=PAGE)
    assert page.status_code == 422
    assert page.json()["problems"][0]["found"] == "a page (HTML or XML)"
    sent = client.put(
        address(round_walked),
        params={"name": "<script>.jpg"},
        content=encoded("PNG", 4, told=True),
        headers={"Content-Type": "image/jpeg"},
    )
    assert sent.status_code == 201, sent.text
    kept = client.get("/api/v1/pictures/picture-0001/file")
    assert kept.headers["content-type"] == "image/png"
    assert traces_in(kept.content) == []


def test_files_go_out_so_that_nothing_in_them_runs(client: TestClient, round_walked: Walked) -> None:
    assert client.put(address(round_walked), content=encoded(told=True)).status_code == 201
    voice = client.put(f"{address(round_walked)}/voice", content=b"OggS" + PAGE)
    assert voice.status_code == 201, voice.text
    for what in ("file", "preview", "voice"):
        answer = client.get(f"/api/v1/pictures/picture-0001/{what}")
        assert answer.headers["content-security-policy"] == "default-src 'none'; sandbox"
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["cache-control"].startswith("private")
    assert answer.headers["content-type"] == "audio/ogg"
    assert answer.headers["content-disposition"].startswith("attachment;")


def test_nothing_of_what_was_sent_lies_on_the_shelf(client: TestClient, round_walked: Walked) -> None:
    for number, kind in enumerate(KINDS):
        sent = client.put(
            address(round_walked, f"picture-{number:04d}"), content=encoded(kind, number, told=True)
        )
        assert sent.status_code == 201, sent.text
    files = [path for path in round_walked.shelf.folder.rglob("*") if path.is_file()]
    assert len(files) == 6, "a picture and its preview each"
    for path in files:
        assert traces_in(path.read_bytes()) == [], path.name
        assert XMP not in path.read_bytes()
