"""The engine's one door: many histories in, what each says out."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from service.trends.bank import QUADRATIC, RAMP, STEP
from service.trends.crossing import Crossing, courses
from service.trends.evidence import Episodes, Scores, score_visits
from service.trends.fan import Fan, fan
from service.trends.fits import Fits, fit
from service.trends.levelling import as_episodes, without_rounds
from service.trends.parts import joined, parts_of
from service.trends.policy import DAYS_PER_MONTH, DAYS_PER_YEAR, LEAST_CONFIRMED, OVER_AIR, Policy
from service.trends.series import SeriesBlock, TrendBlock, Visits, since_repair
from service.trends.stages import CONFIRMED, FIRST_SIGN, last_stages
from service.trends.words import (
    CANNOT_TELL,
    EASING,
    HAS_RISEN,
    RISING,
    RISING_FASTER,
    STEADY,
    STEPPED_UP,
    TOO_FEW_VISITS,
    WORDS,
)
from service.trends.words import (
    FIRST_SIGN as FIRST_SIGN_WORD,
)

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Normal deviate of nine chances in ten, one-sided.
NINE_IN_TEN = float(ndtri(0.9))
#: Visits after the onset from which a confirmed rise has a shape, and a forecast.
SHAPED_AFTER, FORECAST_AFTER = 3, 2
#: Months ahead of today beyond which no level is told.
MONTHS_AHEAD = 24
_SHAPE_WORDS = {STEP: STEPPED_UP, RAMP: RISING, QUADRATIC: RISING_FASTER}


def assess(block: SeriesBlock, policy: Policy = OVER_AIR) -> TrendBlock:
    """Say of every wanted series whether it gets worse, how fast, how surely, and until when.

    Parameters
    ----------
    block : SeriesBlock
        Series of one kind of reference (kinds never mix), with all others of their sites where
        rounds are given; only the last episode of each is told, yet what a round shares is
        found from all of them.
    policy : Policy
        Thresholds, ``policy_for(reference)``; without it those of over air.

    Returns
    -------
    TrendBlock
        One entry per series, in the order of ``block.ids``; that of a series which is not
        wanted is blank.

    Notes
    -----
    Rule shape-bank/2 (``science`` of this room: bank, joint, offsets, stages, crossing). What a
    round shares is taken away, uncertainties are put right by what the site's own readings do,
    and each of the last ``policy.remembered`` visits is scored as if it were the last. *First
    sign* at one such visit; *confirmed* by ``stages``: then *has risen* until three visits lie
    after the onset and six in the series, afterwards *stepped up*, *rising* or *rising faster*
    by the surest shape. *Easing* where the falling series scores above ``policy.easing_z``.
    Otherwise *steady* from 6 days on when a rise of ``steady_within_k`` would have shown nine
    times in ten, else *cannot tell*; below 4 days *too few visits*. Slope and Mann-Kendall are
    second opinions that engineers know: Theil-Sen over the visits since the onset of a confirmed
    rise, else over the last 12. A date of crossing is forecast for confirmed rises alone, from
    two visits after the onset and five in the series.

    Tuned and measured on simulated fleets (``make bench-trends``). Needs a field recheck.

    References
    ----------
    Theil (1950); Sen (1968); Mann (1945); Kendall (1975); Page (1955); Quandt (1958).

    Examples
    --------
    >>> import numpy as np
    >>> rises = np.array([0.2, -0.1, 0.0, 0.3, 0.1, 2.0, 4.1, 6.0, 8.2])
    >>> block = SeriesBlock(
    ...     ids=np.array([12]), offsets=np.array([0, 9]), days=np.arange(9) * 30.4375, rise_k=rises,
    ...     u_own_k=np.full(9, 0.5), episode=np.zeros(9, dtype=np.int64), load_ratio=np.full(9, np.nan),
    ...     line_k=np.array([15.0]))
    >>> found = assess(block)
    >>> found.words, round(float(found.slope_k_per_month[0]), 1), bool(found.chance_12[0] > 0.9)
    (('rising',), 2.0, True)
    """
    return joined(block, [(places, _assessed(part, policy)) for places, part in parts_of(block)])


def _assessed(block: SeriesBlock, policy: Policy) -> TrendBlock:
    levelled, scale = without_rounds(block, policy)
    visits = since_repair(block, levelled.rise_k)
    episodes = as_episodes(block, visits, levelled.u_k, scale, policy)
    scores = _scored(episodes, policy)
    last = scores.at_last(episodes)
    stage = last_stages(scores, episodes, policy.lines)
    falls = _falls(episodes, visits, policy)
    told, fitted = _fits(visits, np.where(stage == CONFIRMED, last.after + 1, policy.recent_visits))
    could_hide_k = np.maximum((policy.shown_z + NINE_IN_TEN) * last.step_sd_k, policy.lines.least_rise_k)
    chances, fans = _chances(block, visits, episodes, policy, chosen=_forecast_for(stage, last, visits))
    return TrendBlock(
        ids=block.ids,
        word_index=_words(visits, stage, last, falls=falls, could_hide_k=could_hide_k, policy=policy),
        slope_k_per_month=told.slope * DAYS_PER_MONTH,
        slope_lo=told.slope_lo * DAYS_PER_MONTH,
        slope_hi=told.slope_hi * DAYS_PER_MONTH,
        mk_s=told.s,
        mk_p=told.p,
        n_visits=visits.counts,
        n_fitted=fitted.counts,
        fitted_from_days=fitted.first_days(),
        level_now_k=told.level_now_k,
        change_k=told.slope * told.span_days,
        could_hide_k=could_hide_k,
        z=last.z,
        risen_k=last.rise_k,
        onset_days=last.onset_years * DAYS_PER_YEAR,
        **chances,
        method=policy.method,
        fans=fans,
    )


# ---- scores -----------------------------------------------------------------------------------------


def _scored(episodes: Episodes, policy: Policy) -> Scores:
    """Scores of the last two visits, and of earlier ones where those two leave anything to remember.

    A confirmed rise ends after two visits running that do not repeat it, so that two quiet ones
    say all there is to say.
    """
    form, again = policy.lines.form, policy.lines.again
    scores = score_visits(episodes, form=form, back=range(2))
    told = np.zeros(len(episodes.counts), dtype=bool)
    for back in range(2):
        some = np.flatnonzero(episodes.counts > back)
        with np.errstate(invalid="ignore"):
            told[some] |= scores.z[episodes.starts[some] + episodes.counts[some] - 1 - back] > again
    # three phases are scored together
    alike = (episodes.view >= 0) & np.isin(episodes.view, episodes.view[told])
    earlier = replace(episodes, counts=np.where(told | alike, episodes.counts, 0))
    return score_visits(earlier, form=form, back=range(2, policy.remembered), into=scores)


# ---- words ----------------------------------------------------------------------------------------


def _falls(episodes: Episodes, visits: Visits, policy: Policy) -> Bools:
    """Whether the falling series scores over its own, higher line."""
    fallen = replace(episodes, rise_k=-episodes.rise_k)
    last = score_visits(fallen, form=policy.falling_form, back=range(1)).at_last(episodes)
    with np.errstate(invalid="ignore"):
        falls: Bools = (
            (last.z > policy.easing_z)
            & (last.rise_k >= policy.least_fall_k)
            & (visits.counts >= LEAST_CONFIRMED)
        )
    return falls


def _words(
    visits: Visits, stage: Ints, last: Scores, *, falls: Bools, could_hide_k: Floats, policy: Policy
) -> NDArray[np.int8]:
    confirmed = (stage == CONFIRMED) & (visits.counts >= LEAST_CONFIRMED)
    shaped = confirmed & (last.after >= SHAPED_AFTER) & (visits.counts >= policy.least_steady_visits)
    with np.errstate(invalid="ignore"):
        steady = (visits.dates >= policy.least_steady_visits) & (could_hide_k <= policy.steady_within_k)
    word = np.full(len(stage), WORDS.index(CANNOT_TELL), dtype=np.int8)
    for held, name in (
        (steady, STEADY),
        (falls, EASING),
        (stage >= FIRST_SIGN, FIRST_SIGN_WORD),
        (confirmed, HAS_RISEN),
        *((shaped & (last.shape == shape), name) for shape, name in _SHAPE_WORDS.items()),
        (visits.dates < policy.least_visits, TOO_FEW_VISITS),
    ):
        word[held] = WORDS.index(name)
    return word


def _fits(visits: Visits, most: Ints) -> tuple[Fits, Visits]:
    """Theil-Sen and Mann-Kendall over the latest visits of every series, all of one length together."""
    fitted = visits.last(np.clip(most, 3, 120))
    result = Fits.blank(len(fitted.counts))
    for count in np.unique(fitted.counts[fitted.counts > 0]):
        rows = np.flatnonzero(fitted.counts == count)
        at = fitted.starts[rows, None] + np.arange(count)
        result.put(rows, fit(fitted.days[at], fitted.rise_k[at]))
    return result, fitted


# ---- dates ----------------------------------------------------------------------------------------


def _forecast_for(stage: Ints, last: Scores, visits: Visits) -> Bools:
    chosen: Bools = (stage == CONFIRMED) & (last.after >= FORECAST_AFTER) & (visits.counts >= LEAST_CONFIRMED)
    return chosen & (visits.dates >= 2)


def _chances(
    block: SeriesBlock, visits: Visits, episodes: Episodes, policy: Policy, *, chosen: Bools
) -> tuple[dict[str, Floats], dict[int, Fan]]:
    """Chances, dates and fans of the chosen series that have a line and still lie under it."""
    names = ("chance_6", "chance_12", "earliest_days", "latest_days", "likeliest_days")
    found = {name: np.full(len(block.ids), np.nan) for name in names}
    fans: dict[int, Fan] = {}
    if block.line_k is None:
        return found, fans
    last_days = visits.last_days()
    for k in np.flatnonzero(chosen & np.isfinite(block.line_k)).tolist():
        rows = slice(visits.starts[k], visits.starts[k] + visits.counts[k])
        if episodes.rise_k[rows][-1] > block.line_k[k]:
            continue
        ways = courses(
            episodes.years[rows],
            episodes.rise_k[rows],
            episodes.scaled_u_k(np.arange(rows.start, rows.stop)),
            line_k=float(block.line_k[k]),
            prior=policy.lines.prior,
        )
        one, last_day = ways.crossing(), float(last_days[k])
        for name, value in zip(names, _told(one, last_day, block.today), strict=True):
            found[name][k] = value
        ahead = _months_ahead(one, last_day, block.today)
        fans[k] = Fan(last_day + ahead * DAYS_PER_YEAR, fan(ways, ahead))
    if not policy.tells_chances:
        found["chance_6"][:] = found["chance_12"][:] = np.nan
    return found, fans


def _months_ahead(one: Crossing, last_day: float, today: float) -> Floats:
    """Months from the last visit to the late end, or to two years from today [years]."""
    most = MONTHS_AHEAD + 12 * _since(last_day, today)
    months: Floats = np.arange(np.ceil(min(max(12 * one.latest, 1.0), most)) + 1) / 12
    return months


def _since(last_day: float, today: float) -> float:
    """Years from the last visit to today."""
    return 0.0 if np.isnan(today) else max(today - last_day, 0.0) / DAYS_PER_YEAR


def _told(one: Crossing, last_day: float, today: float) -> tuple[float, ...]:
    """Chances counted from today, and dates; what lies before today is not said to lie ahead."""
    since = _since(last_day, today)
    dates = (last_day + years * DAYS_PER_YEAR for years in (one.earliest, one.latest, one.likeliest))
    return (one.chance(since + 0.5), one.chance(since + 1.0), *dates)
