"""What an upload finds that may not wait: an Act now, and a hot part off the round, become findings with it."""

from datetime import datetime
from typing import Any

from service.domain.people import Actor
from service.domain.readings import ActNow
from service.domain.rounds import Round
from service.domain.visits import Judged
from service.domain.words import Level
from service.storage import uploads
from service.storage.unit import Unit
from service.usecases.condition.assess import Assessed
from service.usecases.rounds.returned_rows import Sorted, part_mark, part_title


def open_findings_at_once(
    unit: Unit, actor: Actor, round_: Round, returned: Sorted, assessed: Assessed, *, now: datetime
) -> tuple[tuple[ActNow, ...], tuple[int, ...]]:
    """Open what has none yet, raise what is live; returns what is to be told now, and the findings opened."""
    grave = [
        one for one in assessed.judged.values() if one.counts_level and one.verdict.level is Level.ACT_NOW
    ]
    live = uploads.live_findings(unit, [one.reading.point.id for one in grave]) if grave else {}
    without = [one for one in grave if one.reading.point.id not in live]
    found = [_of_act_now(one, round_) for one in without] + [
        _off_round(row, round_) for row in returned.off_round
    ]
    opened = (
        uploads.open_findings(
            unit, found, by_person_id=actor.person_id, now=now, note=f"with the readings of {round_.code}"
        )
        if found
        else []
    )
    of_points = {
        one.reading.point.id: finding_id
        for one, finding_id in zip(without, opened[: len(without)], strict=True)
    }
    if live:
        uploads.raise_findings(unit, live.values(), Level.ACT_NOW, now=now)
    uploads.point_to_findings(unit, of_points | live)
    act_now = tuple(
        ActNow(
            (of_points | live)[one.reading.point.id],
            one.reading.point.id,
            one.reading.point.tag,
            one.reading.point.title,
            one.verdict.sentence,
        )
        for one in grave
    )
    return act_now, tuple(opened)


def _of_act_now(one: Judged, round_: Round) -> dict[str, Any]:
    point, verdict = one.reading.point, one.verdict
    return {
        "client_id": point.client_id,
        "site_id": point.site_id,
        "point_id": point.id,
        "round_id": round_.id,
        "reading_id": one.reading.reading_id,
        "title": point.title,
        "consequence": point.consequence,
        "level": int(Level.ACT_NOW),
        "value_k": verdict.value_k,
        "common_k": verdict.common_k,
        "load_ratio": verdict.load_ratio,
        "current_a": one.reading.values.current_a,
    }


def _off_round(row: Any, round_: Round) -> dict[str, Any]:
    site_id, place, picture, title = part_mark(row)
    return {
        "client_id": round_.client_id,
        "site_id": site_id,
        "round_id": round_.id,
        "place": place,
        "picture": picture,
        "title": title or part_title(row),
        "cause": row.note,
        "current_a": row.current_a,
    }
