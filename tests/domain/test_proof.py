"""Proven, not proven, or still waiting: the readings after a repair."""

from datetime import UTC, datetime, timedelta

import pytest

from service.domain.presets import TWO_COLUMN
from service.domain.proof import Proof, ReadAgain, prove
from service.domain.verdicts import Verdict
from service.domain.words import FindingState, PointKind
from tests.domain.views import verdict

REPAIRED_AT = datetime(2026, 3, 2, 14, 0, tzinfo=UTC)
LOAD_OF_FINDING = 0.8


def read(day: float, said: Verdict, upper_common_k: float | None = None) -> ReadAgain:
    return ReadAgain(REPAIRED_AT + timedelta(days=day), said, upper_common_k)


def clean(load: float | None = 0.8) -> Verdict:
    return verdict(0, load_ratio=load)


def proof(*readings: ReadAgain, day: float = 10, load: float | None = LOAD_OF_FINDING) -> Proof:
    return prove(
        readings,
        repaired_at=REPAIRED_AT,
        now=REPAIRED_AT + timedelta(days=day),
        load_of_finding=load,
        kind=PointKind.JOINT,
        criteria=TWO_COLUMN,
    )


@pytest.mark.parametrize(
    ("said", "outcome"),
    [
        (clean(0.8), FindingState.PROVEN),
        (clean(0.72), FindingState.PROVEN),
        (clean(0.71), FindingState.REPAIRED),
        (clean(None), FindingState.REPAIRED),
        (verdict(0, near_line=True, clears=False), FindingState.REPAIRED),
        (verdict(None), FindingState.REPAIRED),
        (verdict(1), FindingState.NOT_PROVEN),
        (verdict(2, at_least=True, load_ratio=0.3), FindingState.NOT_PROVEN),
        (verdict(1, cold=True), FindingState.NOT_PROVEN),
    ],
    ids=[
        "at the load of the finding",
        "at 90 % of it",
        "at less",
        "load not known",
        "near its line does not count as clean",
        "no verdict",
        "accuses",
        "accuses at low load",
        "reads cold",
    ],
)
def test_first_reading_after_the_repair(said: Verdict, outcome: FindingState) -> None:
    assert proof(read(3, said)).outcome is outcome


def test_an_upper_bound_under_the_first_line_proves_at_a_lower_load() -> None:
    assert proof(read(3, clean(0.5), upper_common_k=0.9)).outcome is FindingState.PROVEN
    assert proof(read(3, clean(0.5), upper_common_k=1.0)).outcome is FindingState.REPAIRED


def test_a_part_without_current_needs_no_load() -> None:
    assert proof(read(3, clean(None)), load=None).outcome is FindingState.PROVEN


def test_the_reading_before_the_repair_proves_nothing() -> None:
    assert proof(read(-1, clean())).outcome is FindingState.REPAIRED


def test_a_failed_reading_before_the_clean_one_ends_the_attempt() -> None:
    found = proof(read(9, clean()), read(3, verdict(2)))
    assert found.outcome is FindingState.NOT_PROVEN
    assert found.by == read(3, verdict(2))


def test_the_next_round_confirms_or_reopens() -> None:
    assert not proof(read(3, clean())).confirmed
    assert proof(read(3, clean()), read(9, clean(0.5))).confirmed
    assert not proof(read(3, clean()), read(9, verdict(None))).confirmed
    reopened = proof(read(3, clean()), read(9, verdict(1)))
    assert reopened.outcome is FindingState.NOT_PROVEN


def test_a_visit_near_its_line_neither_confirms_nor_reopens() -> None:
    found = proof(read(3, clean()), read(9, verdict(0, near_line=True, clears=False)))
    assert (found.outcome, found.confirmed) == (FindingState.PROVEN, False)


def test_what_comes_after_the_confirmation_is_another_finding() -> None:
    found = proof(read(3, clean()), read(9, clean()), read(40, verdict(4)), day=50)
    assert (found.outcome, found.confirmed) == (FindingState.PROVEN, True)


@pytest.mark.parametrize(("day", "overdue"), [(30, False), (30.1, True)])
def test_without_a_reading_within_thirty_days_it_is_marked(day: float, overdue: bool) -> None:
    waiting = proof(read(3, clean(0.5)), day=day)
    assert (waiting.outcome, waiting.overdue) == (FindingState.REPAIRED, overdue)
    assert ("none within 30 days" in waiting.sentence) == overdue
    assert "at 72 % load or more" in waiting.sentence
