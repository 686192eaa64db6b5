"""R1: a kill loses nothing that was acknowledged, doubles nothing and leaves no half round.

A real server process is killed at random instants (1 to 500 ms after it began to serve) and at
named points: before a commit, between commit and reply; on SQLite every life moves its
write-ahead log into the file all the time, so that kills hit that as well. After each kill the
database is compared with a ledger kept outside, then the phones send again. Half of the lives are timed from their first answer. The broken twin
acknowledges before it stores; the harness must see it lose.
"""

import os
import signal
import time
from collections.abc import Iterator
from random import Random
from select import select

import pytest
from sqlalchemy import Connection, text
from sqlalchemy.exc import OperationalError

from service.settings import ROOT
from service.storage.schema import upgrade
from tests.reliability.killing import Bench, Tally, bench, kill_and_look, one_life
from tests.servers import administer, running_server

SEED = 20_261_125
NOTICED_WITHIN_S = 60


def clean(tally: Tally) -> None:
    assert (tally.lost, tally.half, tally.breaches) == (0, 0, []), tally
    assert tally.acknowledged > tally.kills / 4, f"hardly anything was sent: {tally}"


def test_a_killed_server_keeps_what_it_acknowledged(sqlite_url: str) -> None:
    with bench(sqlite_url, seed=SEED) as made:
        clean(kill_and_look(made, 5))


def test_the_harness_sees_a_twin_that_acknowledges_first(sqlite_url: str) -> None:
    with bench(sqlite_url, seed=SEED, twin=True) as made:
        for _ in range(25):
            one_life(made)
            if made.tally.lost:
                break
    assert made.tally.lost > 0


@pytest.mark.postgres
def test_a_killed_server_keeps_it_on_postgres_too(durable_postgres: str) -> None:
    with bench(durable_postgres, seed=SEED) as made:
        clean(kill_and_look(made, 2))


@pytest.mark.postgres
def test_a_killed_backend_loses_nothing(durable_postgres: str) -> None:
    with bench(durable_postgres, seed=SEED) as made:
        clean(kill_and_look(made, 1, kill=kill_a_backend))


@pytest.fixture
def durable_postgres() -> Iterator[str]:
    """A database on a server that flushes as in production."""
    with running_server(durable=True) as server:
        administer(server, "CREATE DATABASE killed")
        base, _, tail = server.partition("?")
        url = f"{base.rsplit('/', 1)[0]}/killed?{tail}".replace("postgresql://", "postgresql+psycopg://")
        upgrade(url, migrations=ROOT / "migrations")
        yield url


def kill_a_backend(made: Bench) -> None:
    """SIGKILL one of the database's own processes: it stops all others and recovers from its log."""
    with made.engine.connect() as connection:
        own = connection.execute(text("SELECT pg_backend_pid()")).scalar_one()
        pids = connection.execute(
            text("SELECT pid FROM pg_stat_activity WHERE datname = current_database() AND pid <> :own"),
            {"own": own},
        ).scalars()
        victims = list(pids)
        if victims:
            os.kill(Random(made.tally.kills).choice(victims), signal.SIGKILL)
            wait_until_noticed(connection)
    if victims:
        wait_until_recovered(made)
    made.tally.kills += 1


def wait_until_noticed(bystander: Connection) -> None:
    """On a busy machine the server still answers for a while; then it ends whoever is connected, and says so."""
    told, _, _ = select([bystander.connection.driver_connection.fileno()], [], [], NOTICED_WITHIN_S)
    assert told, "the database did not notice"
    bystander.invalidate()


def wait_until_recovered(made: Bench) -> None:
    """The others are stopped and the log is replayed; only then can anybody look."""
    made.engine.dispose()
    for _ in range(240):
        try:
            with made.engine.connect() as connection:
                connection.execute(text("SELECT 1"))
                return
        except OperationalError:
            time.sleep(0.25)
    raise AssertionError("the database did not come back within a minute")


@pytest.mark.torture
def test_two_thousand_kills_lose_nothing(sqlite_url: str) -> None:
    with bench(sqlite_url, seed=SEED + 1) as made:
        tally = kill_and_look(made, 2000)
    print(tally)
    clean(tally)


@pytest.mark.torture
@pytest.mark.postgres
def test_two_hundred_kills_lose_nothing_on_postgres(durable_postgres: str) -> None:
    with bench(durable_postgres, seed=SEED + 2) as made:
        kill_and_look(made, 150)
        tally = kill_and_look(made, 50, kill=kill_a_backend)
    print(tally)
    clean(tally)
