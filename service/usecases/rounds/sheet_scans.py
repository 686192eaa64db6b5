"""Signed sheets: kept as they came, found by their code, put to another stop, taken back."""

import hashlib
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.domain.people import Actor
from service.domain.permissions import Verb, may, require
from service.domain.rounds import OPEN_FOR_READINGS, Round, Stop
from service.domain.scans import LONGEST_REASON, Matched, ScanKind, SheetScan, plain_name, stop_in_name
from service.domain.sheet_codes import read_code
from service.domain.words import RoundState
from service.errors import Conflict, Invalid, NotFound, Problem
from service.intake.limits import MOST_SCANS_AT_ONCE
from service.intake.scans import read_scan
from service.storage import audit, round_facts, rounds, sheet_scans
from service.storage.files import FileShelf, shelf_name
from service.storage.unit import Store, Unit
from service.usecases.rounds.sight import round_to_change, round_to_see
from service.usecases.rounds.typed_checks import problem, reason_given

ROOM = "scans"


@dataclass(frozen=True, slots=True)
class SentFile:
    """A file as it was sent."""

    name: str
    content: bytes


@dataclass(frozen=True, slots=True)
class ScannedStop:
    """A stop with the scans of its sheets."""

    stop: Stop
    title: str
    scans: tuple[SheetScan, ...]


@dataclass(frozen=True, slots=True)
class ScansPage:
    """Scans of a round by stop, and those of the whole round."""

    round: Round
    stops: tuple[ScannedStop, ...]
    of_round: tuple[SheetScan, ...]
    may_bring: bool

    @property
    def scans(self) -> int:
        return len(self.of_round) + sum(len(one.scans) for one in self.stops)

    @property
    def stops_scanned(self) -> int:
        return sum(bool(one.scans) for one in self.stops)


def read_scans(store: Store, actor: Actor, round_id: int) -> ScansPage:
    """The scans of a round.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    """
    with store.look() as unit:
        round_ = round_to_see(unit, actor, round_id)
        stops = rounds.stops_of(unit, round_id)
        facts = round_facts.equipment_facts(unit, [stop.equipment_id for stop in stops])
        scans = sheet_scans.scans_of_round(unit, round_id)
    return ScansPage(
        round=round_,
        stops=tuple(ScannedStop(stop, facts[stop.equipment_id].title, _of(scans, stop.id)) for stop in stops),
        of_round=_of(scans, None),
        may_bring=_may_bring(actor, round_),
    )


def _of(scans: Sequence[SheetScan], stop_id: int | None) -> tuple[SheetScan, ...]:
    return tuple(scan for scan in scans if scan.stop_id == stop_id)


def _may_bring(actor: Actor, round_: Round) -> bool:
    if round_.state is RoundState.SIGNED_OFF:
        return may(actor, Verb.KEEP_REGISTER)
    return may(actor, Verb.BRING_READINGS) and round_.state in OPEN_FOR_READINGS


def bring_scans(
    store: Store,
    actor: Actor,
    round_id: int,
    *,
    files: FileShelf,
    sent: Sequence[SentFile],
    typed_code: str,
    now: datetime,
) -> tuple[SheetScan, ...]:
    """Keep scans of the signed sheets of a round, unchanged: all of them, or none and every problem.

    Parameters
    ----------
    store : Store
        Where what is said of them is kept.
    actor : Actor
        Who walked the round, until it is signed off; an engineer at any time.
    round_id : int
        The round.
    files : FileShelf
        Where the files are kept.
    sent : sequence of SentFile
        JPEG, PNG, WebP or PDF, told by their content.
    typed_code : str
        The sheet code they all belong to; empty: the code in each name decides, and one without
        is of the whole round.
    now : datetime
        The instant they came.

    Returns
    -------
    tuple of SheetScan
        In the order sent; a file that the round has already is told as it stands.

    Raises
    ------
    Invalid
        Every file that is none of these or not whole, and a code that is none of this round's.
    NotFound, Forbidden, Conflict
        Out of sight, not this role's, or the round takes none.
    """
    with store.begin() as unit:
        round_ = _round_to_add_to(unit, actor, round_id)
        by_code = _stops_by_code(unit, round_id)
    kinds = _checked(sent, typed_code, by_code, code_of_round=round_.code)
    chosen = by_code[read_code(typed_code) or ""] if typed_code.strip() else None
    for kind, one in zip(kinds, sent, strict=True):
        # before the row that names it: a crash between leaves a file that nothing names, never the reverse
        files.keep(_name(one.content, kind), one.content)
    with store.begin() as unit:
        _round_to_add_to(unit, actor, round_id)
        there = {scan.content_hash: scan.uid for scan in sheet_scans.scans_of_round(unit, round_id)}
        uids = []
        for kind, one in zip(kinds, sent, strict=True):
            content_hash = hashlib.sha256(one.content).hexdigest()
            if content_hash not in there:
                stop_id, matched = _place(one.name, chosen, by_code)
                there[content_hash] = uid = secrets.token_hex(12)
                fields = {
                    "uid": uid,
                    "round_id": round_id,
                    "stop_id": stop_id,
                    "matched": matched.value,
                    "file_name": plain_name(one.name, kind),
                    "kind": kind.value,
                    "content_hash": content_hash,
                    "stored_as": _name(one.content, kind),
                    "size_bytes": len(one.content),
                    "received_at": now,
                    "by_person_id": actor.person_id,
                }
                sheet_scans.add_scan(unit, fields)
                after = {"scan": uid, "stop": stop_id, "content_hash": content_hash}
                _note(unit, actor, "bring signed sheet", round_id, now=now, after=after)
            uids.append(there[content_hash])
        kept = {scan.uid: scan for scan in sheet_scans.scans_of_round(unit, round_id)}
        return tuple(kept[uid] for uid in uids)


def _round_to_add_to(unit: Unit, actor: Actor, round_id: int) -> Round:
    round_ = round_to_change(unit, actor, round_id, verb=Verb.BRING_READINGS)
    if round_.state is RoundState.SIGNED_OFF:
        require(actor, Verb.KEEP_REGISTER)
    elif round_.state not in OPEN_FOR_READINGS:
        raise Conflict(
            f"Round {round_.code} is {round_.state}; it has no signed sheets", remedy="Issue it first."
        )
    return round_


def _stops_by_code(unit: Unit, round_id: int) -> dict[str, int]:
    return {stop.sheet_code: stop.id for stop in rounds.stops_of(unit, round_id) if stop.sheet_code}


def _checked(
    sent: Sequence[SentFile], typed_code: str, by_code: dict[str, int], *, code_of_round: str
) -> list[ScanKind]:
    """The kind of each file; every problem at once."""
    problems: list[Problem] = []
    if not sent:
        problems.append(problem("files", "", "No file was chosen.", "Choose the scanned sheets."))
    if len(sent) > MOST_SCANS_AT_ONCE:
        message = f"More than {MOST_SCANS_AT_ONCE} files at once."
        problems.append(problem("files", str(len(sent)), message, "Send them in parts."))
    if typed_code.strip() and read_code(typed_code) not in by_code:
        message = f"No sheet of round {code_of_round} has this code."
        problems.append(problem("code", typed_code[:20], message, "Read it again from the sheet."))
    kinds = []
    for one in sent[:MOST_SCANS_AT_ONCE]:
        kind, wrong = read_scan(one.content, name=one.name)
        problems += wrong
        kinds += [kind] if kind is not None else []
    if problems:
        raise Invalid(problems)
    return kinds


def _place(name: str, chosen: int | None, by_code: dict[str, int]) -> tuple[int | None, Matched]:
    if chosen is not None:
        return chosen, Matched.TYPED
    found = stop_in_name(name, by_code)
    return (found, Matched.NAME) if found is not None else (None, Matched.ROUND)


def _name(content: bytes, kind: ScanKind) -> str:
    content_hash = hashlib.sha256(content).hexdigest()
    return shelf_name(ROOM, content_hash, kind.value)


def see_scan(
    store: Store, actor: Actor, round_id: int, uid: str, *, files: FileShelf
) -> tuple[SheetScan, bytes]:
    """A scan with its file, byte for byte as it came.

    Raises
    ------
    NotFound
        Absent, out of sight, or its file is gone.
    """
    with store.look() as unit:
        round_to_see(unit, actor, round_id)
        scan = sheet_scans.scan_of_round(unit, round_id, uid)
    if scan is None:
        raise NotFound()
    return scan, files.read(scan.stored_as)


def put_scan(
    store: Store, actor: Actor, round_id: int, uid: str, *, stop_id: int | None, now: datetime
) -> SheetScan:
    """Say to which stop a scan belongs; None is the whole round.

    Raises
    ------
    NotFound, Forbidden, Conflict
        Out of sight, no stop of this round, not this role's, or taken back.
    """
    with store.begin() as unit:
        scan = _scan_to_change(unit, actor, round_id, uid)
        if stop_id is not None and stop_id not in {stop.id for stop in rounds.stops_of(unit, round_id)}:
            raise NotFound("There is no such stop on this round.")
        matched = Matched.ROUND if stop_id is None else Matched.HAND
        sheet_scans.put_to_stop(unit, scan.id, stop_id, matched=matched)
        after = {"scan": uid, "stop": stop_id}
        _note(unit, actor, "put signed sheet", round_id, now=now, after=after)
        return _again(unit, round_id, uid)


def take_scan_back(
    store: Store, actor: Actor, round_id: int, uid: str, *, reason: str, now: datetime
) -> SheetScan:
    """Take a scan off the round, with a reason; its file and its line stay on record.

    Raises
    ------
    Invalid
        No reason, or one that is too long.
    NotFound, Forbidden, Conflict
        Out of sight, not this role's, or taken back already.
    """
    told = reason_given(reason, longest=LONGEST_REASON)
    with store.begin() as unit:
        scan = _scan_to_change(unit, actor, round_id, uid)
        sheet_scans.take_back(unit, scan.id, reason=told, by=actor.person_id, now=now)
        after = {"scan": uid, "reason": told}
        _note(unit, actor, "take signed sheet back", round_id, now=now, after=after)
        return _again(unit, round_id, uid)


def _scan_to_change(unit: Unit, actor: Actor, round_id: int, uid: str) -> SheetScan:
    _round_to_add_to(unit, actor, round_id)
    scan = sheet_scans.scan_of_round(unit, round_id, uid)
    if scan is None:
        raise NotFound()
    if scan.taken_back_at is not None:
        raise Conflict("This sheet was taken back already", remedy="Bring it again if it was right.")
    return scan


def _again(unit: Unit, round_id: int, uid: str) -> SheetScan:
    unit.session.expire_all()
    scan = sheet_scans.scan_of_round(unit, round_id, uid)
    assert scan is not None
    return scan


def _note(
    unit: Unit, actor: Actor, verb: str, round_id: int, *, now: datetime, after: dict[str, Any]
) -> None:
    audit.note(unit, actor, verb=verb, noun="round", noun_id=round_id, now=now, after=after)
