"""Second opinions on a point's series in words: what each says, and its figures."""

from collections.abc import Callable
from dataclasses import dataclass

from service.domain.second_opinions import (
    ApartVisit,
    ChangeOpinion,
    ChartOpinion,
    OrderOpinion,
    RelatedOpinion,
    SecondOpinions,
    SlopeOpinion,
)
from service.pages import view
from service.trends import autocorrelation, control_charts, level_changes, outliers
from service.trends.unsaid import Unsaid
from service.usecases.condition.second_opinions import LEAST_CHARTED, LEAST_ORDERED, LEAST_WANDERING

#: a chance at which order or change is called clear
CLEAR = 0.05
#: visits that lie apart are named up to so many
NAMED_APART = 6
_RANGE = "nine chances in ten"


@dataclass(frozen=True, slots=True)
class Opinion:
    """A row: its name in the trade, a sentence, its figures (empty where it says nothing)."""

    name: str
    says: str
    figures: str = ""


@dataclass(frozen=True, slots=True)
class OpinionsTold:
    lead: str
    rows: tuple[Opinion, ...]


def opinions_told(found: SecondOpinions, zone: str) -> OpinionsTold:
    """The block of second opinions of a point's page; dates on the site's clock."""

    def told(name: str, figures: object, least: int, words: Callable[..., tuple[str, str]]) -> Opinion:
        if isinstance(figures, Unsaid):
            return Opinion(name, _unsaid(figures, least, found.visits))
        return Opinion(name, *words(figures))

    def dated(words: Callable[..., tuple[str, str]]) -> Callable[..., tuple[str, str]]:
        return lambda figures: words(figures, found.visits, zone)

    return OpinionsTold(
        lead=_lead(found, zone),
        rows=(
            told("Theil–Sen slope", found.slope, LEAST_ORDERED, _slope),
            told("Mann–Kendall test", found.order, LEAST_ORDERED, _order),
            told("Mann–Kendall after Hamed and Rao", found.related, autocorrelation.LEAST_VISITS, _related),
            told("Change of level after Pettitt", found.change, level_changes.LEAST_VISITS, dated(_change)),
            told("CUSUM", found.cusum, LEAST_CHARTED, dated(_cusum)),
            told("EWMA", found.ewma, LEAST_CHARTED, dated(_ewma)),
            told("Local linear trend, Kalman filter", found.wander, LEAST_WANDERING, _wander),
            told("Outliers after Hampel", found.apart, outliers.WINDOW, dated(_apart)),
        ),
    )


def _lead(found: SecondOpinions, zone: str) -> str:
    """What they are for, and on what they stand."""
    first = "These do not decide the trend. They are what an engineer may know from elsewhere."
    if found.first_at is None:
        return first
    since = view.day(found.first_at, zone)
    left_out = []
    if found.same_day:
        left_out.append("of several readings of one day the middle one")
    if found.earlier:
        left_out.append(f"{view.counted(found.earlier, 'earlier visit')} left out")
    apart = f" ({', '.join(left_out)})" if left_out else ""
    return f"{first} Worked out on {view.counted(found.visits, 'visit')} since {since}{apart}, as drawn: what a round shares is still in them."


def _unsaid(reason: Unsaid, least: int, visits: int) -> str:
    if reason is Unsaid.TOO_FEW_VISITS:
        return f"Needs {least} visits; {view.number_word(visits)} so far."
    if reason is Unsaid.IRREGULAR:
        return "Needs visits at equal steps of time, which these are not."
    if reason is Unsaid.NO_UNCERTAINTY:
        return "Needs the uncertainty of each visit, which not all were kept with."
    return "These visits give no figure."


def _p(p: float) -> str:
    return "p < 0.001" if p < 0.001 else f"p = {view.number(p, 3)}"


def _direction(found: SlopeOpinion, now: str) -> str:
    if found.low <= 0 <= found.high:
        return f"No clear direction{now}: its range takes in no change at all."
    speed = view.slope(abs(found.k_month))
    return f"{'Rises' if found.k_month > 0 else 'Falls'} by {speed}{now}."


def _slope(found: SlopeOpinion) -> tuple[str, str]:
    return _direction(found, ""), f"{view.slope(found.k_month, found.low, found.high)}, {_RANGE}"


def _wander(found: SlopeOpinion) -> tuple[str, str]:
    return _direction(found, " at the last visit"), _slope(found)[1]


def _order(found: OrderOpinion) -> tuple[str, str]:
    ties = view.counted(found.tied_pairs, "tied pair") if found.tied_pairs else "no ties"
    how = "exact" if found.exact else "by the normal law"
    figures = (
        f"S = {view.number(found.s, 0)} of {found.pairs} pairs, {ties}, {_p(found.p)} one-sided and {how}"
    )
    return _chance(found.p, found.s), figures


def _related(found: RelatedOpinion) -> tuple[str, str]:
    figures = (
        f"z = {view.number(found.z, 2)}, variance × {view.number(found.factor, 2)}, {_p(found.p)} one-sided"
    )
    return (
        f"With neighbours that resemble each other allowed for: {_lower(_chance(found.p, found.z))}",
        figures,
    )


def _lower(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


def _chance(p: float, sign: float) -> str:
    """Rises: chance alone would order visits so in under 1 % of cases."""
    if p > CLEAR:
        return f"No clear order: chance alone does as much in {view.chance(p)} of cases."
    return f"{'Rises' if sign > 0 else 'Falls'}: chance alone would order visits so in {view.chance(p)} of cases."


def _change(found: ChangeOpinion, visits: int, zone: str) -> tuple[str, str]:
    figures = f"after visit {found.visits_before} of {visits}, largest |U| = {view.number(found.size, 0)}, {_p(found.p)}"
    if found.p > CLEAR:
        return "No change of level stands out.", figures
    medians = f"{view.kelvin(found.before_k)} before, {view.kelvin(found.since_k)} since (medians)"
    after = view.day(found.last_before, zone)
    return f"Another level after {after}: {medians}. A steady climb or fall looks the same to it.", figures


def _charted(found: ChartOpinion, zone: str) -> str:
    side = "upwards" if found.last_over_up else "downwards"
    if found.over_since is not None:
        return f"Over its line since {view.day(found.over_since, zone)}, {side}."
    if found.last_over is not None:
        return f"Within its line; last over it on {view.day(found.last_over, zone)}, {side}."
    return "Within its line."


def _baseline(found: ChartOpinion) -> str:
    return f"in standard deviations from {view.kelvin(found.baseline_k)}, the median of the first {view.number_word(control_charts.BASELINE_VISITS)} visits"


def _cusum(found: ChartOpinion, _visits: int, zone: str) -> tuple[str, str]:
    side = "up" if found.now >= 0 else "down"
    figures = f"{view.number(abs(found.now))} {side}, line {found.line:g}, allowance {control_charts.SLACK:g}; {_baseline(found)}"
    return _charted(found, zone), figures


def _ewma(found: ChartOpinion, _visits: int, zone: str) -> tuple[str, str]:
    figures = f"{view.signed(found.now, 2)}, line {view.number(found.line, 2)}, share {control_charts.SHARE:g}; {_baseline(found)}"
    return _charted(found, zone), figures


def apart_words(found: SecondOpinions) -> dict[int, str]:
    """By reading, what its mark on the drawing and its row in the table say: lies 4.9 K over those about it."""
    if isinstance(found.apart, Unsaid):
        return {}
    return {visit.reading_id: f"lies {_off(visit)}" for visit in found.apart}


def _off(visit: ApartVisit) -> str:
    return f"{view.kelvin(abs(visit.off_k))} {'over' if visit.off_k > 0 else 'under'} those about it"


def _apart(found: tuple[ApartVisit, ...], visits: int, zone: str) -> tuple[str, str]:
    figures = f"{len(found)} of {view.counted(visits, 'visit')}; further than 3 × 1.4826 × MAD and 3 u from the median of seven"
    if not found:
        return "No visit lies apart from those about it.", figures
    named = [
        f"{view.day(visit.taken_at, zone)}, {view.kelvin(visit.rise_k)}: {_off(visit)}"
        for visit in found[-NAMED_APART:]
    ]
    more = len(found) - len(named)
    before = f"{view.sentence_case(view.counted(more, 'earlier one'))}, and " if more else ""
    return f"{before}{'; '.join(named)}. Kept in the series: a step’s first visit looks the same.", figures
