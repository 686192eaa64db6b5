"""R4: a round is all or nothing, and every bad row is told.

A returned file with bad rows anywhere is refused whole: no table has a row more than before, and
each bad row is named with its field and a remedy (the first thousand in words, all in the count).
The broken twin keeps the rows that happen to be good; the harness must see it.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from service.domain.round_columns import COLUMNS
from service.errors import Invalid, Problem
from service.intake.content_hash import content_hash_of
from service.intake.raw_rows import Ways, rows_of_tables
from service.intake.tables import read_tables
from service.storage.tables import metadata
from service.storage.unit import Store
from service.usecases.condition.presets import ensure_presets
from service.usecases.rounds.upload import upload_round
from tests.conftest import NOW
from tests.readings.builders import Issued, issue

NAMES = [column.name for column in COLUMNS]
Cells = dict[str, str]
Send = Callable[[Issued, list[Cells]], list[Problem]]


@dataclass(frozen=True)
class Spoiling:
    """A way to spoil a row, and the field under which it must be told."""

    field: str
    cells: Cells


SPOILINGS = (
    Spoiling("temperature_c", {"temperature_c": "hot"}),
    Spoiling("temperature_c", {"temperature_c": "4000"}),
    Spoiling("temperature_c", {"temperature_c": ""}),
    Spoiling("temperature_c", {"temperature_c": "40.1.2"}),
    Spoiling("current_a", {"current_a": "-90"}),
    Spoiling("emissivity_set", {"emissivity_set": "95"}),
    Spoiling("taken_at", {"taken_at": "last Tuesday"}),
    Spoiling("row_uid", {"row_uid": "r00000000deadbeef"}),
    Spoiling("round_code", {"round_code": "MW-000000-9"}),
    Spoiling("point_tag", {"point_tag": "S9-X1"}),
    Spoiling("reason", {"reason": "Z"}),
    Spoiling("visit_kind", {"visit_kind": "now and then"}),
    Spoiling("load_source", {"load_source": "guess"}),
    Spoiling("fan_on_part", {"fan_on_part": "perhaps"}),
    Spoiling("instrument_serial", {"instrument_serial": "IR-999"}),
)


def filled(issued: Issued) -> list[Cells]:
    """The cells of a sound file, row by row."""
    rows = []
    for place, (uid, tag, _point, _view) in enumerate(issued.rows):
        cells = {"round_code": issued.code, "row_uid": uid, "point_tag": tag, "taken_at": "2026-11-24 08:30"}
        cells |= {"temperature_c": f"{40 + place % 7 / 10:.1f}", "ambient_c": "21.5", "current_a": "90.5"}
        rows.append(cells)
    return rows


def as_file(rows: list[Cells]) -> bytes:
    lines = [";".join(column.header for column in COLUMNS)]
    lines += [";".join(row.get(name, "") for name in NAMES) for row in rows]
    return "\n".join(lines).encode()


def counts(store: Store) -> dict[str, int]:
    with store.look() as unit:
        return {
            table: unit.session.execute(text(f'SELECT count(*) FROM "{table}"')).scalar_one()
            for table in metadata.tables
        }


def send_file(issued: Issued, rows: list[Cells]) -> list[Problem]:
    """Bring a file in as the service does; the problems it was refused for."""
    content = as_file(rows)
    try:
        upload_round(
            issued.store,
            issued.technician,
            round_id=issued.round_id,
            rows=rows_of_tables(read_tables(content), Ways()),
            content_hash=content_hash_of(content),
            key=None,
            channel="file",
            now=NOW,
        )
    except Invalid as refused:
        return list(refused.problems)
    return []


def send_what_is_good(issued: Issued, rows: list[Cells]) -> list[Problem]:
    """The broken twin: each row for itself, the bad ones told, the good ones kept."""
    told = []
    for number, row in enumerate(rows, start=2):
        told += [
            Problem(f"row {number}", p.field, p.found, p.message, p.remedy) for p in send_file(issued, [row])
        ]
    return told


def breaches(issued: Issued, rows: list[Cells], expected: set[tuple[str, str]], *, send: Send) -> list[str]:
    """What a refusal did that it must not do; empty when all is well."""
    before = counts(issued.store)
    problems = send(issued, rows)
    after = counts(issued.store)
    found = [f"{t}: {before[t]} rows before, {after[t]} after" for t in before if before[t] != after[t]]
    told = {(p.where, p.field) for p in problems}
    found += [f"not told: {where} {field}" for where, field in sorted(expected - told)]
    found += [f"told, but sound: {where} {field}" for where, field in sorted(told - expected)]
    found += [f"without remedy: {p}" for p in problems if not (p.message and p.remedy)]
    return found


@pytest.fixture
def issued(any_store: Store) -> Issued:
    ensure_presets(any_store, now=NOW)
    return issue(any_store, boards=2, views=4, day=date(2026, 11, 24))


@st.composite
def spoiled_places(draw: st.DrawFn, rows: int = 24) -> dict[int, Spoiling]:
    """At least one row spoiled, somewhere."""
    places = draw(st.lists(st.integers(0, rows - 1), min_size=1, max_size=rows, unique=True))
    return {place: draw(st.sampled_from(SPOILINGS)) for place in places}


def spoil(rows: list[Cells], places: dict[int, Spoiling]) -> tuple[list[Cells], set[tuple[str, str]]]:
    spoiled = [row | places[n].cells if n in places else row for n, row in enumerate(rows)]
    return spoiled, {(f"row {n + 2}", spoiling.field) for n, spoiling in places.items()}


def storm(examples: int, issued: Issued, *, send: Send) -> list[str]:
    """Breaches met over many spoiled files, with a fixed seed."""
    rows = filled(issued)
    found: list[str] = []

    @settings(
        max_examples=examples,
        derandomize=True,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(places=spoiled_places(len(rows)))
    def run(places: dict[int, Spoiling]) -> None:
        spoiled, expected = spoil(rows, places)
        found.extend(breaches(issued, spoiled, expected, send=send))

    run()
    return found


def test_a_bad_row_anywhere_stores_nothing_and_is_told(issued: Issued) -> None:
    assert storm(60, issued, send=send_file) == []


def test_the_harness_sees_a_twin_that_keeps_the_good_rows(issued: Issued) -> None:
    assert any("rows before" in breach for breach in storm(5, issued, send=send_what_is_good))


def test_past_a_thousand_bad_rows_the_rest_is_a_count(store: Store) -> None:
    issued = issue(store, boards=20, views=20, day=date(2026, 11, 24))
    rows = [row | {"temperature_c": "hot"} for row in filled(issued)]
    content = as_file(rows)
    with pytest.raises(Invalid) as caught:
        upload_round(
            store,
            issued.technician,
            round_id=issued.round_id,
            rows=rows_of_tables(read_tables(content), Ways()),
            content_hash=content_hash_of(content),
            key=None,
            channel="file",
            now=NOW,
        )
    assert (len(caught.value.problems), caught.value.total) == (1000, 1200)


@pytest.mark.torture
def test_five_thousand_spoiled_files_leave_nothing_behind(issued: Issued) -> None:
    assert storm(5000, issued, send=send_file) == []


def test_a_sound_file_is_stored_whole(issued: Issued) -> None:
    """So that the harness does not pass by refusing everything."""
    before: Any = counts(issued.store)
    assert send_file(issued, filled(issued)) == []
    assert counts(issued.store)["readings"] == before["readings"] + len(issued.rows)
