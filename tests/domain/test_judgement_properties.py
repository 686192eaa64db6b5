"""What the judge's answer may not depend on: order, camera offset, units."""

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from service.domain.seen import SeenView
from service.domain.verdicts import Verdict
from tests.domain.views import judged, phases

TENTHS = st.integers(100, 1200).map(lambda n: n / 10)
READINGS = st.lists(TENTHS, min_size=2, max_size=6)
AMPS = st.lists(st.one_of(st.none(), st.integers(0, 200).map(float)), min_size=6, max_size=6)


def said(verdict: Verdict) -> tuple[object, ...]:
    """What the verdict says, whatever its place in the view."""
    return (
        verdict.level,
        verdict.band,
        verdict.at_least,
        verdict.near_line,
        verdict.clears,
        verdict.trended,
        verdict.reference,
        verdict.rule,
        verdict.cold,
        verdict.unequal_load,
    )


def numbers(verdict: Verdict) -> tuple[float | None, ...]:
    rounded = (verdict.value_k, verdict.common_k, verdict.rise_air_k, verdict.load_ratio)
    return tuple(None if value is None else round(value, 4) for value in rounded)


@given(readings=READINGS, amps=AMPS, seed=st.randoms(use_true_random=False))
def test_the_order_of_the_points_does_not_matter(readings, amps, seed) -> None:
    view = phases(*readings, amps=amps)
    mixed = list(view.points)
    seed.shuffle(mixed)
    straight = {v.point_id: said(v) + numbers(v) for v in judged(view)}
    shuffled = {v.point_id: said(v) + numbers(v) for v in judged(replace(view, points=tuple(mixed)))}
    assert straight == shuffled


@given(readings=READINGS, offset_k=st.integers(-200, 200).map(lambda n: n / 10))
def test_an_offset_of_camera_and_air_together_changes_nothing(readings, offset_k) -> None:
    straight = phases(*readings)
    shifted = phases(*(t + offset_k for t in readings), weather={"ambient_c": 20.0 + offset_k})
    assert [said(v) + numbers(v) for v in judged(straight)] == [said(v) + numbers(v) for v in judged(shifted)]


@given(readings=READINGS, amps=AMPS)
def test_fahrenheit_converted_says_the_same_as_celsius(readings, amps) -> None:
    def through_fahrenheit(celsius: float) -> float:
        return ((celsius * 1.8 + 32.0) - 32.0) / 1.8

    straight = phases(*readings, amps=amps)
    converted = phases(*map(through_fahrenheit, readings), amps=amps, weather={"ambient_c": 20.0})
    assert [said(v) for v in judged(straight)] == [said(v) for v in judged(converted)]


@given(readings=READINGS, amps=AMPS)
def test_kiloampere_say_the_same_as_ampere(readings, amps) -> None:
    kilo = [None if a is None else a / 1000.0 for a in amps]
    in_amps = judged(phases(*readings, amps=amps, rated_current_a=120.0, rated_rise_k=50.0))
    in_kilo = judged(phases(*readings, amps=kilo, common_load_a=0.1, rated_current_a=0.12, rated_rise_k=50.0))
    assert [said(v) for v in in_amps] == [said(v) for v in in_kilo]


@given(readings=st.lists(TENTHS, min_size=3, max_size=3), hotter_k=st.integers(0, 500).map(lambda n: n / 10))
def test_a_part_never_reads_milder_for_being_hotter(readings, hotter_k) -> None:
    def level_of(view: SeenView) -> int:
        verdict = judged(view)[1]
        return -1 if verdict.level is None or verdict.cold else int(verdict.level)

    hotter = [readings[0], readings[1] + hotter_k, readings[2]]
    assert level_of(phases(*hotter)) >= level_of(phases(*readings))


@given(readings=READINGS, amps=AMPS)
def test_judging_is_a_pure_function(readings, amps) -> None:
    view = phases(*readings, amps=amps)
    assert judged(view) == judged(view)
