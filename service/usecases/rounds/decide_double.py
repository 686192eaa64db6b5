"""Two readings of one point on one round: the engineer decides which one stands; both are kept."""

from dataclasses import dataclass
from datetime import datetime

from service.domain.people import Actor
from service.domain.permissions import Verb
from service.domain.readings import Reading
from service.domain.rounds import Round
from service.errors import Invalid, NotFound, Problem
from service.storage import audit, expected_rows, readings, rounds, site_state, uploads, walking_parties
from service.storage.unit import Store
from service.usecases.condition.assess import assess_views
from service.usecases.rounds.follow_readings import follow_readings
from service.usecases.rounds.sight import round_to_change, round_to_see


@dataclass(frozen=True, slots=True)
class Double:
    """One row with its readings by two or more sources; ``chosen`` is None while undecided."""

    row_uid: str
    point_id: int
    point_tag: str
    point_name: str
    chosen: str | None
    readings: tuple[Reading, ...]
    #: name of each source's reader
    readers: dict[str, str]


def list_doubles(store: Store, actor: Actor, *, round_id: int) -> tuple[Round, tuple[Double, ...]]:
    """Every point of a round that was read twice, decided or not."""
    with store.look() as unit:
        round_ = round_to_see(unit, actor, round_id)
        found = []
        rows = expected_rows.rows_read_twice(unit, round_id)
        several = [readings.current_of_rows(unit, [row.row_id]) for row in rows]
        known = walking_parties.walkers_by_id(unit, {one.person_id for read in several for one in read})
        for row, read in zip(rows, several, strict=True):
            readers = {
                one.source: known[one.person_id].name if one.person_id in known else one.source
                for one in read
            }
            found.append(
                Double(row.uid, row.point_id, row.point_tag, row.point_name, row.chosen_source, read, readers)
            )
        return round_, tuple(found)


def decide_double(
    store: Store, actor: Actor, *, round_id: int, row_uid: str, source: str, now: datetime
) -> None:
    """Let one source's reading feed level and trend; the other stays as it was stored.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        An engineer.
    round_id : int
        The round.
    row_uid : str
        Its row that was read twice.
    source : str
        Whose reading stands.
    now : datetime
        The instant of the decision.

    Raises
    ------
    NotFound
        No such row on this round.
    Invalid
        That source has no reading there.
    """
    with store.begin() as unit:
        round_ = round_to_change(unit, actor, round_id, verb=Verb.KEEP_REGISTER)
        site_state.bump(unit, rounds.site_ids_of(unit, round_id), now=now)
        expected = expected_rows.expected_round(unit, round_, uids=[row_uid], tags=())
        if not expected.rows:
            raise NotFound()
        row = expected.rows[0]
        sources = {one.source for one in readings.current_of_rows(unit, [row.row_id])}
        if source not in sources:
            message = "Nobody of this name read the point."
            raise Invalid([Problem("form", "source", source, message, "Choose one of the readings.")])
        uploads.choose_source(unit, row.row_id, source)
        assessed = assess_views(
            unit,
            round_id=round_id,
            client_id=round_.client_id,
            view_ids=[row.view_id],
            fresh=(),
            gone=frozenset(),
            began=True,
            now=now,
            cause=f"decided between two readings of {round_.code}",
        )
        follow_readings(unit, assessed, now=now)
        audit.note(
            unit,
            actor,
            verb="decide",
            noun="reading",
            noun_id=row.row_id,
            now=now,
            site_id=row.site_id,
            before={"chosen": row.chosen_source},
            after={"chosen": source},
        )
