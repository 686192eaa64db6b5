"""The device judges as the service does: the same pack, the same typed figures, both asked."""

import json
import random
import shutil
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from service.api.pack_replies import PackReply
from service.storage.engine import open_engine
from service.storage.tables.readings import AssessmentRow, ReadingRow
from service.storage.tables.register import InstrumentRow
from service.storage.tables.rounds import RoundPointRow, RoundRow
from service.storage.unit import Store
from service.usecases.field.pack import read_pack
from tests.browser.conftest import Visitor
from tests.field.device import device, judge_round
from tests.field.random_views import NEXT_ROUND, lay_plant, record_of, typed_of
from tests.readings.builders import Issued, issue
from tests.rounds.builders import change

pytestmark = pytest.mark.browser
Visit = Callable[[str], Visitor]
VIEWS, SEED = 240, 20_261_128
#: figures on the device may differ by so much from the service's [K]
CLOSE_K = 0.1
#: like parts that read the same, but for the last digits of their corrections [K]
SAME_K = 1e-6
#: early visits, to form baselines by, then two that count: by the points' settings, and by the round's
DAYS = tuple(date(2026, 1, 12) + n * NEXT_ROUND for n in range(5))
CALM = 3
HELD = {
    "emissivity": {"value": 0.88, "half_width": 0.04, "standing": "measured"},
    "reflected_c": {"value": 17.0, "half_width": None, "standing": "assumed"},
    "humidity_percent": {"value": 60.0},
    "ambient_c": {"value": 24.0},
    "wind_m_s": {"value": 0.8},
}
REFERENCES = {
    "over like parts": "like parts", "over air": "air", "over its own baseline": "baseline",
    "share of rated rise": "rated share", None: None,
}  # fmt: skip
FIGURES = {
    "surface": ("correctedC", "corrected_c"), "rise": ("riseK", "value_k"), "common": ("commonK", "common_k"),
    "u": ("uK", "u_k"), "u at common load": ("uCommonK", "u_common_k"), "share": ("shareOfRated", "share_of_rated"),
}  # fmt: skip
WORDS = {
    "level": ("level", "level"), "at least": ("atLeast", "at_least"), "near line": ("nearLine", "near_line"),
    "rule": ("rule", "rule"), "band": ("band", "published_band"), "sentence": ("sentence", "sentence"),
    "cold": ("cold", "cold"), "unequal": ("unequal", "unequal_load"),
}  # fmt: skip


@dataclass
class Asked:
    """A round that was brought in, with the pack and the typed figures as its device had them."""

    walk: Issued
    pack: dict[str, Any]
    typed: dict[str, dict[str, Any]]

    def bring(self) -> None:
        """Through the same door as any upload."""
        with self.walk.store.look() as unit:
            serials = dict(unit.session.execute(select(InstrumentRow.id, InstrumentRow.serial)).all())
        at = self.walk.walked_at
        self.walk.bring([record_of(uid, said, at, serials) for uid, said in self.typed.items()])

    def by_service(self) -> dict[str, AssessmentRow]:
        with self.walk.store.look() as unit:
            query = (
                select(RoundPointRow.uid, AssessmentRow)
                .join(ReadingRow, ReadingRow.row_id == RoundPointRow.id)
                .join(AssessmentRow, AssessmentRow.reading_id == ReadingRow.id)
                .where(RoundPointRow.round_id == self.walk.round_id, AssessmentRow.current)
            )
            found = dict(unit.session.execute(query).all())
            unit.session.expunge_all()
            return found

    def compare(self, visit: Visit, **changed: tuple[str, str]) -> "Compared":
        """Ask the device, and hold it beside what the service has stored."""
        around = {"taken_at": self.walk.walked_at.isoformat()}
        by_device = judge_round(device(visit, **changed), self.pack, self.typed, around)
        return Compared.of(self, self.by_service(), by_device)


def ask(walk: Issued, rng: random.Random, *, calm: bool) -> Asked:
    """The pack as the technician gets it, and figures typed at random into its views."""
    read = read_pack(walk.store, walk.technician, walk.round_id, now=walk.walked_at)
    pack = json.loads(PackReply.of(read).model_dump_json(by_alias=True))
    other = max(one["id"] for one in pack["instruments"])
    typed: dict[str, dict[str, Any]] = {}
    for view in (view for stop in pack["stops"] for view in stop["views"]):
        said = typed_of(view, rng, calm=calm)
        if not calm and rng.random() < 0.3:
            said = {uid: one | {"instrument_id": other} for uid, one in said.items()}
        typed |= said
    return Asked(walk, pack, typed)


@dataclass
class Compared:
    """How many points differ in what, and those of them in words whose view holds no tie."""

    points: int
    differ: Counter[str]
    tied: Counter[str]
    told: list[str]
    rules: Counter[str]

    @classmethod
    def of(
        cls, asked: Asked, service: dict[str, AssessmentRow], on_device: dict[str, dict[str, Any]]
    ) -> "Compared":
        found = cls(len(service), Counter(), Counter(), [], Counter(row.rule for row in service.values()))
        assert asked.typed.keys() == service.keys() == on_device.keys()
        for stop in asked.pack["stops"]:
            for view in stop["views"]:
                rows = [point["row_uid"] for point in view["points"]]
                tie = _tied([on_device[uid]["correctedC"] for uid in rows])
                for uid in rows:
                    found._note(service[uid], on_device[uid], tie=tie)
        return found

    def _note(self, row: AssessmentRow, one: dict[str, Any], *, tie: bool) -> None:
        wrong = [
            name for name, (here, there) in FIGURES.items() if apart(one[here], getattr(row, there)) > CLOSE_K
        ]
        wrong += [name for name, (here, there) in WORDS.items() if one[here] != getattr(row, there)]
        wrong += ["reference"] if one["reference"] != REFERENCES[row.reference] else []
        (self.tied if tie else self.differ).update(wrong)
        if wrong and not tie:
            self.told.append(f"{wrong}\n  service: {row.sentence}\n  device:  {one['sentence']}")


def apart(one: float | None, other: float | None) -> float:
    if one is None or other is None:
        return 0.0 if one is other else float("inf")
    return abs(one - other)


def _tied(temperatures_c: list[float | None]) -> bool:
    """Whether it is the last digit's whim which like part makes the reference of a budget.

    Two read the same, or two lie equally far on either side of a third. The rise is the same by
    either; its uncertainty is that of the part that was taken.
    """
    known = sorted(value for value in temperatures_c if value is not None)
    steps = [b - a for a, b in pairwise(known)]
    return any(step < SAME_K for step in steps) or any(abs(b - a) < SAME_K for a, b in pairwise(steps))


@pytest.fixture(scope="module")
def asked(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[Asked]]:
    """Two rounds after three calm ones: the first by the points' settings, the second by its own."""
    path = tmp_path_factory.mktemp("parity") / "riseline.db"
    shutil.copy(sqlite_template, path)
    engine = open_engine(f"sqlite:///{path}")
    store, rng, found = Store(engine), random.Random(SEED), []
    plant = lay_plant(store, views=VIEWS, seed=SEED)
    for number, day in enumerate(DAYS):
        walk = issue(store, plant=plant, day=day)
        if number == len(DAYS) - 1:
            change(store, RoundRow, walk.round_id, settings=HELD)
        found.append(ask(walk, rng, calm=number < CALM))
        found[-1].bring()
    yield found[CALM:]
    engine.dispose()


@pytest.mark.parametrize("place", [0, 1], ids=["by the points' settings", "by the round's settings"])
def test_the_device_says_of_every_reading_what_the_service_says(
    asked: list[Asked], visit: Visit, place: int
) -> None:
    found = asked[place].compare(visit)
    print(f"{VIEWS} views, {found.points} points; differ: {dict(found.differ)}; in ties: {dict(found.tied)}")
    print(dict(found.rules))
    assert found.points > 2 * VIEWS
    assert dict(found.differ) == {}, "\n".join(found.told[:8])
    # a tie moves the uncertainty alone, and with it now and then what is firm
    assert set(found.tied) <= {"u", "u at common load", "level", "rule", "near line", "sentence", "band"}
    assert sum(found.tied.values()) <= 0.02 * found.points
    assert len(found.rules) >= 12


def test_twin_a_device_with_another_load_exponent_is_caught(asked: list[Asked], visit: Visit) -> None:
    wrong = asked[0].compare(visit, draft=("draft.load ** -criteria.exponent", "draft.load ** -2"))
    assert wrong.differ["common"] >= 20


def test_twin_a_device_that_mirrors_nothing_is_caught(asked: list[Asked], visit: Visit) -> None:
    wrong = asked[0].compare(visit, surface=("(leaving - (1 - o.emissivity) * reflected)", "(leaving)"))
    assert wrong.differ["surface"] > 0.1 * wrong.points
