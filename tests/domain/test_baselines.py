"""The baseline of a point: median of its first three clearing visits since the repair."""

import pytest

from service.domain.baselines import baseline_k, baseline_share_k
from service.domain.presets import TWO_COLUMN
from service.domain.words import PointKind
from tests.domain.views import alone, bearing


@pytest.mark.parametrize(
    ("shares", "expected"), [((), None), ((10.0, 12.0), None), ((10.0, 30.0, 12.0, 50.0), 12.0)]
)
def test_median_of_the_first_three(shares: tuple[float, ...], expected: float | None) -> None:
    assert baseline_k(shares, TWO_COLUMN) == expected


def test_a_visit_counts_while_the_baseline_is_forming() -> None:
    first = alone(10.0, current_a=50.0)
    assert first.level is None
    share = baseline_share_k(first, PointKind.JOINT, criteria=TWO_COLUMN)
    assert share == pytest.approx(34.82, abs=0.01)


def test_kinds_that_are_never_scaled_count_as_measured() -> None:
    visit = alone(18.0, kind=PointKind.MOTOR, current_a=50.0)
    assert baseline_share_k(visit, PointKind.MOTOR, criteria=TWO_COLUMN) == 18.0


@pytest.mark.parametrize(
    ("kind", "verdict"),
    [
        (PointKind.JOINT, alone(10.0, current_a=30.0)),
        (PointKind.JOINT, alone(10.0, current_a=None)),
        (PointKind.JOINT, alone(10.0, weather={"wind_m_s": 3.0})),
        (PointKind.JOINT, alone(30.0)),
        (PointKind.BEARING, bearing(25.0)),
        (PointKind.BEARING, bearing(1.0, hours_since_greased=5.0)),
    ],
    ids=["low load", "load not known", "wind", "accuses", "hot bearing", "fresh grease"],
)
def test_what_hid_or_accused_is_no_baseline(kind: PointKind, verdict) -> None:
    assert baseline_share_k(verdict, kind, criteria=TWO_COLUMN) is None


def test_three_first_visits_make_later_ones_clear() -> None:
    shares = [
        baseline_share_k(alone(rise, kind=PointKind.MOTOR), PointKind.MOTOR, criteria=TWO_COLUMN)
        for rise in (40.0, 41.0, 43.0)
    ]
    base = baseline_k([share for share in shares if share is not None], TWO_COLUMN)
    assert base == 41.0
    assert alone(42.0, kind=PointKind.MOTOR, baseline_k=base).clears
