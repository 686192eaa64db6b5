"""What came back of a round: one page on which the engineer receives it, asks back, and goes on to sign."""

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from service.domain.reception import counts_of
from service.pages.asking import Around, SignedIn
from service.pages.reception_words import (
    foretold_words,
    hidden_words,
    reception_lead,
    reception_title,
    stands_out,
    why_words,
)
from service.pages.round_readings import missed_words, worst_hidden
from service.pages.rounds import Id
from service.pages.templating import render
from service.usecases.rounds.reception import read_reception

router = APIRouter()


@router.get("/rounds/{round_id}/reception")
def see(
    request: Request,
    around: Around,
    actor: SignedIn,
    round_id: Id,
    ask: Annotated[str, Query(max_length=64)] = "",
) -> HTMLResponse:
    page = read_reception(around.store, actor, round_id, now=around.now())
    reception = page.reception
    choices = [
        (row.row_uid, f"{row.point.equipment}, {row.point.view}: {row.point.phase or row.point.name}")
        for row in reception.rows
    ]
    return render(
        request,
        "rounds/reception.html",
        place="rounds",
        page=page,
        round=page.round,
        reception=reception,
        title=reception_title(reception),
        lead=reception_lead(page.round, reception),
        stops=[(stop, counts_of(reception.of_stop(stop.stop.id))) for stop in page.day.stops],
        total=reception.counts,
        outstanding=stands_out(reception.rows),
        why=why_words,
        foretold=foretold_words(reception),
        missed=missed_words(reception.missed),
        hidden=hidden_words(reception.hidden),
        worst=worst_hidden([row.point for row in reception.rows]),
        choices=choices,
        chosen=ask if ask in dict(choices) else "",
    )
