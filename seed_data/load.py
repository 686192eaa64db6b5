"""Load the invented utility into an empty service: five years of rounds, lived through its use cases."""

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import partial
from zoneinfo import ZoneInfo

from seed_data.faults import MONTHS, UNSIGNED, Fault
from seed_data.founding import HILL_RUN_NAME, commission, found_utility, ids_of
from seed_data.hours import say_who_walks
from seed_data.in_turn import ask_the_works, expect_weather, put_in_turn
from seed_data.mending import Decisions
from seed_data.paper import bring_drawing, bring_paper, print_labels
from seed_data.pictures import PICTURED, bring_pictures
from seed_data.rasters import SCENES, bring_scene
from seed_data.utility import CLIENT_NAME, COMMISSIONED, TIME_ZONE
from seed_data.walking import Walk, at
from seed_data.world import RoundStory, World, build_world, month_start
from service.domain.register import Noun
from service.storage.files import FileShelf, Shelf
from service.storage.unit import Store
from service.usecases.plans.start import PlanWish, start_plan
from service.usecases.rounds.plan import RoundWish, plan_round

Say = Callable[[str], object]
#: What is done at a moment of the history, and that moment.
Deed = tuple[datetime, Callable[[datetime], None]]


@dataclass(frozen=True, slots=True)
class Loaded:
    """What a load brought in."""

    rounds: int
    readings: int


def load_demo(
    store: Store,
    now: datetime,
    say: Say = print,
    *,
    files: FileShelf | None = None,
    pictures: Shelf | None = None,
) -> Loaded:
    """Fill an empty database with the invented utility, ending at the last month-end before ``now``.

    Parameters
    ----------
    store : Store
        Migrated and empty.
    now : datetime
        The instant of loading; every date of the story stands relative to it.
    say : callable
        Takes lines for people who wait.
    files : FileShelf, optional
        Where files beside the database are kept; without, no raster is brought.
    pictures : Shelf, optional
        Where pictures are kept; without, none is brought.
    """
    return load_world(store, build_world(_day(now)), now=now, say=say, files=files, pictures=pictures)


def load_world(
    store: Store,
    world: World,
    *,
    now: datetime,
    say: Say = print,
    files: FileShelf | None = None,
    pictures: Shelf | None = None,
) -> Loaded:
    """The same for any world: a shorter one, a noisier one."""
    say(f"{CLIENT_NAME}, an invented utility: people, register and routes")
    return _Load(store, world, now=now, say=say, files=files, pictures=pictures).run()


def _day(now: datetime) -> date:
    return now.astimezone(ZoneInfo(TIME_ZONE)).date()


class _Load:
    """The timeline: every deed of the story at its moment, oldest first."""

    def __init__(
        self,
        store: Store,
        world: World,
        *,
        now: datetime,
        say: Say,
        files: FileShelf | None,
        pictures: Shelf | None,
    ) -> None:
        self._store, self._world, self._now, self._say = store, world, now, say
        self._files, self._pictures = files, pictures
        self._today = _day(now)
        begins = at(world.first - timedelta(days=6), 9)
        self._ground = found_utility(store, world, today=self._today, now=begins)
        faults: dict[str, list[Fault]] = {}
        for fault in world.faults:
            faults.setdefault(fault.tag, []).append(fault)
        self._decisions = Decisions(self._ground, self._points(), faults)
        self._unsigned: Walk | None = None
        self._rounds: Counter[int] = Counter()
        self._readings: Counter[int] = Counter()

    def run(self) -> Loaded:
        year = self._world.first.year
        for moment, deed in sorted(self._deeds(), key=lambda one: one[0]):
            if moment.year > year:
                self._tell_year(year)
                year = moment.year
            deed(moment)
        self._tell_year(year)
        self._close()
        return Loaded(self._rounds.total(), self._readings.total())

    def _points(self) -> dict[str, int]:
        return ids_of(self._store, self._ground.engineer, Noun.POINT)

    def _tell_year(self, year: int) -> None:
        self._say(f"{year}: {self._rounds[year]} rounds, {self._readings[year]:,} readings")

    def _deeds(self) -> Iterator[Deed]:
        for story in self._world.rounds:
            yield from self._of_round(story)
        for repair in self._world.repairs:
            yield at(repair.on - timedelta(days=9), 9), partial(self._decisions.plan, repair)
            yield at(repair.on, 15), partial(self._decisions.mend, repair)
        for month in sorted(set(COMMISSIONED.values())):
            if month > self._world.first_month:
                yield at(month_start(self._world.last, month), 9), self._commission(month)

    def _commission(self, month: int) -> Callable[[datetime], None]:
        def deed(now: datetime) -> None:
            commission(self._ground, self._world, today=self._today, month=month, now=now)
            self._decisions.point_ids = self._points()

        return deed

    def _of_round(self, story: RoundStory) -> Iterator[Deed]:
        walk = Walk(self._ground, story)

        def returned(now: datetime) -> None:
            walk.bring_back(now)
            self._rounds[story.on.year] += 1
            self._readings[story.on.year] += sum(upload.rows_new for upload in walk.uploads)
            self._decisions.tell_at_once(walk, now)

        def signed(now: datetime) -> None:
            walk.sign_off(now)
            self._decisions.after_sign_off(walk, now)

        def corrected(now: datetime) -> None:
            walk.correct(self._decisions.point_ids, now)

        days = timedelta(days=1)
        yield at(story.on - 5 * days, 10, 20), walk.plan
        yield at(story.on, 6, 50), walk.issue
        yield at(story.on, 15, 40), returned
        yield at(story.on, 16, 10), walk.close_permits
        if (story.site, story.month) == UNSIGNED:
            self._unsigned = walk
        else:
            yield at(story.on + 2 * days, 11), signed
            if any(row.odd == "slip" for row in story.rows):
                yield at(story.on + 3 * days, 9), corrected

    def _close(self) -> None:
        """At the month-end the findings are put in order; then the rounds to come."""
        self._decisions.look_ahead(self._world.last, at(self._world.last, 16))
        self._bring_rasters(at(self._world.last, 16, 20))
        self._bring_pictures(at(self._world.last, 16, 30))
        self._bring_paper(at(self._world.last, 16, 40))
        now = min(self._now, at(self._today, 6))
        say_who_walks(self._ground, today=self._today, now=now)
        monday = self._today + timedelta(days=(7 - self._today.weekday()))
        if monday - self._today < timedelta(days=3):
            monday += timedelta(days=7)
        code = self._world.sites[0].code
        coming = Walk(
            self._ground,
            RoundStory(code, MONTHS, monday, "a.quill", "", ()),
        )
        put_in_turn(self._ground, now=now)
        coming.plan(now)
        ask_the_works(self._ground, coming.required, now=now)
        coming.issue(now)
        for route_id in self._ground.hill_run:
            wish = RoundWish(
                name=HILL_RUN_NAME,
                planned_on=monday + timedelta(days=8),
                start_min=8 * 60,
                route_id=route_id,
            )
            plan_round(self._store, self._ground.engineer, wish, now=now)
        self._plan_next_month(now)
        self._ground.worker(now).work_off()

    def _plan_next_month(self, now: datetime) -> None:
        """A plan for the engineer to change by hand; the worker draws it up with the rest of its jobs."""
        month = (self._today.replace(day=1) + timedelta(days=32)).replace(day=1)
        wish = PlanWish(f"Rounds of {month:%B %Y}", month, tuple(self._ground.site_ids.values()))
        expect_weather(self._ground, month, now=now)
        start_plan(self._store, self._ground.engineer, wish, now=now)

    def _bring_rasters(self, now: datetime) -> None:
        if self._files is None:
            return
        for tag, name in SCENES.items():
            if point_id := self._decisions.point_ids.get(tag):
                bring_scene(
                    self._store,
                    self._ground.engineer,
                    files=self._files,
                    point_id=point_id,
                    name=name,
                    now=now,
                )

    def _bring_pictures(self, now: datetime) -> None:
        if self._pictures is None:
            return
        for tag, visits in PICTURED.items():
            if point_id := self._decisions.point_ids.get(tag):
                bring_pictures(
                    self._store,
                    self._ground.engineer,
                    shelf=self._pictures,
                    point_id=point_id,
                    tag=tag,
                    visits=visits,
                    now=now,
                )

    def _bring_paper(self, now: datetime) -> None:
        """Beside the round that waits for its signature: its paper, a question, labels, a drawing."""
        if self._unsigned is None:
            return
        print_labels(self._unsigned, now=now)
        if self._files is not None:
            bring_paper(self._unsigned, files=self._files, now=now)
        if self._pictures is not None:
            bring_drawing(self._unsigned, shelf=self._pictures, now=now)
