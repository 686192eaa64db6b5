"""What looks wrong in how a part was seen: settings, window, spot, range; asked about, never refused."""

from datetime import date

from service.domain.day_words import day_words
from service.domain.oddities import Oddity, OddityCode
from service.domain.settings import Inputs, Instrument
from service.physics.spot import farthest_m, spot_mm

#: An emissivity set below this is seldom meant: bare metal is read on a painted or taped spot.
LOW_EMISSIVITY_SET = 0.2
#: Below this a part is compared with its like parts only (the service's measurement notes).
LOW_EMISSIVITY = 0.3
#: Indoors a reflected temperature this far from the air wants its cause [K].
REFLECTED_FAR_K = 15.0
#: A pane that lets less than this through shows more of itself than of the part.
DIM_WINDOW = 0.3

_AS_NO_VERDICT = "otherwise it is kept as No verdict"


def odd_in_settings(inputs: Inputs, instrument: Instrument, *, outdoor: bool) -> list[Oddity]:
    """What looks wrong in the settings of one reading.

    Parameters
    ----------
    inputs : Inputs
        The reading with its settings resolved.
    instrument : Instrument
        What it was read with.
    outdoor : bool
        The equipment stands outdoors, where the sky may be far colder than the air.

    Returns
    -------
    list of Oddity
        Empty where nothing is odd, and where there is no temperature.

    Notes
    -----
    The limits are own judgement, no source, but for the spot: three pixels across is common
    practice. They only decide whether somebody is asked.
    """
    if inputs.shown_c is None:
        return []
    found = [
        _emissivity_set(inputs),
        _emissivity(inputs),
        _end_of_range(inputs.shown_c, instrument),
        _spot(inputs),
    ]
    if not outdoor:
        found += _reflected(inputs)
    return [odd for odd in (*found, *_window(inputs)) if odd is not None]


def overdue(name: str, serial: str, due: date, *, readings: int) -> Oddity:
    """Say once for a whole send that an instrument was read with after its calibration was due."""
    counted = "1 reading was" if readings == 1 else f"{readings} readings were"
    return Oddity(
        OddityCode.CALIBRATION_OVERDUE,
        "instrument_serial",
        f"{name} ({serial}) was due for calibration on {day_words(due)}; {counted} taken after that day.",
        "They are kept; have the instrument checked, and note the check.",
    )


def _emissivity_set(inputs: Inputs) -> Oddity | None:
    value = inputs.set_emissivity
    if value is None or value >= LOW_EMISSIVITY_SET:
        return None
    return Oddity(
        OddityCode.EMISSIVITY,
        "emissivity_set",
        f"Emissivity {value:g} is set in the instrument; below {LOW_EMISSIVITY_SET:g} is seldom meant.",
        "Check the figure; on bare metal read a painted or taped spot. Keep it if it was set so.",
    )


def _emissivity(inputs: Inputs) -> Oddity | None:
    value = inputs.emissivity
    if value.place != "reading" or value.value >= LOW_EMISSIVITY:
        return None
    return Oddity(
        OddityCode.EMISSIVITY,
        "emissivity",
        f"The part’s emissivity {value.value:g} lies below {LOW_EMISSIVITY:g}: it can be compared with its like parts only.",
        "Check the figure; keep it if it was measured.",
    )


def _reflected(inputs: Inputs) -> list[Oddity | None]:
    air = inputs.ambient_c
    typed = inputs.reflected_c.value if inputs.reflected_c.place == "reading" else None
    figures = (("reflected_c", typed), ("reflected_set_c", inputs.set_reflected_c))
    return [
        Oddity(
            OddityCode.REFLECTED,
            field,
            f"Reflected {value:g} °C is {abs(value - air):.0f} K away from the air at {air:g} °C, indoors.",
            "Check figure and unit; if it is true, shade the part from what it mirrors.",
        )
        for field, value in figures
        if value is not None and air is not None and abs(value - air) > REFLECTED_FAR_K
    ]


def _end_of_range(shown_c: float, instrument: Instrument) -> Oddity | None:
    low, high = instrument.range_low_c, instrument.range_high_c
    if high is not None and shown_c >= high:
        return Oddity(
            OddityCode.END_OF_RANGE,
            "temperature_c",
            f"{shown_c:g} °C is the top of the instrument’s range ({high:g} °C): the part may be hotter.",
            "Read it again in the next higher range; else it is kept as “at least”.",
        )
    if low is not None and shown_c <= low:
        return Oddity(
            OddityCode.END_OF_RANGE,
            "temperature_c",
            f"{shown_c:g} °C is the bottom of the instrument’s range ({low:g} °C): the part may be colder.",
            f"Read it again in the next lower range; {_AS_NO_VERDICT}.",
        )
    return None


def _spot(inputs: Inputs) -> Oddity | None:
    target, ifov, distance = inputs.target_mm, inputs.ifov_mrad, inputs.distance_m
    if not target or not ifov or not distance:
        return None
    farthest = float(farthest_m(ifov, target))
    if not distance > farthest * (1.0 + 1e-9):
        return None
    spot = float(spot_mm(ifov, distance))
    return Oddity(
        OddityCode.SPOT,
        "distance_m",
        f"Spot not filled: from {distance:g} m it is {spot:.0f} mm wide, and the part {target:g} mm.",
        f"Come closer than {_down(farthest)} m, where the permit allows it, or take a longer lens; "
        "else it is kept as “at least”.",
    )


def _down(metres: float) -> str:
    """Rounded down: what is printed is near enough."""
    digits = 1 if metres >= 1 else 2
    return f"{int(metres * 10**digits) / 10**digits:g}"


def _window(inputs: Inputs) -> list[Oddity | None]:
    if not inputs.window:
        return []
    through = inputs.window_transmission
    missing = [
        (field, what)
        for field, what, known in (
            ("window_transmission", "what the window lets through", through is not None),
            ("window_c", "the temperature of the window", inputs.window_c is not None),
        )
        if not known
    ]
    if missing:
        what = " and ".join(what for _field, what in missing)
        sentence = f"Read through a window, and {what} {'are' if len(missing) > 1 else 'is'} not known."
        both = "both" if len(missing) > 1 else "it"
        remedy = f"Type {both}; {_AS_NO_VERDICT}."
        return [Oddity(OddityCode.WINDOW, missing[0][0], sentence, remedy)]
    if through is not None and through.value < DIM_WINDOW:
        sentence = f"The window lets {through.value:g} through: it shows more of itself than of the part."
        remedy = f"Check the figure; {_AS_NO_VERDICT}."
        return [Oddity(OddityCode.WINDOW, "window_transmission", sentence, remedy)]
    return []
