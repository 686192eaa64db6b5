"""The stories of the demonstration show what they were written to show."""

from collections import Counter
from collections.abc import Callable
from datetime import date, timedelta

import pytest

from seed_data.faults import AGAIN, UNSIGNED
from seed_data.founding import ids_of
from seed_data.people import actors
from seed_data.register_file import register_file
from seed_data.utility import build_utility
from seed_data.world import World, build_world
from service.domain.desk import Waiting
from service.domain.findings import Finding
from service.domain.people import Actor
from service.domain.point_history import PointHistory
from service.domain.register import Noun
from service.domain.words import FindingState, Level, Reason, RoundState, Trend
from service.jobs.worker import Worker
from service.storage.unit import Store
from service.usecases.condition.overview import see_overview
from service.usecases.condition.point_history import see_point_history
from service.usecases.findings.desk import see_desk
from service.usecases.findings.list_findings import list_findings
from service.usecases.findings.move_finding import see_finding
from service.usecases.register.import_register import preview_import
from service.usecases.rounds.browse import list_rounds, read_round
from tests.conftest import NOW

History = Callable[[str], PointHistory]
Findings = tuple[Finding, ...]


@pytest.fixture
def engineer(demo_store: Store) -> Actor:
    return actors(demo_store, ["r.amsel"], now=NOW)["r.amsel"]


@pytest.fixture
def history(demo_store: Store, engineer: Actor) -> History:
    ids = ids_of(demo_store, engineer, Noun.POINT)

    def of(tag: str) -> PointHistory:
        return see_point_history(demo_store, engineer, point_id=ids[tag], now=NOW)

    return of


@pytest.fixture
def findings(demo_store: Store, engineer: Actor) -> Findings:
    return list_findings(demo_store, engineer, limit=500)


def _of(findings: Findings, tag: str) -> list[Finding]:
    return [finding for finding in findings if finding.point_tag == tag]


# ---- levels --------------------------------------------------------------------------------


def test_every_mark_is_on_standing(demo_store: Store, engineer: Actor) -> None:
    overview = see_overview(demo_store, engineer, now=NOW)
    nothing, look, plan, soon, now = overview.levels
    assert now == 2
    assert 1 <= soon <= 3
    assert 5 <= plan <= 12
    assert 8 <= look <= 20
    assert nothing >= 600
    assert 9 <= overview.no_verdict <= 12


@pytest.mark.parametrize(
    ("tag", "level"),
    [
        (AGAIN, Level.PLAN_REPAIR),
        ("SAL-MCC1-F03-L1", Level.ACT_NOW),
        ("RAV-P3-DE", Level.ACT_NOW),
        ("WEN-P4-DE", Level.REPAIR_SOON),
        ("LUT-T1-LV-L2", Level.PLAN_REPAIR),
        ("COL-MCC1-F05-L3", Level.PLAN_REPAIR),
        ("MIL-MCC1-F06-L2", Level.PLAN_REPAIR),
        ("WEN-P2-NDE", Level.LOOK_AGAIN),
        ("GAN-FB1-W1-L3", Level.LOOK_AGAIN),
        ("THO-MCC1-F05-L2", None),
        ("WET-FB1-W2-L1", None),
        ("SAL-P5-DE", None),
    ],
)
def test_story_ends_at_its_level(history: History, tag: str, level: Level | None) -> None:
    assert history(tag).standing.level == level


def test_twelve_kelvin_at_thirty_percent_load_reads_at_least_plan_repair(history: History) -> None:
    seen = history("QUA-MCC1-F02-L2")
    last = seen.visits[-1]
    assert last.value_k == pytest.approx(12.0, abs=1.5)
    assert last.load_ratio == pytest.approx(0.30, abs=0.02)
    assert (seen.standing.level, seen.standing.at_least) == (Level.PLAN_REPAIR, True)
    assert seen.standing.sentence.startswith("At least Plan repair")


def test_blown_fuse_reads_cold_and_its_neighbours_are_not_called_hot(history: History) -> None:
    fuse, *others = (history(f"GAN-FB1-W1-{phase}") for phase in ("L3", "L1", "L2"))
    assert fuse.standing.level is Level.LOOK_AGAIN
    assert "open circuit?" in fuse.standing.sentence
    assert fuse.visits[-1].value_k < -3
    assert [other.visits[-1].level for other in others] == [Level.NOTHING_FOUND] * 2


def test_unequal_currents_are_told_before_a_bad_joint(history: History) -> None:
    assert history("LUT-MCC2-F03-L2").standing.sentence.startswith("Unequal currents")


def test_the_point_of_the_tour_was_mended_and_rises_again(history: History) -> None:
    seen = history(AGAIN)
    assert len(seen.cuts) == 1
    assert [visit.reason for visit in seen.visits if visit.reason] == [Reason.LOCKED]
    assert sum(visit.load_ratio is not None and visit.load_ratio < 0.4 for visit in seen.visits) == 1
    assert seen.standing.trend in (Trend.RISING, Trend.RISING_FASTER)
    assert 0.6 < seen.standing.slope_k_month < 1.4


def test_a_gusty_day_cannot_clear_the_yard(history: History) -> None:
    hidden = [v for v in history("LUT-T1-LV-L1").visits if v.wind_m_s and v.wind_m_s > 5]
    assert [visit.level for visit in hidden] == [None]


def test_reasons_of_every_usual_kind_were_given(demo_world: World) -> None:
    letters = {row.reason for story in demo_world.rounds for row in story.rows if row.reason}
    assert letters >= {reason.value for reason in Reason} - {"W", "X"}


# ---- findings ------------------------------------------------------------------------------


def test_a_repair_that_failed_was_made_again_and_held(
    findings: Findings, demo_store: Store, engineer: Actor
) -> None:
    (finding,) = _of(findings, "SAL-MCC2-F05-L3")
    assert (finding.state, finding.attempt) == (FindingState.PROVEN, 2)
    file = see_finding(demo_store, engineer, finding_id=finding.id)
    assert [repair.outcome for repair in file.repairs] == ["not proven", "proven"]


def test_two_repairs_are_to_be_read_again_and_one_could_not_be_proven_since(
    findings: Findings, demo_world: World
) -> None:
    """The third one's feeder carries less than it did when the finding was made."""
    waiting = {finding.point_tag for finding in findings if finding.state is FindingState.REPAIRED}
    assert waiting == {"RAV-MCC1-F06-L1", "LUT-P2-DE", "COL-MCC1-F07-L1"}
    lately = {repair.fault.tag for repair in demo_world.repairs if repair.on == demo_world.last}
    assert lately == waiting - {"COL-MCC1-F07-L1"}


def test_all_older_repairs_were_proven(findings: Findings, demo_world: World) -> None:
    mended = {repair.fault.tag for repair in demo_world.repairs if repair.on < demo_world.last}
    proven = {finding.point_tag for finding in findings if finding.state is FindingState.PROVEN}
    assert mended - proven == {"COL-MCC1-F07-L1"}
    assert len(proven) >= 12


def test_each_act_now_was_told_and_one_risk_accepted(findings: Findings) -> None:
    grave = [finding for finding in findings if finding.level is Level.ACT_NOW and finding.live]
    assert {finding.point_tag for finding in grave} == {"SAL-MCC1-F03-L1", "RAV-P3-DE"}
    assert all(finding.told and finding.owner and finding.planned_for for finding in grave)
    assert Counter(bool(finding.risk_accepted_by) for finding in grave) == {True: 1, False: 1}


def test_one_finding_is_set_aside_with_its_day(findings: Findings) -> None:
    (aside,) = [finding for finding in findings if finding.state is FindingState.SET_ASIDE]
    assert aside.set_aside_reason
    assert aside.review_on > NOW.date()


def test_the_desk_has_work_of_every_kind_it_should(demo_store: Store, engineer: Actor) -> None:
    waiting = {item.waiting for item in see_desk(demo_store, engineer, now=NOW).items}
    assert waiting >= {
        Waiting.DECIDE,
        Waiting.OVERDUE,
        Waiting.READ_AGAIN,
        Waiting.OFF_ROUND,
        Waiting.DOUBLE,
        Waiting.NO_PERMIT,
        Waiting.SIGN_OFF,
    }
    assert waiting.isdisjoint({Waiting.TELL, Waiting.NOT_PROVEN})


# ---- rounds and readings -------------------------------------------------------------------


def test_rounds_wait_in_every_state(demo_store: Store, engineer: Actor, demo_world: World) -> None:
    rounds = list_rounds(demo_store, engineer, limit=500)
    states = Counter(round_.state for round_ in rounds)
    assert states == {
        RoundState.SIGNED_OFF: len(demo_world.rounds) - 1,
        RoundState.RETURNED: 1,
        RoundState.ISSUED: 1,
        RoundState.DRAFT: 1,
    }
    coming = next(round_ for round_ in rounds if round_.state is RoundState.ISSUED)
    assert NOW.date() < coming.planned_on <= NOW.date() + timedelta(days=10)
    waiting = next(round_ for round_ in rounds if round_.state is RoundState.RETURNED)
    page = read_round(demo_store, engineer, waiting.id, now=NOW)
    names = {site.code: site.name for site in demo_world.sites}
    assert set(page.sites.values()) == {names[UNSIGNED[0]]}


def test_a_correction_keeps_what_was_typed_and_says_why(history: History) -> None:
    for tag in ("SAL-P3-NDE", "WEN-MCC1-F02-L1"):
        replaced = [visit for visit in history(tag).visits if visit.replaced]
        corrected = [visit for visit in history(tag).visits if visit.revision == 2]
        assert (len(replaced), len(corrected)) == (1, 1)
        assert corrected[0].correction_reason
        assert corrected[0].temperature_c != replaced[0].temperature_c


def test_no_job_is_left_waiting(demo_store: Store) -> None:
    assert Worker(demo_store, clock=lambda: NOW).work_off() == 0


def test_the_register_sent_once_more_changes_nothing(demo_store: Store, engineer: Actor) -> None:
    content = register_file(build_utility(), today=NOW.date(), month=10**6)
    report = preview_import(demo_store, engineer, content)
    assert (report.problem_count, report.new, report.changed) == (0, 0, 0)


# ---- the world itself ----------------------------------------------------------------------


def test_the_same_day_gives_the_same_world(demo_world: World) -> None:
    assert build_world(NOW.date()) == demo_world


@pytest.mark.parametrize("today", [date(2026, 1, 1), date(2027, 5, 31), date(2028, 2, 29)])
def test_the_history_ends_at_the_last_month_end_before_loading(today: date) -> None:
    world = build_world(today, sites=("QUA",))
    assert world.last < today <= world.last + timedelta(days=31)
    assert max(story.on for story in world.rounds) <= world.last


def test_loads_are_those_of_the_study(demo_world: World) -> None:
    points = [point for site in demo_world.sites for _, view in site.views() for point in view.points]
    common = {point.tag: point.common_load_a for point in points if point.common_load_a}
    rows = [row for story in demo_world.rounds for row in story.rows if row.amps]
    shares = [row.amps / common[row.tag] for row in rows if row.amps]
    assert sum(shares) / len(shares) == pytest.approx(0.65, abs=0.02)
    assert min(shares) > 0.25
    assert max(shares) < 1.4
