"""Columns of the file that goes out with a round and comes back filled in: named once, here."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

Cell = str | float | int | date | datetime | None


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the round file.

    ``header`` is the text of the first row; ``editable`` says that people fill it in, the
    others only say which point the row is of.
    """

    name: str
    header: str
    meaning: str
    unit: str = ""
    editable: bool = False


#: what stands in the stop column of the empty rows for hot parts met off the round
OFF_THE_ROUND = "off the round"
#: how many of those rows a file carries
OFF_ROUND_ROWS = 5
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
    Column("temperature_c", "Temperature °C", "What the instrument showed.", "°C", True),
    Column("ambient_c", "Ambient °C", "Air near the part; only one row of a view needs it.", "°C", True),
    Column("reflected_c", "Reflected °C", "Reflected apparent temperature.", "°C", True),
    Column("current_a", "Amps A", "Current of this part or phase at the time.", "A", True),
    Column("neutral_a", "Neutral amps A", "Current of the view's neutral.", "A", True),
    Column("wind_m_s", "Wind m/s", "At the part; empty indoors.", "m/s", True),
    Column("fan_on_part", "Fan on part", "yes where a fan blows on the part.", "", True),
    Column("emissivity_set", "Emissivity set", "Emissivity set in the instrument.", "", True),
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

COLUMNS: tuple[Column, ...] = (*_KEYS, *_TYPED, *_LAST)
EDITABLE: tuple[Column, ...] = _TYPED
BY_NAME: dict[str, Column] = {column.name: column for column in COLUMNS}


@dataclass(frozen=True, slots=True)
class RoundFile:
    """What goes out to be filled in: one row a point, then empty ones for parts off the round.

    Each row maps column names to what is known; a column left out is blank.
    """

    code: str
    name: str
    planned_on: date
    rows: tuple[Mapping[str, Cell], ...]


def _plain(header: str) -> str:
    return " ".join(header.replace("\u00a0", " ").replace(".", " ").split()).casefold()


_BY_HEADER = {_plain(column.header): column for column in COLUMNS}


def column_of(header: str) -> Column | None:
    """The column a header means; case, dots and spaces do not matter, anything else does."""
    return _BY_HEADER.get(_plain(header))
