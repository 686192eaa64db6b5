"""The register in words for its pages: titles that say the news, boxes of a form, facts of equipment."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from service.domain.cautions import access_words, stands_free
from service.domain.fields import Field, FieldKind, Value, time_zones, typed_text
from service.domain.register import Equipment, Noun, Registered
from service.domain.register_fields import FIELDS
from service.domain.register_tree import ClientLine, Mark
from service.domain.words import Level
from service.pages import view
from service.pages.emissivity_words import finish_options

#: a site with more points shows its views and points on the pages of its equipment only
MOST_IN_TREE = 1_500
NOT_GIVEN = "not given: ask the permit issuer"


def mark_title(name: str, mark: Mark) -> str:
    """The news of a node from its mark: how many points stand at the gravest level."""
    if not mark.points:
        return f"{name} has no points yet"
    return f"{name}: {_news(mark)}"


def register_title(clients: Sequence[ClientLine]) -> str:
    """The news of the whole register in sight."""
    sites = [site for client in clients for site in client.sites]
    mark = Mark.of(site.mark for site in sites)
    if not sites:
        return "No sites in the register yet"
    where = f"on {view.counted(len(sites), 'site')}"
    if not mark.points:
        return f"No points yet {where}"
    return view.sentence_case(_news(mark, f" {where}"))


def _news(mark: Mark, where: str = "") -> str:
    points = view.counted(mark.points, "point") + where
    if mark.level is None:
        return f"no verdict yet on {points}"
    if mark.level == Level.NOTHING_FOUND:
        rest = f"; no verdict on {view.number_word(mark.no_verdict)}" if mark.no_verdict else ""
        return f"nothing found on {view.number_word(mark.at_gravest)} of {points}{rest}"
    word = view.level_word(mark.level, mark.at_least)
    verb = "stands" if mark.at_gravest == 1 else "stand"
    return f"{view.number_word(mark.at_gravest)} of {points} {verb} at {word}"


def found_title(text: str, count: int, most: int) -> str:
    """How many entries hold what was searched."""
    if not count:
        return f"No tag or name holds “{text}”"
    if count >= most:
        return f"More than {most - 1} entries hold “{text}”; type more of it"
    return f"{view.sentence_case(view.number_word(count))} {'entry holds' if count == 1 else 'entries hold'} “{text}”"


def needed_words(noun: Noun) -> str:
    """Which boxes must be filled in, in one sentence."""
    names = [field.label.lower() for field in FIELDS[noun] if field.required]
    verb = "is" if len(names) == 1 else "are"
    return f"{view.sentence_case(view.listed(names))} {verb} needed; the rest may stay empty."


@dataclass(frozen=True, slots=True)
class Box:
    """One field of a form, ready to be drawn."""

    field: Field
    kind: str
    value: str
    ticked: bool
    options: tuple[tuple[str, str], ...]
    suggestions: tuple[str, ...]
    unit: str
    wide: bool


@dataclass(frozen=True, slots=True)
class Group:
    name: str
    boxes: tuple[Box, ...]


_KINDS = {
    FieldKind.NUMBER: "number",
    FieldKind.INTEGER: "number",
    FieldKind.FLAG: "tick",
    FieldKind.CHOICE: "choose",
    FieldKind.OPEN_CHOICE: "choose",
    FieldKind.LONG_TEXT: "area",
    FieldKind.DAY: "date",
}


def form_groups(noun: Noun, typed: Mapping[str, str] | None, thing: Registered | None) -> list[Group]:
    """The boxes of a noun under their headings: as typed, else as kept, else as a new one begins."""
    groups: dict[str, list[Box]] = {}
    for field in FIELDS[noun]:
        if typed is not None:
            value = typed.get(field.name, "")
        else:
            kept: Value = getattr(thing, field.name) if thing is not None else field.empty
            value = view.boxed(typed_text(kept), field.unit)
        groups.setdefault(field.group, []).append(_box(field, value))
    return [Group(name, tuple(boxes)) for name, boxes in groups.items()]


def kept_texts(noun: Noun, typed: Mapping[str, str], thing: Registered | None) -> dict[str, str]:
    """What the boxes say in °C and K; one that still shows what is kept says that, to the last digit."""
    kept = {
        field.name: "" if thing is None else typed_text(getattr(thing, field.name)) for field in FIELDS[noun]
    }
    return {
        field.name: view.unboxed(typed[field.name], field.unit, kept=kept[field.name])
        for field in FIELDS[noun]
    }


def _box(field: Field, value: str) -> Box:
    options: tuple[tuple[str, str], ...] = ()
    suggestions: tuple[str, ...] = ()
    if field.name == "emissivity_finish":
        options = finish_options()
    elif field.kind is FieldKind.OPEN_CHOICE:
        options = (("", "not said"), *((choice, view.sentence_case(choice)) for choice in field.choices))
    elif field.kind is FieldKind.CHOICE:
        options = tuple((choice, view.sentence_case(choice) or "not answered") for choice in field.choices)
    elif field.kind is FieldKind.TIME_ZONE:
        suggestions = tuple(sorted(time_zones()))
    else:
        suggestions = field.choices
    return Box(
        field=field,
        kind=_KINDS.get(field.kind, "text"),
        value=value,
        ticked=value == "yes",
        options=options,
        suggestions=suggestions,
        unit=field.unit,
        wide=field.kind is FieldKind.LONG_TEXT or field.most in (300, 500),
    )


@dataclass(frozen=True, slots=True)
class Fact:
    name: str
    words: str


def access_facts(equipment: Equipment, kinds: Collection[str]) -> list[Fact]:
    """How one gets at it, as the site typed it; nothing is made up for what it left out."""
    free = stands_free(equipment.access, kinds)
    return [
        Fact("Access", view.sentence_case(access_words(equipment.access, free=free))),
        Fact("Time at equipment", view.minutes(equipment.minutes)),
        Fact("Stand-off", equipment.stand_off or NOT_GIVEN),
        Fact("PPE", equipment.ppe or NOT_GIVEN),
        Fact("Load hours", view.load_hours_words(equipment.load_hours) or "not known"),
        Fact("Usual load", view.percent(equipment.usual_load_share)),
        Fact("Rated current", view.amps(equipment.rated_current_a)),
        *_runs_in_turn(equipment),
        *_warming_up(equipment.settle_minutes),
        Fact("Where", "outdoors" if equipment.outdoor else "indoors"),
    ]


def _runs_in_turn(equipment: Equipment) -> list[Fact]:
    if not equipment.duty_group:
        return []
    asked = "; runs for a visit when asked" if equipment.run_on_request else ""
    return [Fact("Runs in turn", f"{equipment.duty_group}, one at a time{asked}")]


def _warming_up(settle_minutes: float | None) -> list[Fact]:
    if settle_minutes is None:
        return []
    return [Fact("Warming up", f"time constant {view.minutes(settle_minutes)}")]


def planning_facts(equipment: Equipment) -> list[Fact]:
    """What planning and decisions stand on; what is not known is left out."""
    months = [
        ("Read every", equipment.interval_months),
        ("P–F interval", equipment.pf_interval_months),
    ]
    facts = [
        Fact("Criticality", equipment.criticality),
        Fact("Condition", equipment.condition),
        *(Fact(name, _months(value)) for name, value in months if value is not None),
    ]
    if equipment.repair_lead_days is not None:
        facts.append(Fact("Repair lead time", view.counted(equipment.repair_lead_days, "day")))
    if equipment.cost_per_hour is not None:
        facts.append(
            Fact("Cost of an hour down", f"{view.number(equipment.cost_per_hour, 0)}, in the client’s money")
        )
    words = (
        ("If it fails", equipment.consequence),
        ("For people", equipment.consequence_people),
        ("For the environment", equipment.consequence_environment),
        ("For quality", equipment.consequence_quality),
    )
    return facts + [Fact(name, text) for name, text in words if text]


def _months(value: float) -> str:
    return f"{value:g}{view.THIN}{'month' if value == 1 else 'months'}"
