"""Import a register from a file: look first, then all or nothing; the same file twice changes nothing."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from service.domain.cells import Sign
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.register import Noun
from service.domain.register_columns import FILED
from service.domain.register_file import FieldChange, NounCount, RegisterFile
from service.errors import Invalid, Problem
from service.intake.collecting import Problems
from service.intake.register import read_register
from service.storage import register, staged_files
from service.storage.unit import Store, Unit
from service.usecases.register.import_plan import Plan, plan_import
from service.usecases.register.import_write import write_import

MOST_SHOWN = 200


@dataclass(frozen=True, slots=True)
class ImportReport:
    """What a file does, or would do, to the register.

    ``counts`` per noun; ``changes`` holds the first of the changed fields; ``problem_count``
    counts also those beyond the thousand told. ``stored`` is true once it was written.
    """

    file_hash: str
    rows: int
    sheets: tuple[str, ...]
    decimal: Sign | None
    decimal_by: str
    counts: Mapping[Noun, NounCount]
    changes: tuple[FieldChange, ...]
    problems: tuple[Problem, ...]
    problem_count: int
    stored: bool = False

    @property
    def new(self) -> int:
        return sum(count.new for count in self.counts.values())

    @property
    def changed(self) -> int:
        return sum(count.changed for count in self.counts.values())

    @property
    def unchanged(self) -> int:
        return sum(count.unchanged for count in self.counts.values())


def preview_import(
    store: Store, actor: Actor, content: bytes, *, decimal: Sign | None = None
) -> ImportReport:
    """Look at a file without storing anything; problems are part of the report.

    Parameters
    ----------
    store : Store
        The register it is compared with.
    actor : Actor
        An engineer; the grants bound what may be written.
    content : bytes
        XLSX or CSV, told apart by content.
    decimal : {".", ","}, optional
        Decimal sign of numbers that are texts, when the file alone does not show it.

    Raises
    ------
    Forbidden
        Not this role's.
    """
    require(actor, Verb.KEEP_REGISTER)
    problems = Problems()
    with store.look() as unit:
        try:
            file, plan = _planned(unit, actor, content, problems, decimal=decimal)
        except Invalid as unreadable:
            problems.take_all(unreadable.problems)
            problems.count += unreadable.total - len(unreadable.problems)
            file = plan = None
    return _report(content, file, plan, problems)


def commit_import(
    store: Store, actor: Actor, content: bytes, *, decimal: Sign | None = None, now: datetime
) -> ImportReport:
    """Store what a file says: everything, or nothing of it.

    Cells left empty leave the register as it is; a single ``-`` empties a field. New things
    without a walking order get the order of the file.

    Parameters
    ----------
    store, actor, content, decimal
        As for `preview_import`.
    now : datetime
        The instant of the request.

    Raises
    ------
    Invalid
        With every problem, each with sheet, row, column, what was found and what to do.
    Forbidden
        Not this role's.
    Conflict
        Somebody registered the same things meanwhile; nothing was stored.
    """
    require(actor, Verb.KEEP_REGISTER)
    problems = Problems()
    with store.begin() as unit:
        file, plan = _planned(unit, actor, content, problems, decimal=decimal)
        problems.refuse()
        assert plan is not None
        report = _report(content, file, plan, problems)
        if plan.changes_anything:
            write_import(unit, actor, plan, file_hash=report.file_hash, now=now)
    return replace(report, stored=True)


def _planned(
    unit: Unit, actor: Actor, content: bytes, problems: Problems, *, decimal: Sign | None
) -> tuple[RegisterFile | None, Plan | None]:
    own = register.page(unit, Noun.CLIENT, sight=register.sight_of(actor), limit=2)
    only = getattr(own[0], "code", "") if len(own) == 1 else ""
    file = read_register(content, problems, client_code=str(only), decimal=decimal)
    return file, None if file is None else plan_import(unit, actor, file, problems)


def _report(content: bytes, file: RegisterFile | None, plan: Plan | None, problems: Problems) -> ImportReport:
    planned = {} if plan is None else plan.planned
    changes = [
        FieldChange(noun, thing.key, name, change.standing.values[name], value)
        for noun, of_noun in planned.items()
        for thing, change, _ in of_noun.changed[:MOST_SHOWN]
        for name, value in change.changes.items()
    ]
    return ImportReport(
        file_hash=hashlib.sha256(content).hexdigest(),
        rows=0 if file is None else file.rows,
        sheets=() if file is None else file.sheets,
        decimal=None if file is None else file.decimal,
        decimal_by="" if file is None else file.decimal_by,
        counts={noun: planned[noun].count if noun in planned else NounCount() for noun in FILED},
        changes=tuple(changes[:MOST_SHOWN]),
        problems=tuple(problems.in_row_order),
        problem_count=problems.count,
    )


def stage_import(store: Store, actor: Actor, *, file_name: str, content: bytes, now: datetime) -> str:
    """Keep a file that was looked at until its sender says yes; the name to ask for it by.

    Raises
    ------
    Forbidden
        Not this role's.
    """
    require(actor, Verb.KEEP_REGISTER)
    with store.begin() as unit:
        return staged_files.stage(
            unit, person_id=actor.person_id, file_name=file_name, content=content, now=now
        )


def staged_import(store: Store, actor: Actor, uid: str, *, now: datetime) -> tuple[str, bytes]:
    """Name and content of a file this person staged.

    Raises
    ------
    NotFound
        No longer here, or another person's.
    Forbidden
        Not this role's.
    """
    require(actor, Verb.KEEP_REGISTER)
    with store.look() as unit:
        return staged_files.staged(unit, uid, person_id=actor.person_id, now=now)
