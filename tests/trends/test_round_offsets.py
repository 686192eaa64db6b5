"""What a round shares is taken away; what a point does by itself is not."""

import numpy as np
import pytest

from service.trends.offsets import CAP_K, LEAST_MEMBERS, Readings, level_rounds, site_scales

ROUNDS = 10


def walked(points: int = 12, *, seed: int = 1, scatter_k: float = 0.3, load: float = 1.0) -> Readings:
    """One site whose points are all read on every round."""
    rng = np.random.default_rng(seed)
    point, group = np.divmod(np.arange(points * ROUNDS), ROUNDS)
    own = rng.uniform(3, 20, points)[point]
    return Readings(
        point=point,
        group=group,
        episode=np.zeros(len(point), dtype=np.int64),
        rise_k=own + rng.normal(0, scatter_k, len(point)),
        u_own_k=np.full(len(point), scatter_k),
        u_shared_k=np.ones(len(point)),
        load=np.full(len(point), load),
        site=np.zeros(ROUNDS, dtype=np.int64),
        order=np.arange(ROUNDS),
    )


def shifted(readings: Readings, group: int, by_k: float) -> Readings:
    """A camera's bad day: so many kelvin as measured on one round."""
    fields = {name: getattr(readings, name) for name in Readings.__slots__}
    moved = readings.rise_k + np.where(readings.group == group, by_k * readings.load**-1.8, 0)
    return Readings(**(fields | {"rise_k": moved}))


@pytest.mark.parametrize("load", [1.0, 0.6])
def test_a_bad_day_of_the_camera_is_found_and_taken_away(load):
    readings = walked(load=load)
    found = level_rounds(shifted(readings, 6, 2.5))
    assert found.offset[6] == pytest.approx(2.5, abs=0.5)
    there = readings.group == 6
    assert np.abs(found.rise_k - readings.rise_k)[there].max() < 0.6 * load**-1.8


def test_a_round_too_small_says_so_and_is_left_alone():
    readings = shifted(walked(points=LEAST_MEMBERS - 1), 6, 2.5)
    found = level_rounds(readings)
    assert np.isnan(found.offset).all()
    np.testing.assert_array_equal(found.rise_k, readings.rise_k)
    assert found.u_k[0] == pytest.approx(np.hypot(0.3, 1.0))


def test_the_first_round_has_nothing_to_be_compared_with():
    found = level_rounds(walked())
    assert np.isnan(found.offset[0])
    assert list(found.members) == [0] + [12] * (ROUNDS - 1)


def test_one_point_that_rises_alone_keeps_its_rise():
    readings = walked()
    alone = readings.rise_k + np.where((readings.point == 3) & (readings.group >= 5), 9.0, 0.0)
    fields = {name: getattr(readings, name) for name in Readings.__slots__}
    found = level_rounds(Readings(**(fields | {"rise_k": alone})))
    there = (readings.point == 3) & (readings.group == 9)
    assert found.rise_k[there] == pytest.approx(alone[there], abs=0.5)


def test_an_offset_is_never_more_than_its_cap():
    found = level_rounds(shifted(walked(), 6, 30.0))
    assert found.offset[6] == CAP_K


def test_what_happens_later_changes_nothing_before():
    readings, later = walked(), shifted(walked(), 8, 3.0)
    before = readings.group < 8
    np.testing.assert_array_equal(level_rounds(readings).rise_k[before], level_rounds(later).rise_k[before])


def test_a_repair_begins_another_comparison():
    readings = walked()
    fields = {name: getattr(readings, name) for name in Readings.__slots__}
    mended = (readings.point == 0) & (readings.group >= 5)
    fields["rise_k"] = readings.rise_k - np.where(mended, 15.0, 0)
    fields["episode"] = mended.astype(np.int64)
    found = level_rounds(Readings(**fields))
    assert np.isnan(found.z[(readings.point == 0) & (readings.group == 5)]).all()
    assert np.nanmax(np.abs(found.z)) < 6


def test_a_share_is_taken_away_where_the_offset_is_one():
    readings = walked()
    warm = readings.rise_k * np.where(readings.group == 6, 1.1, 1.0)
    fields = {name: getattr(readings, name) for name in Readings.__slots__}
    found = level_rounds(Readings(**(fields | {"rise_k": warm})), log=True)
    assert found.offset[6] == pytest.approx(np.log(1.1), abs=0.03)


def test_the_order_of_the_readings_does_not_matter():
    readings = walked()
    shuffled = np.random.default_rng(2).permutation(len(readings.point))
    fields = {name: getattr(readings, name) for name in ("site", "order")}
    mixed = {
        name: getattr(readings, name)[shuffled]
        for name in ("point", "group", "episode", "rise_k", "u_own_k", "u_shared_k", "load")
    }
    np.testing.assert_array_equal(
        level_rounds(readings).rise_k[shuffled], level_rounds(Readings(**mixed, **fields)).rise_k
    )


@pytest.mark.parametrize(("stated", "scale"), [(1.0, 1.0), (0.5, 2.0), (2.0, 0.5)])
def test_a_site_that_misjudges_its_uncertainty_is_put_right(stated, scale):
    readings = walked(points=60, scatter_k=1.0, seed=4)
    fields = {name: getattr(readings, name) for name in Readings.__slots__}
    fields |= {"u_own_k": np.full(600, stated), "u_shared_k": np.zeros(600)}
    told = Readings(**fields)
    found = site_scales(level_rounds(told, remove=False), told)
    assert found[-1] == pytest.approx(scale, rel=0.12)


def test_with_few_readings_the_scale_stays_one():
    readings = walked(points=2)
    each = site_scales(level_rounds(readings), readings, each_round=True)
    assert list(each[:2]) == [1.0, 1.0]
