"""Spot sizes against published and worked examples."""

from typing import Any

import pytest

from service.domain.seen import RangeEnd
from service.physics.cautions import Caution
from service.physics.spot import farthest_m, filling, ifov_mrad, mixed_temperature, spot_mm
from tests.domain.views import judged, phases
from tests.published.evidence import BY_HAND, PRACTICE, PUBLISHED, named

EXAMPLE = "Spot-size example on a page of the trade, 24° over 320 pixels"
INCH_MM = 25.4

# found, expected, tolerance, source, clause, kind
SIZES = [
    (ifov_mrad(24.0, 320), 1.308, 1.5e-3, EXAMPLE, "1.308 mrad (with 17.44 for 17.453)", PUBLISHED),
    (ifov_mrad(24.0, 320), 1.3090, 5e-5, "definition", "24° over 320 pixels, share of the angle", BY_HAND),
    (ifov_mrad(24.0, 320, at_centre=True), 1.3285, 5e-5, "definition", "with the tangent", BY_HAND),
    (spot_mm(1.3090, 240 * 0.0254, pixels=1) / INCH_MM, 0.314, 5e-4, EXAMPLE, "a pixel at 240 in", PUBLISHED),
    (spot_mm(1.3090, 240 * 0.0254) / INCH_MM, 0.94, 5e-3, EXAMPLE, "3×3 pixels at 240 in", PUBLISHED),
    (spot_mm(1.3090, 240 * 0.0254, pixels=1) / INCH_MM, 0.3142, 5e-5, "definition", "240 in", BY_HAND),
    (spot_mm(1.3090, 240 * 0.0254) / INCH_MM, 0.9425, 5e-5, "definition", "3×3 at 240 in", BY_HAND),
    (ifov_mrad(25.0, 160), 2.7271, 5e-5, "definition", "25° over 160 pixels", BY_HAND),
    (spot_mm(2.7271, 3.0, pixels=1), 8.18, 5e-3, "definition", "2.7271 mrad at 3 m", BY_HAND),
    (spot_mm(2.7271, 3.0), 24.54, 5e-3, "definition", "3×3 at 3 m", BY_HAND),
    (farthest_m(2.7271, 10.0), 1.22, 5e-3, "definition", "farthest for 10 mm", BY_HAND),
]


@pytest.mark.parametrize(("found", "expected", "within"), named(SIZES))
def test_size_of_a_spot(found: float, expected: float, within: float) -> None:
    assert float(found) == pytest.approx(expected, abs=within)


# share, reading, source, clause, kind
MIXED = [
    (share, reading, "radiance-mixed, 8–14 µm", f"100 °C before 30 °C, share {share}", BY_HAND)
    for share, reading in ((0.8, 88.30), (0.5, 69.10), (0.25, 51.00), (1.0, 100.0), (0.0, 30.0))
]


@pytest.mark.parametrize(("share", "reading"), named(MIXED))
def test_reading_of_a_part_that_does_not_fill_the_spot(share: float, reading: float) -> None:
    assert float(mixed_temperature(100.0, 30.0, share).value) == pytest.approx(reading, abs=0.01)


# spot, range end; level, at least; source, clause, kind
RANGE = "End of the instrument's range"
NOT_MEASURED = [
    ({"spot_underfilled": True}, 2, True, "three pixels across", "target under 3 pixels", PRACTICE),
    ({"range_end": RangeEnd.TOP}, 2, True, RANGE, "top: at least", PRACTICE),
    ({"range_end": RangeEnd.BOTTOM}, None, False, RANGE, "bottom: no verdict", PRACTICE),
]


@pytest.mark.parametrize(("changes", "level", "at_least"), named(NOT_MEASURED))
def test_a_reading_that_can_only_accuse_is_not_trended(
    changes: dict[str, Any], level: int | None, at_least: bool
) -> None:
    verdict = judged(phases(40, 52, 40, **changes))[1]
    assert (verdict.level, verdict.at_least, verdict.trended) == (level, at_least, False)


# part mm, caution, source, clause, kind
THREE_PIXELS = [
    (24.0, Caution.UNDERFILLED, "three pixels across", "2.93 pixels", PRACTICE),
    (3 * 2.7271 * 3.0, Caution.NONE, "three pixels across", "3 pixels", PRACTICE),
    (30.0, Caution.NONE, "three pixels across", "3.67 pixels", PRACTICE),
]


@pytest.mark.parametrize(("part_mm", "caution"), named(THREE_PIXELS))
def test_a_part_must_fill_three_pixels(part_mm: float, caution: Caution) -> None:
    assert filling(part_mm, 2.7271, 3.0).caution == caution
