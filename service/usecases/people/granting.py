"""Grant a client or a site to a person, and take it back."""

from datetime import datetime
from typing import Any

from service.domain.people import Actor, Grant, PersonRecord, Sight
from service.domain.permissions import Verb, require
from service.errors import Invalid, NotFound
from service.storage import audit, grants, people
from service.storage.unit import Store
from service.usecases.people.typed import problem


def what_can_be_granted(store: Store, actor: Actor) -> tuple[Sight, ...]:
    """Every client with its sites, for the form."""
    require(actor, Verb.ADMINISTER)
    with store.look() as unit:
        return grants.what_can_be_granted(unit)


def grant(
    store: Store, actor: Actor, person_id: int, client_id: int, site_id: int | None = None, *, now: datetime
) -> PersonRecord:
    """Open a client (later sites included) or one site of it to a person; twice is once.

    Raises
    ------
    Forbidden
        For everybody but administrators.
    NotFound
        No such person.
    Invalid
        No such client, or the site is not its own.
    """
    require(actor, Verb.ADMINISTER)
    with store.begin() as unit:
        record = people.person_record(unit, person_id)
        if record is None:
            raise NotFound()
        if not grants.can_be_granted(unit, client_id, site_id):
            raise Invalid(
                [problem("client_id", client_id, "There is no such client, or the site is another's.")]
            )
        person = people.count_up(unit, person_id, version=record.person.version, now=now)
        given = grants.add_grant(unit, person.id, client_id, site_id)
        audit.note(
            unit,
            actor,
            verb="grant",
            noun="person",
            noun_id=person_id,
            now=now,
            site_id=site_id,
            after=_shown(given),
        )
        return _again(people.person_record(unit, person_id))


def revoke(
    store: Store, actor: Actor, person_id: int, grant_id: int, *, version: int, now: datetime
) -> PersonRecord:
    """Take a grant back; it holds from the next request on.

    Raises
    ------
    Forbidden
        For everybody but administrators.
    NotFound, Stale
        No such person or grant; the person was changed since ``version``.
    """
    require(actor, Verb.ADMINISTER)
    with store.begin() as unit:
        people.count_up(unit, person_id, version=version, now=now)
        gone = grants.remove_grant(unit, person_id, grant_id)
        audit.note(
            unit,
            actor,
            verb="revoke",
            noun="person",
            noun_id=person_id,
            now=now,
            site_id=gone.site_id,
            before=_shown(gone),
        )
        return _again(people.person_record(unit, person_id))


def _shown(given: Grant) -> dict[str, Any]:
    return {"client": given.client_name, "site": given.site_name or "every site"}


def _again(record: PersonRecord | None) -> PersonRecord:
    assert record is not None
    return record
