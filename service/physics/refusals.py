"""Why a physical figure is not given: the reasons that stand beside a NaN."""

from enum import IntEnum


class Refusal(IntEnum):
    """Reason code of one element; the value itself is NaN wherever it is not ``NONE``."""

    NONE = 0
    NO_NUMBER = 1
    NO_LIKE_PART = 2
    NO_CURRENT = 3
    LOW_LOAD = 4
    TOO_COOL = 5
    OUT_OF_RANGE = 6


#: The reasons in plain words.
REFUSAL_WORDS = {
    Refusal.NONE: "",
    Refusal.NO_NUMBER: "a number is missing",
    Refusal.NO_LIKE_PART: "no like part with a current within 10 %",
    Refusal.NO_CURRENT: "the current is not known",
    Refusal.LOW_LOAD: "the load is too low to be scaled",
    Refusal.TOO_COOL: "the rise is too small for a relative difference",
    Refusal.OUT_OF_RANGE: "outside the range in which the formula holds",
}
