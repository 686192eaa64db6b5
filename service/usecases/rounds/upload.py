"""Take a returned file, page or message in: all or nothing, in one transaction."""

import gc
import json
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, nullcontext
from datetime import datetime
from typing import Any

from service.domain.people import Actor
from service.domain.permissions import Verb
from service.domain.readings import ActNow, SecondReading, UploadResult, level_word
from service.domain.rounds import OPEN_FOR_READINGS, Round
from service.domain.words import Level, RoundState
from service.errors import Conflict
from service.intake.collecting import Problems
from service.intake.parsed_rows import ParsedRows, parse_rows
from service.intake.raw_rows import RawRows
from service.storage import audit, idempotency, readings, rounds, site_state, uploads
from service.storage.bulk import allow_time, reserve_keys
from service.storage.idempotency import StoredReply
from service.storage.unit import Store, Unit
from service.usecases.condition.assess import Assessed, FreshReading, assess_views
from service.usecases.rounds.findings_at_once import open_findings_at_once
from service.usecases.rounds.follow_readings import follow_readings
from service.usecases.rounds.mark_returned import mark_returned
from service.usecases.rounds.returned_rows import Sorted, reading_values, sort_rows
from service.usecases.rounds.sight import round_to_change
from service.usecases.rounds.upload_results import result_from_dict, result_to_dict

#: what belongs to an upload beside its rows
Beside = Callable[[Unit], Callable[[UploadResult], None]]
#: from so many rows on an upload is worth holding the collector for
MANY_ROWS = 200


def upload_round(
    store: Store,
    actor: Actor,
    *,
    round_id: int,
    rows: RawRows,
    content_hash: str,
    key: str | None,
    channel: str,
    now: datetime,
    file_name: str = "",
    beside: Beside | None = None,
) -> UploadResult:
    """Store what a round brought back: readings, verdicts, standings and findings together.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who walked the round, or an engineer.
    round_id : int
        An issued or returned round.
    rows : RawRows
        The rows as they came.
    content_hash : str
        Name of the content: the same content on one round is stored once, whoever sends it.
    key : str or None
        Idempotency-Key of the send; None for a page, which has none.
    channel : str
        "file", "page", "api" or "reading".
    now : datetime
        The instant it was received.
    file_name : str
        As the sender called it.
    beside : callable, optional
        Called with the unit before anything is stored, the round held; what it returns is called
        with the result, in the same transaction.

    Returns
    -------
    UploadResult
        The same for the same send, and for the same content sent by somebody else.

    Raises
    ------
    Invalid
        Every problem of every row; nothing was stored.
    Conflict
        The round takes no readings (draft, signed off, withdrawn).
    KeyReused, KeyBusy
        The key names another send, or one that is still running.
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    problems = Problems()
    parsed = parse_rows(rows, problems)
    person = actor.person_id
    held = (
        idempotency.running(store, person, key) if key is not None and person is not None else nullcontext()
    )
    with held, _unhurried(len(rows.wheres)), store.begin() as unit:
        round_ = round_to_change(unit, actor, round_id, verb=Verb.BRING_READINGS)
        request = f"upload {round_id}"
        if key is not None and person is not None:
            reply = idempotency.claim(unit, person, key=key, request=request, body_hash=content_hash)
            if reply is not None:
                return result_from_dict(json.loads(reply.body))
        before = uploads.result_of_content(unit, round_id, content_hash)
        after = beside(unit) if beside is not None and before is None else None
        result = (
            result_from_dict(before)
            if before is not None
            else _store(
                unit,
                actor,
                round_,
                parsed=parsed,
                problems=problems,
                content_hash=content_hash,
                channel=channel,
                file_name=file_name,
                now=now,
            )
        )
        if after is not None:
            after(result)
        if key is not None and person is not None:
            body = json.dumps(result_to_dict(result)).encode()
            idempotency.keep(
                unit,
                person,
                key=key,
                request=request,
                body_hash=content_hash,
                reply=StoredReply(201, body, "application/json"),
                now=now,
            )
        return result


def store_late(
    unit: Unit,
    actor: Actor,
    round_: Round,
    *,
    reader: Actor,
    rows: RawRows,
    content_hash: str,
    received_at: datetime,
    now: datetime,
) -> UploadResult:
    """Store rows that were held aside, in the name of whoever read them, on a round held by ``unit``.

    An engineer's decision, so that a round that is signed off takes them too.

    Raises
    ------
    service.errors.Invalid
        Every problem of the rows; nothing was stored.
    service.errors.Conflict
        The round is a draft or withdrawn.
    """
    problems = Problems()
    parsed = parse_rows(rows, problems)
    return _store(
        unit,
        actor,
        round_,
        parsed=parsed,
        problems=problems,
        content_hash=content_hash,
        channel="held aside",
        file_name="",
        now=now,
        reader=reader,
        received_at=received_at,
    )


@contextmanager
def _unhurried(rows: int) -> Iterator[None]:
    """Hold the search for dead cycles while many rows live until the commit.

    It would walk through all of them again and again and find nothing; measured, a third of a
    large upload. Two uploads at once never leave it off.
    """
    on = rows >= MANY_ROWS and gc.isenabled()
    if on:
        gc.disable()
    try:
        yield
    finally:
        if on:
            gc.enable()


def check_open(round_: Round) -> None:
    """Refuse readings for a round that takes none.

    Raises
    ------
    service.errors.Conflict
        It is a draft, withdrawn or signed off.
    """
    if round_.state not in OPEN_FOR_READINGS:
        later = round_.state is RoundState.SIGNED_OFF
        remedy = "An engineer corrects single readings." if later else "Readings come in once it is issued."
        raise Conflict(f"Round {round_.code} is {round_.state}; it takes no readings", remedy=remedy)


def _store(
    unit: Unit,
    actor: Actor,
    round_: Round,
    *,
    parsed: ParsedRows,
    problems: Problems,
    content_hash: str,
    channel: str,
    file_name: str,
    now: datetime,
    reader: Actor | None = None,
    received_at: datetime | None = None,
) -> UploadResult:
    late = reader is not None and round_.state is RoundState.SIGNED_OFF
    reader, received_at = reader or actor, received_at or now
    if not late:
        check_open(round_)
    allow_time(unit, len(parsed.wheres))
    # first, for its lock: nobody else changes the points of these sites until we have committed
    site_state.bump(unit, rounds.site_ids_of(unit, round_.id), now=now)
    returned = sort_rows(unit, reader, round_, parsed=parsed, problems=problems, now=received_at)
    problems.refuse()
    if not late:
        mark_returned(unit, actor, round_.id, now)
    upload_id = reserve_keys(unit, "uploads", 1)[0]
    uploads.add_upload(
        unit,
        upload_id,
        round_id=round_.id,
        content_hash=content_hash,
        person_id=reader.person_id,
        device=reader.device,
        received_at=received_at,
        file_name=file_name[:200],
        channel=channel,
        counts=(returned.new, returned.equal, len(returned.corrected)),
        result={},
    )
    fresh, marked = _add_readings(unit, reader, round_, returned, upload_id=upload_id, now=received_at)
    assessed = _assess(unit, round_, returned, fresh, now=now)
    act_now, opened = open_findings_at_once(unit, reader, round_, returned, assessed, now=now)
    result = _result(
        unit,
        round_,
        returned,
        fresh,
        assessed=assessed,
        upload_id=upload_id,
        received_at=received_at,
        marked=marked,
        found=(act_now, opened),
    )
    uploads.set_result(unit, upload_id, result_to_dict(result))
    audit.note(
        unit,
        actor,
        verb="bring readings",
        noun="round",
        noun_id=round_.id,
        now=now,
        after={
            "upload": upload_id,
            "new": result.rows_new,
            "equal": result.rows_equal,
            "corrected": result.rows_corrected,
        },
    )
    return result


def _result(
    unit: Unit,
    round_: Round,
    returned: Sorted,
    fresh: Sequence[FreshReading],
    *,
    assessed: Assessed,
    upload_id: int,
    received_at: datetime,
    marked: int,
    found: tuple[tuple[ActNow, ...], tuple[int, ...]],
) -> UploadResult:
    """What is told of the rows: counts, levels, how many came without a permit, what was found."""
    act_now, opened = found
    return UploadResult(
        upload_id=upload_id,
        round_id=round_.id,
        round_code=round_.code,
        received_at=received_at,
        rows_new=returned.new,
        rows_equal=returned.equal,
        rows_corrected=len(returned.corrected),
        rows_second=len(returned.second),
        off_round=len(returned.off_round),
        not_assessable=sum(one.row.not_assessable is not None for one in returned.to_store),
        without_permit=marked,
        still_not_read=readings.count_unread(unit, round_.id),
        levels=_levels(assessed, fresh),
        act_now=act_now,
        second_readings=tuple(
            SecondReading(row.expected.row_id, row.expected.point_id, row.expected.point_tag)
            for row in returned.second
            if row.expected is not None
        ),
        finding_ids=opened,
        warnings=returned.read.warnings,
    )


def _add_readings(
    unit: Unit, actor: Actor, round_: Round, returned: Sorted, *, upload_id: int, now: datetime
) -> tuple[list[FreshReading], int]:
    """Store the readings; returns them for judging, and how many came without a permit recorded."""
    shut = uploads.shut_stops(unit, round_.id)
    ids = reserve_keys(unit, "readings", len(returned.to_store))
    rows: list[Sequence[Any]] = []
    fresh = []
    for reading_id, one in zip(ids, returned.to_store, strict=True):
        rows.append(
            reading_values(
                one,
                reading_id,
                round_id=round_.id,
                upload_id=upload_id,
                person_id=actor.person_id,
                device=actor.device,
                source=returned.source,
                received_at=now,
                shut=shut,
            )
        )
        point = one.row.expected
        assert point is not None
        fresh.append(
            FreshReading(
                reading_id,
                point.point_id,
                point.view_id,
                returned.source,
                point.chosen_source,
                one.row,
                None if one.supersedes is None else one.supersedes.id,
            )
        )
    readings.add_readings(unit, rows)
    marked = sum(row[readings.NEW.index("no_permit_recorded")] for row in rows)
    return fresh, marked


def _assess(
    unit: Unit, round_: Round, returned: Sorted, fresh: Sequence[FreshReading], *, now: datetime
) -> Assessed:
    """Judge, let the trend follow by a job, work out due days and prove repairs."""
    if not fresh:  # all of it was stored before
        return Assessed({}, {}, (), ())
    assessed = assess_views(
        unit,
        round_id=round_.id,
        client_id=round_.client_id,
        view_ids={one.view_id for one in fresh},
        fresh=fresh,
        gone=frozenset(one.supersedes.id for one in returned.corrected if one.supersedes is not None),
        began=round_.state is not RoundState.ISSUED,
        now=now,
        cause=f"round {round_.code}",
    )
    follow_readings(unit, assessed, now=now)
    return assessed


def _levels(assessed: Assessed, fresh: Sequence[FreshReading]) -> dict[str, int]:
    """How many of the readings stand at each level, gravest first."""
    counts = Counter(
        assessed.judged[one.reading_id].verdict.level for one in fresh if one.reading_id in assessed.judged
    )
    return {level_word(level): counts[level] for level in (*reversed(Level), None) if counts[level]}
