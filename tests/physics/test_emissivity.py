"""The table of emissivities hangs together."""

import re

import pytest

from service.physics.emissivity import SOURCES, TABLE, SurfaceRow, Use, surface_row
from service.physics.optics import COMPARISON_EMISSIVITY, INDICATIVE_EMISSIVITY

BY_KEY = pytest.mark.parametrize("row", TABLE, ids=lambda row: row.key)


@BY_KEY
def test_a_row_is_found_by_a_lasting_name(row: SurfaceRow) -> None:
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", row.key)
    assert surface_row(row.key) is row


def test_no_two_rows_share_a_name_and_no_two_sources_either() -> None:
    assert len({row.key for row in TABLE}) == len(TABLE)
    assert len({row.surface for row in TABLE}) == len(TABLE)
    assert {source for row in TABLE for source in row.sources} == set(SOURCES)
    assert len({source.key for source in SOURCES}) == len(SOURCES)


@BY_KEY
def test_a_value_has_a_source_and_lies_within_what_its_sources_print(row: SurfaceRow) -> None:
    assert (row.low is None) == (row.high is None) == (not row.sources)
    if row.low is not None and row.high is not None:
        assert 0 < row.low <= row.high < 1
        printed = [float(number) for number in re.findall(r"\.\d+", row.printed)]
        assert (min(printed), max(printed)) == (row.low, row.high)
        if row.default is not None:
            assert row.low <= row.default <= row.high


@BY_KEY
def test_a_row_without_a_value_says_what_to_do(row: SurfaceRow) -> None:
    assert bool(row.remedy) == (row.default is None)
    assert (row.use in (Use.REFUSED, Use.TYPED)) == (row.default is None)


@BY_KEY
def test_a_low_value_is_marked(row: SurfaceRow) -> None:
    if row.default is not None and row.default < COMPARISON_EMISSIVITY:
        assert row.use is Use.COMPARISON
    elif row.default is not None and row.default < INDICATIVE_EMISSIVITY:
        assert row.use is Use.INDICATIVE


def test_an_unknown_name_is_an_error() -> None:
    with pytest.raises(KeyError):
        surface_row("unobtainium")
