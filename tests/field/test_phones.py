"""R8: phones of two technicians and an engineer on one round, offline, crashing, with any clock, against a plain model.

Each phone keeps a queue as the field app does: what never left is changed in place, what did is
followed by a send that says what it stands for. Whatever order things arrive in, at the end each
source's reading of a row is what its phone typed last, readings of two sources are both there,
and nobody has chosen between them.
"""

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import seed as seeded
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from service.domain.words import Role
from service.storage.unit import Store
from tests.builders import Plant, build_plant
from tests.doors import browser_as, open_app
from tests.readings.builders import Issued, issue

SEED = 20_261_128
MORNING = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
ROLES = (Role.TECHNICIAN, Role.ENGINEER)
ROWS = 3
WHICH = st.integers(0, len(ROLES) - 1)
FAULTS = ("none", "none", "lost", "no answer", "twice", "astray")
LEAPS_S = [0.0, -26 * 3600.0, 26 * 3600.0, -1.7e9, 2.3e9, 90.0]


@dataclass
class Waiting:
    uid: str
    row: int
    value: float
    replaces: list[str]
    device_time: str
    tried: bool = False
    skew_s: float | None = None


@dataclass
class Phone:
    """A device with its clock's lead [s], its queue, and sends that went astray."""

    role: Role
    person_id: int
    client: Any
    online: bool = True
    ahead_s: float = 0.0
    queue: list[Waiting] = field(default_factory=list)
    astray: list[dict[str, Any]] = field(default_factory=list)
    #: by row the latest send, for what is typed after it
    last: dict[int, Waiting] = field(default_factory=dict)


@dataclass
class World:
    store: Store
    plant: Plant
    app: Any
    now: datetime
    days: int = 0
    value: int = 0


class Phones(RuleBasedStateMachine):
    world: World
    #: the broken twin edits in place what has left the phone already
    careless = False

    @initialize()
    def morning(self) -> None:
        world = self.world
        world.days += 1
        self.issued: Issued = issue(
            world.store, plant=world.plant, walked_at=MORNING + timedelta(days=world.days)
        )
        world.now = self.issued.walked_at + timedelta(hours=1)
        self.phones = [
            Phone(
                role,
                world.plant.people[role],
                browser_as(world.app, world.store, world.plant, role, world.now),
            )
            for role in ROLES
        ]
        self.typed: dict[tuple[int, int], float] = {}
        self.arrived: dict[tuple[int, int], float] = {}
        self.met: set[str] = set()

    @rule(which=WHICH, rows=st.lists(st.integers(0, ROWS - 1), min_size=1, max_size=4))
    def type(self, which: int, rows: list[int]) -> None:
        for row in rows:
            self._type(which, row)

    def _type(self, which: int, row: int) -> None:
        phone, world = self.phones[which], self.world
        world.value += 1
        world.now += timedelta(seconds=20)
        value = 30.0 + (world.value % 2000) / 100
        shown = (world.now + timedelta(seconds=phone.ahead_s)).isoformat()
        self.typed[which, row] = value
        before = phone.last.get(row)
        if before is not None and before in phone.queue and (self.careless or not before.tried):
            before.value = value
            return
        replaces = [] if before is None else [*before.replaces, before.uid]
        if before is not None and before in phone.queue:
            phone.queue.remove(before)
        made = Waiting(str(uuid.uuid4()), row, value, replaces, shown)
        phone.queue.append(made)
        phone.last[row] = made

    @rule(which=WHICH, faults=st.lists(st.sampled_from(FAULTS), min_size=1, max_size=5))
    def send(self, which: int, faults: list[str]) -> None:
        phone = self.phones[which]
        for fault in faults:
            if phone.online and phone.queue:
                self._send(which, phone, phone.queue[0], fault)

    def _send(self, which: int, phone: Phone, made: Waiting, fault: str) -> None:
        if not made.tried:
            made.tried, made.skew_s = True, phone.ahead_s
        body = self._body(made)
        if fault == "astray":
            phone.astray.append({"uid": made.uid, "body": body})
        if fault in ("lost", "astray"):
            return
        answers = [self._put(phone, made.uid, body) for _ in range(2 if fault == "twice" else 1)]
        assert all(answer.status_code == 201 for answer in answers), answers[-1].text
        assert len({answer.text for answer in answers}) == 1, "the same send was answered differently"
        self._arrive(which, made.row, made.uid, made.value)
        if fault != "no answer":
            phone.queue.remove(made)

    def _body(self, made: Waiting) -> dict[str, Any]:
        body: dict[str, Any] = {
            "row_uid": self.issued.rows[made.row][0], "temperature_c": made.value, "current_a": 90.0,
            "device_time": made.device_time, "skew_s": made.skew_s,
        }  # fmt: skip
        if made.replaces:
            body |= {"replaces": made.replaces, "correction_reason": "corrected on the device"}
        return body

    def _put(self, phone: Phone, uid: str, body: dict[str, Any]) -> Any:
        headers = {"If-None-Match": "*", "Riseline-Person": str(phone.person_id)}
        path = f"/api/v1/rounds/{self.issued.round_id}/readings/{uid}"
        return phone.client.put(path, json=body, headers=headers)

    @rule(which=WHICH, draw=st.randoms(use_true_random=False))
    def what_went_astray_arrives(self, which: int, draw: Any) -> None:
        phone = self.phones[which]
        if not phone.astray:
            return
        late = phone.astray.pop(draw.randrange(len(phone.astray)))
        answer = self._put(phone, late["uid"], late["body"])
        assert answer.status_code in (201, 422), answer.text
        row = next(i for i in range(ROWS) if self.issued.rows[i][0] == late["body"]["row_uid"])
        if answer.status_code == 201:
            self._arrive(which, row, late["uid"], late["body"]["temperature_c"])

    def _arrive(self, which: int, row: int, uid: str, value: float) -> None:
        """A send counts once: again it is only answered as before, whatever has come since."""
        if uid not in self.met:
            self.met.add(uid)
            self.arrived[which, row] = value

    @rule(which=WHICH, online=st.sampled_from([True, True, True, False]))
    def signal(self, which: int, online: bool) -> None:
        self.phones[which].online = online

    @rule(which=WHICH, leap_s=st.sampled_from(LEAPS_S))
    def clock_leaps(self, which: int, leap_s: float) -> None:
        self.phones[which].ahead_s = leap_s

    @invariant()
    def nothing_is_chosen_and_nothing_acknowledged_is_gone(self) -> None:
        if hasattr(self, "issued"):
            current = self._current()
            for (which, row), value in self.arrived.items():
                if not any(made.row == row for made in self.phones[which].queue):
                    source = f"person {self.phones[which].person_id}"
                    assert current.get((source, self.issued.rows[row][2])) == value

    def _current(self) -> dict[tuple[str, int], float]:
        stored = self.phones[1].client.get(f"/api/v1/rounds/{self.issued.round_id}/readings?limit=500").json()
        return {(one["source"], one["point_id"]): one["temperature_c"] for one in stored if one["current"]}

    def teardown(self) -> None:
        if not hasattr(self, "issued"):
            return
        for which, phone in enumerate(self.phones):
            while phone.queue:
                self._send(which, phone, phone.queue[0], "none")
            while phone.astray:
                late = phone.astray.pop()
                self._put(phone, late["uid"], late["body"])
        expected = {
            (f"person {self.phones[which].person_id}", self.issued.rows[row][2]): value
            for (which, row), value in self.typed.items()
        }
        assert self._current() == expected
        doubles = self.phones[1].client.get(f"/api/v1/rounds/{self.issued.round_id}/doubles").json()
        twice = {row for _which, row in self.typed} & {
            row for row in range(ROWS) if all((which, row) in self.typed for which in range(len(ROLES)))
        }
        assert {one["point_id"] for one in doubles} == {self.issued.rows[row][2] for row in twice}
        assert all(one["chosen"] is None for one in doubles)
        assert all(len(one["readings"]) == len(ROLES) for one in doubles)


@contextmanager
def phones(store: Store, *, careless: bool) -> Iterator[type[Phones]]:
    world = World(store, build_plant(store, boards=1, views=1), None, MORNING)
    world.app = open_app(store, lambda: world.now)
    yield type("PhonesHere", (Phones,), {"world": world, "careless": careless})


def _run(store: Store, examples: int, steps: int, *, careless: bool = False) -> None:
    with phones(store, careless=careless) as machine:
        chosen = settings(
            max_examples=examples, stateful_step_count=steps, deadline=None, phases=[Phase.generate], database=None,
            suppress_health_check=list(HealthCheck), print_blob=False,
        )  # fmt: skip
        run_state_machine_as_test(seeded(SEED)(machine), settings=chosen)


def _walk(machine: Phones, draw: Random, steps: int) -> None:
    """One walk by the same rules, each drawn as often as on a bad day: hypothesis alone sends too seldom."""
    machine.morning()
    for _ in range(steps):
        which = draw.randrange(len(ROLES))
        step = draw.choices(("type", "send", "astray", "signal", "leap"), (4, 5, 1, 1, 1))[0]
        if step == "type":
            machine.type(which, [draw.randrange(ROWS) for _ in range(draw.randint(1, 3))])
        elif step == "send":
            machine.send(which, draw.choices(FAULTS, k=draw.randint(1, 4)))
        elif step == "astray":
            machine.what_went_astray_arrives(which, draw)
        elif step == "signal":
            machine.signal(which, draw.random() < 0.75)
        else:
            machine.clock_leaps(which, draw.choice(LEAPS_S))
        machine.nothing_is_chosen_and_nothing_acknowledged_is_gone()
    machine.teardown()


def _walks(store: Store, walks: int, steps: int, *, careless: bool = False) -> None:
    with phones(store, careless=careless) as machine:
        draw = Random(SEED)
        for _ in range(walks):
            _walk(machine(), draw, steps)


def test_phones_and_the_server_agree_with_a_plain_model(store: Store) -> None:
    _run(store, 5, 30)


def test_walks_of_a_bad_day_agree_too(store: Store) -> None:
    _walks(store, 6, 50)


def test_the_harness_sees_a_phone_that_edits_what_has_left_it(store: Store) -> None:
    with pytest.raises(AssertionError):
        _walks(store, 5, 50, careless=True)


@pytest.mark.torture
def test_two_thousand_walks_of_fifty_steps_agree(store: Store) -> None:
    _run(store, 1000, 50)
    _walks(store, 1000, 50)
