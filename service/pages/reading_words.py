"""The page of a reading in words: the steps from what was shown to the level, and what they rest on."""

from dataclasses import dataclass
from typing import NamedTuple

from service.domain.measuring import CAMERA_K, CAMERA_PERCENT, PANE_HALF_WIDTH_K
from service.domain.reading_sheets import Assessed, ReadingSheet
from service.domain.rise_uncertainty import SAME_FRAME
from service.domain.settings import Inputs, Setting
from service.domain.words import Level, ReferenceKind
from service.pages import view
from service.pages.reading_reasons import RULE_WORDS, Reasons, reasons_of


@dataclass(frozen=True, slots=True)
class Step:
    """One line of the calculation: what, how, how much, from where."""

    name: str
    formula: str
    value: str
    source: str


class InputLine(NamedTuple):
    """One quantity that the figure rests on."""

    name: str
    value: str
    half_width: str
    standing: str
    place: str


def title(sheet: ReadingSheet) -> str:
    """The news of the reading: its level and rise."""
    shown, name = sheet.shown, sheet.place.name
    if shown is None:
        return f"{name}: not judged yet"
    verdict = shown.verdict
    if verdict.value_k is None or verdict.reference is None:
        return f"{name}: {view.level_word(verdict.level, verdict.at_least).lower()}"
    rise = view.measured(verdict.value_k, verdict.u_k)
    over = "over air" if verdict.reference is ReferenceKind.RATED_SHARE else str(verdict.reference)
    return f"{name}, {rise} {over}: {view.level_word(verdict.level, verdict.at_least)}"


def lead(sheet: ReadingSheet) -> str:
    """Where, when, by whom, with what."""
    reading, by = sheet.reading, sheet.read_by
    who = f" by {by.reader}" if by.reader else ""
    camera = f" with {by.instrument}" if by.instrument else ""
    at = view.moment(reading.taken_at, sheet.place.zone)
    return f"{view.place(sheet.place.equipment, sheet.place.view)}, read {at}{who}{camera}."


# ---- the steps -------------------------------------------------------------------------------


def steps(sheet: ReadingSheet) -> tuple[Step, ...]:
    """From what was shown to the level, as far as the reading goes."""
    shown = sheet.shown
    if shown is None or shown.inputs is None or shown.inputs.shown_c is None:
        return ()
    told = [*_to_surface(sheet, shown.inputs), *_rise(sheet, shown), *_loads(sheet, shown)]
    return (*told, *_levels(sheet, shown))


def _to_surface(sheet: ReadingSheet, inputs: Inputs) -> list[Step]:
    measured = sheet.measured
    by = sheet.read_by.instrument
    told = [
        Step(
            "Shown", "as the instrument showed it", view.celsius(inputs.shown_c), by or "instrument not noted"
        )
    ]
    own = _own_settings(inputs)
    surface = view.NONE
    if measured is not None:
        surface = view.measured(measured.surface_c, measured.surface_u_k, view.CELSIUS)
    undone = "what it would show at ε = 1 and τ = 1"
    told.append(Step("Instrument’s settings undone", undone, view.celsius(sheet.apparent_c), own))
    window = " through the window," if inputs.window else ""
    told.append(
        Step(
            "Surface temperature",
            "L(shown) = τ·[ε·L(T) + (1 − ε)·L(reflected)] + (1 − τ)·L(air), solved for T",
            surface,
            f"Planck’s law over {_band(inputs)},{window} settings below",
        )
    )
    return told


def _own_settings(inputs: Inputs) -> str:
    told = []
    if inputs.set_emissivity is not None:
        told.append(f"ε {view.number(inputs.set_emissivity, 2)}")
    if inputs.set_reflected_c is not None:
        told.append(f"reflected {view.celsius(inputs.set_reflected_c)}")
    if inputs.set_transmission is not None:
        told.append(f"τ {view.number(inputs.set_transmission, 2)}")
    if not told:
        return "its settings were not noted: taken as those below"
    rest = "" if len(told) == 3 else "; the rest taken as below"
    return f"set in it: {', '.join(told)}{rest}"


def _band(inputs: Inputs) -> str:
    if inputs.band_low_um is None or inputs.band_high_um is None:
        return "8 to 14 µm (the band is not noted)"
    return f"{inputs.band_low_um:g} to {inputs.band_high_um:g} µm"


def _rise(sheet: ReadingSheet, shown: Assessed) -> list[Step]:
    verdict = shown.verdict
    if verdict.value_k is None or verdict.reference is None:
        return []
    value = view.measured(verdict.value_k, verdict.u_k)
    if verdict.reference is ReferenceKind.LIKE_PARTS:
        others = [
            f"{part.word} {view.celsius(part.measured.surface_c)}"
            for part in sheet.parts
            if part.point_id != sheet.reading.point_id
        ]
        of_two = len(verdict.members) == 2
        formula = "T − the cooler of the two" if of_two else "T − median of the like parts, itself included"
        if verdict.cold:
            formula = "T − median of its warm like parts"
        return [Step("Rise over like parts", formula, value, view.listed(others) or "parts of that visit")]
    air_c = None
    if shown.corrected_c is not None and verdict.rise_air_k is not None:
        air_c = shown.corrected_c - verdict.rise_air_k
    told = [
        Step(
            "Rise over air",
            "T − air",
            view.kelvin(verdict.rise_air_k),
            f"air of the view {view.celsius(air_c)}",
        )
    ]
    if verdict.reference is ReferenceKind.BASELINE:
        base = "median of its first clearing visits since the repair"
        told.append(Step("Rise over its own baseline", "rise over air − baseline", value, base))
    elif verdict.reference is ReferenceKind.RATED_SHARE:
        share = view.with_unit(verdict.share_of_rated, "%", digits=0)
        told[0] = Step("Rise over air", "T − air", value, told[0].source)
        told.append(Step("Share of rated rise", "rise ÷ rated rise at this current", share, "register"))
    else:
        told[0] = Step("Rise over air", "T − air", value, told[0].source)
    return told


def _loads(sheet: ReadingSheet, shown: Assessed) -> list[Step]:
    verdict, inputs = shown.verdict, shown.inputs
    if verdict.load_ratio is None or inputs is None:
        return []
    load = Step(
        "Load",
        "current ÷ common load",
        view.percent(verdict.load_ratio, 1),
        f"{view.amps(inputs.current_a)} of {view.amps(inputs.common_load_a)}",
    )
    if verdict.common_k is None:
        return [load]
    used = sheet.criteria.get(shown.criteria_id)
    exponent = 1.8 if used is None else used.exponent
    band = ""
    if verdict.common_low_k is not None:
        low, high = verdict.common_low_k, verdict.common_high_k
        band = f"95 % interval {view.kelvin_range(low, high)}; "
    low_n, high_n = (1.6, 2.0) if used is None else (used.exponent_low, used.exponent_high)
    common = Step(
        "At common load",
        f"rise × (1 ÷ load)^{exponent:g}",
        view.measured(verdict.common_k, verdict.u_common_k),
        f"{band}exponent {low_n:g} to {high_n:g}",
    )
    return [load, common]


def _levels(sheet: ReadingSheet, shown: Assessed) -> list[Step]:
    verdict = shown.verdict
    used = sheet.criteria.get(shown.criteria_id)
    name = "" if used is None else f"{used.title}, version {used.version}"
    lines = "; ".join(
        f"{view.level_word(level)} over {view.line_value(value, sheet.lines_unit)}"
        for level, value in sheet.lines
    )
    told = []
    if verdict.published_band or lines:
        band = view.own_words(verdict.published_band) or "no published band"
        told.append(Step("Band", lines or "no lines", band, name))
    rule = RULE_WORDS.get(verdict.rule, f"rule {verdict.rule}")
    told.append(Step("Level", rule, view.level_word(verdict.level, verdict.at_least), sureness(shown)))
    return told


def sureness(shown: Assessed) -> str:
    """How sure the level is; of what is not judged by a column, that."""
    verdict = shown.verdict
    told = view.sureness(verdict.band, verdict.chances)
    if not told:
        return "chances are not known"
    if verdict.level != verdict.band:
        return f"by the column alone: {told}"
    if verdict.at_least:
        return f"of what was seen that day, {told}; it may hide more"
    return told


# ---- what it rests on ------------------------------------------------------------------------


def inputs_table(sheet: ReadingSheet) -> tuple[InputLine, ...]:
    """Every quantity that was known or taken, with half-width, how come by, and whose it is."""
    shown = sheet.shown
    if shown is None or shown.inputs is None:
        return ()
    inputs = shown.inputs
    told = [
        _setting(sheet, "emissivity", "Emissivity of the part", inputs.emissivity, unit="", digits=2),
        _setting(
            sheet,
            "reflected_c",
            "Reflected temperature",
            inputs.reflected_c,
            unit="°C",
            half_unit="K",
            digits=1,
        ),
    ]
    if inputs.transmission is not None:
        told.append(
            _setting(sheet, "transmission", "Transmission of the air", inputs.transmission, unit="", digits=3)
        )
    if inputs.window_transmission is not None:
        told.append(
            _setting(
                sheet,
                "window_transmission",
                "Transmission of the window",
                inputs.window_transmission,
                unit="",
                digits=2,
            )
        )
    told += [line for line in _plain(sheet, inputs) if line is not None]
    return tuple(told)


def _setting(
    sheet: ReadingSheet,
    name: str,
    label: str,
    setting: Setting,
    *,
    unit: str,
    digits: int,
    half_unit: str = "",
) -> InputLine:
    half = view.own_number(setting.half_width, half_unit or unit, digits)
    return InputLine(
        label,
        _with(view.own_number(setting.value, unit, digits), unit),
        _with(half, half_unit or unit),
        str(setting.standing),
        _place(sheet, name, setting.place),
    )


def _with(text: str, unit: str) -> str:
    return f"{text}{view.THIN}{view.own_unit(unit)}" if unit else text


def _place(sheet: ReadingSheet, name: str, place: str) -> str:
    """Reading, round, point, air, assumed, re-evaluation 12."""
    if place != "re-evaluation":
        return place
    number = evaluated_by(sheet, name)
    return f"re-evaluation {number}" if number else place


def evaluated_by(sheet: ReadingSheet, name: str) -> int | None:
    """The re-evaluation that set a quantity of the figures shown."""
    taken_back = {one.undoes_id for one in sheet.reevaluations if one.undoes_id is not None}
    for one in sheet.reevaluations:
        if one.undoes_id is None and one.id not in taken_back and name in one.changes.get("changes", {}):
            return one.id
    return None


def _plain(sheet: ReadingSheet, inputs: Inputs) -> list[InputLine | None]:
    camera_k = CAMERA_K if inputs.accuracy_k is None else inputs.accuracy_k
    camera_percent = CAMERA_PERCENT if inputs.accuracy_percent is None else inputs.accuracy_percent
    noted = inputs.accuracy_k is not None or inputs.accuracy_percent is not None
    camera = InputLine(
        "Accuracy of the camera",
        view.NONE,
        f"{view.own_value(camera_k, view.KELVIN):g}{view.THIN}{view.kelvin_word()} or {camera_percent:g}{view.THIN}%, whichever is more",
        "table" if noted else "assumed",
        "instrument" if noted else "assumed",
    )
    plain = (
        ("ambient_c", "Air temperature", "°C", 1, view.kelvin(1.0)),
        ("humidity_percent", "Relative humidity", "%", 0, ""),
        ("distance_m", "Distance", "m", 1, ""),
        ("window_c", "Temperature of the window", "°C", 1, view.kelvin(PANE_HALF_WIDTH_K)),
        ("wind_m_s", "Wind", "m/s", 1, ""),
        ("current_a", "Current", "A", 1, f"3{view.THIN}% of it"),
        ("common_load_a", "Common load", "A", 1, ""),
        ("minutes_at_load", "Minutes at this load", "min", 0, ""),
        ("settle_minutes", "Time constant of the part", "min", 0, ""),
        ("target_mm", "Size of the part", "mm", 0, ""),
        ("ifov_mrad", "One pixel of the lens", "mrad", 2, ""),
    )
    return [camera, *(_number(sheet, inputs, *row) for row in plain)]


#: quantities that belong to something else than the reading or its round
_HOMES = {
    "common_load_a": "point",
    "settle_minutes": "point",
    "target_mm": "point",
    "ifov_mrad": "instrument",
}


def _number(
    sheet: ReadingSheet, inputs: Inputs, name: str, label: str, unit: str, digits: int, half: str
) -> InputLine | None:
    value = getattr(inputs, name)
    if value is None:
        return None
    if name in inputs.reevaluated:
        place = _place(sheet, name, "re-evaluation")
    elif name in _HOMES:
        place = _HOMES[name]
    else:
        place = "reading" if getattr(sheet.reading, name) == value else "round or point"
    standing = "table" if place in ("point", "instrument") else "measured"
    return InputLine(
        label, _with(view.own_number(value, unit, digits), unit), half or view.NONE, standing, place
    )


# ---- beside it -------------------------------------------------------------------------------


def hidden_fault(shown: Assessed | None) -> str:
    """A clean reading at 52 % of common load would hide up to 9 K."""
    if shown is None:
        return ""
    verdict = shown.verdict
    if verdict.smallest_fault_k is None:
        return "What a clean reading would hide under these conditions cannot be said."
    at = "" if verdict.load_ratio is None else f" at {view.percent(verdict.load_ratio)} of common load"
    hides = view.at_most_hidden(verdict.smallest_fault_k)
    what = "" if verdict.load_ratio is None else ", told at common load"
    return f"A clean reading{at} would hide a fault of up to {hides}{what}."


def parts_share(sheet: ReadingSheet) -> str:
    """What is said under the budget of a difference."""
    shown = sheet.shown
    if shown is None or shown.verdict.reference is not ReferenceKind.LIKE_PARTS:
        return ""
    return (
        "What like parts share in one frame cancels: reflected temperature, air, window and waveband wholly, "
        f"camera and emissivity with a correlation of {SAME_FRAME:g} (a judgement, no source)."
    )


def reasons(sheet: ReadingSheet) -> Reasons:
    return reasons_of(sheet)


def chance_rows(shown: Assessed | None) -> tuple[tuple[Level, str], ...]:
    """The five levels with their chances; nothing without an uncertainty."""
    if shown is None or shown.verdict.chances is None:
        return ()
    return tuple((Level(level), view.chance(share)) for level, share in enumerate(shown.verdict.chances))
