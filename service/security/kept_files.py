"""With what a file that somebody sent is given out: as what it is, and nothing in it is ever run."""

#: for a file that is kept, or shown beside our pages, never as a part of one
INERT = {
    "Content-Security-Policy": "default-src 'none'; sandbox",
    "X-Content-Type-Options": "nosniff",
}
#: and that never changes: whoever may see it may keep it for an hour
INERT_FOR_AN_HOUR = INERT | {"Cache-Control": "private, max-age=3600"}
