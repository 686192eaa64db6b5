"""One catalogue: tables, records, forms, files and the API speak of the same fields."""

from dataclasses import fields
from datetime import date

import pytest

from service.api.register_schemas import schemas_of
from service.domain.fields import NULLABLE, Field, FieldKind
from service.domain.register import KEY_FIELDS, PARENT_FIELDS, RECORDS, Noun
from service.domain.register_columns import FILED, SHEETS, column_of, flat_fields, nearest_title, sheet_fields
from service.domain.register_fields import FIELDS, read_fields
from service.pages.register_view import form_groups
from service.storage.bulk import table_of
from service.storage.register_rows import TABLES

NOUNS = list(Noun)
#: columns that are not typed by people: keys, stamps, what other rooms set
NOT_TYPED = {"id", "version", "created_at", "changed_at", "retired_at", "criteria_id", "common_load_version"}

#: columns that the register neither tells nor takes: a label's code is made when the label is
NOT_TOLD = {"label_code"}


@pytest.mark.parametrize("noun", NOUNS)
def test_every_column_of_the_table_is_in_the_record_and_in_the_catalogue(noun: Noun) -> None:
    columns = set(table_of(TABLES[noun]).columns.keys()) - NOT_TOLD
    record = {field.name for field in fields(RECORDS[noun])}
    typed = {field.name for field in FIELDS[noun]}
    stands = {PARENT_FIELDS[noun]} if noun in PARENT_FIELDS else set()
    assert record - {"like_part"} == columns
    assert columns - NOT_TYPED - stands - {"site_id"} == typed - {"like_part"}


@pytest.mark.parametrize("noun", NOUNS)
def test_an_empty_box_means_what_the_table_means_by_its_default(noun: Noun) -> None:
    table = table_of(TABLES[noun])
    for field in FIELDS[noun]:
        if field.required or field.name == "like_part":
            continue
        default = table.columns[field.name].default
        meant = None if default is None else default.arg  # type: ignore[attr-defined]
        assert field.empty == meant, field.name


def test_every_column_title_of_a_file_is_one_of_its_kind() -> None:
    for noun in FILED:
        for field in FIELDS[noun]:
            assert column_of(field.column) == (noun, field)
            assert column_of(f"  {field.column.upper()} ") == (noun, field)


def test_a_mistyped_title_is_recognised_but_not_taken() -> None:
    assert column_of("Comon load A") is None
    assert nearest_title("Comon load A") == "Common load A"
    assert nearest_title("Colour of the door") == ""


def test_the_template_has_every_field_once_and_the_keys_it_stands_in() -> None:
    for sheet in SHEETS:
        columns = sheet_fields(sheet)
        assert [f for n, f in columns if n is sheet.noun] == list(FIELDS[sheet.noun])
        assert all(f.name == KEY_FIELDS[n] for n, f in columns if n is not sheet.noun)
    assert {noun for noun, _ in flat_fields()} == set(FILED) - {Noun.INSTRUMENT}


@pytest.mark.parametrize("noun", NOUNS)
def test_forms_and_schemas_hold_every_field(noun: Noun) -> None:
    names = {field.name for field in FIELDS[noun]}
    boxes = {box.field.name for group in form_groups(noun, None, None) for box in group.boxes}
    schemas = schemas_of(noun)
    stands = {PARENT_FIELDS[noun]} if noun in PARENT_FIELDS else set()
    assert boxes == names
    assert set(schemas.new.model_fields) == names | stands
    assert names <= set(schemas.change.model_fields)
    assert names <= set(schemas.shown.model_fields)


def _value_of(field: Field) -> object:
    """A value that the field takes, other than its default."""
    by_kind = {
        FieldKind.NUMBER: field.high if field.high is not None else 1.5,
        FieldKind.INTEGER: int(field.high or 1),
        FieldKind.FLAG: not field.empty,
        FieldKind.CHOICE: field.choices[-1] if field.choices else "",
        FieldKind.OPEN_CHOICE: field.choices[-1] if field.choices else None,
        FieldKind.DAY: date(2026, 11, 25),
        FieldKind.LOAD_HOURS: "mon-fri 07:00-11:30",
        FieldKind.TIME_ZONE: "Europe/London",
    }
    return by_kind.get(field.kind, "some words")


@pytest.mark.parametrize("noun", NOUNS)
def test_api_and_catalogue_take_and_refuse_alike(noun: Noun) -> None:
    for field in FIELDS[noun]:
        good = _value_of(field)
        assert field.read(good, "body")[1] is None, field.name
        schemas_of(noun).change.model_validate({field.name: good})
        for bad in _bad_values(field):
            assert field.read(bad, "body")[1] is not None, (field.name, bad)
            with pytest.raises(ValueError):
                schemas_of(noun).change.model_validate({field.name: bad})


def _bad_values(field: Field) -> list[object]:
    if field.kind in (FieldKind.NUMBER, FieldKind.INTEGER):
        beyond = [field.low - 1] if field.low is not None else []
        return [*beyond, *([field.high + 1] if field.high is not None else []), "words", 10**400]
    if field.kind in (FieldKind.CHOICE, FieldKind.OPEN_CHOICE):
        return ["none of them"]
    if field.kind is FieldKind.FLAG:
        return ["perhaps"]
    if field.kind is FieldKind.DAY:
        return ["soon"]
    if field.kind is FieldKind.LONG_TEXT:
        return ["x" * (field.most + 1)]
    return ["x" * (field.most + 1), "a\x00b", "a\nb"]


@pytest.mark.parametrize("noun", NOUNS)
def test_all_that_is_needed_is_told_at_once(noun: Noun) -> None:
    _, problems = read_fields(noun, {}, "form")
    needed = [field.name for field in FIELDS[noun] if field.required]
    assert [problem.field for problem in problems] == needed


def test_what_is_not_a_field_is_refused() -> None:
    _, problems = read_fields(Noun.AREA, {"code": "A", "name": "x", "site_id": "9"}, "form")
    assert [problem.field for problem in problems] == ["site_id"]


def test_a_band_that_runs_backwards_is_refused_also_against_what_is_kept() -> None:
    _, problems = read_fields(
        Noun.INSTRUMENT, {"band_high_um": "7.5"}, "form", kept={"band_low_um": 8.0, "band_high_um": 14.0}
    )
    assert [problem.field for problem in problems] == ["band_high_um"]


def test_a_dash_empties_a_field() -> None:
    values, problems = read_fields(
        Noun.EQUIPMENT, {"stand_off": "-", "rated_current_a": "–"}, "row 2", kept={}
    )
    assert not problems
    assert values == {"stand_off": "", "rated_current_a": None}


def test_only_kinds_without_a_default_may_be_absent() -> None:
    for noun in NOUNS:
        for field in FIELDS[noun]:
            assert (field.empty is None) == (field.kind in NULLABLE and field.default is None)
