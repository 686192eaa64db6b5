"""The single numbers of a set of criteria: what each is for, and the range a site may choose in."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class CriteriaNumber:
    """One number of a set.

    Attributes
    ----------
    name : str
        Field of ``Criteria``.
    label : str
        What it is, as asked for on the page.
    unit : str
        "K", "°C", "m/s", "h", "days", "visits", "level", "%" (stored as a share of 1) or "".
    low, high : float
        Least and greatest value a site may enter. Where a number decides what may clear, a site
        may be stricter than the preset, never laxer: what can only cool or hide may accuse,
        never clear.
    whole : bool
        A whole number.
    """

    name: str
    label: str
    unit: str
    low: float
    high: float
    whole: bool = False


@dataclass(frozen=True, slots=True)
class NumberGroup:
    title: str
    numbers: tuple[CriteriaNumber, ...]


_N = CriteriaNumber
NUMBER_GROUPS = (
    NumberGroup(
        "Load",
        (
            _N("min_load_share", "Least load that may clear, of the common load", "%", 0.40, 1.0),
            _N("exponent", "Exponent n of the rise with current", "", 1.0, 2.5),
            _N("exponent_low", "Least n of its band", "", 1.0, 2.5),
            _N("exponent_high", "Greatest n of its band", "", 1.0, 2.5),
            _N("equal_current_share", "Currents are alike within", "%", 0.01, 0.25),
        ),
    ),
    NumberGroup(
        "Without a like part",
        (
            _N("air_alone_from_level", "Over air alone speaks from level", "level", 1, 4, whole=True),
            _N("two_u_k", "Over its baseline, nothing is found below", "K", 0.5, 20.0),
            _N("baseline_visits", "Visits that make a baseline", "visits", 1, 12, whole=True),
        ),
    ),
    NumberGroup(
        "How sure a level must be",
        (
            _N("look_again_chance", "Look again on the first visit needs a chance of", "%", 0.5, 0.999),
            _N("firm_chance", "A level is firm at a chance of", "%", 0.5, 0.999),
            _N("higher_chance", "“May be higher” is said from a chance of", "%", 0.001, 0.5),
            _N("guard_chance", "A level falls at a chance of the old one of at most", "%", 0.001, 0.5),
        ),
    ),
    NumberGroup(
        "Cold parts, and no heat seen",
        (
            _N("cold_current_share", "A part is open below this share of its like parts' current", "%", 0.01, 0.5),
            _N("cold_twin_air_k", "Of two, the cold one is the fault below, over air", "K", 0.0, 10.0),
            _N("cold_twin_other_k", "… while the other is above, over air", "K", 1.0, 100.0),
            _N("no_heat_k", "“Load or bare metal?” is asked up to, over air", "K", 0.0, 10.0),
        ),
    ),
    NumberGroup(
        "Accuse, never clear",
        (
            _N("wind_calm_m_s", "Not clearing over air above a wind of", "m/s", 0.0, 1.0),
            _N("wind_strong_m_s", "“At least” everywhere above a wind of", "m/s", 0.0, 5.0),
            _N("relative_min_rise_k", "Relative difference needs a rise over air of", "K", 1.0, 100.0),
            _N("emissivity_indicative", "Indicative below an emissivity of", "", 0.3, 1.0),
            _N("emissivity_twin_only", "Comparison only below an emissivity of", "", 0.05, 1.0),
            _N("gain_indicative", "Indicative above a gain of", "", 1.0, 10.0),
            _N("window_indicative", "Indicative below a window transmission of", "", 0.5, 1.0),
            _N("window_refuse", "Refused below a window transmission of", "", 0.3, 1.0),
            _N("irradiance_min_w_m2", "Photovoltaics clear from an irradiance of", "W/m²", 600.0, 1400.0),
            _N("indicative_cap_level", "An indicative reading over air goes no higher than level", "level", 1, 4, whole=True),
        ),
    ),
    NumberGroup(
        "Bearings and couplings",
        (
            _N("bearing_total_c", "Total temperature that speaks by itself", "°C", 40.0, 200.0),
            _N("bearing_total_level", "… and the level it gives", "level", 1, 4, whole=True),
            _N("greasing_cap_hours", "After greasing, held back for", "h", 0.0, 168.0),
            _N("greasing_cap_level", "… at no more than level", "level", 1, 4, whole=True),
        ),
    ),
    NumberGroup(
        "Absolute limits",
        (
            _N("limit_level", "Past a limit the level is at least", "level", 1, 4, whole=True),
            _N("limit_act_now_over_k", "Act now beyond the limit by more than", "K", 0.0, 50.0),
        ),
    ),
    NumberGroup(
        "Standing and proof",
        (
            _N("raise_p12", "A confirmed trend means Plan repair past a chance within 12 months of", "%", 0.0, 1.0),
            _N("visits_to_fall", "Clearing visits before a point stands at Nothing found", "visits", 2, 6, whole=True),
            _N("proof_load_share", "A repair is proven at this share of the load of the finding", "%", 0.4, 1.2),
            _N("proof_days", "… and marked as waiting after", "days", 1, 365, whole=True),
        ),
    ),
)  # fmt: skip

NUMBERS = {number.name: number for group in NUMBER_GROUPS for number in group.numbers}
