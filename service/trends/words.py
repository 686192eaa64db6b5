"""The words a trend may have, equal to the glossary's; this room imports no domain."""

TOO_FEW_VISITS = "too few visits"
CANNOT_TELL = "cannot tell"
STEADY = "steady"
RISING = "rising"
EASING = "easing"

#: Words by their index in ``TrendBlock.word_index``.
WORDS = (TOO_FEW_VISITS, CANNOT_TELL, STEADY, RISING, EASING)
