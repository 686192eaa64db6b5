"""How long it takes from one stop to the next: on foot within a site, by road between sites."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

EARTH_RADIUS_KM = 6371.0


@dataclass(frozen=True, slots=True)
class Place:
    """Where a stop is: its site, metres within the site, and the site on the globe."""

    site: int
    x_m: float | None = None
    y_m: float | None = None
    latitude: float | None = None
    longitude: float | None = None


@dataclass(frozen=True, slots=True)
class TravelRules:
    """Speeds and surcharges (planning study: guesses until a site's own times are known).

    Attributes
    ----------
    detour : float
        Way over straight line, on foot and by road.
    walk_m_per_min, drive_km_per_h : float
        Speeds.
    drive_fixed_min, sign_in_min : float
        Added to every drive, and at every entry of a site [min].
    unknown_walk_min, unknown_drive_min : float
        Taken where a position is missing [min]; the leg is marked as guessed.
    """

    detour: float = 1.3
    walk_m_per_min: float = 50.0
    drive_km_per_h: float = 45.0
    drive_fixed_min: float = 5.0
    sign_in_min: float = 10.0
    unknown_walk_min: float = 3.0
    unknown_drive_min: float = 30.0


@dataclass(frozen=True, slots=True)
class Legs:
    """Minutes between all stops; row and column n stand for the base.

    Attributes
    ----------
    walk, drive, sign_in : ndarray, shape (n + 1, n + 1)
        Minutes on foot, by road, and at the gate, from row to column.
    guessed : ndarray of bool, shape (n + 1, n + 1)
        A position was missing.
    """

    walk: Floats
    drive: Floats
    sign_in: Floats
    guessed: NDArray[np.bool_]


def measure_legs(
    places: Sequence[Place], *, base: tuple[float, float] | None = None, rules: TravelRules | None = None
) -> Legs:
    """Minutes from every stop to every other, and from and to the base.

    Parameters
    ----------
    places : sequence of Place
        The stops, in any order.
    base : (float, float), optional
        Latitude and longitude [deg] where the day begins and ends. Without it the day begins at
        the first gate and ends at the last stop.
    rules : TravelRules, optional

    Returns
    -------
    Legs

    Notes
    -----
    Walk = detour * straight line / walking speed; drive = detour * great circle / driving speed
    + surcharge; signing in at every entry. The way from the gate to the first stop is not known
    and counts as nothing.
    """
    rules = rules or TravelRules()
    n = len(places)
    walk, walk_guessed = _walk_minutes(places, rules)
    drive, drive_guessed = _drive_minutes(places, base, rules=rules)
    site = np.array([place.site for place in places], dtype=np.int64)
    same = np.zeros((n + 1, n + 1), dtype=bool)
    same[:n, :n] = site[:, None] == site[None, :]
    enters = ~same
    enters[:, n] = False
    drive[same] = 0.0
    walk[~same] = 0.0
    np.fill_diagonal(walk, 0.0)
    return Legs(
        walk=walk,
        drive=drive,
        sign_in=np.where(enters, rules.sign_in_min, 0.0),
        guessed=np.where(same, walk_guessed, drive_guessed),
    )


def _walk_minutes(places: Sequence[Place], rules: TravelRules) -> tuple[Floats, NDArray[np.bool_]]:
    n = len(places)
    x = np.array([_number(place.x_m) for place in places] + [0.0])
    y = np.array([_number(place.y_m) for place in places] + [0.0])
    metres = np.hypot(x[:, None] - x, y[:, None] - y)
    unknown = np.isnan(metres)
    minutes = np.where(unknown, rules.unknown_walk_min, metres * rules.detour / rules.walk_m_per_min)
    unknown[np.arange(n + 1), np.arange(n + 1)] = False
    return minutes, unknown


def _drive_minutes(
    places: Sequence[Place], base: tuple[float, float] | None, *, rules: TravelRules
) -> tuple[Floats, NDArray[np.bool_]]:
    n = len(places)
    home = base or (np.nan, np.nan)
    latitude = np.radians(np.array([_number(place.latitude) for place in places] + [home[0]]))
    longitude = np.radians(np.array([_number(place.longitude) for place in places] + [home[1]]))
    half = (
        np.sin((latitude[:, None] - latitude) / 2) ** 2
        + np.cos(latitude[:, None]) * np.cos(latitude) * np.sin((longitude[:, None] - longitude) / 2) ** 2
    )
    km = 2 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(np.clip(half, 0.0, 1.0)))
    unknown = np.isnan(km)
    by_road = km * rules.detour / rules.drive_km_per_h * 60 + rules.drive_fixed_min
    minutes = np.where(unknown, rules.unknown_drive_min, by_road)
    if base is None:
        minutes[n, :] = minutes[:, n] = 0.0
        unknown[n, :] = unknown[:, n] = False
    return minutes, unknown


def _number(value: float | None) -> float:
    return np.nan if value is None else float(value)
