"""Why a physical figure is not given: the reasons that stand beside a NaN."""

from enum import IntEnum


class Refusal(IntEnum):
    """Reason code of one element; the value itself is NaN wherever it is not ``NONE``."""

    NONE = 0
    NO_NUMBER = 1
    NO_LIKE_PART = 2
    NO_CURRENT = 3
    LOW_LOAD = 4
    TOO_COOL = 5
    OUT_OF_RANGE = 6
    NO_EMISSIVITY = 7
    BAD_EMISSIVITY = 8
    NO_REFLECTED = 9
    NO_AIR = 10
    BAD_TRANSMISSION = 11
    NO_WINDOW_TRANSMISSION = 12
    NO_WINDOW_TEMPERATURE = 13
    NO_WINDOW_REFLECTED = 14
    WINDOW_OPAQUE = 15
    NOT_ABOVE_REFLECTED = 16
    UNDEFINED = 17
    BAD_WEATHER = 18
    TOO_LARGE = 19
    OUTSIDE_RASTER = 20
    TOO_FEW_PIXELS = 21
    NO_UNCERTAINTY = 40
    NOT_SETTLED = 41
    WIND = 42
    SPOT_NOT_FILLED = 43
    INDICATIVE = 44
    TOO_FEW_VISITS = 45
    TOO_WIDE = 46


#: The reasons in plain words.
REFUSAL_WORDS = {
    Refusal.NONE: "",
    Refusal.NO_NUMBER: "a number is missing",
    Refusal.NO_LIKE_PART: "no like part with a current within 10 %",
    Refusal.NO_CURRENT: "the current is not known",
    Refusal.LOW_LOAD: "the load is too low to be scaled",
    Refusal.TOO_COOL: "the rise is too small for a relative difference",
    Refusal.OUT_OF_RANGE: "outside the range in which the formula holds",
    Refusal.NO_EMISSIVITY: "the emissivity is not known",
    Refusal.BAD_EMISSIVITY: "an emissivity lies above 0 and at most at 1",
    Refusal.NO_REFLECTED: "the reflected temperature is not known",
    Refusal.NO_AIR: "the air temperature along the path is not known",
    Refusal.BAD_TRANSMISSION: "what air and window let through and reflect are shares of one whole",
    Refusal.NO_WINDOW_TRANSMISSION: "what the window lets through is not known",
    Refusal.NO_WINDOW_TEMPERATURE: "the temperature of the window is not known",
    Refusal.NO_WINDOW_REFLECTED: "what the window reflects is not known",
    Refusal.WINDOW_OPAQUE: "the window lets too little through; ordinary glass and acrylic nothing",
    Refusal.NOT_ABOVE_REFLECTED: "the reading is not above the reflected temperature",
    Refusal.UNDEFINED: "no surface temperature explains this reading with these settings",
    Refusal.BAD_WEATHER: "rain or fog between instrument and part",
    Refusal.TOO_LARGE: "the raster is too large",
    Refusal.OUTSIDE_RASTER: "the box or spot does not lie inside the raster",
    Refusal.TOO_FEW_PIXELS: "fewer than nine pixels with a number",
    Refusal.NO_UNCERTAINTY: "the uncertainty is not known",
    Refusal.NOT_SETTLED: "the heat has not settled far enough, or how far is not known",
    Refusal.WIND: "wind or a fan on the part",
    Refusal.SPOT_NOT_FILLED: "the part does not fill the measuring spot",
    Refusal.INDICATIVE: "the figure is indicative and clears nothing",
    Refusal.TOO_FEW_VISITS: "too few visits",
    Refusal.TOO_WIDE: "the uncertainty is too wide for a closed form",
}
