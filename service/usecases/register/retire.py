"""Retire a thing with all that stands in it, and take it back into use; nothing is deleted."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from service.domain.people import Actor
from service.domain.register import PARENTS, Noun, Registered
from service.errors import Conflict, Stale
from service.storage import audit, register, register_retiring, site_state
from service.storage.unit import Store, Unit
from service.usecases.register.edit import thing_to_change


@dataclass(frozen=True, slots=True)
class Retiring:
    """What retiring one thing takes out of use.

    ``counts`` holds things in use per noun, itself included; ``rounds_out`` names rounds that
    are out with it, which forbid it; ``open_findings`` stay open and need a decision.
    """

    thing: Registered
    noun: Noun
    counts: Mapping[Noun, int]
    rounds_out: tuple[str, ...]
    open_findings: int

    @property
    def words(self) -> str:
        """What goes along, for sentences: 1 view and 3 points; empty for nothing."""
        parts = [
            f"{count} {noun if count == 1 else noun.plural}"
            for noun, count in self.counts.items()
            if count and noun is not self.noun
        ]
        return " and ".join((", ".join(parts[:-1]), parts[-1])) if len(parts) > 1 else "".join(parts)


def foresee_retiring(store: Store, actor: Actor, noun: Noun, thing_id: int) -> Retiring:
    """What would be retired; nothing is changed.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    with store.look() as unit:
        return _retiring(unit, actor, noun, thing_id)


def _retiring(unit: Unit, actor: Actor, noun: Noun, thing_id: int) -> Retiring:
    thing = thing_to_change(unit, actor, noun, thing_id)
    of = (noun, thing_id)
    return Retiring(
        thing,
        noun,
        register_retiring.counts_within(unit, of),
        tuple(register_retiring.rounds_out_with(unit, of)),
        register_retiring.open_findings_within(unit, of),
    )


def retire_thing(
    store: Store, actor: Actor, noun: Noun, thing_id: int, *, version: int, now: datetime
) -> Retiring:
    """Take a thing, and everything that stands in it, out of use. Its tag stays taken.

    Returns
    -------
    Retiring
        What was retired, per noun.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    Stale
        Changed meanwhile.
    Conflict
        Retired already, or on a round that is out.
    """
    with store.begin() as unit:
        retiring = _retiring(unit, actor, noun, thing_id)
        if retiring.thing.version != version:
            raise Stale(retiring.thing.version)
        if retiring.thing.retired_at is not None:
            raise Conflict(f"This {noun} is retired already.")
        if retiring.rounds_out:
            raise Conflict(
                f"It is on a round that is out: {', '.join(retiring.rounds_out)}.",
                remedy="Sign the round off, or withdraw it, first.",
            )
        site_state.bump(unit, register_retiring.sites_of(unit, (noun, thing_id)), now=now)
        register_retiring.retire(unit, (noun, thing_id), version=version, now=now)
        _note(unit, actor, "retire", noun, thing_id, now=now, counts=retiring.counts)
        return retiring


def restore_thing(
    store: Store, actor: Actor, noun: Noun, thing_id: int, *, version: int, now: datetime
) -> Registered:
    """Take a retired thing back into use, with what was retired together with it.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    Stale
        Changed meanwhile.
    Conflict
        It is in use, or what it stands in is retired.
    """
    with store.begin() as unit:
        thing = thing_to_change(unit, actor, noun, thing_id)
        if thing.version != version:
            raise Stale(thing.version)
        if thing.retired_at is None:
            raise Conflict(f"This {noun} is in use.")
        if noun in PARENTS and not register_retiring.parent_in_use(unit, noun, thing_id, PARENTS[noun]):
            parent = PARENTS[noun]
            raise Conflict(f"The {parent} it stands in is retired.", remedy=f"Take the {parent} back first.")
        site_state.bump(unit, register_retiring.sites_of(unit, (noun, thing_id)), now=now)
        register_retiring.restore(unit, (noun, thing_id), version=version, now=now)
        counts = register_retiring.counts_within(unit, (noun, thing_id))
        _note(unit, actor, "restore", noun, thing_id, now=now, counts=counts)
        return register.thing(unit, noun, thing_id)


def _note(
    unit: Unit,
    actor: Actor,
    verb: str,
    noun: Noun,
    thing_id: int,
    *,
    now: datetime,
    counts: Mapping[Noun, int],
) -> None:
    audit.note(
        unit,
        actor,
        verb=verb,
        noun=noun.value,
        noun_id=thing_id,
        site_id=register.place_of(unit, noun, thing_id).site_id,
        now=now,
        after={inner.plural: count for inner, count in counts.items() if count},
    )
