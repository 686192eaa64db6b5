"""See which points are called, in order of their evidence, and how much of that is chance."""

from collections.abc import Sequence

import numpy as np

from service.domain.called import CalledPoint, CalledPoints, ScoredPoint
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.errors import NotFound
from service.storage import called_points, condition
from service.storage.unit import Store
from service.trends.discovery import adjusted, chance_of_z, divisor_for
from service.trends.policy import policy_for
from service.usecases.condition.overview import sight_of

#: Scores below as many visits have no law.
LEAST_VISITS = 4


def see_called_points(store: Store, actor: Actor, *, site_id: int | None = None) -> CalledPoints:
    """Every point in sight whose trend worsens, surest first.

    Parameters
    ----------
    site_id : int, optional
        One site; without it all in sight.

    Returns
    -------
    CalledPoints

    Raises
    ------
    NotFound
        No such site, or out of sight.

    Notes
    -----
    Each score becomes the chance of so large a one where nothing changes, by its form and its
    number of visits; all points that have a score count as tried, whether called or not, and the
    chances are adjusted for their number. A list that ends where the adjusted chance passes 5 %
    is expected to be false to that share at most. Whether a point is called is decided by its
    own lines, not here.

    References
    ----------
    Benjamini and Hochberg (1995), Journal of the Royal Statistical Society B 57, 289-300.
    """
    require(actor, Verb.READ_LETTERS)
    with store.look() as unit:
        sites = [site.site_id for site in condition.site_counts(unit, sight_of(actor))]
        if site_id is not None and site_id not in sites:
            raise NotFound(f"There is no site {site_id} in your sight.")
        scored = called_points.scored_points(unit, sites if site_id is None else [site_id])
        places = called_points.called_places(unit, [one.point_id for one in scored if one.called])
    by_chance, false_share = _chances(scored)
    rows = [
        CalledPoint(
            places[one.point_id], one.reference, one.visits, float(by_chance[k]), float(false_share[k])
        )
        for k, one in enumerate(scored)
        if one.called
    ]
    rows.sort(key=lambda row: (row.false_share, row.by_chance, row.place.point_id))
    return CalledPoints(len(scored), tuple(rows))


def _chances(scored: Sequence[ScoredPoint]) -> tuple[np.ndarray, np.ndarray]:
    """By point the chance of its score where nothing changes, and that adjusted for their number."""
    z = np.array([one.z for one in scored], dtype=np.float64)
    visits = np.array([max(one.visits, LEAST_VISITS) for one in scored], dtype=np.float64)
    divisor = np.array([divisor_for(policy_for(one.reference).lines.form) for one in scored])
    # of no reading is chance ruled out, however small its figure
    by_chance = np.maximum(chance_of_z(z, visits, divisor=divisor), np.finfo(np.float64).tiny)
    return by_chance, adjusted(by_chance)
