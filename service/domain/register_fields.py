"""The catalogue: every field of the register once, for forms, files, API and checks alike."""

from collections.abc import Mapping

from service.domain.cells import Sign
from service.domain.fields import Field, FieldKind, Value, read_all
from service.domain.point_surface import TOGETHER, surface_problems, taken_from_finish
from service.domain.register import KEY_FIELDS, Noun
from service.domain.register_fields_equipment import EQUIPMENT_FIELDS
from service.domain.register_fields_instrument import INSTRUMENT_FIELDS
from service.domain.register_fields_point import POINT_FIELDS
from service.errors import Problem

_ORDER_HELP = "Where it comes when walking; equal numbers go by tag."
_PHASE_HELP = "Names of the phases as marked on site, separated by commas; empty takes those above."

CLIENT_FIELDS = (
    Field(
        name="code",
        label="Code",
        column="Client code",
        required=True,
        most=40,
        help="Short and lasting; files speak of the client by it.",
    ),
    Field(name="name", label="Name", column="Client name", required=True),
    Field(
        name="letterhead",
        label="Letterhead",
        column="Letterhead",
        kind=FieldKind.LONG_TEXT,
        most=2000,
        help="Whose letters they are: name and office. Which site a letter is about, it says itself.",
    ),
    Field(
        name="phase_names",
        label="Phase names",
        column="Client phase names",
        default="L1,L2,L3",
        most=60,
        help="As marked on site, separated by commas.",
    ),
    Field(
        name="carried_over_most",
        label="On the Desk after",
        column="Carried over at most",
        kind=FieldKind.INTEGER,
        unit="visits without a reading",
        low=1,
        high=50,
        default=3,
        help="In a row, for one point: then the Desk asks what is to change. Common practice, no source.",
    ),
    Field(
        name="cover_minutes",
        label="One opened cover counts as",
        column="Cover counts as minutes",
        kind=FieldKind.NUMBER,
        unit="min of reading",
        low=0,
        high=600,
        default=0.0,
        help="What a plan weighs an opened cover with; 0: covers are counted only. Common practice, no source.",
    ),
)

SITE_FIELDS = (
    Field(
        name="code",
        label="Code",
        column="Site code",
        required=True,
        most=40,
        help="Short and lasting; files speak of the site by it.",
    ),
    Field(name="name", label="Name", column="Site name", required=True),
    Field(
        name="time_zone",
        label="Time zone",
        column="Time zone",
        kind=FieldKind.TIME_ZONE,
        default="UTC",
        most=60,
        help="Like Europe/London; load hours and times on sheets go by it.",
    ),
    Field(
        name="latitude",
        label="Latitude",
        column="Latitude",
        kind=FieldKind.NUMBER,
        unit="°",
        low=-90,
        high=90,
        help="North is positive.",
    ),
    Field(
        name="longitude",
        label="Longitude",
        column="Longitude",
        kind=FieldKind.NUMBER,
        unit="°",
        low=-180,
        high=180,
        help="East is positive.",
    ),
    Field(
        name="setup_minutes",
        label="Minutes to set up",
        column="Minutes to set up",
        kind=FieldKind.INTEGER,
        unit="min",
        low=0,
        high=600,
        default=10,
        help="Sign in, permit office, camera settled: once a visit.",
    ),
    Field(
        name="opening_hours",
        label="Open",
        column="Open",
        kind=FieldKind.LOAD_HOURS,
        most=500,
        help="When its gate lets people in, like mon-fri 07:00-17:00; empty: at any hour.",
    ),
    Field(
        name="two_people",
        label="Nobody works here alone",
        column="Two people",
        kind=FieldKind.FLAG,
        default=False,
        help="A plan sends two people or none.",
    ),
    Field(name="contact_name", label="Contact", column="Contact", help="Who is told at once at Act now."),
    Field(name="contact_phone", label="Telephone", column="Contact telephone", most=60),
    Field(
        name="safety_text",
        label="Safety text",
        column="Safety text",
        kind=FieldKind.LONG_TEXT,
        most=2000,
        help="Typed by the site; printed on its sheets as it stands. It permits nothing.",
    ),
    Field(name="phase_names", label="Phase names", column="Site phase names", most=60, help=_PHASE_HELP),
)

AREA_FIELDS = (
    Field(
        name="code",
        label="Code",
        column="Area code",
        required=True,
        most=40,
        help="Short, one of its kind at the site, such as SWR.",
    ),
    Field(
        name="name",
        label="Name",
        column="Area name",
        required=True,
        help="Such as switchroom, pump hall, yard.",
    ),
    Field(
        name="walking_order",
        label="Walking order",
        column="Area walking order",
        kind=FieldKind.INTEGER,
        low=0,
        high=1_000_000,
        default=0,
        help=_ORDER_HELP,
    ),
    Field(
        name="x_m",
        label="East of the gate",
        column="East of the gate m",
        kind=FieldKind.NUMBER,
        unit="m",
        low=-100_000,
        high=100_000,
        help="Position on the site, for the minutes of walking.",
    ),
    Field(
        name="y_m",
        label="North of the gate",
        column="North of the gate m",
        kind=FieldKind.NUMBER,
        unit="m",
        low=-100_000,
        high=100_000,
    ),
)

VIEW_FIELDS = (
    Field(
        name="tag",
        label="Tag",
        column="View tag",
        required=True,
        most=80,
        help="One of its kind at the site, such as MCC1-F04.",
    ),
    Field(
        name="name",
        label="Name",
        column="View name",
        required=True,
        help="What is framed from one place, such as feeder 04, line terminals.",
    ),
    Field(
        name="walking_order",
        label="Walking order",
        column="View walking order",
        kind=FieldKind.INTEGER,
        low=0,
        high=1_000_000,
        default=0,
        help=_ORDER_HELP,
    ),
    Field(name="phase_names", label="Phase names", column="View phase names", most=60, help=_PHASE_HELP),
    Field(
        name="asks_amps",
        label="Ask for amps per phase",
        column="Ask for amps",
        kind=FieldKind.FLAG,
        default=True,
    ),
    Field(
        name="asks_neutral",
        label="Ask for the neutral too",
        column="Ask for neutral",
        kind=FieldKind.FLAG,
        default=False,
        help="Worth it where harmonics may load the neutral.",
    ),
)

FIELDS: dict[Noun, tuple[Field, ...]] = {
    Noun.CLIENT: CLIENT_FIELDS,
    Noun.SITE: SITE_FIELDS,
    Noun.AREA: AREA_FIELDS,
    Noun.EQUIPMENT: EQUIPMENT_FIELDS,
    Noun.VIEW: VIEW_FIELDS,
    Noun.POINT: POINT_FIELDS,
    Noun.INSTRUMENT: INSTRUMENT_FIELDS,
}
#: pairs that must rise: band, range
_RISING = {Noun.INSTRUMENT: (("band_low_um", "band_high_um"), ("range_low_c", "range_high_c"))}
KEYS: dict[Noun, Field] = {
    noun: next(f for f in fields if f.name == KEY_FIELDS[noun]) for noun, fields in FIELDS.items()
}


def field_of(noun: Noun, name: str) -> Field:
    return next(field for field in FIELDS[noun] if field.name == name)


def read_fields(
    noun: Noun,
    found: Mapping[str, object],
    where: str,
    *,
    decimal: Sign = ".",
    kept: Mapping[str, Value] | None = None,
) -> tuple[dict[str, Value], list[Problem]]:
    """The fields of one thing from a form, a row of a file or a body.

    Parameters
    ----------
    noun : Noun
        What kind of thing.
    found : mapping of str to object
        What was sent, by field name; texts are read as people type them.
    where : str
        Place in the input, for the problems: "form", "sheet Points, row 14".
    decimal : {".", ","}
        Decimal sign of numbers that came as text.
    kept : mapping of str to Value, optional
        For an edit: what is there now. Fields that were not sent are then not set.

    Returns
    -------
    values : dict
        By field name.
    problems : list of Problem
        Empty when all is sound.
    """
    values, problems = read_all(FIELDS[noun], found, where, decimal=decimal, partial=kept is not None)
    completed, together = settled(noun, values, where, kept=kept)
    refused = {problem.field for problem in problems}
    problems += [problem for problem in together if problem.field not in refused]
    return values | completed, problems


def settled(
    noun: Noun, values: Mapping[str, Value], where: str, *, kept: Mapping[str, Value] | None = None
) -> tuple[dict[str, Value], list[Problem]]:
    """What fields set of each other where they are empty, and what of them does not go together.

    Parameters
    ----------
    noun : Noun
        What kind of thing.
    values : mapping of str to Value
        The sound ones that were sent.
    where : str
        Place in the input, for the problems.
    kept : mapping of str to Value, optional
        For an edit: what is there now; fields of a point that stay as they were are not looked at.

    Returns
    -------
    completed : dict
        Fields to be set besides.
    problems : list of Problem
    """
    before = kept or {}
    whole = {**before, **values}
    if noun is not Noun.POINT:
        return {}, rising_problems(noun, whole, where)
    if kept is not None and all(values.get(name, before[name]) == before[name] for name in TOGETHER):
        return {}, []
    said = {name for name, value in values.items() if value not in (None, before.get(name))}
    completed = taken_from_finish(whole, said=frozenset(said))
    return completed, surface_problems({**whole, **completed}, where)


def rising_problems(noun: Noun, values: Mapping[str, Value], where: str) -> list[Problem]:
    """Pairs of a low and a high that stand the wrong way round."""
    problems = []
    for low_name, high_name in _RISING.get(noun, ()):
        low, high = values.get(low_name), values.get(high_name)
        if isinstance(low, int | float) and isinstance(high, int | float) and low >= high:
            problems.append(
                Problem(
                    where, high_name, f"{low:g} to {high:g}", "The end is not above the start.", "Swap them."
                )
            )
    return problems
