"""Runs alone as a child process: decodes one picture under bounds and draws it anew, without what was written into it."""

import io
import json
import re
import struct
import sys
import warnings
from typing import Any

from PIL import ExifTags, Image, ImageOps

KINDS = {"JPEG": "jpg", "MPO": "jpg", "PNG": "png", "WEBP": "webp"}
#: how each kind is written: close to what came, without anything beside the pixels
WAYS: dict[str, dict[str, Any]] = {
    "jpg": {"format": "JPEG", "quality": 92, "subsampling": "4:2:0", "optimize": False},
    "png": {"format": "PNG", "compress_level": 4},
    "webp": {"format": "WEBP", "quality": 92, "method": 2, "exif": b"", "xmp": b"", "icc_profile": b""},
}
PREVIEW_QUALITY = 80
_MOMENT = re.compile(r"(\d{4}):(\d\d):(\d\d) (\d\d):(\d\d):(\d\d)")
_OFFSET = re.compile(r"([+-])(\d\d):(\d\d)")


class Refused(Exception):
    """The picture is not taken any further."""

    def __init__(self, found: str, message: str, remedy: str) -> None:
        super().__init__(message)
        self.problem = {"found": found, "message": message, "remedy": remedy}


def camera_time(exif: Image.Exif) -> dict[str, str]:
    """When the camera's clock says that the shutter opened: local time, and its offset where written.

    Notes
    -----
    Exif 2.32 (CIPA DC-008): DateTimeOriginal 0x9003, SubSecTimeOriginal 0x9291, OffsetTimeOriginal
    0x9011; without the first, DateTime 0x0132 with OffsetTime 0x9010.
    """
    inner = exif.get_ifd(ExifTags.IFD.Exif)
    for moment, offset, part in (
        (inner.get(0x9003), inner.get(0x9011), inner.get(0x9291)),
        (exif.get(0x0132), inner.get(0x9010), inner.get(0x9290)),
    ):
        found = _MOMENT.fullmatch(str(moment or "").strip("\0 "))
        if found is None:
            continue
        year, month, day, hour, minute, second = found.groups()
        digits = re.sub(r"\D", "", str(part or ""))[:6]
        local = f"{year}-{month}-{day}T{hour}:{minute}:{second}"
        said = _OFFSET.fullmatch(str(offset or "").strip("\0 "))
        return {
            "local": f"{local}.{digits.ljust(6, '0')}" if digits else local,
            "offset": said.group() if said else "",
        }
    return {}


def opened(content: bytes, limits: dict[str, int]) -> Image.Image:
    """The picture, with its size checked before a pixel is decoded.

    Raises
    ------
    Refused
        Neither of the three kinds, or too many pixels.
    """
    try:
        picture: Image.Image = Image.open(io.BytesIO(content), formats=("JPEG", "PNG", "WEBP"))
    except (Image.DecompressionBombWarning, Image.DecompressionBombError) as error:
        raise too_large("more pixels than one picture may have", limits) from error
    except Exception as error:  # a decoder fails in any way at bytes that are meant to make it fail
        raise damaged() from error
    width, height = picture.size
    if width * height > limits["pixels"] or max(width, height) > limits["side"]:
        raise too_large(f"{width} × {height} pixels", limits)
    if picture.mode.startswith(("I", "F")):
        raise Refused(
            f"one band of {picture.mode.removeprefix('I;') or 'wide'} numbers",
            "This is a grid of numbers, not a picture to look at.",
            "Bring it to its reading as a temperature raster, or save the picture with 8 bits a colour.",
        )
    return picture


def too_large(found: str, limits: dict[str, int]) -> Refused:
    return Refused(
        found,
        f"The picture is larger than {limits['pixels'] // 1_000_000} million pixels, or longer than {limits['side']}.",
        "Save it smaller: 2,048 pixels on the longer side show all that a report can.",
    )


def damaged() -> Refused:
    return Refused(
        "",
        "The picture is damaged: it cannot be read to its end.",
        "Copy it from the camera again, or save it anew in a picture program.",
    )


def plain(picture: Image.Image) -> Image.Image:
    """The first picture upright, in grey or red, green and blue, with nothing else about it."""
    upright = ImageOps.exif_transpose(picture)
    clear = "A" in upright.getbands() or "transparency" in upright.info
    wanted = "RGBA" if clear else "L" if upright.mode in ("1", "L") else "RGB"
    drawn = upright if upright.mode == wanted else upright.convert(wanted)
    return Image.frombytes(drawn.mode, drawn.size, drawn.tobytes())


def written(picture: Image.Image, kind: str) -> bytes:
    if kind == "jpg" and picture.mode == "RGBA":
        picture = on_white(picture)
    out = io.BytesIO()
    picture.save(out, **WAYS[kind])
    return out.getvalue()


def on_white(picture: Image.Image) -> Image.Image:
    ground = Image.new("RGB", picture.size, "white")
    ground.paste(picture, mask=picture.getchannel("A"))
    return ground


def preview(picture: Image.Image, side: int) -> bytes:
    small = picture.copy() if max(picture.size) <= side else ImageOps.contain(picture, (side, side))
    out = io.BytesIO()
    (on_white(small) if small.mode == "RGBA" else small).save(out, "JPEG", quality=PREVIEW_QUALITY)
    return out.getvalue()


def read(content: bytes, limits: dict[str, int]) -> tuple[dict[str, Any], bytes, bytes]:
    """What is known of a picture, the picture drawn anew, and its preview.

    Raises
    ------
    Refused
        It breaks a limit, or cannot be read.
    """
    warnings.simplefilter("error", Image.DecompressionBombWarning)
    Image.MAX_IMAGE_PIXELS = limits["pixels"]
    picture = opened(content, limits)
    kind = KINDS.get(picture.format or "")
    if kind is None:
        raise damaged()
    try:
        frames = int(getattr(picture, "n_frames", 1))
        picture.seek(0)
        picture.load()
        shot = safe_time(picture)
        bare = plain(picture)
    except MemoryError:  # not the file's fault: the parent tells it as too much
        raise
    except Exception as error:  # as above: whatever the decoder says, the file is not sound
        raise damaged() from error
    told = {"kind": kind, "width": bare.width, "height": bare.height, "frames": frames, "shot": shot}
    return told, written(bare, kind), preview(bare, limits["preview"])


def safe_time(picture: Image.Image) -> dict[str, str]:
    """The camera's time; none where what the camera wrote cannot be read."""
    try:
        return camera_time(picture.getexif())
    except Exception:  # noqa: BLE001 - a picture is worth keeping without its time
        return {}


def main() -> None:
    limits = json.loads(sys.argv[1])
    try:
        told, picture, small = read(sys.stdin.buffer.read(), limits)
    except Refused as refused:
        told, picture, small = {"problem": refused.problem}, b"", b""
    head = json.dumps(told).encode()
    sys.stdout.buffer.write(struct.pack(">III", len(head), len(picture), len(small)) + head + picture + small)


if __name__ == "__main__":
    main()
