"""Every threshold of the trend rule, in one place."""

from dataclasses import dataclass

#: Days of a mean month (Julian year / 12): slopes are told in kelvin a month.
DAYS_PER_MONTH = 365.25 / 12


@dataclass(frozen=True, slots=True)
class Policy:
    """When a series is called rising, easing, steady, or nothing at all.

    Attributes
    ----------
    method : str
        Version stored beside every verdict; a changed number here needs a new one.
    recent_visits : int
        Visits of the *recent* fit: a rise that began after a long flat stretch is seen there.
    longest_visits : int
        Visits of the *whole* fit at most; its pairs grow with the square.
    least_visits, least_rank_visits, least_steady_visits : int
        Visits on different days below which nothing is said, Mann-Kendall gives no verdict,
        and a series is not called steady.
    rising_p, easing_p : float
        One-sided Mann-Kendall line of a fit.
    least_rise_k, least_fall_k : float
        Least Theil-Sen change from the first to the last visit of the fit [K].
    steady_within_k : float
        Steady only if a rise of this size over the fit would have shown nine times in ten [K].
    """

    method: str = "theil-sen-mk/1"
    recent_visits: int = 12
    longest_visits: int = 120
    least_visits: int = 4
    least_rank_visits: int = 5
    least_steady_visits: int = 6
    rising_p: float = 0.003
    easing_p: float = 0.002
    least_rise_k: float = 3.0
    least_fall_k: float = 3.0
    steady_within_k: float = 10.0


#: For every kind of reference but like parts: neighbours share the camera's offset, rises are
#: large, and the rank test alone must hold the false calls down.
OVER_AIR = Policy()
#: The camera cancels and a healthy part stays near 0 K, so the least rise does part of the work
#: and the rank test may be quicker: .028 is the second-best order of six visits (exact .0278).
OVER_LIKE_PARTS = Policy(rising_p=0.028, least_rise_k=2.25, steady_within_k=6.0)

_BY_REFERENCE = {"over like parts": OVER_LIKE_PARTS}


def policy_for(reference: str) -> Policy:
    """The thresholds for a kind of reference, by its glossary word.

    Parameters
    ----------
    reference : str
        "over like parts", "over air", "over its own baseline" or "share of rated rise".

    Returns
    -------
    Policy

    Examples
    --------
    >>> policy_for("over like parts").least_rise_k, policy_for("over air").least_rise_k
    (2.25, 3.0)
    """
    return _BY_REFERENCE.get(reference, OVER_AIR)
