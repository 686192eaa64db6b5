"""What every request passes first: its size, where it comes from, and the headers of the answer."""

import logging
import re
from collections.abc import Callable, Mapping
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.domain.words import TemperatureUnit
from service.errors import SentFromElsewhere, TooLarge
from service.pages.asking import PLAIN_SESSION_COOKIE, SESSION_COOKIE
from service.pages.view import units

log = logging.getLogger(__name__)

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
API = "/api/"
#: the hash is of the empty style sheet that the chart library makes first
CONTENT_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self' 'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='",
        "img-src 'self' data: blob:",
        "font-src 'self'",
        "media-src 'self'",
        "connect-src 'self'",
        "worker-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "Content-Security-Policy": CONTENT_POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
TLS_ONLY = {"Strict-Transport-Security": "max-age=31536000"}


class Door:
    """Refuses what is too large or comes from another site's page; adds the security headers.

    An error that nobody foresaw is logged and answered here, so that this answer carries the
    headers too.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        answer: Callable[[Request, Exception], Response],
        body_limit: int,
        over_tls: bool,
        wider: Mapping[str, int] | None = None,
    ) -> None:
        """``wider`` gives some addresses (whole path as a pattern) a limit of their own."""
        self.app = app
        self.answer = answer
        self.body_limit = body_limit
        self.wider = tuple((re.compile(path), limit) for path, limit in (wider or {}).items())
        self.headers = HEADERS | TLS_ONLY if over_tls else HEADERS

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        # every request begins in °C: who asks is known only later, and nothing is left of the one before
        units.read_in(TemperatureUnit.CELSIUS)
        started = False
        limit = self._limit(scope["path"])

        async def send_with_headers(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                headers = MutableHeaders(scope=message)
                for name, value in self.headers.items():
                    headers.setdefault(name, value)
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        try:
            self._refuse_early(scope, limit)
            await self.app(scope, self._bounded(receive, limit), send_with_headers)
        except Exception as error:  # the last place that can still answer
            if started:
                raise
            answer = self.answer(Request(scope, receive), error)
            await answer(scope, receive, send_with_headers)

    def _limit(self, path: str) -> int:
        return next((limit for pattern, limit in self.wider if pattern.fullmatch(path)), self.body_limit)

    def _refuse_early(self, scope: Scope, limit: int) -> None:
        headers = Headers(scope=scope)
        length = headers.get("content-length", "0")
        if not length.isdecimal() or int(length[:20]) > limit:
            raise TooLarge(f"The body is larger than {limit // 1024} KiB.")
        if scope["method"] not in SAFE_METHODS and not comes_from_here(headers, path=scope["path"]):
            raise SentFromElsewhere(remedy="Open this site itself and do it there; programs send a token.")

    def _bounded(self, receive: Receive, limit: int) -> Receive:
        taken = 0

        async def receive_bounded() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > limit:
                # the framework passes only this kind of error through while it reads a body
                raise HTTPException(413, f"The body is larger than {limit // 1024} KiB.")
            return message

        return receive_bounded


def comes_from_here(headers: Headers, *, path: str) -> bool:
    """Whether an unsafe request may use what the browser sends along by itself (cookies).

    A bearer token is never sent by itself, so such a request needs no origin; nor does an API
    request without any session cookie, which is refused for want of a person.
    """
    if headers.get("authorization", "").lower().startswith("bearer "):
        return True
    cookies = headers.get("cookie", "")
    if path.startswith(API) and SESSION_COOKIE not in cookies and f"{PLAIN_SESSION_COOKIE}=" not in cookies:
        return True
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site in ("same-origin", "none")
    origin = urlsplit(headers.get("origin", ""))
    return origin.scheme in ("http", "https") and origin.netloc == headers.get("host", "")
