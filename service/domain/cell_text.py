"""Cells that a spreadsheet would run as a formula, guarded on the way out and bared on the way in."""

import re

#: a guarded or dangerous start: any number of apostrophes, then what starts a formula
_STARTS = re.compile(r"'*[=+\-@\t\r]")


def guarded(text: str) -> str:
    """The text with one leading apostrophe where a spreadsheet could take it for a formula.

    Only for texts: a number is written as a number, so that −3.2 stays one.

    Examples
    --------
    >>> guarded("=1+1"), guarded("MCC1")
    ("'=1+1", 'MCC1')
    """
    return f"'{text}" if _STARTS.match(text) else text


def bared(text: str) -> str:
    """The text without the apostrophe that `guarded` put there: the two undo each other exactly.

    Examples
    --------
    >>> bared("'-3.2"), bared(guarded("'=x")), bared("'quoted'")
    ('-3.2', "'=x", "'quoted'")
    """
    return text[1:] if text.startswith("'") and _STARTS.match(text) else text
