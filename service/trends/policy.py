"""Every threshold of the trend rule, in one place."""

from dataclasses import dataclass

from service.trends import stages
from service.trends.stages import Lines

#: Days of a mean month (Julian year / 12): slopes are told in kelvin a month.
DAYS_PER_MONTH = 365.25 / 12
DAYS_PER_YEAR = 12 * DAYS_PER_MONTH
#: Version of the rule, stored beside every trend.
METHOD = "shape-bank/2"
#: Visits below which nothing is more than a first sign, nor a series' own scatter known.
LEAST_CONFIRMED = 5


@dataclass(frozen=True, slots=True)
class Policy:
    """When a series is called rising, easing, steady, or nothing at all.

    Attributes
    ----------
    lines : Lines
        What is a sign, what confirms it, and what a round shares.
    method : str
        Version stored beside every verdict; a changed number here needs a new one.
    remembered : int
        Latest visits whose scores decide between a first sign and confirmed.
    recent_visits : int
        Visits of the Theil-Sen slope where nothing has been confirmed.
    least_visits, least_steady_visits : int
        Visits on different days below which nothing is said, and a series is not called steady
        nor a rise given a shape.
    easing_z, least_fall_k : float
        Score and fall [K] of *easing*: neighbours that rise push the round's offset up, so that
        its line lies higher than that of a rise.
    falling_form : str
        Form of the falling series' score.
    shown_z : float
        Z of a rise in the middle of a series that is surely a sign.
    steady_within_k : float
        Steady only if a rise of this size would have shown nine times in ten [K].
    own_scatter : bool
        Where a rise is not brought to common load, load and season act on it: its visits are then
        held no surer than they agree with each other.
    tells_chances : bool
        Whether chances within 6 and 12 months are told beside the range of dates: on simulated
        bearings what was stated and what happened lie up to 0.1 apart, so that there none is.
    assumed_u_k : float
        Standard uncertainty at common load of a rise that came without one [K]; the site's own
        scatter puts it right as soon as there are readings enough.
    """

    lines: Lines
    method: str = METHOD
    remembered: int = 6
    recent_visits: int = 12
    least_visits: int = 4
    least_steady_visits: int = 6
    easing_z: float = 6.0
    least_fall_k: float = 3.0
    falling_form: str = "single"
    shown_z: float = 4.6
    steady_within_k: float = 10.0
    own_scatter: bool = False
    tells_chances: bool = True
    assumed_u_k: float = 1.0


OVER_AIR = Policy(stages.OVER_AIR, own_scatter=True)
#: The camera cancels and a healthy part stays near 0 K.
OVER_LIKE_PARTS = Policy(
    stages.LIKE_PARTS, shown_z=4.5, steady_within_k=6.0, falling_form="joint", assumed_u_k=0.6
)
OVER_BASELINE = Policy(stages.BEARINGS, shown_z=3.5, falling_form="drop one", tells_chances=False)

_BY_REFERENCE = {"over like parts": OVER_LIKE_PARTS, "over its own baseline": OVER_BASELINE}


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
    >>> policy_for("over like parts").lines.form, policy_for("over air").lines.form
    ('joint', 'single')
    """
    return _BY_REFERENCE.get(reference, OVER_AIR)
