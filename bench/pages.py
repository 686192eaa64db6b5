"""Pages over a million readings: how long they take, the first time and later, and what they ask.

Asked through the whole service in this process by an engineer who is signed in, of the same fleet
on SQLite and on PostgreSQL. Once warm, a page is asked many times over; *first* is the first time
after the service has started (and has shown its sign-in page); *changed* the worst of the first
times after all readings of a site came in anew. *Processor* is this process's own time per
request, which other work on the machine does not lengthen. The number of statements is compared
with a fleet a hundred times smaller: it must not grow.
"""

import gc
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from time import perf_counter, process_time
from typing import Any

import numpy as np
from sqlalchemy import event, func, select, update
from starlette.testclient import TestClient

from bench.fleet.fill import LARGE, SMALL
from bench.fleet.places import FOLDER, has_postgres, on_postgres, on_sqlite, say
from bench.fleet.register import Size
from service.domain.words import Role
from service.storage.engine import open_engine
from service.storage.site_state import bump
from service.storage.tables.people import PersonRow
from service.storage.tables.readings import PointStateRow, ReadingRow
from service.storage.unit import Store
from tests.doors import browser, open_app, session_of

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
WARM_UP, ASKED, STARTS, CHANGES, SEED = 5, 120, 5, 20, 20_264
GOAL_MS = 100
OUT = FOLDER / "pages.json"
#: those with a goal first, then for information
PAGES = (
    "standing", "desk", "point", "point, 2,000 readings",
    "point, every visit", "standing of a site", "equipment", "equipment of a site", "rounds",
)  # fmt: skip
WITH_GOAL = PAGES[:4]

Addresses = dict[str, list[str]]


def addresses(store: Store, size: Size) -> Addresses:
    """Every page with the addresses under which it is asked in turn."""
    with store.look() as unit:
        most = (
            select(ReadingRow.point_id)
            .group_by(ReadingRow.point_id)
            .order_by(func.count().desc(), ReadingRow.point_id)
            .limit(size.logged)
        )
        logged = list(unit.session.scalars(most))
    draw = np.random.default_rng(SEED)
    points = draw.integers(1, size.points + 1, 100).tolist()
    sites = range(1, size.sites + 1)
    return {
        "standing": ["/"],
        "desk": ["/desk"],
        "point": [f"/points/{point}" for point in points if point not in logged],
        "point, 2,000 readings": [f"/points/{point}" for point in logged],
        "point, every visit": [f"/points/{point}?visits=all" for point in logged],
        "standing of a site": [f"/standing/sites/{site}" for site in sites],
        "equipment": ["/equipment"],
        "equipment of a site": [f"/equipment?site={site}" for site in sites],
        "rounds": ["/rounds"],
    }


@contextmanager
def started(url: str) -> Iterator[tuple[Store, TestClient]]:
    """The service as it is just after its start, and an engineer's browser."""
    store = Store(open_engine(url))
    try:
        with store.look() as unit:
            person = unit.session.scalars(
                select(PersonRow.id).where(PersonRow.role == Role.ENGINEER.value)
            ).one()
        client = browser(open_app(store, lambda: NOW), session_of(store, person, NOW))
        ask(client, "/sign-in")
        yield store, client
    finally:
        store.engine.dispose()


def ask(client: TestClient, address: str) -> float:
    """Milliseconds until the whole page is there."""
    begun = perf_counter()
    answer = client.get(address)
    spent = 1000 * (perf_counter() - begun)
    assert answer.status_code == 200, answer.text[:300]
    return spent


@contextmanager
def counted(store: Store) -> Iterator[list[str]]:
    seen: list[str] = []

    def remember(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
        seen.append(statement)

    event.listen(store.engine, "before_cursor_execute", remember)
    try:
        yield seen
    finally:
        event.remove(store.engine, "before_cursor_execute", remember)


def statements(url: str, size: Size) -> dict[str, int]:
    """How many each page asks the first time, which is the most it ever asks."""
    told = {}
    with started(url) as (store, _):
        wanted = addresses(store, size)
    for page in PAGES:
        with started(url) as (store, client), counted(store) as seen:
            ask(client, wanted[page][0])
            told[page] = len(seen)
    return told


def warm(client: TestClient, wanted: list[str]) -> tuple[list[float], float]:
    """Milliseconds of each request, and of this process's time per request."""
    for k in range(WARM_UP):
        ask(client, wanted[k % len(wanted)])
    gc.collect()
    begun = process_time()
    spent = [ask(client, wanted[k % len(wanted)]) for k in range(ASKED)]
    return spent, 1000 * (process_time() - begun) / ASKED


def first(url: str, wanted: Addresses) -> dict[str, float]:
    """The first time after a start, for each page on its own: the middle of some starts."""
    told: dict[str, list[float]] = {page: [] for page in PAGES}
    for k in range(STARTS):
        for page in PAGES:
            with started(url) as (_, client):
                told[page].append(ask(client, wanted[page][k % len(wanted[page])]))
    return {page: float(np.median(spent)) for page, spent in told.items()}


def changed(store: Store, client: TestClient, wanted: Addresses, size: Size) -> dict[str, float]:
    """The worst of the first times after a site's readings came in anew."""
    told: dict[str, list[float]] = {page: [] for page in PAGES}
    for k in range(CHANGES):
        for page in PAGES:
            _read_anew(store, k % size.sites + 1)
            told[page].append(ask(client, wanted[page][k % len(wanted[page])]))
    return {page: max(spent) for page, spent in told.items()}


def _read_anew(store: Store, site_id: int) -> None:
    """What an upload of a whole site leaves behind: all its states written, its version counted on."""
    state = PointStateRow
    with store.begin() as unit:
        bump(unit, [site_id], now=NOW)
        unit.session.execute(
            update(state)
            .where(state.site_id == site_id)
            .values(height_now=5 - state.height_now, data_version=state.data_version + 1)
        )


def measure(url: str, size: Size) -> dict[str, dict[str, float]]:
    with started(url) as (store, client):
        wanted = addresses(store, size)
        spent = {page: warm(client, wanted[page]) for page in PAGES}
        after = changed(store, client, wanted, size)
    start = first(url, wanted)
    return {
        page: {
            "p50": round(float(np.percentile(spent[page][0], 50)), 1),
            "p95": round(float(np.percentile(spent[page][0], 95)), 1),
            "processor": round(spent[page][1], 1),
            "first": round(start[page], 1),
            "changed": round(after[page], 1),
        }
        for page in PAGES
    }


def main() -> dict[str, Any]:
    """Print the table and write var/bench/pages.json."""
    places: list[tuple[str, Callable[[Size], Any]]] = [("sqlite", on_sqlite)]
    if has_postgres():
        places.append(("postgres", on_postgres))
    else:
        say("NO POSTGRESQL HERE: nothing of this was measured on it")
    times: dict[str, dict[str, dict[str, float]]] = {}
    asks: dict[str, dict[str, dict[str, int]]] = {}
    for name, on in places:
        with on(SMALL) as url:
            small = statements(url, SMALL)
        with on(LARGE) as url:
            large = statements(url, LARGE)
            times[name] = measure(url, LARGE)
        asks[name] = {page: {"small": small[page], "large": large[page]} for page in PAGES}
        tell(name, times[name], asks[name])
    figures = {
        "readings": LARGE.readings,
        "points": LARGE.points,
        **{
            f"{figure}_ms": {page: {name: times[name][page][figure] for name in times} for page in PAGES}
            for figure in ("p50", "p95", "processor")
        },
        "first_render_ms": {
            page: {
                name: {"start": times[name][page]["first"], "change": times[name][page]["changed"]}
                for name in times
            }
            for page in PAGES
        },
        "queries": {page: {name: asks[name][page] for name in asks} for page in PAGES},
    }
    OUT.write_text(json.dumps(figures, indent=1) + "\n", encoding="utf-8")
    return figures


def tell(name: str, times: dict[str, dict[str, float]], asks: dict[str, dict[str, int]]) -> None:
    """The table of one database."""
    say(
        f"{name}: {LARGE.readings:,} readings, {LARGE.points:,} points, {LARGE.sites} sites; "
        f"ms, {ASKED} requests a page; statements here and of a fleet 1/100 as large"
    )
    heads = ("p50", "p95", "goal", "processor", "first", "changed", "statements", "of 1/100")
    say(f"{'page':<22}" + "".join(f"{head:>11}" for head in heads))
    for page in PAGES:
        row, goal = times[page], f"≤ {GOAL_MS}" if page in WITH_GOAL else ""
        cells = (
            f"{row['p50']:.1f}", f"{row['p95']:.1f}", goal, f"{row['processor']:.1f}", f"{row['first']:.1f}",
            f"{row['changed']:.1f}", str(asks[page]["large"]), str(asks[page]["small"]),
        )  # fmt: skip
        say(f"{page:<22}" + "".join(f"{cell:>11}" for cell in cells))


if __name__ == "__main__":
    main()
