"""Plan, repair, set aside, take up again; tell of an Act now; accept its risk."""

from dataclasses import asdict
from datetime import date, datetime

from service.domain.day_words import day_words
from service.domain.findings import READING_CORRECTED, Finding, FindingFile, check_move
from service.domain.jobs import JobKind
from service.domain.people import Actor
from service.domain.permissions import Verb
from service.domain.words import FindingState, Level
from service.errors import Conflict, Invalid, Problem, Stale
from service.storage import audit, jobs, series_cuts, site_state
from service.storage import finding_subjects as subjects
from service.storage import findings as kept
from service.storage.unit import Store, Unit
from service.usecases.findings.open_finding import FindingFields
from service.usecases.findings.repair_fields import RepairFields
from service.usecases.findings.sight import finding_in_sight


def see_finding(store: Store, actor: Actor, *, finding_id: int) -> FindingFile:
    """A finding with its moves, repairs, tellings and earlier findings of the point."""
    with store.look() as unit:
        file = kept.finding_file(unit, finding_id)
        finding_in_sight(unit, actor, file.finding, Verb.SEE)
    return file


def edit_finding(
    store: Store, actor: Actor, *, finding_id: int, version: int, fields: FindingFields, now: datetime
) -> FindingFile:
    """Change what was typed: owner, due date, work order, cause, interim measure, cost, consequence."""
    problems = fields.problems()
    if problems:
        raise Invalid(problems)
    with store.begin() as unit:
        found = kept.finding(unit, finding_id)
        finding_in_sight(unit, actor, found, Verb.MEND)
        values = asdict(fields)
        values["title"] = fields.title or found.title
        kept.change_finding(unit, finding_id, version=version, now=now, fields=values)
        before = {name: getattr(found, name) for name in values}
        return _done(unit, actor, found, verb="edit", now=now, before=before, after=values)


def plan_repair(
    store: Store,
    actor: Actor,
    *,
    finding_id: int,
    version: int,
    planned_for: date | None,
    work_order: str = "",
    now: datetime,
) -> FindingFile:
    """Open → planned, with the day and the work order.

    Raises
    ------
    Invalid
        No day was given.
    """
    if planned_for is None:
        raise Invalid(
            [Problem("form", "planned_for", "", "A planned repair needs its day.", "Give the day.")]
        )
    fields: dict[str, object] = {"planned_for": planned_for}
    if work_order:
        fields["work_order"] = work_order
    with store.begin() as unit:
        file = _file_to_move(unit, actor, finding_id, version=version)
        note = f"for {day_words(planned_for)}"
        return _move(unit, actor, file.finding, to=FindingState.PLANNED, fields=fields, note=note, now=now)


def record_repair(
    store: Store, actor: Actor, *, finding_id: int, version: int, repair: RepairFields, now: datetime
) -> FindingFile:
    """Mark repaired with as found and as left; the point's series is cut and it wants to be read again.

    Raises
    ------
    Invalid
        The repair lies in the future, as left is blank, or a figure is out of range.
    """
    problems = repair.problems(now)
    if problems:
        raise Invalid(problems)
    with store.begin() as unit:
        found = kept.finding(unit, finding_id)
        finding_in_sight(unit, actor, found, Verb.MEND)
        _refuse_stale(found, version)
        check_move(found.state, FindingState.REPAIRED)
        kept.move_finding(
            unit,
            finding_id,
            to=FindingState.REPAIRED,
            now=now,
            by_person_id=actor.person_id,
            version=version,
            note=repair.as_left,
            fields={"cause": repair.cause or found.cause},
        )
        kept.add_repair(
            unit, finding_id, attempt=found.attempt, recorded_by_id=actor.person_id, **repair.columns()
        )
        if found.point_id is not None:
            series_cuts.cut_series(
                unit,
                found.point_id,
                at=repair.repaired_at,
                reason="replaced" if repair.replaced else "repaired",
                note=repair.as_left[:200],
                finding_id=finding_id,
            )
            # No trend runs across a repair: until the job has seen the cut, the old one is shown.
            jobs.put(unit, JobKind.ASSESS_TRENDS, {"point_ids": [found.point_id]}, now=now)
        return _done(unit, actor, found, verb="repair", now=now, after={"repaired_at": repair.repaired_at})


def set_aside(
    store: Store,
    actor: Actor,
    *,
    finding_id: int,
    version: int,
    reason: str,
    review_on: date | None,
    now: datetime,
) -> FindingFile:
    """Put aside with a reason and the day on which it is looked at again.

    Until that day the point is left out wherever decisions are listed, unless it rises above the
    level that the finding, or the point itself, has now.

    Raises
    ------
    Invalid
        Reason or review day is missing, or the day has passed.
    Conflict
        An Act now is not set aside: its risk is accepted by a manager, or it is repaired.
    """
    problems = []
    if not reason.strip():
        problems.append(Problem("form", "reason", "", "Setting aside needs a reason.", "Say why, in words."))
    if review_on is None or review_on <= now.date():
        problems.append(
            Problem("form", "review_on", str(review_on or ""), "It needs a day to come.", "Give a later day.")
        )
    if problems:
        raise Invalid(problems)
    with store.begin() as unit:
        file = _file_to_move(unit, actor, finding_id, version=version)
        if file.gravest is Level.ACT_NOW and not file.finding.risk_accepted_by:
            raise Conflict(
                "An Act now is not set aside while nobody has accepted its risk.",
                remedy="Tell the named contact, and let a manager accept the risk or plan the repair.",
            )
        return _move(
            unit, actor, file.finding, to=FindingState.SET_ASIDE, note=reason.strip(), now=now,
            fields={"set_aside_reason": reason.strip(), "review_on": review_on, "level": file.gravest},
        )  # fmt: skip


def close_corrected(
    store: Store, actor: Actor, *, finding_id: int, version: int, note: str = "", now: datetime
) -> FindingFile:
    """Set an Act now aside because the reading behind it was wrong; nobody needs to take its risk.

    It keeps its level and whom was told. No review is set, and it covers nothing: at whatever its
    point stands now, that waits for a decision of its own.

    Raises
    ------
    Conflict
        A valid reading says Act now, or none was corrected or judged anew.
    """
    with store.begin() as unit:
        file = _file_to_move(unit, actor, finding_id, version=version)
        back = file.taken_back
        if back is None:
            raise Conflict(
                "No reading behind this finding was corrected so that nothing says Act now any more.",
                remedy="Correct the reading first; or plan the repair, or let a manager accept the risk.",
            )
        reason = ". ".join(word for word in (back.sentence, note.strip().rstrip(".")) if word)
        return _move(
            unit, actor, file.finding, to=FindingState.SET_ASIDE, note=reason, now=now,
            fields={
                "set_aside_reason": reason, "review_on": None, "outcome": READING_CORRECTED, "closed_at": now,
            },
        )  # fmt: skip


def take_up_again(store: Store, actor: Actor, *, finding_id: int, version: int, now: datetime) -> FindingFile:
    """Set aside → open, at the level its point stands at if that is graver now.

    Raises
    ------
    Conflict
        The point has another finding by now.
    """
    with store.begin() as unit:
        file = _file_to_move(unit, actor, finding_id, version=version)
        point_id = file.finding.point_id
        live = None if point_id is None else kept.live_finding_of(unit, point_id)
        if live is not None and live.id != finding_id:
            raise Conflict(
                f"This point has another finding by now ({live.state}).",
                remedy=f"Go on with finding {live.id}.",
            )
        return _move(
            unit, actor, file.finding, to=FindingState.OPEN, note="", now=now,
            fields={"level": file.gravest, "outcome": "", "closed_at": None},
        )  # fmt: skip


def tell(
    store: Store,
    actor: Actor,
    *,
    finding_id: int,
    told_whom: str,
    told_at: datetime,
    answer: str,
    now: datetime,
) -> FindingFile:
    """Keep whom was told of an Act now, when, and what they answered.

    Raises
    ------
    Invalid
        Nobody named, or a time to come.
    """
    problems = []
    if not told_whom.strip():
        problems.append(Problem("form", "told_whom", "", "Whom was told?", "Give the name or the post."))
    if told_at > now:
        problems.append(
            Problem(
                "form", "told_at", told_at.isoformat(), "That time is still to come.", "Give when it was."
            )
        )
    if problems:
        raise Invalid(problems)
    with store.begin() as unit:
        found = kept.finding(unit, finding_id)
        finding_in_sight(unit, actor, found, Verb.OPEN_FINDING)
        kept.add_telling(
            unit,
            finding_id,
            told_whom=told_whom.strip(),
            told_at=told_at,
            answer=answer.strip(),
            by=actor.person_id,
        )
        return _done(
            unit, actor, found, verb="tell", now=now, after={"told_whom": told_whom, "answer": answer}
        )


def accept_risk(
    store: Store, actor: Actor, *, finding_id: int, version: int, note: str, now: datetime
) -> FindingFile:
    """A manager takes the risk of an Act now upon themselves, in writing.

    Raises
    ------
    Conflict
        The finding is not an Act now.
    Invalid
        No word why.
    """
    if not note.strip():
        raise Invalid(
            [Problem("form", "note", "", "Accepting a risk needs its reason.", "Say why and until when.")]
        )
    with store.begin() as unit:
        file = _file_to_move(unit, actor, finding_id, version=version, verb=Verb.ACCEPT_RISK)
        found = file.finding
        if file.gravest is not Level.ACT_NOW or not found.live:
            raise Conflict("Only the risk of an open Act now is accepted.")
        fields = {
            "risk_accepted_by_id": actor.person_id,
            "risk_accepted_at": now,
            "risk_accepted_note": note.strip(),
        }
        kept.change_finding(unit, finding_id, version=version, now=now, fields=fields)
        return _done(unit, actor, found, verb="accept risk", now=now, after={"note": note.strip()})


def _file_to_move(
    unit: Unit, actor: Actor, finding_id: int, *, version: int, verb: Verb = Verb.MEND
) -> FindingFile:
    """The finding with all that a move hangs on, in sight and on the version that was read."""
    file = kept.finding_file(unit, finding_id)
    finding_in_sight(unit, actor, file.finding, verb)
    _refuse_stale(file.finding, version)
    return file


def _move(
    unit: Unit,
    actor: Actor,
    found: Finding,
    *,
    to: FindingState,
    fields: dict[str, object],
    note: str,
    now: datetime,
) -> FindingFile:
    check_move(found.state, to)
    kept.move_finding(
        unit,
        found.id,
        to=to,
        now=now,
        by_person_id=actor.person_id,
        version=found.version,
        note=note,
        fields=fields,
    )
    if found.point_id is not None:
        subjects.point_to_finding(unit, found.point_id, None if to is FindingState.SET_ASIDE else found.id)
    return _done(unit, actor, found, verb=str(to), now=now, after=fields)


def _refuse_stale(found: Finding, version: int) -> None:
    """Before any rule of state: who read an old version learns that first."""
    if found.version != version:
        raise Stale(found.version)


def _done(
    unit: Unit,
    actor: Actor,
    found: Finding,
    *,
    verb: str,
    now: datetime,
    before: dict[str, object] | None = None,
    after: dict[str, object] | None = None,
) -> FindingFile:
    audit.note(
        unit, actor, verb=verb, noun="finding", noun_id=found.id, site_id=found.site_id, now=now, before=before,
        after=after,
    )  # fmt: skip
    site_state.bump(unit, [found.site_id], now=now)
    unit.session.flush()
    return kept.finding_file(unit, found.id)
