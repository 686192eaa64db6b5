"""Emissivities that are shipped, each against its source, and the surfaces that have none."""

import pytest

from service.physics.emissivity import TABLE, Seen, Use, surface_row
from service.physics.optics import ASSUMED_EMISSIVITY, ASSUMED_EMISSIVITY_HALF_WIDTH
from tests.published.evidence import GUARD, MEMORY, PRACTICE, PUBLISHED, evidence, named

EDE = "Ede, Introduction to Heat Transfer (1967)"
KUTZ = "Kutz, Mechanical Engineers' Handbook vol. 4, Table 19"
THOME = "Thome, EPFL lecture (2008)"
KATZ = "Katz, Automotive Aerodynamics, Table 11.3"
FORTESCUE = "Fortescue et al., Spacecraft Systems Engineering, Table 11.3"
THERM = "THERM list of materials, blanket values"
DYNTHERM = "DynTherm, Modelica library"

# key, low, high, default, source, clause, kind
SHIPPED = [
    ("oil-paint", 0.92, 0.96, 0.94, THOME, "oil paint, any colour, 40 °C", PUBLISHED),
    ("white-paint", 0.80, 0.97, 0.92, f"{THOME}; Kutz; Ede", "white paint, 20–40 °C", PUBLISHED),
    ("black-gloss-paint", 0.80, 0.95, 0.90, f"{THOME}; Ede", "black gloss, 40 °C", PUBLISHED),
    ("matt-black-paint", 0.95, 0.96, 0.95, f"{KUTZ}; Carvill", "matt black, 27 °C", PUBLISHED),
    ("lacquer", 0.80, 0.95, 0.88, THOME, "lacquer, 40 °C", PUBLISHED),
    ("black-epoxy", 0.85, 0.90, 0.88, FORTESCUE, "black epoxy or polyurethane, 20 °C", PUBLISHED),
    ("rubber-or-hard-plastic", 0.90, 0.90, 0.90, THERM, "rubber and hard plastics", PUBLISHED),
    ("smooth-glass", 0.84, 0.95, 0.90, f"{THERM}; Katz; Ede", "glass, 20 °C", PUBLISHED),
    ("red-brick", 0.85, 0.95, 0.93, f"{KUTZ}; Ede", "red brick, 20 °C", PUBLISHED),
    ("concrete", 0.91, 0.91, 0.91, KATZ, "concrete, 20 °C", PUBLISHED),
    ("wood", 0.80, 0.95, 0.90, f"{EDE}; Katz", "wood, 20 °C", PUBLISHED),
    ("paper", 0.90, 0.95, 0.93, EDE, "paper, 20 °C", PUBLISHED),
    ("rough-steel", 0.85, 0.95, 0.90, EDE, "rough steel plate, 20 °C", PUBLISHED),
    ("oxidised-steel", 0.60, 0.80, 0.75, f"{EDE}; THERM", "oxidised steel, 20 °C", PUBLISHED),
    ("oxidised-cast-iron", 0.60, 0.70, 0.65, EDE, "oxidised cast iron, 20 °C", PUBLISHED),
    ("oxidised-copper", 0.60, 0.75, 0.65, f"{KUTZ}; Ede; Ekin", "oxidised copper, 27 °C", PUBLISHED),
    ("oxidised-brass", 0.46, 0.60, 0.52, f"{THOME}; Ekin", "oxidised brass, 40–260 °C", PUBLISHED),
    ("anodised-aluminium", 0.56, 0.88, 0.76, DYNTHERM, "anodised aluminium, 20 °C", PUBLISHED),
    ("heat-tinted-stainless", 0.50, 0.70, 0.55, THOME, "heat-tinted stainless, 230–900 °C", PUBLISHED),
    ("aluminium-paint", 0.30, 0.70, 0.45, f"{EDE}; Fortescue", "aluminium paint, 20 °C", PUBLISHED),
    ("oxidised-aluminium", 0.10, 0.33, 0.20, f"{THOME}; THERM; Ede", "oxidised aluminium", PUBLISHED),
    ("dull-brass", 0.22, 0.22, None, THOME, "dull brass, 40 °C: no value shipped", PUBLISHED),
    ("dull-copper", 0.12, 0.15, None, THOME, "dull copper, 40 °C: no value shipped", PUBLISHED),
    ("polished-aluminium", 0.04, 0.08, None, THOME, "polished aluminium: no value shipped", PUBLISHED),
    ("polished-copper", 0.02, 0.05, None, THOME, "polished copper: no value shipped", PUBLISHED),
    ("polished-steel", 0.05, 0.15, None, EDE, "polished steel: no value shipped", PUBLISHED),
    ("polished-silver", 0.04, 0.04, None, KUTZ, "polished silver: no value shipped", PUBLISHED),
    ("tin-plate", 0.03, 0.10, None, KUTZ, "tin plate: no value shipped", PUBLISHED),
    ("polished-cast-iron", 0.20, 0.25, None, EDE, "polished cast iron: no value shipped", PUBLISHED),
    *(
        (key, None, None, None, "no source outside makers' pages", key, MEMORY)
        for key in (
            "galvanised-steel",
            "plated-bus",
            "porcelain",
            "pvc-jacket",
            "electrical-tape",
            "bakelite",
        )
    ),
]


@pytest.mark.parametrize(("key", "low", "high", "default"), named(SHIPPED))
def test_emissivity(key: str, low: float | None, high: float | None, default: float | None) -> None:
    row = surface_row(key)
    assert (row.low, row.high, row.default) == (low, high, default)


@evidence("Table of emissivities", "every row", GUARD)
def test_every_row_of_the_table_is_checked_here() -> None:
    assert sorted(row.key for row in TABLE) == sorted(row[0] for row in SHIPPED)


# ε, half width, source, clause, kind
ASSUMED = [(0.95, 0.05, "painted and organic surfaces", "nothing chosen: assumed", PRACTICE)]


@pytest.mark.parametrize(("eps", "half"), named(ASSUMED))
def test_emissivity_where_nothing_was_chosen(eps: float, half: float) -> None:
    assumed = (ASSUMED_EMISSIVITY, ASSUMED_EMISSIVITY_HALF_WIDTH)
    assert assumed == (eps, half)


@evidence("Table of emissivities", "no source, no number", GUARD)
def test_a_surface_without_a_source_ships_no_number_and_says_what_to_do() -> None:
    for row in TABLE:
        if not row.sources:
            assert row.use is Use.TYPED
            assert (row.low, row.high, row.default) == (None, None, None)
            assert "ASTM E1933" in row.remedy


@evidence("Table of emissivities", "marks of the sources", GUARD)
def test_a_value_only_quoted_by_others_is_marked_from_memory() -> None:
    marks = {source.key: source.seen for row in TABLE for source in row.sources}
    assert marks.pop("ekin") is Seen.MEMORY
    assert set(marks.values()) == {Seen.SEEN}
