"""What the figures of a reading rest on: settings with their source, the narrower before the wider."""

import json
from collections.abc import Mapping
from typing import Any, NamedTuple, Protocol

from service.domain.words import SettingSource

MEASURED, TABLE, ASSUMED = SettingSource.MEASURED, SettingSource.TABLE, SettingSource.ASSUMED

#: Emissivity when nobody chose one, and half the range it is taken to lie in.
ASSUMED_EMISSIVITY, ASSUMED_EMISSIVITY_HALF_WIDTH = 0.95, 0.05
MEASURED_EMISSIVITY_HALF_WIDTH = 0.02
#: Half the range of a reflected temperature [K]: measured; taken from the air indoors; the sky
#: may be far colder, so that outdoors the air says little.
REFLECTED_HALF_WIDTH_K = {MEASURED: 1.0, TABLE: 5.0, ASSUMED: 5.0}
OUTDOOR_HALF_WIDTH_K = 25.0
#: Surroundings when neither they nor the air are known [°C].
ASSUMED_SURROUNDINGS_C, UNKNOWN_HALF_WIDTH_K = 20.0, 15.0
WINDOW_HALF_WIDTH = 0.05
PATH_HALF_WIDTH = 0.005


class Setting(NamedTuple):
    """A number with half the width it is taken to lie in, how it was come by, and who says it.

    ``place`` is *reading*, *round*, *point*, *air* (taken from the air), *assumed* or
    *re-evaluation*.
    """

    value: float
    half_width: float
    standing: SettingSource
    place: str


class Instrument(NamedTuple):
    """What of an instrument bears on its readings; None is not known."""

    serial: str = ""
    range_low_c: float | None = None
    range_high_c: float | None = None
    accuracy_k: float | None = None
    accuracy_percent: float | None = None
    band_low_um: float | None = None
    band_high_um: float | None = None
    ifov_mrad: float | None = None


class Inputs(NamedTuple):
    """All that the figures of one reading are computed from, as kept with its assessment.

    ``shown_c`` is what the instrument showed, under ``set_emissivity``, ``set_reflected_c`` and
    ``set_transmission``; None there means that it was set to what is taken as true. A
    ``transmission`` of None is worked out from distance, air and humidity.
    """

    shown_c: float | None
    emissivity: Setting
    reflected_c: Setting
    transmission: Setting | None
    ambient_c: float | None
    humidity_percent: float | None
    distance_m: float | None
    window: bool
    window_transmission: Setting | None
    window_c: float | None
    set_emissivity: float | None
    set_reflected_c: float | None
    set_transmission: float | None
    current_a: float | None
    common_load_a: float | None
    wind_m_s: float | None
    minutes_at_load: float | None
    settle_minutes: float | None
    target_mm: float | None
    ifov_mrad: float | None
    accuracy_k: float | None
    accuracy_percent: float | None
    band_low_um: float | None
    band_high_um: float | None
    #: names of what a re-evaluation has set
    reevaluated: tuple[str, ...] = ()

    def to_text(self) -> str:
        """One line of JSON; ``inputs_of_text`` reads it back."""
        return _ENCODE(self)


_ENCODE = json.JSONEncoder(separators=(",", ":"), ensure_ascii=False).encode
_SETTINGS = frozenset({"emissivity", "reflected_c", "transmission", "window_transmission"})
_PLACES = tuple((place, name in _SETTINGS) for place, name in enumerate(Inputs._fields))


def inputs_of_text(text: str) -> Inputs:
    """Inputs as ``Inputs.to_text`` wrote them."""
    cells = json.loads(text)
    for place, is_setting in _PLACES:
        if is_setting and cells[place] is not None:
            value, half_width, standing, whose = cells[place]
            cells[place] = Setting(value, half_width, SettingSource(standing), whose)
    cells[-1] = tuple(cells[-1])
    return Inputs._make(cells)


class PartSettings(Protocol):
    """What the register says of a point."""

    @property
    def emissivity(self) -> float | None: ...
    @property
    def optics(self) -> "PointOptics": ...
    @property
    def common_load_a(self) -> float | None: ...
    @property
    def rated_current_a(self) -> float | None: ...


class PointOptics(NamedTuple):
    """How a point is seen, by the register: settings that hold where the visit says nothing."""

    emissivity_half_width: float | None = None
    emissivity_standing: SettingSource | None = None
    reflected_c: float | None = None
    reflected_half_width_k: float | None = None
    distance_m: float | None = None
    through_window: bool = False
    window_transmission: float | None = None
    window_half_width: float | None = None
    target_mm: float | None = None
    settle_minutes: float | None = None
    outdoor: bool = False


class SeenValues(Protocol):
    """What was typed of a reading."""

    @property
    def temperature_c(self) -> float | None: ...
    @property
    def ambient_c(self) -> float | None: ...
    @property
    def reflected_c(self) -> float | None: ...
    @property
    def reflected_standing(self) -> SettingSource | None: ...
    @property
    def humidity_percent(self) -> float | None: ...
    @property
    def wind_m_s(self) -> float | None: ...
    @property
    def current_a(self) -> float | None: ...
    @property
    def distance_m(self) -> float | None: ...
    @property
    def minutes_at_load(self) -> float | None: ...
    @property
    def emissivity(self) -> float | None: ...
    @property
    def emissivity_standing(self) -> SettingSource | None: ...
    @property
    def emissivity_set(self) -> float | None: ...
    @property
    def reflected_set_c(self) -> float | None: ...
    @property
    def transmission_set(self) -> float | None: ...
    @property
    def through_window(self) -> bool | None: ...
    @property
    def window_transmission(self) -> float | None: ...
    @property
    def window_c(self) -> float | None: ...
    @property
    def path_transmission(self) -> float | None: ...


#: A point of which the register says nothing.
NOTHING_SAID = PointOptics()
RoundSettings = Mapping[str, Mapping[str, Any]]
NO_SETTINGS: RoundSettings = {}


def resolve(
    values: SeenValues, point: PartSettings, *, of_round: RoundSettings, instrument: Instrument
) -> Inputs:
    """What holds for a reading: what it says itself, else its round, else its point, else the usual.

    Parameters
    ----------
    values : SeenValues
        The reading as typed; never changed.
    point : PartSettings
        Its point by the register.
    of_round : mapping
        Settings of the round by quantity: ``{"value": …, "half_width": …, "standing": …}``.
    instrument : Instrument
        What it was read with.

    Returns
    -------
    Inputs
        With the source of every setting.

    Notes
    -----
    Default emissivity and half-widths: GUM type B as in the service's measurement notes; that
    surroundings indoors are as warm as the air is common practice, no source.
    """
    optics = point.optics
    ambient_c = _first(values.ambient_c, of_round, "ambient_c")
    window = optics.through_window if values.through_window is None else values.through_window
    return Inputs(
        shown_c=values.temperature_c,
        emissivity=_emissivity(values, point, of_round),
        reflected_c=_reflected(values, optics, of_round, ambient_c=ambient_c),
        transmission=_transmission(values, of_round),
        ambient_c=ambient_c,
        humidity_percent=_first(values.humidity_percent, of_round, "humidity_percent"),
        distance_m=_or(_first(values.distance_m, of_round, "distance_m"), optics.distance_m),
        window=window,
        window_transmission=_window(values, optics) if window else None,
        window_c=values.window_c if window else None,
        set_emissivity=values.emissivity_set,
        set_reflected_c=values.reflected_set_c,
        set_transmission=values.transmission_set,
        current_a=values.current_a,
        common_load_a=point.common_load_a or point.rated_current_a,
        wind_m_s=_first(values.wind_m_s, of_round, "wind_m_s"),
        minutes_at_load=values.minutes_at_load,
        settle_minutes=optics.settle_minutes,
        target_mm=optics.target_mm,
        ifov_mrad=instrument.ifov_mrad,
        accuracy_k=instrument.accuracy_k,
        accuracy_percent=instrument.accuracy_percent,
        band_low_um=instrument.band_low_um,
        band_high_um=instrument.band_high_um,
    )


def _or(value: float | None, other: float | None) -> float | None:
    return other if value is None else value


def _first(value: float | None, of_round: RoundSettings, name: str) -> float | None:
    if value is not None or not of_round:
        return value
    said = of_round.get(name)
    return None if said is None else said["value"]


def _of_round(of_round: RoundSettings, name: str, *, half_width: float) -> Setting | None:
    said = of_round.get(name) if of_round else None
    if said is None:
        return None
    standing = SettingSource(said.get("standing") or MEASURED)
    given = said.get("half_width")
    return Setting(said["value"], half_width if given is None else given, standing, "round")


def emissivity_half_width(standing: SettingSource) -> float:
    """Half-width of an emissivity for which none was typed."""
    return MEASURED_EMISSIVITY_HALF_WIDTH if standing is MEASURED else ASSUMED_EMISSIVITY_HALF_WIDTH


_NO_EMISSIVITY = Setting(ASSUMED_EMISSIVITY, ASSUMED_EMISSIVITY_HALF_WIDTH, ASSUMED, "assumed")


def _emissivity(values: SeenValues, point: PartSettings, of_round: RoundSettings) -> Setting:
    if values.emissivity is not None:
        standing = values.emissivity_standing or ASSUMED
        return Setting(values.emissivity, emissivity_half_width(standing), standing, "reading")
    told = _of_round(of_round, "emissivity", half_width=ASSUMED_EMISSIVITY_HALF_WIDTH)
    if told is not None:
        return told
    if point.emissivity is not None:
        standing = point.optics.emissivity_standing or ASSUMED
        given = point.optics.emissivity_half_width
        half_width = emissivity_half_width(standing) if given is None else given
        return Setting(point.emissivity, half_width, standing, "point")
    return _NO_EMISSIVITY


def _reflected(
    values: SeenValues, optics: PointOptics, of_round: RoundSettings, *, ambient_c: float | None
) -> Setting:
    if values.reflected_c is not None:
        standing = values.reflected_standing or ASSUMED
        return Setting(values.reflected_c, REFLECTED_HALF_WIDTH_K[standing], standing, "reading")
    told = _of_round(of_round, "reflected_c", half_width=REFLECTED_HALF_WIDTH_K[ASSUMED])
    if told is not None:
        return told
    if optics.reflected_c is not None:
        given = optics.reflected_half_width_k
        half_width = REFLECTED_HALF_WIDTH_K[ASSUMED] if given is None else given
        return Setting(optics.reflected_c, half_width, ASSUMED, "point")
    if ambient_c is not None:
        half_width = OUTDOOR_HALF_WIDTH_K if optics.outdoor else REFLECTED_HALF_WIDTH_K[ASSUMED]
        return Setting(ambient_c, half_width, ASSUMED, "air")
    return Setting(ASSUMED_SURROUNDINGS_C, UNKNOWN_HALF_WIDTH_K, ASSUMED, "assumed")


def _transmission(values: SeenValues, of_round: RoundSettings) -> Setting | None:
    if values.path_transmission is not None:
        return Setting(values.path_transmission, PATH_HALF_WIDTH, MEASURED, "reading")
    return _of_round(of_round, "path_transmission", half_width=PATH_HALF_WIDTH)


def _window(values: SeenValues, optics: PointOptics) -> Setting | None:
    if values.window_transmission is not None:
        return Setting(values.window_transmission, WINDOW_HALF_WIDTH, MEASURED, "reading")
    if optics.window_transmission is None:
        return None
    given = optics.window_half_width
    return Setting(optics.window_transmission, WINDOW_HALF_WIDTH if given is None else given, TABLE, "point")
