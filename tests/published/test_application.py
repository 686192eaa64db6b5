"""How the published bands are applied: rules of the trade, and numbers of our own proposal.

No standard prints these; each row says so. Every rule is walked case by case in
``tests/domain/test_rules_of_judgement.py``; here stand the numbers.
"""

from typing import Any

import numpy as np
import pytest

from service.domain.criteria import Criteria
from service.domain.presets import AIR, PRESETS, RATED_SHARE, TWO_COLUMN
from service.domain.seen import RangeEnd
from service.domain.triggers import RowPoint, trigger
from service.domain.verdicts import Verdict
from service.domain.words import PointKind, ReferenceKind
from service.physics.load import to_common_load
from service.physics.rise import over_like_parts
from tests.domain.views import alone, bearing, judged, phases, seen, view_of
from tests.published.evidence import BY_HAND, PRACTICE, evidence, named

OWN, TRADE = "Own proposal", "Practice of the trade"
SCATTER = "Ordinary scatter of 0.5 K a phase"
TWICE = {"previous_over_first_line": True}
BARE = {"coating": "bare copper"}


def second(*temperatures_c: float, **changes: Any) -> Verdict:
    return judged(phases(*temperatures_c, **changes))[1]


def windy(metres_per_second: float) -> dict[str, Any]:
    return {"weather": {"wind_m_s": metres_per_second}}


@evidence(
    "Healthy phases", "18.6–19.4 K over air of 11.5 °C are 2 by the air column, nothing by us", PRACTICE
)
def test_three_healthy_phases_are_not_called_for_repair() -> None:
    rises_k = (18.6, 19.4, 19.0)
    assert [AIR.level(rise_k) for rise_k in rises_k] == [2, 2, 2]
    verdicts = judged(phases(*(11.5 + rise_k for rise_k in rises_k), weather={"ambient_c": 11.5}))
    assert [verdict.level for verdict in verdicts] == [0, 0, 0]


def healthy_at_common_load(draws: int) -> np.ndarray:
    """Hottest of three healthy phases over the mean of the others, seen at half load [K]."""
    phases_k = np.sort(np.random.default_rng(20_231).normal(0.0, 0.5, (draws, 3)), axis=1)
    measured_k = phases_k[:, 2] - phases_k[:, :2].mean(axis=1)
    return to_common_load(measured_k, 50.0, common_load_a=100.0).rise_k


# K, share of the visits, tolerance; source, clause, kind
PAST = [
    (1.0, 0.83, 0.01, SCATTER, "past 1 K in about 83 % of visits", BY_HAND),
    (3.0, 0.24, 0.01, SCATTER, "past 3 K in about a quarter", BY_HAND),
]


@pytest.mark.parametrize(("line_k", "share", "tolerance"), named(PAST))
def test_healthy_phases_scaled_to_full_load_pass_the_lines(
    line_k: float, share: float, tolerance: float
) -> None:
    assert (healthy_at_common_load(400_000) > line_k).mean() == pytest.approx(share, abs=tolerance)


@evidence("Median of like parts", "30/30/15: the mean would give 7.5, the median 0", BY_HAND)
def test_the_neighbours_of_a_cold_part_are_not_hot() -> None:
    readings_c = np.array([30.0, 30.0, 15.0])
    others_mean_c = (readings_c.sum() - readings_c) / 2
    assert (readings_c - others_mean_c)[:2].tolist() == [7.5, 7.5]
    assert over_like_parts(readings_c).value[:2].tolist() == [0.0, 0.0]


# share %, level; source, clause, kind
SHARES = [
    (share, level, OWN, f"{share:g} % of the rated rise", PRACTICE)
    for share, level in ((69.9, 0), (70, 1), (85, 2), (100, 3), (120, 4))
]


@pytest.mark.parametrize(("share", "level"), named(SHARES))
def test_share_of_the_rated_rise(share: float, level: int) -> None:
    assert RATED_SHARE.level(share) == level


# verdict, what it says; source, clause, kind
RULES = [
    (second(40, 52, 41), {"value_k": 11.0}, OWN, "0: over the median of three", PRACTICE),
    (second(40, 52), {"value_k": 12.0}, OWN, "0: of two, over the cooler", PRACTICE),
    (
        second(40, 52, 40, amps=(90, 100, 110)),
        {"members": (1, 2, 3)},
        OWN,
        "0: like currents, 10 %",
        PRACTICE,
    ),
    (
        second(40, 52, 40, amps=(89, 100, 100)),
        {"members": (2, 3)},
        OWN,
        "0: 11 % is not like",
        PRACTICE,
    ),
    (
        second(40, 50, 40, current_a=50.0),
        {"level": 2, "value_k": 10.0},
        OWN,
        "1: as measured, not at common load",
        PRACTICE,
    ),
    (
        second(65, 66.5, 65, **TWICE),
        {"level": 1, "rule": "1a.2 similar"},
        OWN,
        "2: the similar column decides",
        PRACTICE,
    ),
    (alone(20.0), {"level": None}, OWN, "3: 20 K over air makes no level by itself", PRACTICE),
    (alone(20.1), {"level": 3}, OWN, "3: more than 20 K over air does", PRACTICE),
    (alone(40.1), {"level": 4}, OWN, "3: more than 40 K over air", PRACTICE),
    (
        alone(17.4, baseline_k=14.0),
        {"level": 0, "near_line": False},
        OWN,
        "3: nothing below 2u of the baseline",
        PRACTICE,
    ),
    (second(40, 42, 40), {"level": 0, "near_line": True}, OWN, "4: near the line first", PRACTICE),
    (second(40, 42, 40, **TWICE), {"level": 1}, OWN, "4: on the second visit running", PRACTICE),
    (second(40, 42, 40, u_k=0.78), {"level": 1}, OWN, "4: nine chances in ten, 1.2816·u", PRACTICE),
    (second(40, 42, 40, u_k=0.79), {"level": 0}, OWN, "4: fewer than nine in ten", PRACTICE),
    (second(40, 37, 40), {"cold": False}, OWN, "6: 3 K colder is not yet cold", PRACTICE),
    (second(40, 36.9, 40), {"level": 1, "cold": True}, OWN, "6: more than 3 K colder", PRACTICE),
    (
        second(23, 22.5, 23, amps=(100, 9, 100)),
        {"level": 1, "cold": True},
        OWN,
        "6: less than a tenth of the current",
        PRACTICE,
    ),
    (
        second(40, 21.9),
        {"level": 1, "cold": True},
        OWN,
        "6: of two, below 2 K over air, the other above 10 K",
        PRACTICE,
    ),
    (judged(phases(40, 22))[0], {"level": 4}, OWN, "6: of two, at 2 K over air the hot one", PRACTICE),
    (
        second(22, 22, 22, **BARE),
        {"level": None, "rule": "1a.7 no heat seen"},
        OWN,
        "7: 2 K over air on bare parts",
        PRACTICE,
    ),
    (second(22.1, 22.1, 22.1, **BARE), {"level": 0}, OWN, "7: more than 2 K is heat", PRACTICE),
    (
        second(30, 42, 30, current_a=39.0),
        {"level": 2, "at_least": True},
        TRADE,
        "8: below 40 % load",
        PRACTICE,
    ),
    (
        second(40, 40, 40, **windy(5.1)),
        {"level": None, "clears": False},
        TRADE,
        "8: wind over 5 m/s clears nothing",
        PRACTICE,
    ),
    (
        second(40, 52, 40, **windy(5.1)),
        {"level": 2, "at_least": True},
        TRADE,
        "8: wind over 5 m/s: at least",
        PRACTICE,
    ),
    (
        second(40, 52, 40, **windy(3.0)),
        {"trended": False, "common_k": None},
        TRADE,
        "8: wind of 1–5 m/s: neither scaled nor trended",
        PRACTICE,
    ),
    (
        second(40, 52, 40, range_end=RangeEnd.TOP),
        {"level": 2, "at_least": True},
        TRADE,
        "8: end of the range",
        PRACTICE,
    ),
    (
        second(40, 52, 40, settled=False),
        {"at_least": True, "common_k": None},
        TRADE,
        "8: heat not settled",
        PRACTICE,
    ),
    (
        second(40, 56, 40, emissivity=0.49),
        {"level": 4, "at_least": True},
        OWN,
        "8: ε below .5 over like parts",
        PRACTICE,
    ),
    (alone(45, emissivity=0.49), {"level": 2, "at_least": True}, OWN, "8: ε below .5 over air", PRACTICE),
    (bearing(41.0), {"level": 3}, OWN, "9: over 40 K, not over 80 °C", PRACTICE),
    (bearing(45.1), {"level": 4}, TRADE, "9: over 40 K and over 80 °C", PRACTICE),
    (
        bearing(25.0, hours_since_greased=48.0),
        {"level": 2, "at_least": True},
        OWN,
        "9: capped for 48 h after greasing",
        PRACTICE,
    ),
    (bearing(25.0, hours_since_greased=48.1), {"level": 3}, OWN, "9: after 48 h no more", PRACTICE),
    (
        bearing(46.0, hours_since_greased=24.0),
        {"level": 4},
        OWN,
        "9: no cap past 80 °C",
        PRACTICE,
    ),
    (alone(40.0, kind=PointKind.BEARING), {"level": None}, TRADE, "bearing up to 40 K over air", PRACTICE),
    (alone(40.1, kind=PointKind.BEARING), {"level": 2}, TRADE, "bearing past 40 K over air", PRACTICE),
    (
        alone(65.0, kind=PointKind.TRANSFORMER),
        {"level": None},
        TRADE,
        "transformer up to its 65 K of design",
        PRACTICE,
    ),
    (alone(65.1, kind=PointKind.TRANSFORMER), {"level": 3}, TRADE, "transformer past 65 K", PRACTICE),
    (bearing(10.1), {"level": 2}, TRADE, "10–15 K over own baseline: look into it", PRACTICE),
    (
        bearing(17.0, hours_since_greased=24.0),
        {"level": 2, "trended": False},
        TRADE,
        "fresh grease runs 14–17 K warmer for a day",
        PRACTICE,
    ),
    (bearing(28.1), {"level": 3}, TRADE, "a change past 28 K is always a concern", PRACTICE),
    *(
        (alone(90, kind=kind), {"level": None, "rule": "1a.11 no band"}, OWN, f"11: {kind}", PRACTICE)
        for kind in (PointKind.STEAM_TRAP, PointKind.REFRACTORY, PointKind.PHOTOVOLTAIC)
    ),
    (
        alone(90, kind=PointKind.COUPLING, component="V-belt"),
        {"level": None, "rule": "1a.11 no band"},
        OWN,
        "11: belt, its 60 °C is not shipped",
        PRACTICE,
    ),
    *(
        (
            alone(15.0, kind=kind, current_a=50.0),
            {"trended": True, "common_k": None},
            OWN,
            f"{kind}: as measured, never scaled",
            PRACTICE,
        )
        for kind in (
            PointKind.MOTOR,
            PointKind.BEARING,
            PointKind.COUPLING,
            PointKind.TRANSFORMER,
            PointKind.OTHER,
        )
    ),
    (
        judged(view_of(seen(40), seen(52, point_id=2), seen(40, point_id=3), fan_on_part=True))[1],
        {"trended": False, "common_k": None, "level": 2},
        TRADE,
        "a fan on the part: neither scaled nor trended",
        PRACTICE,
    ),
    (
        second(40, 52, 40, current_measured=False),
        {"trended": False, "common_k": None},
        OWN,
        "current not measured within 15 minutes",
        PRACTICE,
    ),
]


@pytest.mark.parametrize(("verdict", "expected"), named(RULES))
def test_rule(verdict: Verdict, expected: dict[str, Any]) -> None:
    assert {name: getattr(verdict, name) for name in expected} == expected


BELT = "V-belt up to 60 °C"
# criteria as shipped, temperature of the belt °C; source, clause, kind
BELTS = [
    (criteria, belt_c, BELT, f"{name}: no band at {belt_c:g} °C", PRACTICE)
    for name, criteria in PRESETS.items()
    for belt_c in (59.0, 61.0)
]


@pytest.mark.parametrize(("criteria", "belt_c"), named(BELTS))
def test_no_criteria_shipped_hold_a_belt_against_its_60_degrees(criteria: Criteria, belt_c: float) -> None:
    """A figure without a source is left to the site: neither a band nor a limit of ours decides."""
    belt = seen(belt_c, kind=PointKind.COUPLING, component="V-belt", reference=ReferenceKind.AIR)
    found = judged(view_of(belt), criteria)[0]
    assert (found.level, found.rule) == (None, "1a.11 no band")
    for reference in ReferenceKind:
        assert criteria.rule_for(reference, PointKind.COUPLING, component="V-belt").silent
    assert criteria.book.find("V-belt", "", "air") is None


# expected load, figure at it, figure at 40 %; source, clause, kind
TRIGGERS = [
    (1.0, 15, 2, OWN, "trigger of a joint at full load, 15·0.4² = 2.4 rounded down", BY_HAND),
    (0.8, 9, 2, OWN, "trigger of a joint at 80 %, 15·0.8² = 9.6 rounded down", BY_HAND),
]


@pytest.mark.parametrize(("load", "at_expected", "at_least_load"), named(TRIGGERS))
def test_trigger_of_a_sheet_row(load: float, at_expected: int, at_least_load: int) -> None:
    point = RowPoint(kind=PointKind.JOINT, reference=ReferenceKind.LIKE_PARTS, expected_load=load)
    found = trigger(point, TWO_COLUMN)
    assert found is not None
    assert (found.at_expected_load_k, found.at_least_load_k) == (at_expected, at_least_load)
