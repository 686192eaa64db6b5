"""A long benchmark that is cut short goes on where it stopped, and never with rows of other code."""

from pathlib import Path

import pytest

from bench.kept_rows import KeptRows, Row, fingerprint


def never() -> Row:
    raise AssertionError("measured again")


def test_a_run_that_was_cut_short_measures_only_what_is_missing(tmp_path: Path) -> None:
    file = tmp_path / "var" / "rows.json"
    first = KeptRows(file, code="a")
    assert first.found == 0
    first.row("one", lambda: {"gain": 0.25})
    with pytest.raises(KeyboardInterrupt):
        first.row("two", lambda: (_ for _ in ()).throw(KeyboardInterrupt()))
    again = KeptRows(file, code="a")
    assert again.found == 1
    assert again.row("one", never) == {"gain": 0.25}
    assert again.row("two", lambda: {"gain": 0.5}) == {"gain": 0.5}


@pytest.mark.parametrize("why", ["other code", "it came to its end", "the file is torn"])
def test_rows_are_measured_anew_when(tmp_path: Path, why: str) -> None:
    file = tmp_path / "rows.json"
    before = KeptRows(file, code="a")
    before.row("one", lambda: {"gain": 0.25})
    if why == "it came to its end":
        before.finish({"worst": 0.25})
    if why == "the file is torn":
        file.write_text(file.read_text(encoding="utf-8")[:20], encoding="utf-8")
    after = KeptRows(file, code="b" if why == "other code" else "a")
    assert after.row("one", lambda: {"gain": 0.75}) == {"gain": 0.75}


def test_the_mark_of_the_code_changes_with_any_script_in_it(tmp_path: Path) -> None:
    (tmp_path / "inner").mkdir()
    script = tmp_path / "inner" / "one.py"
    script.write_text("A = 1\n", encoding="utf-8")
    before = fingerprint(tmp_path)
    (tmp_path / "note.txt").write_text("no code", encoding="utf-8")
    assert fingerprint(tmp_path) == before
    script.write_text("A = 2\n", encoding="utf-8")
    assert fingerprint(tmp_path) != before
