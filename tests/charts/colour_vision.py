"""Contrast and simulated colour vision, for checking tokens against their sources."""

import math
import re
from pathlib import Path

TOKENS = Path(__file__).resolve().parents[2] / "web" / "css" / "tokens.css"
Linear = tuple[float, float, float]

#: Machado, Oliveira and Fernandes 2009, table of severity 1.0, on linear RGB [from memory]
SIMULATIONS: dict[str, tuple[Linear, Linear, Linear]] = {
    "protanopia": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deuteranopia": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "full colour": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
}


def themes() -> dict[str, dict[str, str]]:
    """Raw tokens of the light and the dark theme, and of the dark one by choice."""
    css = TOKENS.read_text()
    blocks = {
        "light": r":root \{\n\s+color-scheme: light;(.*?)\}",
        "dark": r':root:not\(\[data-theme="light"\]\) \{(.*?)\}',
        "dark by choice": r':root\[data-theme="dark"\] \{(.*?)\}',
    }
    found = {}
    for name, pattern in blocks.items():
        block = re.search(pattern, css, re.DOTALL)
        assert block is not None, name
        found[name] = dict(re.findall(r"--([a-z0-9-]+): (#[0-9a-f]{6});", block.group(1)))
    return found


def linear(colour: str) -> Linear:
    """sRGB to linear light (IEC 61966-2-1, as WCAG 2.2 writes it)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return red, green, blue


def luminance(light: Linear) -> float:
    return 0.2126 * light[0] + 0.7152 * light[1] + 0.0722 * light[2]


def contrast(first: str, second: str) -> float:
    """WCAG 2.2 contrast ratio."""
    low, high = sorted((luminance(linear(first)), luminance(linear(second))))
    return (high + 0.05) / (low + 0.05)


def seen(colour: str, vision: str) -> Linear:
    light = linear(colour)
    red, green, blue = (
        min(1.0, max(0.0, sum(weight * part for weight, part in zip(row, light, strict=True))))
        for row in SIMULATIONS[vision]
    )
    return red, green, blue


def lab(light: Linear) -> tuple[float, float, float]:
    """CIE 1976 L*a*b*, white D65."""
    x = (0.4124 * light[0] + 0.3576 * light[1] + 0.1805 * light[2]) / 0.95047
    z = (0.0193 * light[0] + 0.1192 * light[1] + 0.9505 * light[2]) / 1.08883
    fx, fy, fz = (
        part ** (1 / 3) if part > 0.008856 else 7.787 * part + 16 / 116 for part in (x, luminance(light), z)
    )
    return 116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)


def distance(first: str, second: str, *, vision: str) -> float:
    """CIE 1976 colour difference as a person with this vision sees it."""
    return math.dist(lab(seen(first, vision)), lab(seen(second, vision)))
