"""The words a trend may have, equal to the glossary's; this room imports no domain."""

TOO_FEW_VISITS = "too few visits"
CANNOT_TELL = "cannot tell"
STEADY = "steady"
FIRST_SIGN = "first sign"
HAS_RISEN = "has risen"
RISING = "rising"
RISING_FASTER = "rising faster"
STEPPED_UP = "stepped up"
EASING = "easing"

#: Words by their index in ``TrendBlock.word_index``.
WORDS = (
    TOO_FEW_VISITS,
    CANNOT_TELL,
    STEADY,
    FIRST_SIGN,
    HAS_RISEN,
    RISING,
    RISING_FASTER,
    STEPPED_UP,
    EASING,
)
