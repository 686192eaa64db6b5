"""What a file would do to the register: compared thing by thing, before anything is written."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from service.domain.cells import shown
from service.domain.fields import Value
from service.domain.people import Actor
from service.domain.register import KEY_FIELDS, PARENTS, Noun
from service.domain.register_columns import FILED, key_title
from service.domain.register_fields import FIELDS, field_of, settled
from service.domain.register_file import FiledThing, Key, NounCount, RegisterFile
from service.intake.collecting import Problems
from service.storage import register_bulk
from service.storage.register_bulk import ChangedThing, Standing
from service.storage.unit import Unit

_BY_CLIENT = (Noun.SITE, Noun.INSTRUMENT)
WALKING_STEP = 10


@dataclass(slots=True)
class Planned:
    """What happens to the things of one noun; parents of new things are named by key."""

    new: list[FiledThing] = field(default_factory=list)
    changed: list[tuple[FiledThing, ChangedThing, Key | None]] = field(default_factory=list)
    unchanged: int = 0
    values: dict[Key, Mapping[str, Value]] = field(default_factory=dict)

    @property
    def count(self) -> NounCount:
        return NounCount(len(self.new), len(self.changed), self.unchanged)


@dataclass(slots=True)
class Plan:
    """The whole of it: what is there under which key, and what becomes of each noun."""

    standing: dict[Noun, dict[Key, Standing]]
    planned: dict[Noun, Planned]

    @property
    def changes_anything(self) -> bool:
        return any(p.new or p.changed for p in self.planned.values())

    def site_ids(self) -> set[int]:
        """Sites that are there already and that something is done to."""
        ids = {
            change.standing.site_id
            for planned in self.planned.values()
            for _, change, _ in planned.changed
            if change.standing.site_id is not None
        }
        for noun, planned in self.planned.items():
            for thing in planned.new:
                site = self.standing[Noun.SITE].get(thing.key[:2]) if noun is not Noun.SITE else None
                if site is not None and noun not in _BY_CLIENT:
                    ids.add(site.id)
        return ids


def plan_import(unit: Unit, actor: Actor, file: RegisterFile, problems: Problems) -> Plan:
    """Compare a file with the register.

    Parameters
    ----------
    unit : Unit
        Reading or writing.
    actor : Actor
        Whose grants bound it.
    file : RegisterFile
        As read.
    problems : Problems
        Takes what stands against it: things out of the grants, retired or at home elsewhere,
        new ones without name, kind or place.

    Returns
    -------
    Plan
        Good for writing only when no problem was added.
    """
    plan = Plan({noun: {} for noun in FILED}, {noun: Planned() for noun in FILED})
    _stand_clients(unit, plan, file)
    for noun in (Noun.SITE, Noun.INSTRUMENT):
        _stand_of_clients(unit, plan, noun)
    _refuse_out_of_sight(actor, plan, file, problems)
    for noun in (Noun.AREA, Noun.EQUIPMENT, Noun.VIEW, Noun.POINT):
        _stand_of_sites(unit, plan, file, noun)
    for noun in FILED:
        _compare(plan, file, noun, problems)
    return plan


def _stand_clients(unit: Unit, plan: Plan, file: RegisterFile) -> None:
    found = register_bulk.clients_by_code(unit, (key[0] for key in file.things[Noun.CLIENT]))
    plan.standing[Noun.CLIENT] = {(code,): thing for code, thing in found.items()}


def _stand_of_clients(unit: Unit, plan: Plan, noun: Noun) -> None:
    codes = {thing.id: key[0] for key, thing in plan.standing[Noun.CLIENT].items()}
    found = register_bulk.things_of_clients(unit, noun, codes)
    plan.standing[noun] = {(codes[client_id], key): thing for (client_id, key), thing in found.items()}


def _stand_of_sites(unit: Unit, plan: Plan, file: RegisterFile, noun: Noun) -> None:
    if not file.things[noun]:
        return
    spoken_of = {key[:2] for key in file.things[noun]}
    sites = {thing.id: key for key, thing in plan.standing[Noun.SITE].items() if key in spoken_of}
    found = register_bulk.things_of_sites(unit, noun, sites)
    plan.standing[noun] = {(*sites[site_id], key): thing for (site_id, key), thing in found.items()}


def _refuse_out_of_sight(actor: Actor, plan: Plan, file: RegisterFile, problems: Problems) -> None:
    """Clients and sites that the grants do not open; whether they exist is not told."""
    for thing in file.of(Noun.CLIENT):
        there = plan.standing[Noun.CLIENT].get(thing.key)
        if there is not None and not actor.sees_client(there.id):
            _refuse(problems, thing, "This code is not among your clients.")
            plan.standing[Noun.CLIENT].pop(thing.key)
        elif there is not None and thing.given and not actor.sees_whole_client(there.id):
            _refuse(problems, thing, "Your grants are for single sites of this client.")
    for thing in file.of(Noun.SITE):
        client = plan.standing[Noun.CLIENT].get(thing.key[:1])
        there = plan.standing[Noun.SITE].get(thing.key)
        whole = client is None or actor.sees_whole_client(client.id)
        if not whole and (there is None or not actor.sees_site(there.id)):
            _refuse(problems, thing, "This code is not among your sites.")


def _refuse(problems: Problems, thing: FiledThing, message: str) -> None:
    problems.add(
        thing.where,
        key_title(thing.noun),
        thing.key[-1],
        message=message,
        remedy="Correct the code, or ask an administrator for the grant.",
    )


def _compare(plan: Plan, file: RegisterFile, noun: Noun, problems: Problems) -> None:
    planned, standing = plan.planned[noun], plan.standing[noun]
    alike = _Alike(standing)
    orders: dict[Key | None, int] = {}
    for thing in file.of(noun):
        there = standing.get(thing.key)
        if there is None:
            alike.tell(thing, problems)
            orders[thing.parent] = orders.get(thing.parent, 0) + WALKING_STEP
            _plan_new(plan, planned, file, thing, problems, order=orders[thing.parent])
        elif there.retired:
            problems.add(
                thing.where,
                key_title(noun),
                thing.key[-1],
                message=f"This {noun} is retired.",
                remedy="Take it back into use first, or delete the row.",
            )
        else:
            _plan_change(plan, planned, thing, there, problems)


class _Alike:
    """Keys that differ from one that is there only in case or spaces: the usual slip of the hand."""

    def __init__(self, standing: Iterable[Key]) -> None:
        self._by_fold = {self._fold(key): key for key in standing}

    @staticmethod
    def _fold(key: Key) -> Key:
        return (*key[:-1], "".join(key[-1].casefold().split()))

    def tell(self, thing: FiledThing, problems: Problems) -> None:
        other = self._by_fold.setdefault(self._fold(thing.key), thing.key)
        if other != thing.key:
            problems.add(
                thing.where,
                key_title(thing.noun),
                thing.key[-1],
                message=f"It differs from {shown(other[-1])} only in capitals or spaces.",
                remedy="Write both alike.",
            )


def _plan_new(
    plan: Plan, planned: Planned, file: RegisterFile, thing: FiledThing, problems: Problems, *, order: int
) -> None:
    noun = thing.noun
    if not thing.places:
        problems.add(
            thing.where,
            key_title(noun),
            thing.key[-1],
            message=f"There is no such {noun} in the register, and nothing more of it in this file.",
            remedy=f"Correct it, or add a row with its {_first_wanted(noun)}.",
        )
        return
    for wanted in FIELDS[noun]:
        if wanted.required and wanted.name not in thing.places and wanted.name != KEY_FIELDS[noun]:
            problems.add(
                thing.where,
                wanted.column,
                "",
                message=f"A new {noun} needs this: {thing.key[-1]}.",
                remedy=f"Fill in {wanted.column}.",
            )
    if noun in PARENTS:
        _check_parent(plan, file, thing, problems)
    values = {f.name: thing.given.get(f.name, f.empty) for f in FIELDS[noun]}
    values |= _settled(thing, values, problems)
    values[KEY_FIELDS[noun]] = thing.key[-1]
    if "walking_order" in values and "walking_order" not in thing.given:
        values["walking_order"] = order
    planned.values[thing.key] = values
    planned.new.append(thing)


def _settled(
    thing: FiledThing,
    values: Mapping[str, Value],
    problems: Problems,
    *,
    kept: Mapping[str, Value] | None = None,
) -> dict[str, Value]:
    """What its fields set of each other; what does not go together is told at its row and column."""
    completed, together = settled(thing.noun, values, thing.where, kept=kept)
    for told in together:
        where = thing.places.get(told.field, thing.where)
        column = field_of(thing.noun, told.field).column
        problems.add(where, column, told.found, message=told.message, remedy=told.remedy)
    return completed


def _first_wanted(noun: Noun) -> str:
    return next(f.column for f in FIELDS[noun] if f.required and f.name != KEY_FIELDS[noun])


def _check_parent(plan: Plan, file: RegisterFile, thing: FiledThing, problems: Problems) -> None:
    """A new thing stands in something that is there, or comes with it; spoken-of ones told elsewhere."""
    above = PARENTS[thing.noun]
    if thing.parent is None:
        problems.add(
            thing.where,
            key_title(above),
            "",
            message=f"A new {thing.noun} needs the {above} it stands in: {thing.key[-1]}.",
            remedy=f"Fill in {key_title(above)}.",
        )


def _plan_change(
    plan: Plan, planned: Planned, thing: FiledThing, there: Standing, problems: Problems
) -> None:
    changes = {name: value for name, value in thing.given.items() if there.values[name] != value}
    if changes:
        completed = _settled(thing, changes, problems, kept=there.values)
        changes |= {name: value for name, value in completed.items() if there.values[name] != value}
    moved_to = _moved(plan, thing, there, problems)
    if changes or moved_to is not None:
        planned.changed.append((thing, ChangedThing(there, changes), moved_to))
    elif thing.given:
        planned.unchanged += 1


def _moved(plan: Plan, thing: FiledThing, there: Standing, problems: Problems) -> Key | None:
    """The key of the area that equipment moves to; anything else stays where it is."""
    if thing.parent is None or thing.noun not in PARENTS:
        return None
    above = PARENTS[thing.noun]
    parent = plan.standing[above].get(thing.parent)
    if parent is not None and parent.id == there.parent_id:
        return None
    if thing.noun is Noun.EQUIPMENT:
        return thing.parent
    problems.add(
        thing.parent_where,
        key_title(above),
        thing.parent[-1],
        message=f"In the register {thing.key[-1]} stands in another {above}.",
        remedy=f"Correct it; to move a {thing.noun}, retire it and give the new one a tag of its own.",
    )
    return None
