"""A versioned set of severity criteria: rules, numbers and limits, each with its source."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from dataclasses import fields as dataclass_fields
from typing import Any

from service.domain.bands import BandRule, Confidence, KindLine, Limit, Measure, Template, Unit
from service.domain.criteria_numbers import NUMBERS
from service.domain.criteria_reading import (
    KIND_LINE_FIELDS,
    LIMIT_FIELDS,
    RULE_FIELDS,
    TEMPLATE_FIELDS,
    Group,
    kind_line_to_dict,
    limit_to_dict,
    read_kind_line,
    read_limit,
    read_rule,
    read_template,
    rule_to_dict,
    template_to_dict,
)
from service.domain.limits import LimitBook
from service.domain.words import MECHANICAL_KINDS, Level, PointKind, ReferenceKind
from service.errors import Invalid, Problem

#: Iron cores and electronics: what is refused is the scaling, not the reading. A class is known by its
#: last words, so that an inverter board is no inverter. Motors, bearings, transformers and the like
#: are kinds of points: a bolted joint on a transformer follows its current like any other.
UNSCALED_CLASSES = (
    *("iron-core coil", "reactor", "electronics", "variable speed drive", "frequency converter"),
    *("rectifier", "inverter", "power supply", "battery charger", "soft starter"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Criteria:
    """How rises become levels (standards.md §1, applied by §1a); a value, never changed in place.

    Rules
    -----
    similar, air
        The two columns of the published table: over like parts, over air.
    baseline
        Mechanical bands over the point's own baseline; nothing below ``two_u_k``.
    rated_share
        Share of rated rise at common load [%].
    cold
        How much colder than its like parts is a fault too [K].
    relative
        Relative difference at low load [%], a second opinion, shown if ``relative_on``.
    air_by_kind
        The air column of kinds for which the general one was not made.
    limits, templates
        Absolute limits of standards; kinds without a published band.
    unscaled_classes
        Classes of equipment whose rises are never scaled by load, whatever the kind of point:
        their heat does not follow the square of the current.
    """

    id: str
    version: int
    title: str
    citation: str
    confidence: Confidence
    similar: BandRule
    air: BandRule
    baseline: BandRule
    rated_share: BandRule
    cold: BandRule
    relative: BandRule
    air_by_kind: tuple[KindLine, ...] = ()
    limits: tuple[Limit, ...] = ()
    templates: tuple[Template, ...] = ()
    relative_on: bool = False
    unscaled_classes: tuple[str, ...] = UNSCALED_CLASSES

    # §1a.1, §3: load
    min_load_share: float = 0.40
    exponent: float = 1.8
    exponent_low: float = 1.6
    exponent_high: float = 2.0
    # §1a.0, §1a.5: like currents
    equal_current_share: float = 0.10
    # §1a.3: without a like part
    air_alone_from_level: int = 3
    two_u_k: float = 3.5
    baseline_visits: int = 3
    # §1a.1, §1a.4: how sure a level must be
    look_again_chance: float = 0.90
    firm_chance: float = 0.95
    higher_chance: float = 0.10
    guard_chance: float = 0.05
    # §1a.6: cold
    cold_current_share: float = 0.10
    cold_twin_air_k: float = 2.0
    cold_twin_other_k: float = 10.0
    # §1a.7
    no_heat_k: float = 2.0
    # §1a.8: accuse, never clear
    wind_calm_m_s: float = 1.0
    wind_strong_m_s: float = 5.0
    relative_min_rise_k: float = 10.0
    emissivity_indicative: float = 0.5
    emissivity_twin_only: float = 0.3
    gain_indicative: float = 1.7
    window_indicative: float = 0.5
    window_refuse: float = 0.3
    irradiance_min_w_m2: float = 600.0
    indicative_cap_level: int = 2
    # §1a.9: bearings and couplings
    bearing_total_c: float = 80.0
    bearing_total_level: int = 2
    greasing_cap_hours: float = 48.0
    greasing_cap_level: int = 2
    # §2: absolute limits
    limit_level: int = 3
    limit_act_now_over_k: float = 10.0
    # design §2: standing and proven
    raise_p12: float = 0.5
    visits_to_fall: int = 2
    proof_load_share: float = 0.90
    proof_days: int = 30

    book: LimitBook = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "book", LimitBook(self.limits))

    @property
    def cold_k(self) -> float:
        """How much colder than its like parts a part must be to be called cold [K]."""
        return self.cold.edges[0].value

    def air_for(self, kind: PointKind) -> BandRule:
        """The air column that may speak for a kind."""
        for line in self.air_by_kind:
            if line.kind is kind:
                return line.rule
        return self.air

    def scales_class(self, equipment_class: str) -> bool:
        """Whether rises on this class of equipment may be brought to another load.

        Examples
        --------
        >>> from service.domain.presets import TWO_COLUMN
        >>> classes = ("Variable speed drives, 90 kW", "inverter board", "dry transformer")
        >>> [TWO_COLUMN.scales_class(told) for told in classes]
        [False, True, True]
        """
        told = re.split(r"[,;(/]", equipment_class.casefold(), maxsplit=1)[0].strip().removesuffix("s")
        return not any(
            f" {told}".endswith(f" {word.removesuffix('s')}") for word in self.unscaled_classes if told
        )

    def templates_for(self, kind: PointKind, component: str = "") -> tuple[Template, ...]:
        """The templates of a kind without a published band; those of its component come first.

        Empty where a band is published. Where a template names the component, those that hold
        for the whole kind keep silent.
        """
        told = component.casefold()
        of_kind = [one for one in self.templates if one.kind is kind and one.component in told]
        narrow = tuple(one for one in of_kind if one.component)
        return narrow or tuple(of_kind)

    def template_for(self, kind: PointKind, component: str = "") -> Template | None:
        """The template whose rises are drawn and trended; None where a band is published.

        One that judges something else than a rise is handed out without its edges: they are no
        lines for a rise.
        """
        templates = self.templates_for(kind, component)
        for template in templates:
            if template.measure is Measure.RISE and not template.rule.silent:
                return template
        return None if not templates else _without_edges(templates[0])

    def rule_for(self, reference: ReferenceKind, kind: PointKind, component: str = "") -> BandRule:
        """The column that judges a kind over a reference; it may be silent."""
        template = self.template_for(kind, component)
        if template is not None:
            return template.rule
        if reference is ReferenceKind.LIKE_PARTS:
            return self.baseline if kind in MECHANICAL_KINDS else self.similar
        if reference is ReferenceKind.BASELINE:
            return self.baseline
        if reference is ReferenceKind.RATED_SHARE:
            return self.rated_share
        return self.air_for(kind)

    def lines_for(
        self, reference: ReferenceKind, kind: PointKind, component: str = ""
    ) -> tuple[tuple[Level, float], ...]:
        """Action lines to draw, each with the level above it, gentlest first (rule 10)."""
        rule = self.rule_for(reference, kind, component=component)
        if rule is self.baseline:
            return ((rule.levels[0], self.two_u_k), *rule.lines)
        return rule.lines

    def first_line(self, reference: ReferenceKind, kind: PointKind, component: str = "") -> float | None:
        """The line under which nothing is found."""
        lines = self.lines_for(reference, kind, component=component)
        return lines[0][1] if lines else None

    def act_now_line(self, reference: ReferenceKind, kind: PointKind, component: str = "") -> float | None:
        """The line that a trend crosses (rule 10); None where the column has no Act now."""
        return self.rule_for(reference, kind, component=component).line(Level.ACT_NOW)

    def to_dict(self) -> dict[str, Any]:
        """Plain JSON values, read back by ``from_dict``."""
        body: dict[str, Any] = {name: getattr(self, name) for name in ("id", "version", "title", "citation")}
        body["confidence"] = self.confidence.value
        body |= {name: rule_to_dict(getattr(self, name)) for name in _COLUMNS}
        body["air_by_kind"] = [kind_line_to_dict(line) for line in self.air_by_kind]
        body["limits"] = [limit_to_dict(limit) for limit in self.limits]
        body["templates"] = [template_to_dict(template) for template in self.templates]
        body["relative_on"] = self.relative_on
        body["unscaled_classes"] = list(self.unscaled_classes)
        return body | {name: getattr(self, name) for name in NUMBERS}

    @classmethod
    def from_dict(cls, body: Mapping[str, Any]) -> "Criteria":
        """Read what ``to_dict`` wrote or a person edited; a number left out keeps its default.

        Raises
        ------
        Invalid
            With every problem of the whole body at once.
        """
        problems: list[Problem] = []
        whole = Group("criteria", body, problems=problems, known=_FIELDS)
        fields: dict[str, Any] = {name: whole.text(name) for name in ("id", "title", "citation")}
        fields["version"] = whole.whole("version", low=1, high=1_000_000)
        fields["confidence"] = whole.word("confidence", Confidence)
        for name, (reference, unit) in _COLUMNS.items():
            column = whole.group(name, known=RULE_FIELDS)
            if column.given:
                fields[name] = read_rule(column, reference, may_be_silent=False, unit=unit)
        fields["air_by_kind"] = tuple(
            map(read_kind_line, whole.groups("air_by_kind", known=KIND_LINE_FIELDS))
        )
        fields["limits"] = tuple(map(read_limit, whole.groups("limits", known=LIMIT_FIELDS)))
        fields["templates"] = tuple(map(read_template, whole.groups("templates", known=TEMPLATE_FIELDS)))
        fields["relative_on"] = whole.flag("relative_on", default=False)
        fields["unscaled_classes"] = whole.words("unscaled_classes", default=UNSCALED_CLASSES)
        defaults: dict[str, Any] = {f.name: f.default for f in dataclass_fields(cls)}
        for name, number in NUMBERS.items():
            fields[name] = whole.ranged(number, default=defaults[name])
        _check_together(whole, fields, refused={problem.field for problem in problems})
        if problems:
            raise Invalid(problems)
        return cls(**fields)


def _without_edges(template: Template) -> Template:
    if template.rule.silent:
        return template
    rule = replace(
        template.rule, unit=Unit.KELVIN, edges=(), levels=(Level.NOTHING_FOUND,), bands=("no band",)
    )
    return replace(template, rule=rule)


def _check_together(whole: Group, fields: Mapping[str, Any], *, refused: set[str]) -> None:
    """Numbers that are right each by itself but not side by side; refused ones say nothing."""
    for less, more in (
        ("exponent_low", "exponent"),
        ("exponent", "exponent_high"),
        ("wind_calm_m_s", "wind_strong_m_s"),
        ("emissivity_twin_only", "emissivity_indicative"),
        ("window_refuse", "window_indicative"),
        ("cold_twin_air_k", "cold_twin_other_k"),
    ):
        if not refused & {less, more} and fields[less] > fields[more]:
            message = f"This is more than {more} ({fields[more]:g})."
            whole.refuse(less, message, found=fields[less], remedy=f"Make it at most {more}.")
    edges = fields["baseline"].edges if "baseline" in fields else ()
    if edges and not refused & {"two_u_k", "value"} and fields["two_u_k"] > edges[0].value:
        message = "This lies past the first edge of the baseline column."
        remedy = f"Make it at most {edges[0].value:g}."
        whole.refuse("two_u_k", message, found=fields["two_u_k"], remedy=remedy)


#: Columns, what each is over, and its unit.
_COLUMNS = {
    "similar": (ReferenceKind.LIKE_PARTS, Unit.KELVIN),
    "air": (ReferenceKind.AIR, Unit.KELVIN),
    "baseline": (ReferenceKind.BASELINE, Unit.KELVIN),
    "rated_share": (ReferenceKind.RATED_SHARE, Unit.PERCENT),
    "cold": (ReferenceKind.LIKE_PARTS, Unit.KELVIN),
    "relative": (ReferenceKind.LIKE_PARTS, Unit.PERCENT),
}
_FIELDS = (
    *(
        "id",
        "version",
        "title",
        "citation",
        "confidence",
        "air_by_kind",
        "limits",
        "templates",
        "relative_on",
        "unscaled_classes",
    ),
    *_COLUMNS,
    *NUMBERS,
)
