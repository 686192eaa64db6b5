"""Bytes of a scanned sheet: what they are by their content, and whether they are whole. Nothing is decoded."""

from service.domain.scans import ScanKind
from service.errors import Problem
from service.intake.limits import MOST_SCAN_BYTES

_PNG, _JPEG, _PDF = b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff", b"%PDF-"
#: how far from its end a file may carry its closing mark (scanners and mailers append a few bytes)
_TAIL = 2048
#: shortest file that can hold anything of each kind
_LEAST = 32


def read_scan(content: bytes, *, name: str) -> tuple[ScanKind | None, list[Problem]]:
    """The kind of a scan, or what is wrong with the file.

    Parameters
    ----------
    content : bytes
        The file as it came.
    name : str
        As its sender called it; only to name it, its ending decides nothing.

    Returns
    -------
    (ScanKind or None, list of Problem)
        The kind with no problem, or None with one.

    Notes
    -----
    Signatures: PNG (ISO/IEC 15948 §5.2), JPEG (ITU-T T.81 annex B), WebP (RFC 9649 §2.4),
    PDF (ISO 32000-1 §7.5.2 and §7.5.5). The file is kept and given out as it came, never shown
    in a page, so that nothing in it is ever run here.
    """
    if not content:
        return None, [_problem(name, "The file is empty.", "Choose it again.")]
    if len(content) > MOST_SCAN_BYTES:
        size = MOST_SCAN_BYTES // 2**20
        return None, [
            _problem(
                name,
                f"It is larger than {size} MiB.",
                "Scan it in grey at 200 dots an inch, or page by page.",
            )
        ]
    kind = kind_of(content)
    if kind is None:
        message = "It is neither a JPEG, a PNG, a WebP nor a PDF."
        return None, [_problem(name, message, "Scan or photograph the sheet, and send that file.")]
    if not is_whole(content, kind):
        message = f"This {kind.name} is not whole: its end is missing."
        return None, [_problem(name, message, "Copy it from the scanner again.")]
    return kind, []


def kind_of(content: bytes) -> ScanKind | None:
    """What a file is by its first bytes."""
    if content.startswith(_JPEG):
        return ScanKind.JPEG
    if content.startswith(_PNG):
        return ScanKind.PNG
    if content.startswith(b"RIFF") and content[8:12] == b"WEBP":
        return ScanKind.WEBP
    return ScanKind.PDF if content.startswith(_PDF) else None


def is_whole(content: bytes, kind: ScanKind) -> bool:
    """True when a file carries the mark with which its kind ends."""
    if len(content) < _LEAST:
        return False
    tail = content[-_TAIL:]
    if kind is ScanKind.JPEG:
        return b"\xff\xd9" in tail
    if kind is ScanKind.PNG:
        return b"IEND\xaeB`\x82" in tail
    if kind is ScanKind.WEBP:
        return int.from_bytes(content[4:8], "little") + 8 <= len(content)
    return b"%%EOF" in tail


def _problem(name: str, message: str, remedy: str) -> Problem:
    return Problem("form", "files", name[:60], message, remedy)
