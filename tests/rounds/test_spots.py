"""At issue: whether the spot of the instrument fits on the smallest part of each view, from where it is read."""

from sqlalchemy import text

from service.domain.spots import MOST_TOLD, Target, spot_warnings, unfilled
from service.storage.unit import Store
from service.usecases.rounds.hold import set_round_settings
from service.usecases.rounds.issue import issue_round, issue_warnings, read_outfit
from tests.rounds.builders import DAY, NOW, Walk, draft

#: 25° over 160 pixels: 2.7271 mrad; 10 mm fill three pixels up to 10 / (3 · 2.7271) = 1.2223 m (by hand)
LENS = 2.7271


def test_a_part_is_told_with_the_distance_up_to_which_it_fills_the_spot() -> None:
    found = unfilled([Target(1, "Board, F1", 10.0, 3.0), Target(2, "Board, F2", 30.0, 3.0)], LENS)
    assert [(one.view, round(one.farthest_m, 4)) for one in found] == [("Board, F1", 1.2223)]
    assert found[0].sentence == (
        "Board, F1: 10 mm read from 3 m; spot not filled beyond 1.2 m with this lens."
    )


def test_a_view_is_told_once_by_its_smallest_part() -> None:
    found = unfilled([Target(1, "F1", 20.0, 3.0), Target(1, "F1", 8.0, 3.0)], LENS)
    assert [one.width_mm for one in found] == [8.0]
    assert found[0].sentence.endswith("spot not filled beyond 0.97 m with this lens.")


def test_what_is_not_known_is_not_made_up() -> None:
    assert unfilled([Target(1, "F1", 1.0, None)], LENS) == []
    assert spot_warnings([], ifov_mrad=None, instrument="Camera 1") == []
    assert "not on record" in spot_warnings([Target(1, "F1", 1.0, 3.0)], ifov_mrad=None, instrument="C")[0]


def test_a_long_list_ends_with_a_count() -> None:
    many = [Target(view, f"F{view}", 5.0, 3.0) for view in range(MOST_TOLD + 3)]
    told = spot_warnings(many, ifov_mrad=LENS, instrument="Camera 1")
    assert len(told) == MOST_TOLD + 2
    assert told[MOST_TOLD] == "3 more views whose distance does not fit."


def warnings_of(store: Store, walk: Walk) -> list[str]:
    with store.look() as unit:
        return [w for w in issue_warnings(read_outfit(unit, walk.round), day=DAY) if "spot" in w]


def test_issuing_tells_it_and_keeps_it_with_the_move(any_store: Store) -> None:
    walk = draft(any_store, views=2)
    with any_store.begin() as unit:
        unit.session.execute(text("UPDATE instruments SET field_of_view_deg = 25, pixels = 160"))
        unit.session.execute(text("UPDATE points SET target_mm = 10, distance_m = 3 WHERE id = 1"))
    told = warnings_of(any_store, walk)
    assert len(told) == 1
    assert "10 mm read from 3 m; spot not filled beyond 1.2 m with this lens." in told[0]
    held = set_round_settings(
        any_store, walk.engineer, walk.round.id, {"distance_m": {"value": 1.0}},
        version=walk.round.version, now=NOW,
    )  # fmt: skip
    walk.round = held.round
    assert warnings_of(any_store, walk) == []
    nearer = set_round_settings(
        any_store, walk.engineer, walk.round.id, {"distance_m": None}, version=held.round.version, now=NOW
    )
    issued = issue_round(any_store, walk.engineer, walk.round.id, version=nearer.round.version, now=NOW)
    assert any("spot not filled beyond 1.2 m" in warning for warning in issued.warnings)
