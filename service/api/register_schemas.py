"""Schemas of the register over JSON, made from the one catalogue of fields."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any, Literal, get_type_hints

from pydantic import BaseModel, ConfigDict, create_model
from pydantic import Field as Bounded

from service.domain.fields import CHOSEN, NULLABLE, Field, FieldKind
from service.domain.register import PARENT_FIELDS, PARENTS, RECORDS, Noun
from service.domain.register_fields import FIELDS
from service.usecases.register.edit import MOST_REASON

Id = Annotated[int, Bounded(ge=1, le=2**53)]
_ONE_LINE = r"^[^\x00-\x1f\x7f]*$"
_FILLED_LINE = r"^[^\x00-\x1f\x7f]*[^\x00-\x20\x7f\-][^\x00-\x1f\x7f]*$"


class Body(BaseModel):
    """What a client sends: a name that is not a field is refused."""

    model_config = ConfigDict(extra="forbid")


class Query(BaseModel):
    model_config = ConfigDict(extra="forbid")


@dataclass(frozen=True, slots=True)
class Schemas:
    """Models of one noun: as shown, as made, as changed, a page of it, and how it is listed."""

    shown: type[BaseModel]
    new: type[BaseModel]
    change: type[BaseModel]
    page: type[BaseModel]
    query: type[BaseModel]


def schemas_of(noun: Noun) -> Schemas:
    """The models of a noun; their names are what a generated client calls them."""
    title = noun.value.capitalize()
    shown = create_model(title, **_shown_fields(noun))
    return Schemas(
        shown=shown,
        new=create_model(f"New{title}", __base__=Body, **_new_fields(noun)),
        change=create_model(f"{title}Change", __base__=Body, **_change_fields(noun)),
        page=create_model(f"{title}Page", items=(list[shown], ...), next_after=(int | None, ...)),  # type: ignore[valid-type]
        query=create_model(f"{title}Query", __base__=Query, **_query_fields(noun)),
    )


def _shown_fields(noun: Noun) -> dict[str, Any]:
    words = {field.name: field for field in FIELDS[noun]}
    fields: dict[str, Any] = {}
    for name, hint in get_type_hints(RECORDS[noun]).items():
        fields[name] = (hint, Bounded(description=_described(words[name]) if name in words else None))
    return fields


def _new_fields(noun: Noun) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    if noun in PARENTS:
        fields[PARENT_FIELDS[noun]] = (Id, Bounded(description=f"The {PARENTS[noun]} it stands in."))
    for field in FIELDS[noun]:
        given: Any = ... if field.required else field.empty
        fields[field.name] = (typed(field), Bounded(given, description=_described(field)))
    return fields


def _change_fields(noun: Noun) -> dict[str, Any]:
    """Every field, none needed: what is not sent is left alone."""
    fields: dict[str, Any] = {
        field.name: (typed(field), Bounded(default_factory=_left_alone, description=_described(field)))
        for field in FIELDS[noun]
    }
    if noun is Noun.EQUIPMENT:
        fields["area_id"] = (
            Id,
            Bounded(default_factory=_left_alone, description="Another area of its site."),
        )
    if noun is Noun.POINT:
        reason = Annotated[str, Bounded(max_length=MOST_REASON, pattern=_ONE_LINE)]
        fields["reason"] = (reason, Bounded(default="", description="Why the common load changes."))
    return fields


def _left_alone() -> Any:
    return None


def _query_fields(noun: Noun) -> dict[str, Any]:
    fields: dict[str, Any] = {
        "after": (int, Bounded(default=0, ge=0, le=2**53, description="id after which the page begins")),
        "limit": (int, Bounded(default=100, ge=1, le=500, description="rows a page")),
        "retired": (bool, Bounded(default=False, description="list what is retired instead")),
        "search": (str, Bounded(default="", max_length=80, description="part of its code, tag or serial")),
    }
    for above in _above(noun):
        fields[f"{above}_id"] = (
            Id | None,
            Bounded(default=None, description=f"only what stands in this {above}"),
        )
    return fields


def _above(noun: Noun) -> list[Noun]:
    found = []
    while noun in PARENTS:
        noun = PARENTS[noun]
        found.append(noun)
    return found


def within(noun: Noun, asked: Mapping[str, Any]) -> tuple[Noun, int] | None:
    """The nearest thing above that a list is narrowed to."""
    for above in _above(noun):
        wanted = asked.get(f"{above}_id")
        if wanted is not None:
            return above, int(wanted)
    return None


def typed(field: Field) -> Any:
    """The type of a field with its bounds, as a body takes it."""
    kind: Any
    if field.kind is FieldKind.NUMBER:
        kind = Annotated[float, Bounded(ge=field.low, le=field.high, allow_inf_nan=False)]
    elif field.kind is FieldKind.INTEGER:
        kind = Annotated[int, Bounded(ge=_whole(field.low), le=_whole(field.high))]
    elif field.kind is FieldKind.FLAG:
        kind = bool
    elif field.kind is FieldKind.DAY:
        kind = date
    elif field.kind in CHOSEN:
        kind = Literal[tuple(field.choices)]
    elif field.kind is FieldKind.LONG_TEXT:
        kind = Annotated[str, Bounded(max_length=field.most)]
    else:
        pattern = _FILLED_LINE if field.required else _ONE_LINE
        kind = Annotated[str, Bounded(max_length=field.most, pattern=pattern)]
    return kind | None if field.kind in NULLABLE and field.default is None else kind


def _whole(bound: float | None) -> int | None:
    return None if bound is None else int(bound)


def _described(field: Field) -> str:
    unit = f" [{field.unit}]" if field.unit else ""
    return f"{field.label}{unit}. {field.help}".strip()
