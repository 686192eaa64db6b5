"""Why a second opinion is not given: the reasons that stand beside a NaN."""

from enum import IntEnum


class Unsaid(IntEnum):
    """Reason code of one figure; the value itself is NaN wherever it is not ``NONE``."""

    NONE = 0
    TOO_FEW_VISITS = 1
    IRREGULAR = 2
    NO_UNCERTAINTY = 3
    UNDEFINED = 4
