"""What the boxes of a kind tell beside its level: what else it could be, and what is for information."""

from service.domain.boxes import Answer
from service.domain.like_parts import temperature
from service.domain.limits import insulation_words
from service.domain.seen import SeenPoint
from service.physics.steam import saturation_c


def number_in(point: SeenPoint, key: str) -> float | None:
    """A number in a box of a point; None where it is empty."""
    value = (point.boxes or {}).get(key)
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def notes_of_boxes(point: SeenPoint) -> tuple[str, ...]:
    """What boxes tell beside the level: what else it could be, and what is for information."""
    boxes = point.boxes
    if not boxes:
        return ()
    told = [note(boxes[key], point) for key, note in _NOTES.items() if key in boxes]
    return tuple(filter(None, told))


def _insulation_note(answer: Answer, _point: SeenPoint) -> str:
    return insulation_words(str(answer))


def _cooling_note(answer: Answer, _point: SeenPoint) -> str:
    return "" if answer else "fan cover or fins not clear: a sound motor runs warm so"


def _body_note(answer: Answer, _point: SeenPoint) -> str:
    if answer != "body":
        return ""
    return "the body of a cable end warms by voltage, which does not wait for load"


def _fuse_note(answer: Answer, point: SeenPoint) -> str:
    rated = point.rated_current_a
    if not isinstance(answer, int | float) or not rated or answer == rated:
        return ""
    return f"the fuse says {answer:g} A where the register says {rated:g} A"


#: What each picture of heat speaks for, where it is not the joint; common practice, no source.
_PATTERNS = {
    "along the conductor": "the conductor is warm evenly: load, or a small conductor, rather than this joint",
    "whole body": "the whole body is warm: what is inside it, or its load",
    "both ends": "both ends are warm: compare the current of this phase",
    "cold": "cold to the eye: does it carry current?",
}


def _pattern_note(answer: Answer, _point: SeenPoint) -> str:
    return _PATTERNS.get(str(answer), "")


def _warm_end_note(answer: Answer, _point: SeenPoint) -> str:
    if answer == "body":
        return "a warm body with cool ends is load, not a joint"
    return "one warm end is its clip" if answer in ("line end", "load end") else ""


def _return_note(answer: Answer, point: SeenPoint) -> str:
    outlet_c = number_in(point, "outlet_c")
    if outlet_c is None or not isinstance(answer, int | float):
        return ""
    flash_c = float(saturation_c(answer).value)
    if flash_c != flash_c or abs(outlet_c - flash_c) > _FLASH_WITHIN_K:
        return ""
    return f"the outlet stands at the boiling point of its return ({flash_c:.0f} °C): may be flash steam of a sound trap"


def _steam_note(answer: Answer, _point: SeenPoint) -> str:
    if not isinstance(answer, int | float):
        return ""
    steam_c = float(saturation_c(answer).value)
    return f"steam at {answer:g} bar is at {steam_c:.0f} °C" if steam_c == steam_c else ""


def _heard_note(answer: Answer, _point: SeenPoint) -> str:
    return "" if answer in ("not listened", "") else f"heard at the trap: {answer}"


def _gauge_note(answer: Answer, point: SeenPoint) -> str:
    if not isinstance(answer, int | float):
        return ""
    return f"its gauge shows {answer:g} °C where the picture shows {temperature(point):g} °C"


#: As near as an outlet's skin and the boiling point inside are taken for one another; own proposal.
_FLASH_WITHIN_K = 5.0
_NOTES = {
    "insulation_class": _insulation_note,
    "cooling_clear": _cooling_note,
    "warm_place": _body_note,
    "fuse_rating_a": _fuse_note,
    "heat_pattern": _pattern_note,
    "warm_end": _warm_end_note,
    "line_pressure_bar": _steam_note,
    "return_pressure_bar": _return_note,
    "discharge_heard": _heard_note,
    "top_oil_gauge_c": _gauge_note,
}
