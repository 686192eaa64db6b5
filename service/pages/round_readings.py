"""What the readings of a round say and what the round could have missed, in words, for page and letter."""

from collections.abc import Sequence

from service.domain.reports import CouldHaveMissed, ReportedPoint
from service.pages import view


def missed_words(missed: CouldHaveMissed) -> str:
    """38 of 42 clean readings can say what they would hide; the worst, …, up to 23 K at common load."""
    if not missed.clean:
        return ""
    clean = view.counted(missed.clean, "clean reading")
    if missed.worst is None:
        return f"Of {clean} none can say what it would hide: load, wind, spot or settings say too little."
    where = view.place(missed.worst.equipment, missed.worst.view, missed.worst.name)
    hides = view.at_most_hidden(missed.worst.smallest_fault_k)
    told = f"{missed.told} of {clean}" if missed.untold else view.sentence_case(clean)
    verb = "says" if missed.told == 1 else "say"
    rest = f" Of {missed.untold} it cannot be said." if missed.untold else ""
    return f"{told} {verb} what it would hide. The worst is {where}: a fault of up to {hides}.{rest}"


def worst_hidden(points: Sequence[ReportedPoint], most: int = 5) -> tuple[ReportedPoint, ...]:
    """The clean readings that would hide the most."""
    clean = [
        point for point in points if point.read and not point.above and point.smallest_fault_k is not None
    ]
    return tuple(sorted(clean, key=lambda point: -(point.smallest_fault_k or 0.0))[:most])
