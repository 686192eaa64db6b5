"""The emissivity table in words: options of a form, rows of its page."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from service.domain.point_surface import half_width_of_row
from service.pages import view
from service.physics.emissivity import TABLE, Seen, Source, SurfaceRow, Use

#: what a reading with such a number may be used for, in the words of the table
USE_WORDS = {
    Use.PLAIN: "",
    Use.INDICATIVE: "indicative",
    Use.COMPARISON: "comparison with like parts only",
    Use.REFUSED: "no number: bare metal",
    Use.TYPED: "no number: found on site",
}
#: parts of the table, in the order of its page
PARTS = (
    ("coated", "Paint and other coats"),
    ("other", "Glass, stone, wood, rubber"),
    ("oxidised", "Metals with a skin"),
    ("bare", "Bare metals"),
    ("found", "No number outside makers’ own pages"),
)
_COATS = frozenset(
    {"oil-paint", "white-paint", "black-gloss-paint", "matt-black-paint", "lacquer", "black-epoxy"}
)


@dataclass(frozen=True, slots=True)
class SurfaceLine:
    """One row of the table as its page shows it."""

    row: SurfaceRow
    number: str
    half_width: str
    spread: str
    use: str
    memory: bool


@dataclass(frozen=True, slots=True)
class SurfacePart:
    key: str
    title: str
    lines: tuple[SurfaceLine, ...]


def part_of(row: SurfaceRow) -> str:
    """Which part of the page a row stands in."""
    if row.use is Use.TYPED:
        return "found"
    if row.use is Use.REFUSED:
        return "bare"
    if row.key in _COATS:
        return "coated"
    return "other" if row.use is Use.PLAIN else "oxidised"


def surface_line(row: SurfaceRow) -> SurfaceLine:
    return SurfaceLine(
        row,
        number="–" if row.default is None else view.number(row.default, 2),
        half_width="" if row.default is None else view.number(half_width_of_row(row), 2),
        spread=spread(row),
        use=USE_WORDS[row.use],
        memory=any(source.seen is Seen.MEMORY for source in row.sources),
    )


def spread(row: SurfaceRow) -> str:
    """The range of its sources: 0.80 to 0.97; a single value stands alone."""
    if row.low is None or row.high is None:
        return "–"
    low, high = view.number(row.low, 2), view.number(row.high, 2)
    return low if low == high else f"{low} to {high}"


def table_title(rows: Sequence[SurfaceRow]) -> str:
    """How many surfaces there are, and for how many a number is shipped."""
    known = sum(1 for row in rows if row.default is not None)
    left = len(rows) - known
    return f"{view.sentence_case(view.number_word(known))} surfaces have a number; {view.number_word(left)} want one found on site"


def surface_parts(rows: Sequence[SurfaceRow]) -> tuple[SurfacePart, ...]:
    """The table part by part."""
    return tuple(
        SurfacePart(key, title, tuple(surface_line(row) for row in rows if part_of(row) == key))
        for key, title in PARTS
    )


def sources_used(rows: Sequence[SurfaceRow]) -> tuple[Source, ...]:
    """Sources that stand behind a number, each once, in the order of their keys."""
    return tuple(sorted({source for row in rows for source in row.sources}, key=lambda source: source.key))


@cache
def finish_options() -> tuple[tuple[str, str], ...]:
    """Rows of the table for a form's list, each with its number and range."""
    return (("", "none chosen"), *((row.key, _option(row)) for row in TABLE))


def _option(row: SurfaceRow) -> str:
    if row.default is None:
        return f"{row.surface}: {USE_WORDS[row.use]}"
    told = f"{row.surface}: {view.number(row.default, 2)}"
    if spread(row) != view.number(row.default, 2):
        told += f" ({spread(row)})"
    return f"{told}, {USE_WORDS[row.use]}" if row.use is not Use.PLAIN else told
