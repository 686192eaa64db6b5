"""Colours of a raster: grey, or petrol to paper; equal steps of temperature look equally large."""

from enum import StrEnum

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from service.charts.axes import tick_word, ticks
from service.charts.drawing import markup

Bytes = NDArray[np.uint8]

#: steps of the scale; the rest of a palette of 256 is for marks
LEVELS = 240
STOPS = 24
_LAB_TO_ROOTS = np.array(
    [
        [1.0, 0.3963377774, 0.2158037573],
        [1.0, -0.1055613458, -0.0638541728],
        [1.0, -0.0894841775, -1.2914855480],
    ]
)
_CONES_TO_RGB = np.array(
    [
        [4.0767416621, -3.3077115913, 0.2309699292],
        [-1.2684380046, 2.6097574011, -0.3413193965],
        [-0.0041960863, -0.7034186147, 1.7076147010],
    ]
)


class Scale(StrEnum):
    """Both go from dark (cold) to light (hot), so that print and a colour-blind eye keep the order."""

    GREY = "grey"
    PETROL = "petrol"


def lab_to_rgb(lab: NDArray[np.float64]) -> NDArray[np.float64]:
    """OKLab to sRGB with gamma, 0 to 1 where the colour can be shown.

    Parameters
    ----------
    lab : ndarray, shape (n, 3)
        Lightness 0 to 1, and the two axes of colour.

    Returns
    -------
    ndarray, shape (n, 3)

    References
    ----------
    CSS Color Module Level 4, sections 9.2 and 18 (sample code for OKLab and sRGB).
    """
    linear = (lab @ _LAB_TO_ROOTS.T) ** 3 @ _CONES_TO_RGB.T
    bent = 1.055 * np.clip(linear, 0, None) ** (1 / 2.4) - 0.055
    shown: NDArray[np.float64] = np.where(linear <= 0.0031308, 12.92 * linear, bent)
    return shown


def colours_of(scale: Scale, count: int = LEVELS) -> Bytes:
    """So many colours from coldest to hottest, in equal steps of lightness, shape (count, 3).

    Petrol turns from deep blue-green to warm paper while its colour first grows, then fades.
    """
    share = np.linspace(0, 1, count)
    lightness = 0.2 + 0.78 * share
    chroma = 0.075 * np.sin(np.pi * share) ** 0.8 if scale is Scale.PETROL else np.zeros(count)
    hue = np.deg2rad(232 - 140 * share)
    lab = np.stack([lightness, chroma * np.cos(hue), chroma * np.sin(hue)], axis=1)
    return np.round(np.clip(lab_to_rgb(lab), 0, 1) * 255).astype(np.uint8)


def levels_of(grid_c: NDArray[np.float32], low_c: float, high_c: float) -> Bytes:
    """Step of the scale for each pixel; what lies beyond its ends takes the end. NaN becomes 0."""
    span = max(high_c - low_c, 1e-6)
    share = (np.nan_to_num(grid_c, nan=low_c) - np.float32(low_c)) / np.float32(span)
    levels: Bytes = (np.clip(share, 0, 1) * (LEVELS - 1) + 0.5).astype(np.uint8)
    return levels


def scale_bar(
    scale: Scale, low: float, high: float, *, name: str, line: float | None = None, unit: str = "°C"
) -> Markup:
    """The scale with its numbers on it, as wide as its column.

    Parameters
    ----------
    low, high : float
        Temperatures at its ends [unit].
    name : str
        Id of the gradient, its own on each page.
    line : float, optional
        A temperature marked on it [unit].
    unit : str
        °C, or °F for who reads so.
    """
    stops = "".join(
        f'<stop offset="{k / (STOPS - 1):.4f}" stop-color="rgb({r},{g},{b})"/>'
        for k, (r, g, b) in enumerate(colours_of(scale, STOPS))
    )
    span = max(high - low, 1e-6)
    marks = [(0.0, f"{low:.1f}", "start"), (100.0, f"{high:.1f} {unit}", "end")]
    inner = [(100 * (value - low) / span, tick_word(value), "middle") for value in ticks(low, high, 5)]
    marks += [mark for mark in inner if 14 <= mark[0] <= 80]
    drawn = "".join(
        f'<line class="tick" x1="{x:.2f}%" x2="{x:.2f}%" y1="14" y2="19"/>'
        f'<text x="{x:.2f}%" y="33" text-anchor="{anchor}">{word.replace("-", "−")}</text>'
        for x, word, anchor in marks
    )
    if line is not None and low <= line <= high:
        x = 100 * (line - low) / span
        drawn += f'<line class="at-line" x1="{x:.2f}%" x2="{x:.2f}%" y1="-3" y2="17"/>'
    words = f"Scale from {low:.1f} to {high:.1f} {unit}, dark is cold".replace("-", "−")
    return markup(
        f'<svg class="raster-scale" width="100%" height="38" role="img" aria-label="{words}">'
        f'<defs><linearGradient id="{name}">{stops}</linearGradient></defs>'
        f'<rect x="0" y="0" width="100%" height="14" fill="url(#{name})"/>{drawn}</svg>'
    )
