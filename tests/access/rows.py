"""What a line of the table of routes says, and what the design expects of somebody who asks."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from string import Formatter
from typing import Any

from service.domain.words import Role
from tests.access.world import PLAIN_ENGINEER, TECHNICIAN, Persona, World

T, E, M, A = Role.TECHNICIAN, Role.ENGINEER, Role.MANAGER, Role.ADMINISTRATOR
ALL = frozenset({T, E, M, A})
#: a day to come and a passphrase that nobody has, for bodies
DAY = "2026-12-01"
PHRASE = "violet harbour stone"
Fill = Callable[[World], Any]


def roles(*those: Role) -> frozenset[Role]:
    return frozenset(those)


class Bound(Enum):
    """To whom the thing at an address is hidden: it is told to them like something absent."""

    #: the address names no thing of anybody's
    NOTHING = "nothing"
    #: anybody may ask, even unknown (sign-in page, style sheets)
    OPEN = "open"
    #: of a client: hidden from other clients
    CLIENT = "client"
    #: of a client, and only for those granted all of it; hidden from other clients
    WHOLE_CLIENT = "whole client"
    #: of a site: hidden from other sites of the same client too
    SITE = "site"
    #: of a round: hidden also from technicians who do not walk it
    ROUND = "round"
    #: a person's own: hidden from all others but administrators
    OWNER = "owner"
    #: a person's own, hidden from administrators too
    OWNER_ALONE = "owner alone"


class Outcome(Enum):
    PASSES = "passes"
    SIGN_IN = "is asked to sign in"
    NOT_THIS_ROLE = "is told that the role does not allow it"
    ABSENT = "is told that there is no such thing"


@dataclass(frozen=True)
class Row:
    """One request: its route, who may (design.md, "Who may do what"), and how to fill it in.

    ``at`` names the world's id (or text) for a path parameter that is not called like it; a value
    beginning with "=" stands for itself. ``json``, ``form`` and ``files`` make the body from the
    world. ``through`` are refusals by state (409 …) that only somebody allowed can meet.
    ``session`` rows want a browser's session even under /api/. ``certified`` rows refuse
    an engineer without a valid certificate, in whatever words.
    """

    route: str
    who: frozenset[Role] = ALL
    bound: Bound = Bound.NOTHING
    at: Mapping[str, str] = field(default_factory=dict)
    query: str = ""
    json: Fill | None = None
    form: Fill | None = None
    files: Fill | None = None
    headers: Mapping[str, str] = field(default_factory=dict)
    through: tuple[int, ...] = ()
    session: bool = False
    certified: bool = False
    owner: Persona = TECHNICIAN

    @property
    def method(self) -> str:
        return self.route.partition(" ")[0]

    @property
    def path(self) -> str:
        return self.route.partition(" ")[2]

    @property
    def api(self) -> bool:
        return self.path.startswith("/api/")

    def address(self, world: World) -> str:
        """The path with the world's ids in it."""
        names = [name for _, name, _, _ in Formatter().parse(self.path) if name]
        filled = {name: self._value(name, world) for name in names}
        plain = self.path.replace(":path}", "}")
        return plain.format(**filled) + (
            f"?{self.query.format(**world.ids, **world.texts)}" if self.query else ""
        )

    def _value(self, name: str, world: World) -> str:
        key = self.at.get(name, name)
        if key.startswith("="):
            return key[1:]
        return world.texts[key] if key in world.texts else str(world.ids[key])


def hidden(row: Row, persona: Persona) -> bool:
    """Whether the thing the row asks for is out of the persona's sight."""
    if row.bound is Bound.OWNER_ALONE:
        return persona is not row.owner
    if persona.role is A or row.bound in (Bound.NOTHING, Bound.OPEN):
        return False
    if row.bound is Bound.OWNER:
        return persona is not row.owner
    if persona.place == "abroad":
        return True
    if row.bound in (Bound.CLIENT, Bound.WHOLE_CLIENT):
        return False
    if persona.place == "away":
        return True
    return row.bound is Bound.ROUND and persona.role is T and not persona.walks


def expected(row: Row, persona: Persona) -> Outcome:
    """What design.md wants to happen when the persona sends the row's request."""
    if row.bound is Bound.OPEN:
        return Outcome.PASSES
    if not persona.known:
        return Outcome.SIGN_IN
    if hidden(row, persona):
        return Outcome.ABSENT
    if row.bound is Bound.WHOLE_CLIENT and persona.place == "away":
        return Outcome.NOT_THIS_ROLE
    return Outcome.PASSES if persona.role in row.who else Outcome.NOT_THIS_ROLE


def fit_for(row: Row, persona: Persona) -> bool:
    """Engineers without a certificate are asked about only where it matters."""
    return persona is not PLAIN_ENGINEER or row.certified
