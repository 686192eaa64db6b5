"""A year in words: its title, what each figure counts, shares, and the months of the drawing."""

from datetime import date
from urllib.parse import urlencode

from service.charts.year_months import YearMonth
from service.domain.coverage import Coverage
from service.domain.year import CoverageShare, EquipmentAsked, Faults, MonthCount, YearAsked, YearReport
from service.pages import view
from service.pages.view.times import LONG_MONTHS, MONTHS

PIECE, PIECES = "piece of equipment", "pieces of equipment"


def title(report: YearReport, *, today: date) -> str:
    """Sixty of 62 rounds planned for 2026 were walked, and 23 of 80 pieces of equipment are late."""
    return f"{_rounds_told(report)}, and {_lateness(report.total, gone=report.on < today)}"


def _rounds_told(report: YearReport) -> str:
    year, counts = report.asked.year, report.year
    planned, walked = counts.planned, counts.walked
    if not planned:
        return f"No round was planned for {year}"
    if planned == walked == 1:
        return f"The one round planned for {year} was walked"
    if walked == planned:
        return f"All {view.number_word(planned)} rounds planned for {year} were walked"
    if planned == 1:
        return f"The one round planned for {year} was not walked"
    was = "was" if walked <= 1 else "were"
    count = view.number_word(walked) if walked else "none"
    return view.sentence_case(
        f"{count} of {view.number_word(planned)} rounds planned for {year} {was} walked"
    )


def _lateness(total: CoverageShare, *, gone: bool) -> str:
    if not total.equipment:
        return "there was no equipment to read" if gone else "there is no equipment to read"
    clauses = [
        f"{view.number_word(count)} {_state(state, count, gone=gone)}"
        for count, state in ((total.late, "late"), (total.never_read, "never read"))
        if count
    ] or [f"none {_state('late', 1, gone=gone)}"]
    number, rest = clauses[0].split(" ", 1)
    whole = (
        f"the one {PIECE} {rest if number != 'none' else _state('not late', 1, gone=gone)}"
        if total.equipment == 1
        else f"{number} of {view.number_word(total.equipment)} {PIECES} {rest}"
    )
    return view.listed([whole, *clauses[1:]]) + (" at its end" if gone else "")


def _state(state: str, count: int, *, gone: bool) -> str:
    """Is late, are late, were late; has never been read, had never been read."""
    if state == "never read":
        return f"{'had' if gone else 'has' if count == 1 else 'have'} never been read"
    return f"{('was' if count == 1 else 'were') if gone else ('is' if count == 1 else 'are')} {state}"


def lead(report: YearReport, *, today: date) -> str:
    """What of the year is still open, and as at which day coverage is told."""
    counts, parts = report.year, []
    rest = counts.planned - counts.walked
    if rest and report.asked.year >= today.year:
        parts.append(f"{view.counted(rest, 'round')} still to come or not back.")
    elif rest:
        parts.append(f"{view.counted(rest, 'round')} never came back.")
    if counts.withdrawn:
        parts.append(f"{view.counted(counts.withdrawn, 'round')} withdrawn besides.")
    unsigned = counts.walked - counts.signed_off
    if unsigned:
        parts.append(f"{view.counted(unsigned, 'round')} walked, not yet signed off.")
    when = "today" if report.on == today else "the last day of that year"
    parts.append(f"Coverage stands as at {view.day(report.on)}, {when}.")
    return " ".join(parts)


def share(row: CoverageShare, count: int) -> str:
    """85 %, of 11 of 13; nothing beside a nought."""
    part = row.share(count)
    return view.percent(part) if part else ""


def oldest(row: CoverageShare) -> str:
    return view.NONE if row.oldest is None else view.day(row.oldest.cleared_on)


def per_finding(report: YearReport) -> tuple[tuple[str, str, str], ...]:
    """Covers opened by what was found: name, figure, and what it counts."""
    counts, faults, year = report.year, report.faults, report.asked.year
    return (
        (
            "Covers opened",
            view.thousands(counts.covers) if counts.covers else "None",
            "Stops at equipment behind a hinged or bolted cover from which at least one reading came back, on rounds"
            f" planned for {year}. A reading through a window opened nothing. Access is as the register has it now.",
        ),
        (
            "Findings opened",
            view.thousands(faults.opened) if faults.opened else "None",
            _findings_told(faults, year),
        ),
        (
            "Covers per finding",
            ratio(report.covers_per_finding, covers=counts.covers),
            "Covers opened over all findings opened.",
        ),
        (
            "Covers per finding behind one",
            ratio(report.covers_per_finding_behind, covers=counts.covers),
            "Covers opened over the findings opened at equipment behind a cover.",
        ),
    )


def _findings_told(faults: Faults, year: int) -> str:
    counts = f"Opened in {year}; slips that were corrected are left out."
    if not faults.opened:
        return counts

    def word(count: int) -> str:
        return view.number_word(count) if count else "none"

    return (
        f"{view.sentence_case(word(faults.of_readings))} from readings of rounds, {word(faults.off_round)} off the"
        f" round; {word(faults.behind_covers)} of them behind a cover. {counts}"
    )


def ratio(value: float | None, *, covers: int) -> str:
    """A figure, or in words why there is none."""
    if value is not None:
        return view.number(value, 1)
    return "Covers were opened, nothing was found" if covers else "Nothing opened, nothing found"


def drawn_months(report: YearReport, *, today: date) -> list[YearMonth]:
    """The twelve months as the drawing takes them."""
    now = today.month if today.year == report.asked.year else 0
    return [
        YearMonth(
            MONTHS[one.month - 1],
            MONTHS[one.month - 1][0],
            one.planned,
            one.walked,
            one.signed_off,
            one.withdrawn,
            one.covers,
            _tip(one),
            now=one.month == now,
        )
        for one in report.months
    ]


def _tip(one: MonthCount) -> str:
    withdrawn = f", {one.withdrawn} withdrawn" if one.withdrawn else ""
    return (
        f"{LONG_MONTHS[one.month - 1]}: {one.planned} planned, {one.walked} walked, {one.signed_off} signed off"
        f"{withdrawn}; {view.counted(one.covers, 'cover')} opened"
    )


def has_months(report: YearReport) -> bool:
    """Whether any month of the year has something to show."""
    year = report.year
    return bool(year.planned or year.withdrawn or year.findings)


def month_name(month: int) -> str:
    return LONG_MONTHS[month - 1]


def picture_words(report: YearReport) -> str:
    """The drawing for those who do not see it."""
    year = report.year
    return (
        f"{year.planned} planned, {year.walked} walked, {year.signed_off} signed off, {year.withdrawn} withdrawn;"
        f" {year.covers} covers opened. The table below has each month."
    )


def address(asked: YearAsked, wanted: EquipmentAsked | None = None, *, path: str = "/reports/year", after: int = 0) -> str:  # fmt: skip
    """The page, or a file of it, with the same choice."""
    chosen: dict[str, object] = {"year": asked.year}
    if asked.client_id:
        chosen["client_id"] = asked.client_id
    if asked.site_id is not None:
        chosen["site_id"] = asked.site_id
    if wanted is not None and wanted.equipment_class is not None:
        chosen["equipment_class"] = wanted.equipment_class
    if wanted is not None and wanted.coverage is not None:
        chosen["coverage"] = wanted.coverage.value
    if after:
        chosen["after"] = after
    return f"{path}?{urlencode(chosen)}"


def list_title(found: int, wanted: EquipmentAsked) -> str:
    """80 pieces of equipment, 23 pieces of equipment late."""
    pieces = view.counted(found, PIECE, PIECES) if found else "No equipment"
    told = {
        None: pieces,
        Coverage.WITHIN: f"{pieces} within {'their' if found > 1 else 'its'} date",
        Coverage.NO_POINTS: f"{pieces} without points",
    }
    return told.get(wanted.coverage, f"{pieces} {wanted.coverage}")
