"""Readings brought to surface temperatures, many at once, each with what its uncertainty is made of."""

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.domain.settings import Inputs, Setting
from service.physics.optics import Optics
from service.physics.path import AirPath, air_path
from service.physics.radiance import BAND_8_14, Band
from service.physics.refusals import REFUSAL_WORDS, Refusal
from service.physics.rise import Figure
from service.physics.sensitivities import Sensitivities, sensitivities
from service.physics.settling import settling_state
from service.physics.spot import filling
from service.physics.surface import Surface, apparent_temperature, surface_temperature

Floats = NDArray[np.float64]

_ROOT_3 = math.sqrt(3.0)
#: A camera's specification where the register has none: ±2 K or 2 % of the reading in °C, whichever is
#: greater (the common specification pattern); noise of a 3×3 mean and placement of the spot.
CAMERA_K, CAMERA_PERCENT, NOISE_U_K, PLACEMENT_U_K = 2.0, 2.0, 0.1, 0.3
#: Half width of the temperature of a window's pane, read on the pane beside the line of sight [K].
PANE_HALF_WIDTH_K = 2.0
#: Humidity of the air when only distance and air are known, for which the path's half width is doubled [%].
ASSUMED_HUMIDITY_PERCENT = 60.0
#: Rectangular term of a band that is not known: this times 1 − ε [K].
UNKNOWN_BAND_K = 1.95
#: What makes a figure impossible although there is a number: kept as No verdict with the remedy.
REMEDIES = {
    Refusal.NO_WINDOW_TRANSMISSION: "type what the window lets through",
    Refusal.NO_WINDOW_TEMPERATURE: "type the temperature of the window",
    Refusal.WINDOW_OPAQUE: "open the cover by a qualified person, or fit a window for the band",
    Refusal.UNDEFINED: "check emissivity, reflected temperature and the settings in the instrument",
}


class Measured(NamedTuple):
    """A surface temperature [°C] and the uncertainty terms that go with it.

    Every term is coefficient times standard uncertainty [K], with its sign. ``refusal`` says why
    there is no temperature; where the formula only does not reach so far, the reading stands as
    shown, without terms (``camera`` NaN).
    """

    surface_c: float | None
    refusal: Refusal
    caution: int
    settling: int
    gain: float
    camera: float
    noise: float
    emissivity: float
    reflected: float
    path: float
    window: float
    pane: float
    band: float
    placement: float

    @property
    def known(self) -> bool:
        """Whether there are uncertainty terms."""
        return self.camera == self.camera

    @property
    def surface_u_k(self) -> float | None:
        """Standard uncertainty of the surface temperature [K]; None where its terms are not known."""
        return math.hypot(*self[5:]) if self.known else None

    @property
    def refused(self) -> str:
        """Why it can give no verdict, with the remedy; empty where it can."""
        if self.surface_c is not None or self.refusal not in REMEDIES:
            return ""
        return f"{REFUSAL_WORDS[self.refusal]}: {REMEDIES[self.refusal]}"


def measure(readings: Sequence[Inputs]) -> list[Measured]:
    """Surface temperatures of readings, with their uncertainty terms.

    Parameters
    ----------
    readings : sequence of Inputs
        Settings as resolved; readings without a number come back as refused.

    Returns
    -------
    list of Measured
        In the order of the readings.

    Notes
    -----
    The instrument's own settings are undone first, then the model is solved with those that
    hold (:mod:`service.physics.surface`). Terms: camera, noise, emissivity, reflected
    temperature, air path, window's transmission, temperature of its pane, unknown band,
    placement of the spot.

    References
    ----------
    JCGM 100:2008, 4.3.7 (rectangular inputs) and 5.1.2.

    Examples
    --------
    >>> from service.domain.settings import Setting, SettingSource
    >>> told = SettingSource.MEASURED
    >>> nothing = Inputs._make([None] * len(Inputs._fields))
    >>> dull = nothing._replace(
    ...     shown_c=60.0, set_emissivity=0.95, set_reflected_c=20.0, set_transmission=1.0, window=False,
    ...     emissivity=Setting(0.8, 0.05, told, "point"), reflected_c=Setting(35.0, 1.0, told, "reading"),
    ...     transmission=Setting(1.0, 0.005, told, "round"), ambient_c=25.0,
    ... )
    >>> round(measure([dull])[0].surface_c, 2)
    63.51
    """
    found: dict[int, Measured] = {}
    by_band: dict[tuple[float, float] | None, list[int]] = {}
    for place, one in enumerate(readings):
        by_band.setdefault(_band_of(one), []).append(place)
    for edges, places in by_band.items():
        band = BAND_8_14 if edges is None else Band(*edges)
        some = [readings[place] for place in places]
        found |= zip(places, _measure(some, band, band_known=edges is not None), strict=True)
    return [found[place] for place in range(len(readings))]


def _band_of(one: Inputs) -> tuple[float, float] | None:
    low, high = one.band_low_um, one.band_high_um
    if low is None or high is None or not 1.0 <= low < high <= 30.0:
        return None
    return low, high


class LaidOut(NamedTuple):
    """Readings of one band as columns: what was shown, what holds, what was undone and came of it.

    Attributes
    ----------
    optics, applied : Optics
        Settings that hold, and those in the instrument.
    path_half, window_half : ndarray
        Half widths of the air's and the window's transmission.
    pane_half : ndarray
        Half width of the temperature of the window's pane [K].
    apparent, surface : Figure, Surface
        Temperatures with the instrument's settings undone, and of the surface [°C].
    """

    shown_c: Floats
    optics: Optics
    applied: Optics
    path_half: Floats
    window_half: Floats
    pane_half: Floats
    path_caution: NDArray[np.uint8]
    apparent: Figure
    surface: Surface


def band_of(one: Inputs) -> tuple[Band, bool]:
    """Waveband a reading is computed with, and whether it is known."""
    edges = _band_of(one)
    return (BAND_8_14, False) if edges is None else (Band(*edges), True)


def lay_out(readings: Sequence[Inputs], band: Band) -> LaidOut:
    """The steps from what was shown to the surface, for readings of one band."""
    column = {name: place for place, name in enumerate(Inputs._fields)}
    columns = list(zip(*readings, strict=True))

    def numbers(name: str) -> Floats:
        return np.array(columns[column[name]], dtype=np.float64)  # None becomes NaN

    def settings(name: str) -> tuple[Floats, Floats]:
        cells: Sequence[Setting | None] = columns[column[name]]
        pairs = [(c[0], c[1]) if c is not None else (np.nan, np.nan) for c in cells]
        values, half_widths = np.array(pairs, dtype=np.float64).T
        return values, half_widths

    shown, ambient, distance = numbers("shown_c"), numbers("ambient_c"), numbers("distance_m")
    typed, typed_half = settings("transmission")
    through, through_half = settings("window_transmission")
    window = np.array(columns[column["window"]], dtype=bool)
    humidity = numbers("humidity_percent")
    dry = np.isnan(humidity) & ~np.isnan(distance) & ~np.isnan(ambient)
    humidity = np.where(dry, ASSUMED_HUMIDITY_PERCENT, humidity)
    air = air_path(distance, ambient, humidity, typed_transmission=typed)
    optics = Optics(
        emissivity=settings("emissivity")[0],
        reflected_c=settings("reflected_c")[0],
        transmission=air.transmission,
        air_c=air.air_c,
        distance_m=distance,
        window=window,
        window_transmission=through,
        window_c=numbers("window_c"),
    )
    applied = _applied(optics, numbers, air)
    apparent = apparent_temperature(shown, applied, band=band)
    fitted_half = np.where(dry, 2.0, 1.0) * air.half_width
    return LaidOut(
        shown,
        optics,
        applied,
        np.where(np.isnan(typed_half), fitted_half, typed_half),
        np.where(window, through_half, 0.0),
        np.where(window, PANE_HALF_WIDTH_K, 0.0),
        air.caution,
        apparent,
        surface_temperature(apparent.value, optics, band=band),
    )


def _measure(readings: Sequence[Inputs], band: Band, *, band_known: bool) -> list[Measured]:
    column = {name: place for place, name in enumerate(Inputs._fields)}
    columns = list(zip(*readings, strict=True))

    def numbers(name: str) -> Floats:
        return np.array(columns[column[name]], dtype=np.float64)

    def half_widths(name: str) -> Floats:
        return np.array([cell.half_width for cell in columns[column[name]]], dtype=np.float64)

    laid = lay_out(readings, band)
    moves = sensitivities(laid.apparent.value, laid.surface.value_c, laid.optics, band=band)
    eps = np.asarray(laid.optics.emissivity)
    terms = _terms(
        moves,
        camera_u=_camera_u(laid.shown_c, numbers("accuracy_k"), numbers("accuracy_percent")),
        halves=(
            *(half_widths("emissivity"), half_widths("reflected_c")),
            *(laid.path_half, laid.window_half, laid.pane_half),
        ),
        band_half=np.zeros_like(eps) if band_known else UNKNOWN_BAND_K * (1.0 - eps),
    )
    refusal = np.where(laid.apparent.refusal != 0, laid.apparent.refusal, laid.surface.refusal)
    fill = filling(numbers("target_mm"), numbers("ifov_mrad"), numbers("distance_m"))
    settling = settling_state(numbers("minutes_at_load"), numbers("settle_minutes"))
    caution = laid.surface.caution | laid.path_caution | fill.caution
    return _rows(
        laid.shown_c, laid.surface.value_c, refusal=refusal, caution=caution, settling=settling, terms=terms
    )


def _applied(optics: Optics, numbers: Callable[[str], Floats], air: AirPath) -> Optics:
    """Settings in the instrument; where they were not recorded, those that hold."""
    own_eps, own_reflected = numbers("set_emissivity"), numbers("set_reflected_c")
    own_path = numbers("set_transmission")
    return Optics(
        emissivity=np.where(np.isnan(own_eps), optics.emissivity, own_eps),
        reflected_c=np.where(np.isnan(own_reflected), optics.reflected_c, own_reflected),
        transmission=np.where(np.isnan(own_path), air.transmission, own_path),
        air_c=air.air_c,
    )


def _camera_u(shown: Floats, accuracy_k: Floats, accuracy_percent: Floats) -> Floats:
    fixed = np.where(np.isnan(accuracy_k), CAMERA_K, accuracy_k)
    share = np.where(np.isnan(accuracy_percent), CAMERA_PERCENT, accuracy_percent)
    widest: Floats = np.maximum(fixed, share / 100.0 * np.abs(shown)) / _ROOT_3
    return widest


def _terms(
    moves: Sensitivities,
    *,
    camera_u: Floats,
    halves: tuple[Floats, Floats, Floats, Floats, Floats],
    band_half: Floats,
) -> tuple[Floats, ...]:
    eps_half, reflected_half, path_half, window_half, pane_half = halves
    per_path = np.where(np.isnan(moves.per_transmission), 0.0, moves.per_transmission)
    return (
        moves.gain,
        moves.gain * camera_u,
        moves.gain * NOISE_U_K,
        moves.per_emissivity * eps_half / _ROOT_3,
        moves.per_reflected_k * reflected_half / _ROOT_3,
        per_path * path_half / _ROOT_3,
        np.where(window_half > 0, moves.per_window_transmission * window_half / _ROOT_3, 0.0),
        np.where(pane_half > 0, moves.per_window_k * pane_half / _ROOT_3, 0.0),
        band_half / _ROOT_3,
    )


_NAN = math.nan
_NO_TERMS = (_NAN,) * 9
#: Reasons with which a reading still stands as shown: the formula only does not reach so far.
_AS_SHOWN = frozenset({Refusal.OUT_OF_RANGE, Refusal.NO_REFLECTED, Refusal.NO_AIR, Refusal.NO_EMISSIVITY})


def _rows(
    shown: Floats,
    surface: Floats,
    *,
    refusal: NDArray[np.uint8],
    caution: NDArray[np.uint8],
    settling: NDArray[np.uint8],
    terms: tuple[Floats, ...],
) -> list[Measured]:
    """One ``Measured`` per reading; ``terms`` in the order of its fields from ``gain`` on."""
    codes = {int(code): code for code in Refusal}
    rows = zip(
        shown.tolist(),
        surface.tolist(),
        refusal.tolist(),
        np.broadcast_to(caution, shown.shape).tolist(),
        settling.tolist(),
        *(np.broadcast_to(term, shown.shape).tolist() for term in terms),
        strict=True,
    )
    found = []
    for typed, value, code, flags, settled, *figures in rows:
        why = codes[code]
        if value == value:
            found.append(Measured._make((value, why, flags, settled, *figures, PLACEMENT_U_K)))
        else:
            stands = typed if why in _AS_SHOWN and typed == typed else None
            found.append(Measured(stands, why, flags, settled, *_NO_TERMS, PLACEMENT_U_K))
    return found
