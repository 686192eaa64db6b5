"""Emissivities that are shipped, with their sources, and the surfaces for which none is."""

from dataclasses import dataclass
from enum import StrEnum


class Seen(StrEnum):
    """How a source is known."""

    SEEN = "seen"
    MEMORY = "from memory"


class Use(StrEnum):
    """What a reading with an emissivity of the table may be used for."""

    PLAIN = "plain"
    INDICATIVE = "indicative"
    COMPARISON = "comparison only"
    REFUSED = "refused"
    TYPED = "value to be found on site"


@dataclass(frozen=True, slots=True)
class Source:
    """Where a value stands: citation, how the values are known, and what of it is not certain."""

    key: str
    citation: str
    seen: Seen
    remark: str = ""


@dataclass(frozen=True, slots=True)
class SurfaceRow:
    """One surface of the table.

    Attributes
    ----------
    key : str
        Lasting name.
    surface : str
        The surface in words.
    temperature : str
        Temperatures of the surface for which its sources give the value [°C], as text.
    printed : str
        Ranges and values as the sources print them.
    low, high : float or None
        Least and greatest of them.
    default : float or None
        The value shipped; None where a person must type one.
    sources : tuple of Source
    use : Use
    remedy : str
        What to do where no value is shipped.
    """

    key: str
    surface: str
    temperature: str
    printed: str
    low: float | None
    high: float | None
    default: float | None
    sources: tuple[Source, ...]
    use: Use = Use.PLAIN
    remedy: str = ""


_EXCERPT = "read as an excerpt; author and edition from memory"
EDE = Source("ede", "Ede, An Introduction to Heat Transfer, Pergamon, 1967: rough total values", Seen.SEEN)
KUTZ = Source(
    "kutz",
    "Kutz (ed.), Mechanical Engineers' Handbook, 3rd ed., vol. 4, p. 187, Table 19 (after Holman, 1981)",
    Seen.SEEN,
    _EXCERPT,
)
THOME = Source(
    "thome",
    "Thome, lecture on radiation, EPFL, 2008: table of emissivities",
    Seen.SEEN,
    "its value of .04 for black oxidised copper is not taken",
)
LILEY = Source("liley", "Liley, Heat Exchanger Design Handbook, 5.5.7", Seen.SEEN)
KATZ = Source("katz", "Katz, Automotive Aerodynamics, Wiley, Table 11.3", Seen.SEEN, _EXCERPT)
FORTESCUE = Source(
    "fortescue", "Fortescue et al., Spacecraft Systems Engineering, 4th ed., Wiley, Table 11.3", Seen.SEEN
)
CARVILL = Source("carvill", "Carvill, Mechanical Engineer's Data Handbook, 3.14.12", Seen.SEEN, _EXCERPT)
THERM = Source(
    "therm",
    "List of materials of the THERM program of a US national laboratory: blanket engineering values",
    Seen.SEEN,
)
DYNTHERM = Source("dyntherm", "DynTherm, open Modelica library: finishes of aluminium", Seen.SEEN)
EKIN = Source(
    "ekin",
    "Ekin, Experimental Techniques for Low-Temperature Measurements, 2006, App. A2.2",
    Seen.MEMORY,
    "seen only as quoted by others",
)
SOURCES = (EDE, KUTZ, THOME, LILEY, KATZ, FORTESCUE, CARVILL, THERM, DYNTHERM, EKIN)

#: All values are total ones near the temperature named, not of a waveband.
SCOPE = (
    "Total emissivities near the temperature named, not those within 8 to 14 µm. For paint and other "
    "organic surfaces the difference is within 0.05; for metals a reading is indicative."
)
_CONTACT = (
    "Find the value on site: with the part isolated and warm, measure it by contact and set the "
    "emissivity until the instrument shows the same (method of ASTM E1933), or compare it with a patch "
    "of known emissivity on it."
)
_BARE = (
    "Bare metal mirrors its surroundings. Read a painted, taped or oxidised place of the same part "
    "instead, or compare it with a like part in the same view."
)
_POLISHED = (THOME, KUTZ, EDE, LILEY, FORTESCUE, KATZ)


def _bare(key: str, surface: str, printed: str, low: float, high: float) -> SurfaceRow:
    return SurfaceRow(key, surface, "27", printed, low, high, None, _POLISHED, Use.REFUSED, _BARE)


def _unknown(key: str, surface: str) -> SurfaceRow:
    return SurfaceRow(key, surface, "", "", None, None, None, (), Use.TYPED, _CONTACT)


TABLE = (
    SurfaceRow("oil-paint", "Paint, oil, any colour", "40", ".92–.96", 0.92, 0.96, 0.94, (THOME,)),
    SurfaceRow(
        "white-paint",
        "Paint, white",
        "20–40",
        ".89–.97; .90–.95; .80–.95",
        0.80,
        0.97,
        0.92,
        (THOME, KUTZ, EDE),
    ),
    SurfaceRow(
        "black-gloss-paint", "Paint, black gloss", "40", ".90; .80–.95", 0.80, 0.95, 0.90, (THOME, EDE)
    ),
    SurfaceRow(
        "matt-black-paint",
        "Paint or lacquer, matt black",
        "27",
        ".95–.96",
        0.95,
        0.96,
        0.95,
        (KUTZ, CARVILL),
    ),
    SurfaceRow("lacquer", "Lacquer, clear or other", "40", ".80–.95", 0.80, 0.95, 0.88, (THOME,)),
    SurfaceRow(
        "black-epoxy", "Epoxy or polyurethane, black", "20", ".85–.90", 0.85, 0.90, 0.88, (FORTESCUE,)
    ),
    SurfaceRow(
        "rubber-or-hard-plastic",
        "Rubber, neoprene, EPDM; hard plastics, PMMA, resin-glass",
        "20",
        ".90 (blanket)",
        0.90,
        0.90,
        0.90,
        (THERM,),
    ),
    SurfaceRow("smooth-glass", "Glass, smooth", "20", ".84–.95", 0.84, 0.95, 0.90, (THERM, KATZ, EDE)),
    SurfaceRow("red-brick", "Brick, red", "20", ".85–.95", 0.85, 0.95, 0.93, (KUTZ, EDE)),
    SurfaceRow("concrete", "Concrete", "20", ".91", 0.91, 0.91, 0.91, (KATZ,)),
    SurfaceRow("wood", "Wood", "20", ".80–.95", 0.80, 0.95, 0.90, (EDE, KATZ)),
    SurfaceRow("paper", "Paper", "20", ".90–.95", 0.90, 0.95, 0.93, (EDE,)),
    SurfaceRow(
        "rough-steel", "Steel plate, rough", "20", ".85–.95", 0.85, 0.95, 0.90, (EDE,), Use.INDICATIVE
    ),
    SurfaceRow(
        "oxidised-steel", "Steel, oxidised", "20", ".60–.80", 0.60, 0.80, 0.75, (EDE, THERM), Use.INDICATIVE
    ),
    SurfaceRow(
        "oxidised-cast-iron",
        "Cast iron, oxidised",
        "20",
        ".60–.70",
        0.60,
        0.70,
        0.65,
        (EDE,),
        Use.INDICATIVE,
    ),
    SurfaceRow(
        "oxidised-copper",
        "Copper, tarnished or oxidised",
        "27",
        ".75; .60–.70; .60",
        0.60,
        0.75,
        0.65,
        (KUTZ, EDE, EKIN),
        Use.INDICATIVE,
    ),
    SurfaceRow(
        "oxidised-brass",
        "Brass, oxidised",
        "40–260",
        ".46–.56; .60",
        0.46,
        0.60,
        0.52,
        (THOME, EKIN),
        Use.INDICATIVE,
    ),
    SurfaceRow(
        "anodised-aluminium",
        "Aluminium, anodised, clear or coloured",
        "20",
        ".76 clear; .82–.88 coloured; .56 chromic",
        0.56,
        0.88,
        0.76,
        (DYNTHERM,),
        Use.INDICATIVE,
    ),
    SurfaceRow(
        "heat-tinted-stainless",
        "Stainless steel, heat-tinted",
        "230–900",
        ".50–.70",
        0.50,
        0.70,
        0.55,
        (THOME,),
        Use.INDICATIVE,
    ),
    SurfaceRow(
        "aluminium-paint",
        "Aluminium or silver paint",
        "20",
        ".30–.70; .44",
        0.30,
        0.70,
        0.45,
        (EDE, FORTESCUE),
        Use.INDICATIVE,
    ),
    SurfaceRow(
        "oxidised-aluminium",
        "Aluminium, heavily oxidised",
        "90–540",
        ".20–.33; .20; .10–.20",
        0.10,
        0.33,
        0.20,
        (THOME, THERM, EDE),
        Use.COMPARISON,
    ),
    SurfaceRow("dull-brass", "Brass, dull", "40", ".22", 0.22, 0.22, None, (THOME,), Use.REFUSED, _BARE),
    SurfaceRow(
        "dull-copper", "Copper, dull", "40", ".12–.15", 0.12, 0.15, None, (THOME,), Use.REFUSED, _BARE
    ),
    _bare("polished-aluminium", "Aluminium, polished", ".04–.08", 0.04, 0.08),
    _bare("polished-copper", "Copper, polished", ".02–.05", 0.02, 0.05),
    _bare("polished-steel", "Steel, polished", ".05–.15", 0.05, 0.15),
    _bare("polished-silver", "Silver, polished", ".04", 0.04, 0.04),
    _bare("tin-plate", "Tin plate, bright", ".03–.10", 0.03, 0.10),
    _bare("polished-cast-iron", "Cast iron, polished", ".20–.25", 0.20, 0.25),
    _unknown("galvanised-steel", "Steel, galvanised"),
    _unknown("plated-bus", "Bus bar, tinned or silvered"),
    _unknown("porcelain", "Porcelain"),
    _unknown("pvc-jacket", "PVC jacket"),
    _unknown("electrical-tape", "Electrical tape"),
    _unknown("bakelite", "Bakelite"),
)

_BY_KEY = {row.key: row for row in TABLE}


def surface_row(key: str) -> SurfaceRow:
    """Row of the table by its lasting name.

    Parameters
    ----------
    key : str
        Such as "oxidised-copper".

    Returns
    -------
    SurfaceRow

    Raises
    ------
    KeyError
        If there is none.

    Examples
    --------
    >>> surface_row("oxidised-copper").default, surface_row("porcelain").default
    (0.65, None)
    """
    return _BY_KEY[key]
