"""The invented accounts of the demonstration, which sign in on this machine only."""

from service.domain.people import Person
from service.storage import people
from service.storage.unit import Store

#: The same for each of them; known to all, so they may sign in only over loopback in demo mode.
DEMO_PASSWORD = "merrowdale walks its rounds"  # noqa: S105


def demo_sign_ins(store: Store) -> tuple[Person, ...]:
    """Active accounts of the demonstration, by role and name."""
    with store.look() as unit:
        return people.demo_people(unit)
