"""Criteria shipped with the service: published bands as cited facts, our own numbers marked so."""

from dataclasses import replace

from service.domain.bands import BandRule, Confidence, Edge, KindLine, Limit, Measure, Template, Unit
from service.domain.criteria import Criteria
from service.domain.words import Level, PointKind, ReferenceKind

_NOTHING, _LOOK, _PLAN, _SOON, _NOW = Level
_FIVE = (_NOTHING, _LOOK, _PLAN, _SOON, _NOW)
_TABLE = "ANSI/NETA MTS Table 100.18"

SIMILAR = BandRule(
    reference=ReferenceKind.LIKE_PARTS,
    unit=Unit.KELVIN,
    edges=(Edge(1.0, closes_up=True), Edge(3.0), Edge(15.0)),
    levels=(_NOTHING, _LOOK, _PLAN, _NOW),
    bands=("below the table", "4 possible: 1–3 K", "3 probable: 4–15 K", "1 serious: over 15 K"),
    source=f"{_TABLE}, over similar parts under similar load",
    confidence=Confidence.SEEN,
)
AIR = BandRule(
    reference=ReferenceKind.AIR,
    unit=Unit.KELVIN,
    edges=(Edge(1.0, closes_up=True), Edge(10.0), Edge(20.0), Edge(40.0)),
    levels=_FIVE,
    bands=(
        "below the table",
        "4 possible: 1–10 K",
        "3 probable: 11–20 K",
        "2 watch until repaired: 21–40 K",
        "1 serious: over 40 K",
    ),
    source=f"{_TABLE}, over ambient air",
    confidence=Confidence.SEEN,
)
BASELINE = BandRule(
    reference=ReferenceKind.BASELINE,
    unit=Unit.KELVIN,
    edges=(Edge(10.0), Edge(20.0), Edge(40.0)),
    levels=(_LOOK, _PLAN, _SOON, _NOW),
    bands=("up to 10 K", "over 10 to 20 K", "over 20 to 40 K", "over 40 K"),
    source="Experience-based mechanical bands over the point's own baseline",
    confidence=Confidence.PRACTICE,
)
RATED_SHARE = BandRule(
    reference=ReferenceKind.RATED_SHARE,
    unit=Unit.PERCENT,
    edges=tuple(Edge(share, closes_up=True) for share in (70.0, 85.0, 100.0, 120.0)),
    levels=_FIVE,
    bands=("below 70 %", "70 to 85 %", "85 to 100 %", "100 to 120 %", "120 % and over"),
    source="Share of the rated rise at the load of the visit",
    confidence=Confidence.OWN,
)
COLD = BandRule(
    reference=ReferenceKind.LIKE_PARTS,
    unit=Unit.KELVIN,
    edges=(Edge(3.0),),
    levels=(_NOTHING, _LOOK),
    bands=("like its like parts", "over 3 K colder"),
    source="Colder than its like parts: open circuit, shut or blocked",
    confidence=Confidence.OWN,
)
RELATIVE = BandRule(
    reference=ReferenceKind.LIKE_PARTS,
    unit=Unit.PERCENT,
    edges=tuple(Edge(share, closes_up=True) for share in (35.0, 80.0, 95.0)),
    levels=(_NOTHING, _PLAN, _SOON, _NOW),
    bands=("below 35 %", "35 to 80 %", "80 to 95 %", "95 % and over"),
    source="Relative difference (T1−T2)/(T1−T0), after DL/T 664",
    confidence=Confidence.MEMORY,
)


def _air_of_kind(kind: PointKind, edge_k: float, level: Level, *, band: str, source: str) -> KindLine:
    rule = BandRule(
        reference=ReferenceKind.AIR,
        unit=Unit.KELVIN,
        edges=(Edge(edge_k),),
        levels=(_NOTHING, level),
        bands=(f"up to {edge_k:g} K", band),
        source=source,
        confidence=Confidence.PRACTICE,
    )
    return KindLine(kind, rule)


def _silent(reference: ReferenceKind, source: str) -> BandRule:
    return BandRule(
        reference=reference,
        unit=Unit.KELVIN,
        edges=(),
        levels=(_NOTHING,),
        bands=("no band",),
        source=source,
        confidence=Confidence.NO_SOURCE,
    )


#: Table 100.18 is a table for electrical gear. A healthy bearing runs 7–45 K over air and a
#: transformer is designed for 65 K, so its air column would call most of them for repair.
AIR_BY_KIND = (
    _air_of_kind(
        PointKind.BEARING,
        40.0,
        _PLAN,
        band="over 40 K",
        source="Rolling bearings run up to 40 K over air",
    ),
    _air_of_kind(
        PointKind.TRANSFORMER,
        65.0,
        _SOON,
        band="over 65 K",
        source="Transformers designed for a mean winding rise of 65 K",
    ),
    KindLine(PointKind.MOTOR, _silent(ReferenceKind.AIR, "Motor casings: no line over air shipped")),
    KindLine(PointKind.COUPLING, _silent(ReferenceKind.AIR, "Couplings: no line over air shipped")),
)


def _limits() -> tuple[Limit, ...]:
    """IEC 60694 Table 3, °C total / K rise at up to 40 °C of air, and low-voltage terminals."""
    rows = (
        ("contact", ("contact",), "bare", {"air": (75, 35), "sf6": (105, 65), "oil": (80, 40)}),
        ("contact", ("contact",), "silver", {"air": (105, 65), "sf6": (105, 65), "oil": (90, 50)}),
        ("contact", ("contact",), "nickel", {"air": (105, 65), "sf6": (105, 65), "oil": (90, 50)}),
        ("contact", ("contact",), "tin", {"air": (90, 50), "sf6": (90, 50), "oil": (90, 50)}),
        ("bolted joint", _BOLTED, "bare", {"air": (90, 50), "sf6": (115, 75), "oil": (100, 60)}),
        ("bolted joint", _BOLTED, "silver", {"air": (115, 75), "sf6": (115, 75), "oil": (100, 60)}),
        ("bolted joint", _BOLTED, "nickel", {"air": (115, 75), "sf6": (115, 75), "oil": (100, 60)}),
        ("bolted joint", _BOLTED, "tin", {"air": (105, 65), "sf6": (105, 65), "oil": (100, 60)}),
        ("external terminal", ("external terminal",), "bare", {"air": (90, 50)}),
        ("external terminal", ("external terminal",), "silver", {"air": (105, 65)}),
        ("external terminal", ("external terminal",), "nickel", {"air": (105, 65)}),
        ("external terminal", ("external terminal",), "tin", {"air": (105, 65)}),
        ("touched in operation", ("touched in operation",), "", {"air": (70, 30)}),
        ("touchable, not in operation", ("touchable",), "", {"air": (80, 40)}),
    )
    iec = tuple(
        Limit(part, words, coating, medium, total, rise, _IEC_60694, Confidence.SEEN)
        for part, words, coating, media in rows
        for medium, (total, rise) in media.items()
    )
    ul = "UL 489, at 40 °C of air"
    return (
        *iec,
        Limit("breaker terminal", ("breaker terminal",), "", "air", 90, 50, ul, Confidence.SEEN),
        Limit("100 %-rated terminal", ("100 %-rated terminal",), "", "air", 100, 60, ul, Confidence.SEEN),
        Limit(
            "assembly terminal",
            ("assembly terminal",),
            "",
            "air",
            None,
            70,
            "IEC 61439-1 Table 6",
            Confidence.SEEN,
        ),
    )


_BOLTED = ("bolted", "busbar", "lug", "palm")
_IEC_60694 = "IEC 60694 Table 3 (superseded by IEC 62271-1, whose rows may differ)"


def _template(
    kind: PointKind, component: str, boxes: tuple[str, ...], *, measure: Measure = Measure.RISE
) -> Template:
    told = f"{component or kind.value}{'' if measure is Measure.RISE else f', {measure.value}'}"
    rule = _silent(ReferenceKind.AIR, f"{told[0].upper()}{told[1:]}: no band shipped")
    unit = measure.unit or Unit.KELVIN
    return Template(kind, component, boxes, replace(rule, unit=unit), measure)


#: Kinds without a published band: they ask for their boxes and give no verdict before a site fills
#: in numbers of its own. ``boxes`` are those that the measure needs.
TEMPLATES = (
    _template(PointKind.STEAM_TRAP, "", ("inlet_c", "outlet_c"), measure=Measure.INLET_OVER_OUTLET),
    _template(PointKind.STEAM_TRAP, "", ("inlet_c", "line_pressure_bar"), measure=Measure.INLET_UNDER_STEAM),
    _template(PointKind.REFRACTORY, "", (), measure=Measure.SURFACE),
    _template(PointKind.COUPLING, "belt", ()),
    _template(PointKind.TRANSFORMER, "tap changer", ("main_tank_c",), measure=Measure.OVER_MAIN_TANK),
    _template(PointKind.PHOTOVOLTAIC, "", ("irradiance_w_m2",)),
)

TWO_COLUMN = Criteria(
    id="two-column",
    version=1,
    title="Two columns: over like parts and over air",
    citation=(
        f"Bands after {_TABLE}, in our own words; limits as cited beside each. How they are applied "
        "(load, wind, like currents, cold parts, baselines) is this service's own judgement."
    ),
    confidence=Confidence.SEEN,
    similar=SIMILAR,
    air=AIR,
    baseline=BASELINE,
    rated_share=RATED_SHARE,
    cold=COLD,
    relative=RELATIVE,
    air_by_kind=AIR_BY_KIND,
    limits=_limits(),
    templates=TEMPLATES,
)


def _navy(reference: ReferenceKind) -> BandRule:
    return BandRule(
        reference=reference,
        unit=Unit.KELVIN,
        edges=(Edge(10.0), Edge(25.0), Edge(40.0), Edge(70.0)),
        levels=_FIVE,
        bands=("up to 10 K", "over 10 to 25 K", "over 25 to 40 K", "over 40 to 70 K", "over 70 K"),
        source="MIL-STD-2194(SH), rise over reference (one page seen and memory; status unknown)",
        confidence=Confidence.MEMORY,
    )


NAVY = Criteria(
    id="navy-bands",
    version=1,
    title="United States Navy bands over reference",
    citation="MIL-STD-2194(SH), public domain; bands from one page and from memory, status unknown.",
    confidence=Confidence.MEMORY,
    similar=_navy(ReferenceKind.LIKE_PARTS),
    air=_navy(ReferenceKind.AIR),
    baseline=BASELINE,
    rated_share=RATED_SHARE,
    cold=COLD,
    relative=RELATIVE,
    air_by_kind=AIR_BY_KIND,
    limits=_limits(),
    templates=TEMPLATES,
)

#: Every preset by its id; the first is in force where nobody chose another.
PRESETS = {criteria.id: criteria for criteria in (TWO_COLUMN, NAVY)}
#: Not offered before an administrator switches them on: their numbers are not sure enough.
OFF_BY_DEFAULT = frozenset({NAVY.id})
DEFAULT_CRITERIA = TWO_COLUMN
