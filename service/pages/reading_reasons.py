"""Reason codes and cautions of a reading in plain words, each with what to do about it."""

from service.domain import judgement_rules as rules
from service.domain.reading_sheets import ReadingSheet
from service.physics.cautions import CAUTION_WORDS, Caution
from service.physics.refusals import REFUSAL_WORDS, Refusal

#: By the rule that decided: what it says.
RULE_WORDS = {
    rules.RULE_SIMILAR: "The rise over its like parts, as measured, in the band of that column.",
    rules.RULE_COMMON_LOAD: "As measured it lies in a lower band; brought to common load it is surely in this one.",
    rules.RULE_LIMIT: "Past the absolute limit of a standard for this part, whatever its rise.",
    rules.RULE_SHARE: "No like part: the rise over air as a share of the rated rise at this current.",
    rules.RULE_BASELINE: "No like part: the rise over what the part showed on its first clearing visits.",
    rules.RULE_AIR: "No like part: the rise over air, which here speaks by itself.",
    rules.RULE_TOTAL: "The temperature of the part itself is past what a bearing takes.",
    rules.RULE_TEMPLATE: "By the site’s own band for this kind.",
    rules.RULE_COLD: "Colder than its like parts: an open circuit shows like this.",
}
#: By the rule that decided: why there is no verdict or a lower one, and the remedy.
RULE_REMEDIES = {
    rules.RULE_NEAR_LINE: (
        "Over its line, but not surely: one visit alone makes no Look again.",
        "Read it again; the second visit over the line makes it Look again.",
    ),
    rules.RULE_BASELINE_FORMING: (
        "No like part, and too few clearing visits to compare with.",
        "Read on: the baseline is the median of its first clearing visits.",
    ),
    rules.RULE_NO_AIR: (
        "No like part, and no air temperature.",
        "Measure the air close by and in the shade, then correct the reading.",
    ),
    rules.RULE_NO_HEAT: (
        "No heat seen on a bare or small part under load.",
        "Answer once for the point whether it carries no load, or is bare metal.",
    ),
    rules.RULE_COULD_NOT_CLEAR: (
        "The conditions could hide a fault: the figure may accuse and does not clear.",
        "Read it again under fuller load, in calm air and from closer, as far as the permit allows.",
    ),
    rules.RULE_RANGE_BOTTOM: (
        "At the bottom of the instrument’s range: the part may be colder than the figure says.",
        "Read it again one range lower.",
    ),
    rules.RULE_TWIN_ONLY: (
        "So shiny that only a like part in the same frame could be compared.",
        "Read a like part beside it, or find the emissivity by comparison on the part when it is "
        "isolated and proved dead.",
    ),
    rules.RULE_NO_BAND: (
        "There is no published band for this kind of point.",
        "Fill in the site’s own numbers in its criteria.",
    ),
}
_CLOSER = "Go closer, as far as the permit allows, or use a longer lens."
_FIND_EMISSIVITY = "Find the emissivity by comparison on the part, when it is isolated and proved dead."
CAUTION_REMEDIES = {
    Caution.LOW_EMISSIVITY: _FIND_EMISSIVITY,
    Caution.COMPARISON_ONLY: "Read a like part of the same finish in the same frame.",
    Caution.HIGH_GAIN: _FIND_EMISSIVITY,
    Caution.WEAK_WINDOW: "Find out what this window lets through, or fit one for the band of the camera.",
    Caution.LONG_PATH: _CLOSER,
    Caution.UNDERFILLED: _CLOSER,
}
REFUSAL_REMEDIES = {
    Refusal.NO_REFLECTED: "Type the reflected temperature.",
    Refusal.NO_AIR: "Type the air temperature.",
    Refusal.NO_EMISSIVITY: "Type the emissivity of the part.",
    Refusal.OUT_OF_RANGE: "Check the figure and its settings; it stands as shown, without correction.",
    Refusal.NO_WINDOW_TRANSMISSION: "Type what the window lets through.",
    Refusal.NO_WINDOW_TEMPERATURE: "Type the temperature of the window.",
    Refusal.WINDOW_OPAQUE: "Have the cover opened by a qualified person, or fit a window for the band.",
    Refusal.UNDEFINED: "Check emissivity, reflected temperature and the settings in the instrument.",
    Refusal.BAD_EMISSIVITY: "Type an emissivity above 0 and at most 1.",
    Refusal.BAD_TRANSMISSION: "Type shares that do not sum to more than one.",
}
_SETTLING = (
    "The heat had nearly settled: a few per cent may still be missing.",
    "Read it after longer load.",
)
#: Conditions that a sentence of a verdict names; each with what helps.
_LOW_LOAD = "Read it again at 40 % of common load or more."

Reasons = tuple[tuple[str, str], ...]


def reasons_of(sheet: ReadingSheet) -> Reasons:
    """Each reason or caution with its remedy, gravest first; nothing where there is none."""
    shown = sheet.shown
    if shown is None:
        return (("Not judged yet.", "Judging follows by itself within a minute."),)
    verdict, told = shown.verdict, []
    if sheet.reading.not_assessable is not None:
        told.append((f"Not assessable: {sheet.reading.not_assessable.word}.", "Read it on the next round."))
    if verdict.rule in RULE_REMEDIES:
        told.append(RULE_REMEDIES[verdict.rule])
    if verdict.load_ratio is not None and verdict.load_ratio < 0.4 - 1e-9:
        told.append(("Under 40 % of common load.", _LOW_LOAD))
    if verdict.unequal_load:
        told.append(
            (
                "The currents of the like parts differ: unequal load before bad joint.",
                "Ask what the phases feed, and read them at like load.",
            )
        )
    keys = [key for key in verdict.cautions if key != "no_number"]
    told += [reason for key in keys if (reason := caution_words(key)) is not None]
    if not shown.counts_level:
        told.append(
            ("Another reading of this visit counts.", "The engineer decides between the two on the Desk.")
        )
    return tuple(told)


def caution_words(key: str) -> tuple[str, str] | None:
    """What a key of ``cautions`` says, and the remedy; None for a key that nobody knows any more."""
    if key == "still_settling":
        return _SETTLING
    flag = Caution.__members__.get(key.upper())
    if flag is not None:
        return _sentence(CAUTION_WORDS[flag]), CAUTION_REMEDIES[flag]
    refusal = Refusal.__members__.get(key.upper())
    if refusal is None or not REFUSAL_WORDS[refusal]:
        return None
    return _sentence(REFUSAL_WORDS[refusal]), REFUSAL_REMEDIES.get(refusal, "Correct what was typed.")


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}."
