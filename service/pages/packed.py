"""Large texts that are the same for everybody: compressed once, sent again only when they have changed."""

import gzip
import hashlib
from dataclasses import dataclass

from fastapi import Request
from fastapi.responses import Response

from service.security.kept_files import has_already

LEVEL = 6


@dataclass(frozen=True, slots=True)
class Packed:
    """A text in its compressed form, with the tag of its content."""

    content: bytes
    tag: str

    @classmethod
    def of(cls, raw: bytes) -> "Packed":
        # the same bytes each time, on whatever day they were compressed
        # weak: the same text goes out packed or not (RFC 9110, 8.8.1)
        return cls(gzip.compress(raw, LEVEL, mtime=0), f'W/"{hashlib.sha256(raw).hexdigest()[:16]}"')

    def answer(self, request: Request, *, media_type: str, headers: dict[str, str]) -> Response:
        """The text as the browser takes it, or word that it has it already."""
        if has_already(request.headers.get("if-none-match", ""), self.tag):
            return Response(status_code=304, headers={**headers, "ETag": self.tag})
        headers = {**headers, "ETag": self.tag, "Vary": "Accept-Encoding"}
        if "gzip" in request.headers.get("accept-encoding", ""):
            headers["Content-Encoding"] = "gzip"
            return Response(self.content, media_type=media_type, headers=headers)
        return Response(gzip.decompress(self.content), media_type=media_type, headers=headers)
