"""Hold returned rows against what is stored: new, equal, corrected, or a second reading."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from service.domain.device_clock import TakenWithin
from service.domain.findings import OFF_ROUND_TITLE
from service.domain.people import Actor
from service.domain.readings import TypedRow, source_of
from service.domain.rounds import Round
from service.domain.words import RoundState
from service.intake.collecting import Problems
from service.intake.matched_rows import ReadRows, match_rows
from service.intake.parsed_rows import ParsedRows
from service.storage import expected_rows, readings, uploads
from service.storage.readings import StoredRow
from service.storage.unit import Unit


@dataclass(frozen=True, slots=True)
class RowToStore:
    """A row that becomes a reading; ``supersedes`` is the stored row that it corrects."""

    row: TypedRow
    revision: int
    supersedes: StoredRow | None


@dataclass(slots=True)
class Sorted:
    """Returned rows by what is to become of them."""

    source: str
    read: ReadRows
    to_store: list[RowToStore] = field(default_factory=list)
    off_round: list[TypedRow] = field(default_factory=list)
    equal: int = 0
    second: list[TypedRow] = field(default_factory=list)
    #: findings of hot parts that were met, and told, before
    known_parts: Mapping[tuple[int, str, str, str], int] = field(default_factory=dict)

    @property
    def corrected(self) -> list[RowToStore]:
        return [one for one in self.to_store if one.supersedes is not None]

    @property
    def new(self) -> int:
        return len(self.to_store) - len(self.corrected)


def part_title(row: TypedRow) -> str:
    """What the finding of a hot part met off the round is called."""
    if row.temperature_c is None:
        return "Hot part off the round"
    return f"{OFF_ROUND_TITLE}, {row.temperature_c:g} °C"


def part_mark(row: TypedRow) -> tuple[int, str, str, str]:
    """By what a hot part off the round is known again when its row comes twice."""
    return row.site_id, row.place, row.picture, part_title(row)


def sort_rows(
    unit: Unit, actor: Actor, round_: Round, *, parsed: ParsedRows, problems: Problems, now: datetime
) -> Sorted:
    """Place every row and say what is to become of it; adds to ``problems`` and raises nothing.

    Notes
    -----
    A row equal to what its source stored is skipped, also when that was corrected since: it is
    the same send again. A changed one needs a reason. Only another source's row is a second
    reading, and only if it says something else.
    """
    columns = parsed.columns
    named = [i for i, blank in enumerate(parsed.blank) if not blank]
    expected = expected_rows.expected_round(
        unit,
        round_,
        uids={columns["row_uid"][i] for i in named} - {""},
        tags={columns["point_tag"][i] for i in named if not columns["row_uid"][i]} - {""},
    )
    source = source_of(actor.person_id, actor.device)
    within = _taken_within(unit, round_, source, parsed=parsed, now=now)
    read = match_rows(parsed, expected, problems, within=within)
    result = Sorted(source, read)
    began = round_.state is not RoundState.ISSUED
    on_round = [row for row in read.rows if row.expected is not None]
    result.off_round = [row for row in read.rows if row.expected is None]
    stored: Mapping[int, Sequence[StoredRow]] = {}
    if began and on_round:
        stored = readings.stored_rows(unit, [row.expected.row_id for row in on_round if row.expected])
    own_ids = [row.uid for row in on_round if row.uid]
    known = readings.known_uids(unit, own_ids) if own_ids else {}
    for row in on_round:
        _sort(row, result, stored=stored, known=known, problems=problems)
    if result.off_round:
        result.known_parts = uploads.parts_off_round(unit, round_.id)
        fresh = [row for row in result.off_round if part_mark(row) not in result.known_parts]
        result.equal += len(result.off_round) - len(fresh)
        result.off_round = fresh
    return result


def _taken_within(
    unit: Unit, round_: Round, source: str, *, parsed: ParsedRows, now: datetime
) -> TakenWithin | None:
    if not any(parsed.columns["device_time"]):
        return None  # files and pages: nothing is asked for them
    out = round_.issued_at
    return TakenWithin(
        now if out is None else min(out, now), now, readings.latest_of_source(unit, round_.id, source)
    )


def _sort(
    row: TypedRow,
    result: Sorted,
    *,
    stored: Mapping[int, Sequence[StoredRow]],
    known: Mapping[str, tuple[int | None, str, str]],
    problems: Problems,
) -> None:
    assert row.expected is not None
    row_id = row.expected.row_id
    if row.uid in known:
        if known[row.uid] == (row_id, result.source, row.content_hash):
            result.equal += 1
            return
        problems.add(
            row.where,
            "uid",
            row.uid,
            message="A reading with this id is stored already, with other content.",
            remedy="Give a changed reading a new id, and the reason of the correction.",
        )
        return
    here = stored.get(row_id, ())
    mine = [one for one in here if one.source == result.source]
    if not mine:
        if any(one.content_hash == row.content_hash for one in here):
            result.equal += 1
            return
        if here:
            result.second.append(row)
        result.to_store.append(RowToStore(row, 1, None))
        return
    current = max(mine, key=lambda one: one.revision)
    if current.content_hash == row.content_hash or _was_sent_before(row, mine):
        result.equal += 1
        return
    if not row.correction_reason:
        problems.add(
            row.where,
            "correction_reason",
            "",
            message=f"{row.expected.point_tag} was stored with other values; a change needs its reason.",
            remedy="Say in Correction reason why it is changed, or restore the values.",
        )
        return
    result.to_store.append(RowToStore(row, current.revision + 1, current))


def _was_sent_before(row: TypedRow, mine: Sequence[StoredRow]) -> bool:
    return any(
        one.content_hash == row.content_hash and row.correction_reason in ("", one.correction_reason)
        for one in mine
    )


def reading_values(
    one: RowToStore,
    reading_id: int,
    *,
    round_id: int,
    upload_id: int | None,
    person_id: int | None,
    device: str,
    source: str,
    received_at: Any,
    shut: frozenset[int],
) -> Sequence[Any]:
    """The columns of a new reading, in the order in which storage takes them."""
    row = one.row
    assert row.expected is not None
    point = row.expected
    return (
        reading_id,
        row.uid or reading_uid(point.uid, source, one.revision),
        point.point_id,
        round_id,
        point.row_id,
        upload_id,
        source,
        person_id,
        device,
        one.revision,
        None if one.supersedes is None else one.supersedes.id,
        row.correction_reason if one.supersedes is not None else "",
        row.content_hash,
        received_at,
        row.taken_at,
        row.device_time,
        row.skew_s,
        row.visit_kind.value,
        row.load_source.value,
        None if row.not_assessable is None else row.not_assessable.value,
        row.temperature_c,
        row.ambient_c,
        row.reflected_c,
        row.humidity_percent,
        row.wind_m_s,
        row.fan_on_part,
        row.current_a,
        row.neutral_a,
        row.distance_m,
        row.minutes_at_load,
        row.emissivity_set,
        row.reflected_set_c,
        row.transmission_set,
        row.emissivity,
        None if row.emissivity_standing is None else row.emissivity_standing.value,
        None if row.reflected_standing is None else row.reflected_standing.value,
        row.through_window,
        row.window_transmission,
        row.window_c,
        row.path_transmission,
        None if row.boxes is None else dict(row.boxes),
        row.instrument_id,
        row.picture,
        row.note,
        row.temperature_c is not None and point.stop_id in shut,
        row.typed,
    )


def reading_uid(row_uid: str, source: str, revision: int) -> str:
    """The id of a reading that came without its client's own: one per row, source and revision."""
    return f"{row_uid}.{source.replace(' ', '-')}.{revision}"
