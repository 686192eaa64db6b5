"""Keep sets of criteria: copy one, take one in, edit it as a new version, switch a preset on or off."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from service.domain.criteria import Criteria
from service.domain.criteria_differences import differences
from service.domain.criteria_kept import KeptCriteria
from service.domain.criteria_owners import NEVER, client_of, is_shipped, new_name
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.presets import DEFAULT_CRITERIA
from service.errors import Conflict, NotFound
from service.storage import audit, criteria, criteria_choice, criteria_edits
from service.storage.unit import Store, Unit

_FIRST_DAY, _LAST_DAY = date(2000, 1, 1), date(2100, 12, 31)


def require_keeper(actor: Actor, client_id: int | None) -> None:
    """Presets are the administrator's, the sets of a client its engineers'.

    Raises
    ------
    NotFound, Forbidden
        Another client's, or not this role's.
    """
    if client_id is None:
        require(actor, Verb.ADMINISTER)
        return
    if not actor.sees_client(client_id):
        raise NotFound("There is no such set of criteria.")
    require(actor, Verb.KEEP_REGISTER)


def copy_set(
    store: Store, actor: Actor, criteria_id: int, *, title: str, client_id: int | None, now: datetime
) -> KeptCriteria:
    """A new set with the fields of another, for a client or, by an administrator, for everybody.

    Raises
    ------
    Invalid
        Without a title.
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    with store.begin() as unit:
        (source,) = visible_sets(unit, actor, [criteria_id])
        require_keeper(actor, client_id)
        told = f"Copied from “{source.criteria.title}”, version {source.criteria.version}."
        citation = f"{told} {source.criteria.citation}"[:2000]
        body = source.criteria.to_dict() | {"title": title, "citation": citation}
        return _add(unit, actor, body, client_id=client_id, now=now, verb="copy criteria", source=source.name)


def take_in_set(
    store: Store, actor: Actor, *, body: Mapping[str, Any], client_id: int | None, now: datetime
) -> KeptCriteria:
    """A new set from what ``Criteria.to_dict`` gave elsewhere; its id and version are made here.

    Raises
    ------
    Invalid
        With every problem of the body.
    NotFound, Forbidden
        The client is out of sight, or this is not this role's.
    """
    require_keeper(actor, client_id)
    with store.begin() as unit:
        source = str(body.get("id", ""))[:200]
        return _add(unit, actor, body, client_id=client_id, now=now, verb="take in criteria", source=source)


def _add(
    unit: Unit,
    actor: Actor,
    body: Mapping[str, Any],
    *,
    client_id: int | None,
    now: datetime,
    verb: str,
    source: str,
) -> KeptCriteria:
    title = body.get("title")
    taken = criteria_edits.names_taken(unit)
    name = new_name(title if isinstance(title, str) else "", client_id=client_id, taken=taken)
    made = Criteria.from_dict({**body, "id": name, "version": 1})
    set_id = criteria.add_criteria(unit, made, valid_from=now.date(), now=now, by_person_id=actor.person_id)
    audit.note(
        unit, actor, verb=verb, noun="criteria", noun_id=set_id, now=now,
        after={"name": name, "title": made.title, "from": source},
    )  # fmt: skip
    return criteria_choice.kept_criteria(unit, [set_id])[0]


def edit_set(
    store: Store,
    actor: Actor,
    criteria_id: int,
    *,
    edits: int,
    body: Mapping[str, Any],
    valid_from: date | None = None,
    now: datetime,
) -> KeptCriteria:
    """Keep a set as edited: over itself as long as nobody chose it, else as its next version.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        An engineer of its client; of a preset, an administrator.
    criteria_id : int
        The newest version of the set.
    edits : int
        ``KeptCriteria.edits`` as it was read.
    body : mapping
        All fields of the set; id and version stay its own.
    valid_from : date, optional
        From which day it may be chosen; None leaves that as it is.
    now : datetime
        The instant of the request.

    Returns
    -------
    KeptCriteria
        The set as kept, unchanged where nothing differs. Sites go on with the version they chose.

    Raises
    ------
    Invalid
        With every problem of the body at once.
    NotFound, Forbidden
        Out of sight, or not this role's.
    Conflict
        A shipped set, or not its newest version.
    Stale
        Written since it was read.
    """
    with store.begin() as unit:
        (kept,) = visible_sets(unit, actor, [criteria_id])
        _require_editable(actor, kept)
        row = criteria_edits.row_of_set(unit, criteria_id, edits=edits)
        version = row.version + 1 if row.locked else row.version
        edited = Criteria.from_dict({**body, "id": row.name, "version": version})
        day = row.valid_from if valid_from is None else _possible(valid_from)
        changed = [f"{one.where}: {one.what}" for one in differences(kept.criteria, edited)]
        if not changed and day == row.valid_from:
            return kept
        if row.locked:
            set_id = criteria.add_criteria(
                unit, edited, valid_from=day, now=now, by_person_id=actor.person_id
            )
        else:
            criteria_edits.write_over(
                unit, row, edited, valid_from=day, now=now, by_person_id=actor.person_id
            )
            set_id = criteria_id
        audit.note(
            unit, actor, verb="edit criteria", noun="criteria", noun_id=set_id, now=now,
            before={"version": kept.criteria.version, "valid_from": kept.valid_from},
            after={"version": version, "valid_from": day, "changed": changed},
        )  # fmt: skip
        return criteria_choice.kept_criteria(unit, [set_id])[0]


def _possible(day: date) -> date:
    return min(max(day, _FIRST_DAY), _LAST_DAY)


def offer_set(
    store: Store, actor: Actor, criteria_id: int, *, edits: int, offered: bool, now: datetime
) -> KeptCriteria:
    """Switch a preset on or off: whether a site may choose it from now on. Choices made stay.

    Raises
    ------
    NotFound, Forbidden, Stale
        Out of sight, not an administrator, or written since it was read.
    Conflict
        The set that is in force where nobody chose another; or not the newest version.
    """
    with store.begin() as unit:
        (kept,) = visible_sets(unit, actor, [criteria_id])
        require_keeper(actor, kept.client_id)
        row = criteria_edits.row_of_set(unit, criteria_id, edits=edits)
        if kept.name == DEFAULT_CRITERIA.id and not offered:
            raise Conflict("This set is in force where nobody chose another; it stays on.")
        if kept.offered_on(now.date()) is not offered:
            criteria_edits.set_valid_from(unit, row, now.date() if offered else NEVER)
            audit.note(
                unit, actor, verb="switch criteria", noun="criteria", noun_id=criteria_id, now=now,
                before={"offered": not offered}, after={"offered": offered},
            )  # fmt: skip
        return criteria_choice.kept_criteria(unit, [criteria_id])[0]


def discard_set(store: Store, actor: Actor, criteria_id: int, *, edits: int, now: datetime) -> None:
    """Throw away the newest version of a set that was never chosen.

    Raises
    ------
    NotFound, Forbidden, Stale
        Out of sight, not this role's, or written since it was read.
    Conflict
        It was chosen once, came with the service, or is not the newest version.
    """
    with store.begin() as unit:
        (kept,) = visible_sets(unit, actor, [criteria_id])
        _require_editable(actor, kept)
        row = criteria_edits.row_of_set(unit, criteria_id, edits=edits)
        if row.locked:
            raise Conflict("It was chosen once: verdicts may stand on it, so it is kept.")
        criteria_edits.remove_set(unit, row)
        audit.note(
            unit, actor, verb="throw away criteria", noun="criteria", noun_id=criteria_id, now=now,
            before={"name": kept.name, "version": kept.criteria.version, "title": kept.criteria.title},
        )  # fmt: skip


def _require_editable(actor: Actor, kept: KeptCriteria) -> None:
    require_keeper(actor, kept.client_id)
    if is_shipped(kept.name):
        raise Conflict("This set came with the service and stays as it is.", remedy="Copy it, edit the copy.")


def visible_sets(unit: Unit, actor: Actor, ids: list[int]) -> tuple[KeptCriteria, ...]:
    """Sets by their ids, in that order.

    Raises
    ------
    NotFound
        One of them is absent, or another client's.
    """
    require(actor, Verb.SEE)
    found = {kept.id: kept for kept in criteria_choice.kept_criteria(unit, ids)}
    for set_id in ids:
        if set_id not in found or not in_sight(actor, found[set_id]):
            raise NotFound("There is no such set of criteria.")
    return tuple(found[set_id] for set_id in ids)


def in_sight(actor: Actor, kept: KeptCriteria) -> bool:
    """Presets are everybody's to see, a client's sets those of its people."""
    owner = client_of(kept.name)
    return owner is None or actor.sees_client(owner)
