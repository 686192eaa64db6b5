"""Rounds: plan, order, issue, withdraw, sign off; their stops, rows and files."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Path, Query, Response

from service.api.asking import After, Around, Asker, EditedVersion, Limit, tag
from service.api.round_replies import (
    DueSiteReply,
    FullRoundReply,
    IssueBody,
    IssuedReply,
    MinutesBody,
    NewRoundBody,
    OrderBody,
    RoundBody,
    RoundReply,
    RowReply,
    SheetReply,
    SignOffBody,
    StopsBody,
    WithdrawBody,
)
from service.domain.rounds import Round
from service.domain.words import RoundState
from service.reports.round_file import round_file_csv, round_file_xlsx
from service.usecases.rounds import browse, edit
from service.usecases.rounds.due import list_due
from service.usecases.rounds.issue import issue_round
from service.usecases.rounds.plan import plan_round
from service.usecases.rounds.round_file import read_round_file
from service.usecases.rounds.sheets import read_rows
from service.usecases.rounds.sign_off import sign_off_round
from service.usecases.rounds.timetable import reorder_round_for_load
from service.usecases.rounds.withdraw import withdraw_round

router = APIRouter(prefix="/rounds", tags=["rounds"])
Id = Annotated[int, Path(ge=1, le=2**53)]
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def _reply(response: Response, round_: Round) -> RoundReply:
    tag(response, round_.version)
    return RoundReply.of(round_)


@router.get("")
def list_rounds(
    around: Around,
    asker: Asker,
    first: Annotated[date | None, Query(description="planned on this day or later")] = None,
    last: Annotated[date | None, Query(description="planned on this day or earlier")] = None,
    state: Annotated[list[RoundState] | None, Query(max_length=5)] = None,
    after: After = 0,
    limit: Limit = 100,
) -> list[RoundReply]:
    """Rounds in sight by id; pass the last id as ``after`` for the next page."""
    found = browse.list_rounds(
        around.store, asker, first=first, last=last, states=tuple(state or ()), after=after, limit=limit
    )
    return [RoundReply.of(round_) for round_ in found]


@router.post("", status_code=201)
def create_round(around: Around, asker: Asker, response: Response, body: NewRoundBody) -> RoundReply:
    """Make a draft from a route, from what is due, or from picked equipment."""
    return _reply(response, plan_round(around.store, asker, body.wish(), now=around.now()))


@router.get("/due")
def read_due(
    around: Around,
    asker: Asker,
    until: date,
    site_id: Annotated[int | None, Query(ge=1, le=2**53)] = None,
) -> list[DueSiteReply]:
    """What is due by a day, site by site, with the reason of what is due first."""
    sites = list_due(around.store, asker, until=until, site_id=site_id, now=around.now())
    return [DueSiteReply.of(site) for site in sites]


@router.get("/sheets/{code}")
def find_sheet(around: Around, asker: Asker, code: Annotated[str, Path(max_length=40)]) -> SheetReply:
    """The round and stop of a sheet by its printed code."""
    round_, stop = browse.find_sheet(around.store, asker, code)
    return SheetReply(round_id=round_.id, stop_id=stop.id, position=stop.position)


@router.get("/{round_id}")
def read_round(around: Around, asker: Asker, response: Response, round_id: Id) -> FullRoundReply:
    """A round with its stops by the clock and its moves."""
    page = browse.read_round(around.store, asker, round_id, now=around.now())
    tag(response, page.round.version)
    return FullRoundReply.of_page(page)


@router.put("/{round_id}")
def edit_round(
    around: Around, asker: Asker, response: Response, round_id: Id, version: EditedVersion, body: RoundBody
) -> RoundReply:
    """Name, day and start of a draft; who walks and with what until sign-off."""
    round_ = edit.edit_round(around.store, asker, round_id, body.details(), version=version, now=around.now())
    return _reply(response, round_)


@router.get("/{round_id}/rows")
def read_round_rows(around: Around, asker: Asker, round_id: Id) -> list[RowReply]:
    """Every point expected on the round, in walking order; row ids are made at issue."""
    return [RowReply.of(point) for point in read_rows(around.store, asker, round_id)]


@router.put("/{round_id}/stops")
def reorder_stops(
    around: Around, asker: Asker, response: Response, round_id: Id, version: EditedVersion, body: OrderBody
) -> RoundReply:
    """Walk the stops of a draft in this order."""
    round_ = edit.reorder_stops(
        around.store, asker, round_id, body.stop_ids, version=version, now=around.now()
    )
    return _reply(response, round_)


@router.post("/{round_id}/stops")
def add_stops(
    around: Around, asker: Asker, response: Response, round_id: Id, version: EditedVersion, body: StopsBody
) -> RoundReply:
    """Take equipment into a draft."""
    round_ = edit.add_stops(
        around.store, asker, round_id, body.equipment_ids, version=version, now=around.now()
    )
    return _reply(response, round_)


@router.put("/{round_id}/stops/{stop_id}")
def set_stop_minutes(
    around: Around,
    asker: Asker,
    response: Response,
    round_id: Id,
    stop_id: Id,
    version: EditedVersion,
    body: MinutesBody,
) -> RoundReply:
    """How long one takes at the equipment; If-Match is the round's."""
    round_ = edit.set_stop_minutes(
        around.store, asker, round_id, stop_id, minutes=body.minutes, version=version, now=around.now()
    )
    return _reply(response, round_)


@router.delete("/{round_id}/stops/{stop_id}")
def remove_stop(
    around: Around, asker: Asker, response: Response, round_id: Id, stop_id: Id, version: EditedVersion
) -> RoundReply:
    """Leave a stop out of a draft; what is due there stays due. If-Match is the round's."""
    round_ = edit.remove_stop(around.store, asker, round_id, stop_id, version=version, now=around.now())
    return _reply(response, round_)


@router.post("/{round_id}/reorder-for-load")
def reorder_for_load(
    around: Around, asker: Asker, response: Response, round_id: Id, version: EditedVersion
) -> RoundReply:
    """A better order: fewer stops outside their load hours, then a shorter day."""
    round_ = reorder_round_for_load(around.store, asker, round_id, version=version, now=around.now())
    return _reply(response, round_)


@router.post("/{round_id}/issue")
def issue(
    around: Around,
    asker: Asker,
    response: Response,
    round_id: Id,
    version: EditedVersion,
    body: IssueBody | None = None,
) -> IssuedReply:
    """Issue a draft; everything that is missing is told at once."""
    issued = issue_round(
        around.store,
        asker,
        round_id,
        version=version,
        now=around.now(),
        calibration_reason=body.calibration_reason if body is not None else "",
    )
    base = _reply(response, issued.round)
    return IssuedReply(**base.model_dump(), points=issued.points, warnings=list(issued.warnings))


@router.post("/{round_id}/withdraw")
def withdraw(
    around: Around, asker: Asker, response: Response, round_id: Id, version: EditedVersion, body: WithdrawBody
) -> RoundReply:
    """Withdraw a draft or an issued round, with the reason."""
    round_ = withdraw_round(
        around.store, asker, round_id, reason=body.reason, version=version, now=around.now()
    )
    return _reply(response, round_)


@router.post("/{round_id}/sign-off")
def sign_off(
    around: Around, asker: Asker, response: Response, round_id: Id, version: EditedVersion, body: SignOffBody
) -> RoundReply:
    """Close a returned round; every row without a reading needs its reason."""
    round_ = sign_off_round(
        around.store, asker, round_id, reasons=body.reasons, version=version, now=around.now()
    )
    return _reply(response, round_)


@router.get("/{round_id}/file.csv", response_class=Response, responses={200: {"content": {"text/csv": {}}}})
def read_csv(around: Around, asker: Asker, round_id: Id) -> Response:
    """The issued round as CSV to be filled in."""
    file = read_round_file(around.store, asker, round_id, now=around.now())
    return attachment(round_file_csv(file), "text/csv; charset=utf-8", f"{file.code}.csv")


@router.get("/{round_id}/file.xlsx", response_class=Response, responses={200: {"content": {XLSX: {}}}})
def read_xlsx(around: Around, asker: Asker, round_id: Id) -> Response:
    """The issued round as a workbook to be filled in."""
    file = read_round_file(around.store, asker, round_id, now=around.now())
    return attachment(round_file_xlsx(file), XLSX, f"{file.code}.xlsx")


def attachment(content: bytes, media_type: str, name: str) -> Response:
    """A file to be kept; the name is a round's code, made of letters, digits and hyphens."""
    plain = "".join(
        letter if letter.isascii() and (letter.isalnum() or letter in "-.") else "_" for letter in name
    )
    headers = {"Content-Disposition": f'attachment; filename="{plain}"'}
    return Response(content, media_type=media_type, headers=headers)
