"""Severity bands and rises against published standards: one table per source."""

import pytest

from service.domain.bands import BandRule
from service.domain.presets import AIR, BASELINE, NAVY, RELATIVE, SIMILAR, TWO_COLUMN
from service.domain.words import Level
from service.physics.load import share_of_rated_rise
from service.physics.refusals import Refusal
from service.physics.rise import over_air, relative_difference
from tests.domain.views import alone, judged, phases
from tests.published.evidence import BY_HAND, GUARD, MEMORY, PRACTICE, PUBLISHED, evidence, named

NETA_SIMILAR = "ANSI/NETA MTS Table 100.18, similar column"
NETA_AIR = "ANSI/NETA MTS Table 100.18, ambient column"
NAVY_BANDS = "MIL-STD-2194(SH) bands"
MECHANICAL = "Experience-based mechanical bands"
DELTA = "DL/T 664 relative difference"


# column, value, level, source, clause, kind
BANDS = [
    (SIMILAR, 0.99, 0, NETA_SIMILAR, "below 1 K", PUBLISHED),
    (SIMILAR, 1.0, 1, NETA_SIMILAR, "1 K is already possible", PUBLISHED),
    (SIMILAR, 3.0, 1, NETA_SIMILAR, "3.0 K: upper bound belongs to its band", PUBLISHED),
    (SIMILAR, 3.01, 2, NETA_SIMILAR, "3.01 K: the hole 3–4 K goes up", BY_HAND),
    (SIMILAR, 4.0, 2, NETA_SIMILAR, "4 K probable", PUBLISHED),
    (SIMILAR, 14.0, 2, NETA_SIMILAR, "14 K over a similar part", PUBLISHED),
    (SIMILAR, 15.0, 2, NETA_SIMILAR, "15 K is not yet over 15 K", PUBLISHED),
    (SIMILAR, 15.01, 4, NETA_SIMILAR, "over 15 K", PUBLISHED),
    (SIMILAR, 16.0, 4, NETA_SIMILAR, "16 K over a similar part", PUBLISHED),
    (AIR, 0.9, 0, NETA_AIR, "below 1 K", PUBLISHED),
    (AIR, 1.0, 1, NETA_AIR, "1 K possible", PUBLISHED),
    (AIR, 10.0, 1, NETA_AIR, "10 K: upper bound belongs to its band", PUBLISHED),
    (AIR, 10.5, 2, NETA_AIR, "the hole 10–11 K goes up", BY_HAND),
    (AIR, 14.0, 2, NETA_AIR, "14 K over air", PUBLISHED),
    (AIR, 20.0, 2, NETA_AIR, "20 K", PUBLISHED),
    (AIR, 20.5, 3, NETA_AIR, "the hole 20–21 K goes up", BY_HAND),
    (AIR, 30.0, 3, NETA_AIR, "30 K over air", PUBLISHED),
    (AIR, 40.0, 3, NETA_AIR, "40 K is not yet over 40 K", PUBLISHED),
    (AIR, 40.1, 4, NETA_AIR, "over 40 K", PUBLISHED),
    *(
        (NAVY.similar, value, level, NAVY_BANDS, f"{value:g} K", MEMORY)
        for value, level in ((10, 0), (10.1, 1), (25, 1), (26, 2), (40, 2), (41, 3), (70, 3), (71, 4))
    ),
    *(
        (BASELINE, value, level, MECHANICAL, f"{value:g} K over own baseline", PRACTICE)
        for value, level in ((9, 1), (10, 1), (10.1, 2), (20, 2), (20.1, 3), (40, 3), (40.1, 4))
    ),
    *(
        (RELATIVE, value, level, DELTA, f"{value:g} %", MEMORY)
        for value, level in ((34.9, 0), (35, 2), (79, 2), (80, 3), (94, 3), (95, 4))
    ),
]


@pytest.mark.parametrize(("column", "value", "level"), named(BANDS))
def test_band_of_a_value(column: BandRule, value: float, level: int) -> None:
    assert column.level(value) == Level(level)


# over like parts K, level, source, clause, kind
SIMILAR_READ_OFFS = [
    (14.0, 2, NETA_SIMILAR, "14 K similar, read in a view", PUBLISHED),
    (16.0, 4, NETA_SIMILAR, "16 K similar, read in a view", PUBLISHED),
    (3.0, 1, NETA_SIMILAR, "3.0 K similar, read in a view", PUBLISHED),
    (3.01, 2, NETA_SIMILAR, "3.01 K similar, read in a view", BY_HAND),
    (1.0, 1, NETA_SIMILAR, "1 K similar, read in a view", PUBLISHED),
]


@pytest.mark.parametrize(("rise_k", "level"), named(SIMILAR_READ_OFFS))
def test_the_judge_reads_the_similar_column_as_printed(rise_k: float, level: int) -> None:
    hot = judged(phases(45.3, 45.3 + rise_k, 45.3, previous_over_first_line=True))[1]
    assert (hot.level, hot.band, hot.at_least) == (level, level, False)


# over air K, printed band, level of our reading, source, clause, kind
AIR_READ_OFFS = [
    (14.0, 2, None, NETA_AIR, "14 K over air, shown only: no level below 20 K by itself", PUBLISHED),
    (30.0, 3, 3, NETA_AIR, "30 K over air, read alone", PUBLISHED),
    (41.0, 4, 4, NETA_AIR, "41 K over air, read alone", PUBLISHED),
]


@pytest.mark.parametrize(("rise_k", "band", "level"), named(AIR_READ_OFFS))
def test_the_judge_reads_the_ambient_column_as_printed(rise_k: float, band: int, level: int | None) -> None:
    reading = alone(rise_k)
    assert (reading.band, reading.level) == (band, level)


@evidence("ANSI/NETA MTS Table 100.18", "30 K: 3 over air, 4 over a twin", PUBLISHED)
def test_the_two_columns_are_not_interchangeable() -> None:
    assert AIR.level(30.0) == 3
    assert SIMILAR.level(30.0) == 4


@evidence(NETA_SIMILAR, "its name on the band", GUARD)
def test_every_band_prints_its_source_and_how_sure_it_is() -> None:
    hot = judged(phases(45.0, 57.0, 45.0))[1]
    assert hot.published_band == "3 probable: 4–15 K"
    assert "Table 100.18" in hot.source
    assert "[read in the source]" in hot.source


# hot, twin, air °C; expected %, tolerance, source, clause, kind
DELTAS = [
    (60, 40, 25, 57.14, 0.01, DELTA, "(60, 40, 25)", BY_HAND),
    (85, 35, 25, 83.33, 0.01, DELTA, "(85, 35, 25)", BY_HAND),
    (130, 30, 25, 95.24, 0.01, DELTA, "(130, 30, 25)", BY_HAND),
]


@pytest.mark.parametrize(("hot_c", "twin_c", "air_c", "percent", "tolerance"), named(DELTAS))
def test_relative_difference(
    hot_c: float, twin_c: float, air_c: float, percent: float, tolerance: float
) -> None:
    found = relative_difference(hot_c, twin_c, air_c=air_c)
    assert float(found.value) == pytest.approx(percent, abs=tolerance)


# hot, twin, air °C; told, source, clause, kind
TOLD_FROM_10_K = [
    (35, 30, 25, True, DELTA, "a rise of 10 K", PUBLISHED),
    (34.9, 30, 25, False, DELTA, "a rise of 9.9 K is too little", PUBLISHED),
]


@pytest.mark.parametrize(("hot_c", "twin_c", "air_c", "is_told"), named(TOLD_FROM_10_K))
def test_relative_difference_needs_ten_kelvin(
    hot_c: float, twin_c: float, air_c: float, is_told: bool
) -> None:
    found = relative_difference(hot_c, twin_c, air_c=air_c)
    assert (found.refusal == Refusal.NONE) == is_told


# column, rank and band as printed, our levels; source, clause, kind
RANKS = [
    (SIMILAR, "4 possible: 1–3 K", 1, NETA_SIMILAR, "rank 4", PUBLISHED),
    (SIMILAR, "3 probable: 4–15 K", 2, NETA_SIMILAR, "rank 3", PUBLISHED),
    (SIMILAR, "1 serious: over 15 K", 4, NETA_SIMILAR, "rank 1, there is no rank 2", PUBLISHED),
    (AIR, "4 possible: 1–10 K", 1, NETA_AIR, "rank 4", PUBLISHED),
    (AIR, "3 probable: 11–20 K", 2, NETA_AIR, "rank 3", PUBLISHED),
    (AIR, "2 watch until repaired: 21–40 K", 3, NETA_AIR, "rank 2", PUBLISHED),
    (AIR, "1 serious: over 40 K", 4, NETA_AIR, "rank 1", PUBLISHED),
]


@pytest.mark.parametrize(("column", "band", "level"), named(RANKS))
def test_rank_that_is_printed_beside_our_level(column: BandRule, band: str, level: int) -> None:
    assert column.levels[column.bands.index(band)] == level


# rise K, same in °F degrees, source, clause, kind
DIFFERENCES = [
    (15.0, 27.0, "Temperature scales", "15 K = 27 °F, not 59 °F", BY_HAND),
    (50.0, 90.0, "A printed breaker bulletin errs", "50 K = 90 °F, not 122 °F", BY_HAND),
]


@pytest.mark.parametrize(("rise_k", "rise_f"), named(DIFFERENCES))
def test_a_difference_converts_by_nine_fifths_and_nothing_is_added(rise_k: float, rise_f: float) -> None:
    air_f = 77.0
    found = over_air((air_f + rise_f - 32.0) / 1.8, (air_f - 32.0) / 1.8)
    assert float(found.value) == pytest.approx(rise_k, abs=1e-9)


@evidence("Temperature scales", "27 °F over a like part", BY_HAND)
def test_27_fahrenheit_over_a_like_part_is_15_kelvin_and_not_yet_act_now() -> None:
    celsius = [(f - 32.0) / 1.8 for f in (100.0, 127.0, 100.0)]
    assert judged(phases(*celsius))[1].level is Level.PLAN_REPAIR
    celsius[1] = (127.2 - 32.0) / 1.8
    assert judged(phases(*celsius))[1].level is Level.ACT_NOW


@evidence("ΔT/[ΔT_rated·(I/I_r)ⁿ]", "36.6 K, 60 of 100 A, 50 K", BY_HAND)
def test_share_of_rated_rise() -> None:
    found = share_of_rated_rise(36.6, 60.0, rated_current_a=100.0, rated_rise_k=50.0)
    assert float(found.value) == pytest.approx(183.6, abs=0.05)
    reading = alone(36.6, current_a=60.0, rated_current_a=100.0, rated_rise_k=50.0)
    assert reading.share_of_rated == pytest.approx(183.6, abs=0.05)
    assert reading.level is Level.ACT_NOW


# component, coating → °C total / K rise in air, SF6, oil: the whole table
IEC = "IEC 60694 Table 3"
TABLE_3 = {
    ("contact", "bare copper"): ((75, 35), (105, 65), (80, 40)),
    ("contact", "silver"): ((105, 65), (105, 65), (90, 50)),
    ("contact", "nickel"): ((105, 65), (105, 65), (90, 50)),
    ("contact", "tin"): ((90, 50), (90, 50), (90, 50)),
    ("bolted joint", "bare copper"): ((90, 50), (115, 75), (100, 60)),
    ("bolted joint", "bare aluminium"): ((90, 50), (115, 75), (100, 60)),
    ("bolted joint", "silver"): ((115, 75), (115, 75), (100, 60)),
    ("bolted joint", "nickel"): ((115, 75), (115, 75), (100, 60)),
    ("bolted joint", "tin"): ((105, 65), (105, 65), (100, 60)),
    ("external terminal", "bare"): ((90, 50),),
    ("external terminal", "silver"): ((105, 65),),
    ("external terminal", "nickel"): ((105, 65),),
    ("external terminal", "tin"): ((105, 65),),
    ("handle, touched in operation", ""): ((70, 30),),
    ("cover, touchable, not in operation", ""): ((80, 40),),
}
# component, coating, medium; °C total, K rise; source, clause, kind
LIMITS = [
    *(
        (part, coating, medium, total, rise, IEC, f"{part}, {coating or 'any'}, {medium}", PUBLISHED)
        for (part, coating), cells in TABLE_3.items()
        for medium, (total, rise) in zip(("air", "SF6", "oil"), cells, strict=False)
    ),
    ("moving contact", "bare copper", "air", 75, 35, IEC, "moving contact", PUBLISHED),
    ("bolted joint", "silver / bare", "air", 90, 50, IEC, "two coatings: the lower limit", PUBLISHED),
    ("contact", "tin / silver", "oil", 90, 50, IEC, "two coatings with one limit", PUBLISHED),
    ("breaker terminal", "", "air", 90, 50, "UL 489", "terminal at 40 °C of air", PUBLISHED),
    ("100 %-rated terminal", "", "air", 100, 60, "UL 489", "100 %-rated terminal", PUBLISHED),
    ("assembly terminal", "", "air", None, 70, "IEC 61439-1", "Table 6", PUBLISHED),
]


@pytest.mark.parametrize(("component", "coating", "medium", "total_c", "rise_k"), named(LIMITS))
def test_limit_of_a_part(
    component: str, coating: str, medium: str, total_c: float | None, rise_k: float | None
) -> None:
    limit = TWO_COLUMN.book.find(component, coating, medium)
    assert limit is not None
    assert (limit.total_c, limit.rise_k) == (total_c, rise_k)


# total °C, air °C, rise K; source, clause, kind
TRAFO = "Transformers of 65 K design"
RISES = [
    (110.0, 30.0, 65 + 15, TRAFO, "mean air 30 °C, 65 K, hottest spot 15 K: 110 °C", PUBLISHED),
    (220.0, 40.0, 150 + 30, "Dry transformers, class 220", "40 + 150 + 30", PUBLISHED),
    (90.0, 40.0, 50, "UL 489", "terminal 90 °C at 40 °C of air", PUBLISHED),
    (100.0, 40.0, 60, "UL 489", "100 %-rated terminal, 100 °C at 40 °C", PUBLISHED),
]


@pytest.mark.parametrize(("total_c", "air_c", "rise_k"), named(RISES))
def test_total_and_rise_of_a_limit_are_the_same_line(total_c: float, air_c: float, rise_k: float) -> None:
    assert float(over_air(total_c, air_c).value) == rise_k


@evidence(IEC, "total is rise at 40 °C of air in every cell", PUBLISHED)
def test_every_total_of_table_3_is_its_rise_at_40_degrees_of_air() -> None:
    for cells in TABLE_3.values():
        for total_c, rise_k in cells:
            assert float(over_air(total_c, 40.0).value) == rise_k


@evidence(IEC, "every limit shipped", GUARD)
def test_every_limit_that_is_shipped_stands_in_the_table_above() -> None:
    asked = {TWO_COLUMN.book.find(*row[:3]) for row in LIMITS}
    assert asked == set(TWO_COLUMN.limits)


@evidence(IEC, "superseded by IEC 62271-1", PUBLISHED)
def test_iec_60694_is_printed_with_its_edition() -> None:
    limit = TWO_COLUMN.book.find("bolted joint", "bare", "air")
    assert limit is not None
    assert "superseded by IEC 62271-1" in limit.edition
