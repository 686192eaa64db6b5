"""Calendars: everybody's own under a secret address, one round's, and the page that makes the address."""

import hashlib
from email.utils import format_datetime
from typing import Annotated

from fastapi import APIRouter, Path, Request
from starlette.responses import Response

from service.domain.calendars import RoundsCalendar
from service.domain.people import Actor
from service.pages.asking import Around, SignedIn, SignedInForOthers
from service.pages.rounds import Id
from service.pages.templating import redirect, render
from service.reports.calendar import MEDIA_TYPE, calendar_file
from service.usecases.calendars import own_feed
from service.usecases.calendars.read_calendar import read_own_calendar, read_round_calendar
from service.usecases.surroundings import Surroundings

router = APIRouter()
Secret = Annotated[str, Path(max_length=200)]
PLACE = "/set-up/calendar"


@router.get("/calendar/{secret}.ics")
def read_feed(request: Request, around: Around, secret: Secret) -> Response:
    """Asked by calendar programs, which sign in nowhere: the address itself is the secret."""
    calendar = read_own_calendar(around.store, secret, now=around.now())
    return _file(request, calendar)


@router.get("/rounds/{round_id}/round.ics")
def read_round(request: Request, around: Around, actor: SignedInForOthers, round_id: Id) -> Response:
    calendar = read_round_calendar(around.store, actor, round_id)
    answer = _file(request, calendar)
    answer.headers["Content-Disposition"] = 'attachment; filename="round.ics"'
    return answer


def _file(request: Request, calendar: RoundsCalendar) -> Response:
    """The calendar, or that nothing has changed since the tag that was sent.

    Only the tag decides: an entry that goes away, with a grant for instance, leaves no later date
    behind, so that If-Modified-Since would keep it for ever.
    """
    content = calendar_file(calendar, base=str(request.base_url))
    tag = f'"{hashlib.sha256(content).hexdigest()[:32]}"'
    headers = {"ETag": tag, "Cache-Control": "private, no-cache"}
    if calendar.entries:
        newest = max(entry.changed_at for entry in calendar.entries)
        headers["Last-Modified"] = format_datetime(newest, usegmt=True)
    if tag in _tags(request.headers.get("if-none-match", "")):
        return Response(status_code=304, headers=headers)
    return Response(content, media_type=MEDIA_TYPE, headers=headers)


def _tags(sent: str) -> set[str]:
    """The tags of If-None-Match, compared weakly (RFC 9110 §13.1.2)."""
    return {one.strip().removeprefix("W/") for one in sent.split(",")}


@router.get(PLACE)
def show(request: Request, around: Around, actor: SignedIn) -> Response:
    return _page(request, around, actor)


@router.post(PLACE)
def make(request: Request, around: Around, actor: SignedIn) -> Response:
    """The address is shown in the answer itself and never again, so no redirect follows."""
    _, secret = own_feed.make_feed(around.store, actor, now=around.now())
    return _page(request, around, actor, address=f"{request.base_url}calendar/{secret}.ics")


@router.post(f"{PLACE}/{{feed_id}}/revoke")
def revoke(around: Around, actor: SignedIn, feed_id: Id) -> Response:
    own_feed.revoke_feed(around.store, actor, feed_id, now=around.now())
    return redirect(PLACE, say="The address is revoked: nobody reads your rounds by it any more.")


def _page(request: Request, around: Surroundings, actor: Actor, *, address: str = "") -> Response:
    feed = own_feed.read_feed(around.store, actor)
    return render(request, "set_up/calendar.html", place="setup", feed=feed, address=address)
