"""Columns of the file that goes out with a round and comes back filled in: named once, here."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from service.domain.boxes import Box, BoxValue, boxes_of
from service.domain.words import PointKind, SettingSource

Cell = str | float | int | date | datetime | None


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the round file.

    ``header`` is the text of the first row; ``editable`` says that people fill it in, the
    others only say which point the row is of. ``words`` are what may stand in it, where that
    is a fixed list.
    """

    name: str
    header: str
    meaning: str
    unit: str = ""
    editable: bool = False
    number: bool = False
    words: tuple[str, ...] = ()


#: what stands in the stop column of the empty rows for hot parts met off the round
OFF_THE_ROUND = "off the round"
#: how many of those rows a file carries
OFF_ROUND_ROWS = 5
#: from this distance on air between instrument and part is worth asking about [m] (own judgement)
FAR_M = 3.0
#: below this emissivity reflections and finish are worth asking about (own judgement)
BARE_BELOW = 0.9
#: name of the sheet of the workbook that holds the rows
SHEET_NAME = "Readings"

_KEYS = (
    Column("round_code", "Round", "Code of the round; the same in every row."),
    Column("row_uid", "Row id", "Made at issue; leave it. A row without one is off the round."),
    Column("stop", "Stop", "Number of the stop and of the view, as on the sheet."),
    Column("site", "Site", "Where the equipment stands."),
    Column("equipment", "Equipment", "Tag and name of the equipment."),
    Column("view", "View", "What is framed from one place: its like parts."),
    Column("point_tag", "Point tag", "Tag of the measuring place."),
    Column("point_name", "Point", "Name of the measuring place."),
    Column("phase", "Phase", "Phase of the point, where it has one."),
    Column("kind", "Kind", "Joint, fuse, bearing …"),
)
_TYPED = (
    Column("taken_at", "Taken", "Date and time on the site's clock, 2026-12-08 08:33.", "", True),
    Column("temperature_c", "Temperature °C", "What the instrument showed.", "°C", True, True),
    Column(
        "ambient_c", "Ambient °C", "Air near the part; only one row of a view needs it.", "°C", True, True
    ),
    Column("reflected_c", "Reflected °C", "Reflected apparent temperature.", "°C", True, True),
    Column("current_a", "Amps A", "Current of this part or phase at the time.", "A", True, True),
    Column("neutral_a", "Neutral amps A", "Current of the view's neutral.", "A", True, True),
    Column("wind_m_s", "Wind m/s", "At the part; empty indoors.", "m/s", True, True),
    Column("fan_on_part", "Fan on part", "yes where a fan blows on the part.", "", True),
    Column("emissivity_set", "Emissivity set", "Emissivity set in the instrument.", "", True, True),
    Column("instrument_serial", "Instrument serial", "Serial number of the instrument used.", "", True),
    Column("reason", "Reason letter", "Letter of the reason when it could not be read.", "", True),
    Column("picture", "Picture no.", "Number of the thermal picture in the instrument.", "", True),
    Column("note", "Note", "Seen, heard or smelt.", "", True),
    Column("visit_kind", "Visit kind", "routine, unless it is another.", "", True),
    Column("load_source", "Load source", "service, load bank or injection.", "", True),
    Column("correction_reason", "Correction reason", "Why a row sent before is changed now.", "", True),
    Column("place", "Place off the round", "Where the hot part is, when it is off the round.", "", True),
)
#: far right on purpose: values of last time must not invite copying
_LAST = (
    Column("last_on", "Last read on", "Day of the last reading; not to be filled in."),
    Column("last_c", "Last °C", "Temperature of the last reading; not to be filled in.", "°C"),
    Column("last_level", "Last level", "Level the point stands at; not to be filled in."),
)


def _asked(
    name: str, header: str, meaning: str, unit: str = "", *, words: tuple[str, ...] = (), number: bool = True
) -> Column:
    return Column(name, header, meaning, unit, True, number and not words, words)


_SOURCES = tuple(source.value for source in SettingSource)
_YES_NO = ("yes", "no")
#: for points that are read through an inspection window
_OF_WINDOWS = (
    _asked("through_window", "Through window", "no where it was read through an open cover after all.", words=_YES_NO),
    _asked("window_transmission", "Window transmission", "Share of the heat that the pane lets through, 0.01 to 1: as marked on it, or measured."),
    _asked("window_c", "Window °C", "Temperature of the pane itself. Without it the reading gets no verdict.", "°C"),
    _asked("transmission_set", "Transmission set", "Transmission set in the instrument; empty where it has none."),
)  # fmt: skip
#: for small or distant points
_OF_DISTANCES = (
    _asked("distance_m", "Distance m", "From the instrument to the part.", "m"),
    _asked("humidity_percent", "Humidity %", "Relative humidity of the air.", "%"),
    _asked("path_transmission", "Path transmission", "Share that the air lets through, where it was measured; else empty."),
)  # fmt: skip
#: for equipment that takes its time to warm up
_OF_SETTLING = (
    _asked("minutes_at_load", "Minutes at load", "For how long it has carried about this load.", "minutes"),
)
#: for bare and weathered metal, where emissivity and reflections decide
_OF_BARE_METAL = (
    _asked("emissivity", "Emissivity of part", "As found on this visit; empty: as the register says."),
    _asked(
        "emissivity_standing",
        "Emissivity from",
        "measured, table or assumed; empty: assumed.",
        words=_SOURCES,
    ),
    _asked(
        "reflected_standing", "Reflected from", "measured, table or assumed; empty: assumed.", words=_SOURCES
    ),
    _asked("reflected_set_c", "Reflected set °C", "Reflected temperature set in the instrument.", "°C"),
)


def _of_box(box: Box) -> Column:
    words = box.words or (_YES_NO if box.value is BoxValue.YES_OR_NO else ())
    number = box.value in (BoxValue.NUMBER, BoxValue.TEMPERATURE)
    header = f"{box.label} {box.unit}".rstrip()
    return _asked(box.key, header, box.why, box.unit, words=words, number=number)


#: The boxes of every kind, once each, in the order in which rows ask for them.
_BOXES = {box.key: _of_box(box) for kind in PointKind for box in boxes_of(kind)}

#: In every round file.
COLUMNS: tuple[Column, ...] = (*_KEYS, *_TYPED, *_LAST)
#: Read wherever they stand; printed only where a point of the round asks for them.
ON_OCCASION: tuple[Column, ...] = (*_OF_WINDOWS, *_OF_DISTANCES, *_OF_SETTLING, *_OF_BARE_METAL)
EDITABLE: tuple[Column, ...] = (*_TYPED, *ON_OCCASION)
OF_BOXES: tuple[Column, ...] = tuple(_BOXES.values())
BY_NAME: dict[str, Column] = {column.name: column for column in (*COLUMNS, *ON_OCCASION, *OF_BOXES)}


def columns_for(
    *,
    windows: bool = False,
    distances: bool = False,
    settling: bool = False,
    bare_metal: bool = False,
    boxes: Iterable[str] = (),
) -> tuple[Column, ...]:
    """The columns of a file whose points ask for these; the last values stay far right.

    Parameters
    ----------
    windows, distances, settling, bare_metal : bool
        Some point is read through a window, is small or far, takes its time to warm up, or is of
        low emissivity.
    boxes : iterable of str
        Keys of the boxes that the kinds on the round ask for.
    """
    asked = frozenset(boxes)
    on_occasion = (
        *(_OF_WINDOWS if windows else ()),
        *(_OF_DISTANCES if distances else ()),
        *(_OF_SETTLING if settling else ()),
        *(_OF_BARE_METAL if bare_metal else ()),
    )
    return (*_KEYS, *_TYPED, *on_occasion, *(c for key, c in _BOXES.items() if key in asked), *_LAST)


@dataclass(frozen=True, slots=True)
class RoundFile:
    """What goes out to be filled in: one row a point, then empty ones for parts off the round.

    Each row maps column names to what is known; a column left out is blank.
    """

    code: str
    name: str
    planned_on: date
    rows: tuple[Mapping[str, Cell], ...]
    columns: tuple[Column, ...] = COLUMNS


def _plain(header: str) -> str:
    return " ".join(header.replace("\u00a0", " ").replace(".", " ").split()).casefold()


_BY_HEADER = {_plain(column.header): column for column in BY_NAME.values()}


def column_of(header: str) -> Column | None:
    """The column a header means; case, dots and spaces do not matter, anything else does."""
    return _BY_HEADER.get(_plain(header))
