"""What the device asks, what would settle a view, and what it says beside last time and the trend."""

import random
from collections.abc import Callable
from copy import deepcopy
from typing import Any

import pytest

from service.domain.oddities import OddityCode, PointPast, odd_in_row
from service.storage.unit import Store
from tests.browser.conftest import Visitor
from tests.field.device import device, judge
from tests.field.packs import pack_of, visited

pytestmark = pytest.mark.browser
Visit = Callable[[str], Visitor]
AIR = {"ambient_c": 25.0, "taken_at": "2026-03-09T09:00:00Z"}


@pytest.fixture
def pack(store: Store) -> dict[str, Any]:
    """One view of three joints, twice read at about 36 °C and 90 of 100 A."""
    made = pack_of(visited(store, boards=1, views=1))
    for point in view_of(made)["points"]:
        point["past"] = {"count": 2, "low_c": 36.0, "middle_c": 36.3, "high_c": 36.7}
        point["last"] |= {"temperature_c": 36.0, "current_a": 90.0}
    return made


def view_of(pack: dict[str, Any]) -> dict[str, Any]:
    view: dict[str, Any] = pack["stops"][0]["views"][0]
    return view


def case(
    pack: dict[str, Any],
    temperatures_c: list[float | None],
    amps: list[float | None] | None = None,
    *,
    stop: dict[str, Any] | None = None,
    point: dict[str, Any] | None = None,
    judging: dict[str, Any] | None = None,
    typed: dict[str, Any] | None = None,
    **around: Any,
) -> dict[str, Any]:
    """One view as typed; ``stop``, ``point``, ``judging`` and ``typed`` change what stands there, the last three of the first point."""
    changed = deepcopy(pack)
    changed["stops"][0] |= stop or {}
    first = view_of(changed)["points"][0]
    first |= point or {}
    first["judging"] |= judging or {}
    rows = [one["row_uid"] for one in view_of(changed)["points"]]
    said: dict[str, dict[str, Any]] = {
        uid: {"temperature_c": warm, "current_a": current}
        for uid, warm, current in zip(rows, temperatures_c, amps or [90.0, 91.0, 89.0], strict=True)
    }
    said[rows[0]] |= typed or {}
    return {"pack": changed, "stop": 0, "view": 0, "typed": said, "around": AIR | around}


def asked(told: dict[str, Any], place: int = 0) -> list[tuple[str, str, float | None]]:
    oddities = told["points"][place]["oddities"]
    return [(one["field"], one["question"], one["suggestion"]) for one in oddities]


def test_a_slipped_digit_is_asked_about_with_what_it_may_have_been_and_is_judged_all_the_same(
    pack: dict[str, Any], visit: Visit
) -> None:
    never_read = {"past": None, "last": None}
    tenfold, tenth, fresh, sound = judge(
        device(visit),
        [
            case(pack, [367.0, 36.1, 36.2]),
            case(pack, [3.67, 36.1, 36.2]),
            case(pack, [361.0, 36.1, 36.2], point=never_read),
            case(pack, [48.0, 36.1, 36.2]),
        ],
    )
    assert asked(tenfold) == [("temperature_c", "367 or 36.7 °C?", 36.7)]
    assert tenfold["points"][0]["level"] == 4
    assert asked(tenth)[0] == ("temperature_c", "3.67 or 36.7 °C?", 36.7)
    assert asked(fresh) == [("temperature_c", "361 or 36.1 °C?", 36.1)]
    assert asked(sound) == []


def test_the_device_asks_about_a_slip_where_the_service_would(pack: dict[str, Any], visit: Visit) -> None:
    rng = random.Random(8)
    cases, expected = [], []
    for _ in range(300):
        low = round(rng.uniform(5, 90), 1)
        past = PointPast(3, low, low + 1, low + round(rng.uniform(0, 12), 1), low + 1)
        shown = round(rng.uniform(0, 60) if rng.random() < 0.5 else low * rng.choice((0.1, 10, 0.01, 2)), 2)
        cases.append(case(pack, [shown, 36.1, 36.2], point={"past": _told(past)}))
        slip = [one for one in odd_in_row(_Row(shown), past, rated_current_a=None) if _is_slip(one.code)]
        expected.append(bool(slip))
    found = [any(one[2] is not None for one in asked(told)) for told in judge(device(visit), cases)]
    assert found == expected
    assert 60 < sum(expected) < 240


class _Row:
    ambient_c, current_a = None, None

    def __init__(self, temperature_c: float) -> None:
        self.temperature_c = temperature_c


def _is_slip(code: OddityCode) -> bool:
    return code is OddityCode.DIGIT_SLIP


def _told(past: PointPast) -> dict[str, float]:
    return {name: getattr(past, name) for name in ("count", "low_c", "middle_c", "high_c")}


def test_copied_values_slipped_and_swapped_currents_are_asked_about(
    pack: dict[str, Any], visit: Visit
) -> None:
    copied, slipped, rated, unequal, exchanged, reason = judge(
        device(visit),
        [
            case(pack, [36.0, 36.0, 36.0]),
            case(pack, [36.2, 36.1, 36.2], [9.0, 91.0, 89.0]),
            case(pack, [36.2, 36.1, 36.2], [130.0, 129.0, 128.0], stop={"rated_current_a": 100.0}),
            case(pack, [36.2, 36.1, 36.2], [70.0, 90.0, 89.0]),
            case(pack, [36.2, 36.1, 36.2], ambient_c=41.0),
            case(pack, [None, 36.0, 36.0], typed={"reason": "O"}),
        ],
    )
    assert asked(copied) == [
        ("temperature_c", "All as last time: 36 °C, 36 °C, 36 °C. Read on this visit?", None)
    ]
    assert asked(slipped) == [("current_a", "9 or 90 A?", 90)]
    assert asked(rated) == [("current_a", "130 A is above the rated 100 A: did the meter show it?", None)]
    # 20 A of 90 A apart: 22 %, by hand
    assert asked(unequal) == [
        ("current_a", "Currents 22 % apart (70, 90, 89 A): each at its own phase?", None)
    ]
    assert asked(exchanged) == [
        ("ambient_c", "Air 41 °C over the part's 36.2 °C: are the two exchanged?", None)
    ]
    assert asked(reason) == []


def test_what_is_missing_is_named_as_the_one_measurement_that_would_settle_it(
    pack: dict[str, Any], visit: Visit
) -> None:
    hot: list[float | None] = [44.0, 36.1, 36.2]
    covered = {"two_people": True, "permit": {"state": "asked", "number": "", "from": None, "to": None}}
    granted = covered | {"permit": covered["permit"] | {"state": "granted"}}  # type: ignore[operator]
    warming: dict[str, Any] = {"judging": {"settle_minutes": 12.0}, "typed": {"minutes_at_load": 10.0}}
    amps, low, dull, wait, no_wait, may_wait, two, windy, window = judge(
        device(visit),
        [
            case(pack, hot, [None, None, None]),
            case(pack, hot, [30.0, 30.5, 29.5]),
            case(pack, hot, judging={"emissivity": {"value": 0.45, "half_width": 0.05, "standing": "table"}}),
            case(pack, hot, **warming),
            case(pack, hot, stop=covered, **warming),
            case(pack, hot, stop=granted, **warming),
            case(pack, hot, [None, None, None], wind_m_s=7.0),
            case(pack, hot, wind_m_s=7.0),
            case(pack, hot, typed={"through_window": True}),
        ],
    )
    assert (amps["settle"]["kind"], amps["settle"]["now"]) == ("amps", True)
    assert "qualified person" in amps["settle"]["what"]
    # 40 % of 100 A
    assert low["settle"]["what"].startswith("Read it again at 40 A or more")
    assert (low["settle"]["kind"], low["settle"]["now"]) == ("load", False)
    assert (dull["settle"]["kind"], dull["settle"]["now"]) == ("outage", False)
    assert "isolated and proved dead" in dull["settle"]["what"]
    # three time constants of 12 min, 10 of them gone
    assert wait["settle"]["what"].startswith("Wait 26 min")
    assert no_wait["settle"] is None
    assert may_wait["settle"]["kind"] == "wait"
    assert two["settle"] is None
    assert windy["settle"]["kind"] == "wait"
    assert window["settle"]["kind"] == "window"


def test_a_verdict_between_two_levels_is_settled_by_the_largest_line_of_its_budget(
    pack: dict[str, Any], visit: Visit
) -> None:
    unsure = {"emissivity": {"value": 0.7, "half_width": 0.2, "standing": "table"}}
    near, dull, firm, clear, act = judge(
        device(visit),
        [
            case(pack, [37.3, 36.1, 36.2]),
            case(pack, [49.0, 36.1, 36.2], judging=unsure),
            case(pack, [44.0, 36.1, 36.2]),
            case(pack, [36.3, 36.1, 36.2]),
            case(pack, [60.0, 44.0, 36.2]),
        ],
    )
    assert near["points"][0]["nearLine"]
    assert near["settle"]["why"].startswith("near the line: ")
    assert (dull["settle"]["kind"], dull["settle"]["why"]) == (
        "outage",
        "between two levels: the emissivity weighs most",
    )
    assert [told["settle"] for told in (firm, clear)] == [None, None]
    # never beside an Act now: stop, step back, tell
    assert (act["points"][0]["level"], act["settle"]) == (4, None)


def test_a_reading_is_told_beside_last_time_and_what_its_trend_said(
    pack: dict[str, Any], visit: Visit
) -> None:
    last = pack["stops"][0]["views"][0]["points"][0]["last"] | {
        "reference": "over like parts", "common_k": 6.0, "value_k": 5.0,
    }  # fmt: skip

    def trended(low: float, high: float) -> dict[str, Any]:
        trend = {"word": "rising", "slope_k_month": 0.5, "foretold_on": None, "foretold_k": [low, high]}
        return {"last": last, "trend": trend}

    # 42.2 °C beside 36.1 and 36.2 at 90 of 100 A: 6.0 K over the middle one, x (100/90)^1.8 = 7.25 K
    seen = [42.2, 36.1, 36.2]
    as_said, more, less, untold, other, hidden = judge(
        device(visit),
        [
            case(pack, seen, point=trended(6.0, 8.0)),
            case(pack, seen, point=trended(4.0, 5.4)),
            case(pack, seen, point=trended(9.0, 12.0)),
            case(pack, seen, point={"last": last, "trend": None}),
            case(pack, seen, point={"last": last | {"reference": "over air"}, "trend": None}),
            case(pack, seen, [30.0, 30.0, 30.0], point=trended(6.0, 8.0)),
        ],
    )
    told = [one["points"][0]["trendSentence"] for one in (as_said, more, less, untold, other, hidden)]
    assert told == [
        "1.3 K more than last time, as its trend said.",
        "1.9 K more than its trend said.",
        "1.7 K less than its trend said.",
        "1.3 K more than last time.",
        "",
        "",
    ]
    assert round(as_said["points"][0]["commonK"], 2) == 7.25
    assert (as_said["points"][0]["sentence"], as_said["points"][0]["load"]) == (
        "Plan repair: 6.0 K over its like parts.",
        "load 90 %",
    )


def test_what_was_not_read_yet_says_nothing(pack: dict[str, Any], visit: Visit) -> None:
    (half,) = judge(device(visit), [case(pack, [44.0, None, None])])
    first, second, _third = half["points"]
    assert first["level"] is None
    assert "no like part" in first["sentence"]
    assert (second["sentence"], second["oddities"], second["correctedC"]) == ("", [], None)
