"""The `riseline` command: serve, migrate, work, and what an operator does by hand."""

import argparse
import getpass
import importlib
import logging
import os
import signal
import socket
import sys
from collections.abc import Sequence
from datetime import timedelta
from ipaddress import ip_address
from pathlib import Path

import uvicorn
from pydantic import ValidationError

from service.app import create_app
from service.domain.people import PersonFields
from service.domain.words import Role
from service.errors import Conflict, Invalid, RiselineError
from service.jobs.worker import Worker
from service.security.addresses import without_secret
from service.settings import ROOT, Settings
from service.storage import jobs
from service.storage.copies import sqlite_file
from service.storage.engine import open_engine, refuse_unsafe_durability
from service.storage.files import FileShelf, Shelf
from service.storage.object_shelf import open_shelf
from service.storage.unit import Store
from service.usecases.condition.all_trends import put_trends, see_progress, stop_trends
from service.usecases.people.accounts import COMMAND, add_person, list_people
from service.usecases.people.demo import DEMO_PASSWORD, demo_sign_ins
from service.usecases.record.back_up import back_up
from service.usecases.record.migrate import migrate, require_newest
from service.usecases.record.verify import verify
from service.usecases.surroundings import system_clock

#: Whole-fleet work and checks may take longer than a page may.
PATIENT_MS = 15 * 60 * 1000
#: How long a stopping server waits for requests in hand.
DRAIN_S = 12
#: How long a due job may wait before nobody can be at work.
LONGEST_WAIT = timedelta(minutes=5)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; 0 when it did what was asked."""
    asked = _parser().parse_args(arguments)
    logging.basicConfig(level=logging.INFO, format="%(levelname)s %(name)s: %(message)s")
    logging.getLogger("alembic").setLevel(logging.WARNING)
    try:
        return int(asked.does(Settings(), asked))
    except Invalid as error:
        _complain(error.message, *(f"  {p.field}: {p.message} {p.remedy}" for p in error.problems))
    except RiselineError as error:
        _complain(error.message, *([error.remedy] if error.remedy else []))
    except ValidationError as error:
        fields = (f"  RISELINE_{'_'.join(map(str, e['loc'])).upper()}: {e['msg']}" for e in error.errors())
        _complain("The settings in the environment are not right:", *fields)
    return 1


def _complain(*lines: str) -> None:
    print(*lines, sep="\n", file=sys.stderr)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="riseline",
        description="Infrared rounds: plan, read, trend, decide. Settings come from RISELINE_… variables.",
    )
    commands = parser.add_subparsers(required=True, metavar="command")

    def command(name: str, does: object, says: str) -> argparse.ArgumentParser:
        added = commands.add_parser(name, help=says, description=says)
        added.set_defaults(does=does)
        return added

    command("serve", _serve, "serve pages and API")
    command("migrate", _migrate, "bring the database to this version (copies an SQLite file first)")
    command("load-demo", _load_demo, "fill an empty database with invented demonstration data")
    command("demo", _demo, "migrate, load the demonstration if it is not there, and serve it")
    works = command("work", _work, "do the work that follows uploads, until stopped; run as many as you like")
    works.add_argument("--check", action="store_true", help="only ask whether jobs are being taken")
    tells = command("trends", _trends, "say how far the trends of all points are told by this version's rule")
    tells.add_argument("--again", action="store_true", help="work out every site again")
    tells.add_argument("--stop", action="store_true", help="take back the sites that nobody has begun")
    adds = command("add-administrator", _add_administrator, "open an administrator's account")
    adds.add_argument("--login", required=True)
    adds.add_argument("--name", required=True)
    adds.add_argument("--email", default="")
    command("verify", _verify, "check that the database is whole and durable")
    copies = command("backup", _backup, "copy the whole database while it is in use")
    copies.add_argument(
        "--to", type=Path, default=ROOT / "var" / "backups", help="a file, or a folder (var/backups)"
    )
    return parser


# ---- serve ---------------------------------------------------------------------------------


def refuse_unsafe_exposure(settings: Settings) -> None:
    """Refuse settings that are only right on one's own machine.

    Raises
    ------
    Conflict
        Demo mode, a database that may lose things, or cookies without TLS, on an address that
        others can reach.
    """
    if is_loopback(settings.host):
        return
    if settings.demo:
        raise Conflict(
            f"Demo mode is for this machine only, not for {settings.host}",
            remedy="Unset RISELINE_DEMO, or serve on 127.0.0.1.",
        )
    if settings.unsafe_database:
        raise Conflict(
            f"A database that may lose what it acknowledged is for tests only, not for {settings.host}",
            remedy="Unset RISELINE_UNSAFE_DATABASE, or serve on 127.0.0.1.",
        )
    if not settings.secure_cookies:
        raise Conflict(
            f"Without RISELINE_SECURE_COOKIES sessions can be read on the way to {settings.host}",
            remedy="Serve over TLS and leave RISELINE_SECURE_COOKIES on.",
        )


def is_loopback(host: str) -> bool:
    """True for an address that only this machine can reach."""
    if host == "localhost":
        return True
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return False


def refuse_known_passwords(settings: Settings, store: Store) -> None:
    """Refuse to serve people's data beside accounts whose passwords everybody knows.

    Raises
    ------
    Conflict
        There are open demonstration accounts, and this is not the demonstration.
    """
    if not settings.demo and demo_sign_ins(store):
        raise Conflict(
            "This database holds demonstration accounts, whose passwords are public",
            remedy="Close them in Set-up, People; or start with a database of your own.",
        )


class _WithoutSecrets(logging.Filter):
    """Takes the secrets of addresses out of the lines of the access log."""

    def filter(self, record: logging.LogRecord) -> bool:
        if isinstance(record.args, tuple):
            record.args = tuple(without_secret(one) if isinstance(one, str) else one for one in record.args)
        return True


class _Server(uvicorn.Server):
    """Tells where it is and how to get in once it answers."""

    announcement = ""

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets=sockets)
        if self.started:
            print(self.announcement, flush=True)


def _serve(settings: Settings, _asked: argparse.Namespace) -> int:
    refuse_unsafe_exposure(settings)
    require_newest(settings.database_url, migrations=settings.migrations)
    store = Store(open_engine(settings.database_url))
    refuse_unsafe_durability(store.engine, allowed=settings.unsafe_database)
    refuse_known_passwords(settings, store)
    config = uvicorn.Config(
        create_app(settings, store=store),
        log_level="warning" if settings.demo else "info",
        server_header=False,
        proxy_headers=not settings.demo,
        timeout_graceful_shutdown=DRAIN_S,
    )
    logging.getLogger("uvicorn.access").addFilter(_WithoutSecrets())
    server = _Server(config)
    server.announcement = _announcement(settings, store)
    with _listening(settings) as listening:
        try:
            if settings.pid_file is not None:
                settings.pid_file.write_text(f"{os.getpid()}\n")
            # uvicorn ends by raising the signal again: this process has its own end to come to.
            for sent in (signal.SIGTERM, signal.SIGINT):
                signal.signal(sent, lambda *_: None)
            server.run(sockets=[listening])
        finally:
            if settings.pid_file is not None:
                settings.pid_file.unlink(missing_ok=True)
            store.engine.dispose()
    return 0 if server.started else 1


def _listening(settings: Settings) -> socket.socket:
    try:
        return socket.create_server(
            (settings.host, settings.port),
            family=socket.AF_INET6 if ":" in settings.host else socket.AF_INET,
            backlog=2048,
        )
    except OSError as error:
        raise Conflict(
            f"Cannot listen on {settings.host} port {settings.port}: {error.strerror}",
            remedy="Is it running already? 'make stop' ends the demo; 'make demo PORT=8322' takes another port.",
        ) from error


def _announcement(settings: Settings, store: Store) -> str:
    host = f"[{settings.host}]" if ":" in settings.host else settings.host
    lines = [f"Riseline answers at http://{host}:{settings.port}"]
    if settings.demo:
        lines.append("Invented demonstration data. Sign in as")
        lines += [
            f"  {person.login:<14} {person.role:<14} {DEMO_PASSWORD}" for person in demo_sign_ins(store)
        ]
        lines.append("Stop it with Ctrl+C or, elsewhere, 'make stop'. 'make demo FRESH=1' starts over.")
    return "\n".join(lines)


# ---- database ------------------------------------------------------------------------------


def _migrate(settings: Settings, _asked: argparse.Namespace) -> int:
    done = migrate(settings.database_url, migrations=settings.migrations, now=system_clock())
    if done.copy is not None:
        print(f"Copied before the change: {done.copy}")
    print(f"Database at revision {done.now}" + ("" if done.changed else " already"))
    store = Store(open_engine(settings.database_url))
    if sites := put_trends(store, now=system_clock()):
        print(f"Trends of {sites} sites are told by an older rule: a worker takes them up.")
    store.engine.dispose()
    return 0


def _trends(settings: Settings, asked: argparse.Namespace) -> int:
    require_newest(settings.database_url, migrations=settings.migrations)
    store = Store(open_engine(settings.database_url))
    if asked.stop:
        print(f"Taken back: {stop_trends(store)} sites.")
    elif asked.again:
        print(f"Put again: {put_trends(store, now=system_clock(), every=True)} sites.")
    print(see_progress(store).sentence)
    store.engine.dispose()
    return 0


def _load_demo(settings: Settings, _asked: argparse.Namespace) -> int:
    if not settings.demo:
        raise Conflict("Demonstration data belong in demo mode only", remedy="Set RISELINE_DEMO=true.")
    refuse_unsafe_exposure(settings)
    require_newest(settings.database_url, migrations=settings.migrations)
    store = Store(open_engine(settings.database_url, statement_timeout_ms=PATIENT_MS))
    try:
        if demo_sign_ins(store):
            print("The demonstration is loaded already; what you did in it is kept.")
            return 0
        if list_people(store, COMMAND, limit=1):
            raise Conflict("There are people in this database", remedy="Load the demo into an empty one.")
        if sqlite_file(settings.database_url) is None:
            _fill(store, settings)
    finally:
        store.engine.dispose()
    if (file := sqlite_file(settings.database_url)) is not None:
        _fill_aside(file, settings)
    return 0


def _demo(settings: Settings, asked: argparse.Namespace) -> int:
    """All three in one process: most of a start is the time that Python takes to read the libraries."""
    return _migrate(settings, asked) or _load_demo(settings, asked) or _serve(settings, asked)


def _fill_aside(file: Path, settings: Settings) -> None:
    """Load into another file first: an interrupted load leaves no half demonstration behind."""
    aside = file.with_name(f"{file.stem}-loading.db")
    for left in aside.parent.glob(f"{aside.name}*"):
        left.unlink()
    migrate(f"sqlite:///{aside}", migrations=settings.migrations, now=system_clock())
    store = Store(open_engine(f"sqlite:///{aside}"))
    _fill(store, settings)
    store.engine.dispose()
    for log in (file.with_name(f"{file.name}-wal"), file.with_name(f"{file.name}-shm")):
        log.unlink(missing_ok=True)
    aside.replace(file)


def _fill(store: Store, settings: Settings) -> None:
    load = importlib.import_module("seed_data.load").load_demo
    load(store, system_clock(), say=print, files=FileShelf(settings.files), pictures=_pictures(settings))
    Worker(store).work_off()


def _pictures(settings: Settings) -> Shelf:
    return open_shelf(settings.files, url=settings.pictures_url, endpoint=settings.pictures_endpoint)


def _verify(settings: Settings, _asked: argparse.Namespace) -> int:
    store = Store(open_engine(settings.database_url, statement_timeout_ms=PATIENT_MS))
    files = FileShelf(settings.files)
    faults = verify(
        store, settings.database_url, migrations=settings.migrations, files=files, shelf=_pictures(settings)
    )
    store.engine.dispose()
    print(*(faults or ["The database is whole and durable."]), sep="\n")
    return 1 if faults else 0


def _backup(settings: Settings, asked: argparse.Namespace) -> int:
    if asked.to.suffix == "":
        asked.to.mkdir(parents=True, exist_ok=True)
    print(back_up(settings.database_url, to=asked.to, now=system_clock()))
    if settings.files.is_dir():
        kept = "rasters and signed sheets" if settings.pictures_url else "rasters, signed sheets and pictures"
        print(f"Copy {settings.files} too: {kept} lie there, and a file there never changes.")
    if settings.pictures_url:
        print(f"Pictures lie in {settings.pictures_url}: let that bucket keep copies of its own.")
    return 0


# ---- people and work -----------------------------------------------------------------------


def _add_administrator(settings: Settings, asked: argparse.Namespace) -> int:
    require_newest(settings.database_url, migrations=settings.migrations)
    store = Store(open_engine(settings.database_url))
    fields = PersonFields(login=asked.login, name=asked.name, role=Role.ADMINISTRATOR, email=asked.email)
    password = getpass.getpass("Password: ") if sys.stdin.isatty() else sys.stdin.readline().rstrip("\n")
    if sys.stdin.isatty() and getpass.getpass("Once more: ") != password:
        raise Conflict("The two are not the same", remedy="Nothing was stored; try again.")
    record = add_person(store, COMMAND, fields, password, now=system_clock())
    store.engine.dispose()
    print(f"{record.person.login} may sign in.")
    return 0


def _work(settings: Settings, asked: argparse.Namespace) -> int:
    require_newest(settings.database_url, migrations=settings.migrations)
    store = Store(open_engine(settings.database_url, statement_timeout_ms=PATIENT_MS))
    if asked.check:
        return _check_work(store)
    refuse_unsafe_durability(store.engine, allowed=settings.unsafe_database)
    worker = Worker(store)
    for sent in (signal.SIGTERM, signal.SIGINT):
        signal.signal(sent, lambda *_: worker.stop())
    print(f"Worker {worker.name} is waiting for jobs.", flush=True)
    worker.run()
    store.engine.dispose()
    return 0


def _check_work(store: Store) -> int:
    now = system_clock()
    with store.look() as unit:
        since = jobs.waiting_since(unit, now=now)
    store.engine.dispose()
    if since is not None and now - since > LONGEST_WAIT:
        print(f"A job has waited since {since:%Y-%m-%d %H:%M:%S} UTC: is a worker running?")
        return 1
    print("Jobs are being taken.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
