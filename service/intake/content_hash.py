"""A content's name: whoever sends the same again is told the same."""

import hashlib


def content_hash_of(*parts: bytes | str) -> str:
    """Name of a content: equal bytes and equal ways of reading them, equal name."""
    digest = hashlib.sha256()
    for part in parts:
        piece = part.encode("utf-8", "surrogatepass") if isinstance(part, str) else part
        digest.update(len(piece).to_bytes(8) + piece)
    return digest.hexdigest()
