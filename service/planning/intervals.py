"""How often a point is read, and why: every term kept, the smallest one told."""

import calendar
import math
from dataclasses import dataclass
from datetime import date, timedelta

#: Days of a mean month (Julian year / 12), for parts of a month.
DAYS_PER_MONTH = 365.25 / 12
#: Base of thermography in the matrix below [months].
BASE_MONTHS = 12.0
#: ANSI/NETA MTS Appendix B: multiplier on the base by reliability need and condition.
NETA_MULTIPLIERS = {
    ("low", "poor"): 1.0,
    ("low", "average"): 2.0,
    ("low", "good"): 2.5,
    ("medium", "poor"): 0.5,
    ("medium", "average"): 1.0,
    ("medium", "good"): 1.5,
    ("high", "poor"): 0.25,
    ("high", "average"): 0.5,
    ("high", "good"): 0.75,
}
NETA_SOURCE = "ANSI/NETA MTS Appendix B"
#: NFPA 70B-2023 Table 9.2.2, thermography of electrical equipment [months].
ELECTRICAL_CEILING_MONTHS = 12.0
WORST_CONDITION_CEILING_MONTHS = 6.0
CEILING_SOURCE = "NFPA 70B-2023 Table 9.2.2"
#: No point goes unread for longer, whatever it is.
OTHER_CEILING_MONTHS = 12.0
PF_SOURCE = "P–F rule, common practice"
NAVAIR_SOURCE = "NAVAIR 00-25-403"
OWN_SOURCE = "own rule, no source"
#: Steps in which a ceiling that must be *undercut* is told [months].
STEP_MONTHS = 0.25
#: ceil() of an exact 2 that floating point made 2.0000000000000004 must stay 2.
ROUNDING_SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class Term:
    """One rule's say: at most so many months, because, after whom."""

    months: float
    because: str
    source: str


@dataclass(frozen=True, slots=True)
class Interval:
    """The interval in force [months], the line that explains it, and all terms behind it.

    ``warning`` is filled where reading alone cannot give notice: the time from first sign to
    failure is no longer than it takes to arrange the repair.
    """

    months: float
    reason: str
    terms: tuple[Term, ...]
    warning: str = ""


def neta_months(need: str, condition: str, *, base_months: float = BASE_MONTHS) -> float:
    """Interval by reliability need and condition, before any ceiling [months].

    Parameters
    ----------
    need : {"low", "medium", "high"}
        Reliability need, here the criticality of the equipment.
    condition : {"poor", "average", "good"}
        Physical condition.
    base_months : float
        Base interval of the test [months]; 12 for thermography.

    Raises
    ------
    ValueError
        For another need or condition.

    References
    ----------
    ANSI/NETA MTS, Appendix B.

    Examples
    --------
    >>> neta_months("high", "average")
    6.0
    """
    try:
        return NETA_MULTIPLIERS[need, condition] * base_months
    except KeyError:
        raise ValueError(f"no interval for need {need!r} and condition {condition!r}") from None


def inspections_per_pf(accepted_miss: float, found_share: float) -> int:
    """Readings needed within one P–F interval so that a fault slips by seldom enough.

    Parameters
    ----------
    accepted_miss : float
        Accepted chance that no reading finds the fault, between 0 and 1.
    found_share : float
        Chance that one reading finds it, between 0 and 1.

    Returns
    -------
    int
        ceil(ln(accepted_miss) / ln(1 - found_share)), at least 1.

    Raises
    ------
    ValueError
        Outside the open interval (0, 1).

    References
    ----------
    NAVAIR 00-25-403 (public domain), inspection interval from the P–F interval.

    Examples
    --------
    >>> inspections_per_pf(0.05, 0.8)
    2
    """
    for name, value in (("accepted_miss", accepted_miss), ("found_share", found_share)):
        if not 0 < value < 1:
            raise ValueError(f"{name} lies between 0 and 1, got {value}")
    return max(1, math.ceil(math.log(accepted_miss) / math.log(1 - found_share) - ROUNDING_SLACK))


def interval_rule(
    need: str,
    condition: str,
    *,
    electrical: bool,
    worst_condition: bool = False,
    pf_months: float | None = None,
    lead_months: float = 0.0,
    override_months: float | None = None,
    override_by: str = "the equipment",
    readings_per_pf: int | None = None,
) -> Interval:
    """The interval of a point: the smallest of all that apply, with its reason.

    Parameters
    ----------
    need, condition : str
        As in `neta_months`.
    electrical : bool
        Whether the ceiling of NFPA 70B applies; other points have our own of 12 months.
    worst_condition : bool
        Condition 3 of NFPA 70B (worst of physical condition, criticality, environment): 6 months.
    pf_months : float, optional
        From the first sign a reading can see to failure [months].
    lead_months : float
        From finding to mended [months]; what is left of the P–F interval must exceed it.
    override_months : float, optional
        Ceiling set by the site or on the equipment [months]: it shortens, never lengthens.
    override_by : str
        Who set it: "the site" or "the equipment".
    readings_per_pf : int, optional
        Readings wanted within one P–F interval (`inspections_per_pf`) where more than two.

    Returns
    -------
    Interval

    Raises
    ------
    ValueError
        For an unknown need or condition, or a month figure that is not above 0 (lead: below 0).

    Notes
    -----
    The lead rule is strict (P–F minus interval > lead), so its ceiling is the largest quarter
    month *below* P–F minus lead. Where none is left, the interval follows the other rules and
    ``warning`` says that reading alone gives no notice.

    Examples
    --------
    >>> interval_rule("high", "average", electrical=True).reason
    '6 months: high need, average condition (ANSI/NETA MTS Appendix B)'
    """
    _check_months(pf_months=pf_months, override_months=override_months)
    if not (math.isfinite(lead_months) and lead_months >= 0):
        raise ValueError(f"lead_months is 0 or more, got {lead_months}")
    terms = (
        Term(neta_months(need, condition), f"{need} need, {condition} condition", NETA_SOURCE),
        _ceiling(electrical=electrical, worst_condition=worst_condition),
        *_failure_terms(pf_months, lead_months, readings_per_pf),
        *_typed_terms(override_months, override_by),
    )
    # Of equal terms the first is told: a published rule before one of ours.
    least = min(terms, key=lambda term: term.months)
    reason = f"{_months(least.months)}: {least.because} ({least.source})"
    return Interval(least.months, reason, terms, _no_notice(pf_months, lead_months))


def due_on(
    last_clearing: date | None,
    interval_months: float,
    *,
    today: date,
    place: int = 0,
    places: int = 1,
) -> date:
    """The day on which a point is due.

    Parameters
    ----------
    last_clearing : date or None
        The last visit that could have cleared the point; "at least" and not-assessable visits
        do not count. None: never read.
    interval_months : float
        Its interval [months].
    today : date
        Only used for a point never read.
    place, places : int
        Of a point never read: its place (from 0) among the never read ones of its site. They
        are spread evenly over one interval from today, so that a fresh register is not all due
        at once; the first is due today.

    Returns
    -------
    date

    Raises
    ------
    ValueError
        For an interval not above 0, or a place outside ``places``.

    Examples
    --------
    >>> due_on(date(2026, 8, 31), 6, today=date(2026, 11, 1))
    datetime.date(2027, 2, 28)
    """
    _check_months(interval_months=interval_months)
    if last_clearing is not None:
        return add_months(last_clearing, interval_months)
    if not 0 <= place < places:
        raise ValueError(f"place {place} is not one of {places}")
    return today + timedelta(days=math.floor(interval_months * DAYS_PER_MONTH * place / places))


def add_months(day: date, months: float) -> date:
    """Whole months by the calendar, ending at the month's last day at most; the rest in days."""
    whole = math.floor(months)
    year, month = divmod(day.year * 12 + day.month - 1 + whole, 12)
    last = calendar.monthrange(year, month + 1)[1]
    moved = date(year, month + 1, min(day.day, last))
    return moved + timedelta(days=round((months - whole) * DAYS_PER_MONTH))


def due_window(due: date, interval_months: float) -> tuple[date, date]:
    """First and last day on which a visit counts as in time: a quarter of the interval early, a tenth late."""
    days = interval_months * DAYS_PER_MONTH
    return due - timedelta(days=math.floor(0.25 * days)), due + timedelta(days=math.floor(0.10 * days))


def _ceiling(*, electrical: bool, worst_condition: bool) -> Term:
    if electrical and worst_condition:
        return Term(
            WORST_CONDITION_CEILING_MONTHS, "electrical equipment in its worst condition", CEILING_SOURCE
        )
    if electrical:
        return Term(ELECTRICAL_CEILING_MONTHS, "electrical equipment", CEILING_SOURCE)
    return Term(OTHER_CEILING_MONTHS, "nothing goes unread for longer", OWN_SOURCE)


def _failure_terms(
    pf_months: float | None, lead_months: float, readings_per_pf: int | None
) -> tuple[Term, ...]:
    """What the time from first sign to failure asks for, where it is known."""
    if pf_months is None:
        return ()
    half = Term(pf_months / 2, f"half of {_months(pf_months)} from first sign to failure", PF_SOURCE)
    several = _readings_term(pf_months, readings_per_pf)
    lead = _lead_term(pf_months, lead_months)
    return tuple(term for term in (half, several, lead) if term is not None)


def _readings_term(pf_months: float, readings_per_pf: int | None) -> Term | None:
    if readings_per_pf is None:
        return None
    if readings_per_pf < 1:
        raise ValueError(f"readings_per_pf is 1 or more, got {readings_per_pf}")
    because = f"{readings_per_pf} readings within {_months(pf_months)} from first sign to failure"
    return Term(pf_months / readings_per_pf, because, NAVAIR_SOURCE)


def _typed_terms(months: float | None, by: str) -> tuple[Term, ...]:
    return () if months is None else (Term(months, f"set on {by}", "typed by the site"),)


def _no_notice(pf_months: float | None, lead_months: float) -> str:
    """The warning where no reading in time could come before the failure."""
    if pf_months is None or _lead_term(pf_months, lead_months) is not None:
        return ""
    return (
        f"A fault shows {_months(pf_months)} before failure and a repair takes {_months(lead_months)} "
        "to arrange: reading alone gives no notice."
    )


def _lead_term(pf_months: float, lead_months: float) -> Term | None:
    """The largest step below P–F minus lead; None where no step is left."""
    steps = math.ceil((pf_months - lead_months) / STEP_MONTHS - ROUNDING_SLACK) - 1
    if steps < 1:
        return None
    because = f"{_months(pf_months)} from first sign to failure must leave more than {_months(lead_months)} to repair"
    return Term(steps * STEP_MONTHS, because, PF_SOURCE)


def _months(months: float) -> str:
    figure = f"{months:.2f}".rstrip("0").rstrip(".")
    return f"{figure} month" if figure == "1" else f"{figure} months"


def _check_months(**figures: float | None) -> None:
    for name, months in figures.items():
        if months is not None and not (math.isfinite(months) and months > 0):
            raise ValueError(f"{name} is above 0, got {months}")
