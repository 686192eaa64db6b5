"""With what files are given out: as what they are, nothing in them ever run, and not twice the same."""

#: for a file that is kept, or shown beside our pages, never as a part of one
INERT = {
    "Content-Security-Policy": "default-src 'none'; sandbox",
    "X-Content-Type-Options": "nosniff",
}
#: and that never changes: whoever may see it may keep it for an hour
INERT_FOR_AN_HOUR = INERT | {"Cache-Control": "private, max-age=3600"}


def has_already(if_none_match: str, tag: str) -> bool:
    """Whoever asks names a kept copy of this tag, weak or not (RFC 9110, 13.1.2).

    Examples
    --------
    >>> has_already('"a", W/"b"', '"b"'), has_already("", '"b"')
    (True, False)
    """
    return tag.removeprefix("W/") in {one.strip().removeprefix("W/") for one in if_none_match.split(",")}
