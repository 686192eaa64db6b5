"""Every threshold of the trend rule, in one place."""

from dataclasses import dataclass

#: Days of a mean month (Julian year / 12): slopes are told in kelvin a month.
DAYS_PER_MONTH = 365.25 / 12


@dataclass(frozen=True, slots=True)
class Policy:
    """When a series is called rising, easing, steady, or nothing at all.

    Parameters
    ----------
    method : str
        Version stored beside every verdict; a changed number here needs a new one.
    recent_visits : int
        Visits of the *recent* fit: a rise that began after a long flat stretch is seen there.
    longest_visits : int
        Visits of the *whole* fit at most; pairs grow with the square.
    least_visits : int
        Visits on different days under which nothing is said.
    least_rank_visits : int
        Visits on different days under which Mann-Kendall gives no verdict.
    least_steady_visits : int
        Visits on different days under which a series is not called steady.
    rising_p, easing_p : float
        One-sided Mann-Kendall line of each fit.
    short_visits : int
        Up to this many visits the coarse line ``short_rising_p`` holds for *rising*: with six
        visits the only attainable p below it are .0083 and .0014.
    short_rising_p : float
        The line for short series.
    least_rise_k, least_fall_k : float
        Least Theil-Sen change from the first to the last visit of the fit [K].
    steady_within_k : float
        A series is steady only if a rise of this size over the fit would probably have shown [K].
    """

    method: str = "theil-sen-mk/1"
    recent_visits: int = 12
    longest_visits: int = 120
    least_visits: int = 4
    least_rank_visits: int = 5
    least_steady_visits: int = 6
    rising_p: float = 0.005
    short_visits: int = 6
    short_rising_p: float = 0.01
    easing_p: float = 0.002
    least_rise_k: float = 2.0
    least_fall_k: float = 3.0
    steady_within_k: float = 10.0


DEFAULT_POLICY = Policy()
