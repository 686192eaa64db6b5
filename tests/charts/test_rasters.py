"""Rasters as pictures: colours in order for every eye, a sound PNG, hatching that shows on any grey."""

import io
import re
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from service.charts.raster_picture import raster_png, shrunk_by
from service.charts.raster_scale import LEVELS, Scale, colours_of, lab_to_rgb, levels_of, scale_bar

#: sRGB to cone responses: B. Ottosson, "A perceptual color space for image processing" (2020)
RGB_TO_CONES = np.array(
    [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
)


def lightness(colours: NDArray[np.uint8]) -> NDArray[np.float64]:
    """OKLab lightness of sRGB bytes, by the way there rather than the way back."""
    shown = colours / 255
    linear = np.where(shown <= 0.04045, shown / 12.92, ((shown + 0.055) / 1.055) ** 2.4)
    found: NDArray[np.float64] = np.cbrt(linear @ RGB_TO_CONES.T) @ [0.2104542553, 0.793617785, -0.0040720468]
    return found


def picture(grid: NDArray[np.floating], **how: float | Scale) -> Image.Image:
    drawn = raster_png(grid.astype("f4"), **({"low_c": 20.0, "high_c": 60.0} | how))  # type: ignore[arg-type]
    return Image.open(io.BytesIO(drawn))


# ---- the scale ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lab", "rgb"),
    [
        # published: web-platform-tests, css/css-color/oklab-001.html
        ((0.51975, -0.1403, 0.10768), (0, 128 / 255, 0)),
        # from memory: the corners of sRGB
        ((0.0, 0.0, 0.0), (0, 0, 0)),
        ((1.0, 0.0, 0.0), (1, 1, 1)),
        ((0.62796, 0.22486, 0.12585), (1, 0, 0)),
        ((0.86644, -0.23389, 0.17950), (0, 1, 0)),
        ((0.45201, -0.03246, -0.31153), (0, 0, 1)),
    ],
)
def test_oklab_gives_the_published_colours(lab: tuple[float, ...], rgb: tuple[float, ...]) -> None:
    """Green as a test of CSS Color Module Level 4 has it; black, white, red, lime and blue from memory."""
    assert lab_to_rgb(np.array([lab]))[0] == pytest.approx(rgb, abs=2e-3)


@pytest.mark.parametrize("scale", Scale)
def test_hotter_is_lighter_in_equal_steps(scale: Scale) -> None:
    seen = lightness(colours_of(scale))
    assert np.all(np.diff(seen) >= 0), "two neighbours may share one of 256 greys, none turns back"
    assert np.all(np.diff(seen[::4]) > 0)
    assert seen == pytest.approx(np.linspace(0.2, 0.98, LEVELS), abs=0.004)


@pytest.mark.parametrize("scale", Scale)
def test_no_colour_lies_beyond_what_a_screen_shows(scale: Scale) -> None:
    ends = lightness(colours_of(scale))[[0, -1]]
    assert ends == pytest.approx((0.2, 0.98), abs=0.005)


def test_petrol_keeps_to_one_way_of_hue_and_never_shouts() -> None:
    """No rainbow: from blue-green to yellow-white without turning back, and never vivid."""
    red, green, blue = colours_of(Scale.PETROL).astype(int).T
    assert np.all(np.diff(red - blue) >= -2)
    assert max(np.ptp(colour) for colour in zip(red, green, blue, strict=True)) < 110


def test_the_ends_of_the_scale_hold_what_lies_beyond_it() -> None:
    levels = levels_of(np.array([[-40, 20, 40, 60, 900, np.nan]], dtype="f4"), 20.0, 60.0)
    assert levels.tolist() == [[0, 0, 120, 239, 239, 0]]
    assert levels_of(np.full((2, 2), 30, "f4"), 30.0, 30.0).tolist() == [[0, 0], [0, 0]]


def test_the_scale_has_its_numbers_on_it_without_crowding() -> None:
    bar = scale_bar(Scale.GREY, -12.34, 61.0, name="g", line=50.0)
    words = [(float(x), word) for x, word in re.findall(r'<text x="([\d.]+)%"[^>]*>([^<]+)</text>', bar)]
    assert words[0] == (0.0, "−12.3")
    assert words[1] == (100.0, "61.0 °C")
    assert [word for _, word in words[2:]] == ["0", "20", "40"]
    places = sorted(x for x, _ in words)
    assert all(right - left >= 13 for left, right in pairwise(places))
    assert "at-line" in bar
    assert "at-line" not in scale_bar(Scale.GREY, 0, 1, name="g", line=50.0)


# ---- the picture --------------------------------------------------------------------------


@pytest.mark.parametrize("scale", Scale)
def test_the_picture_shows_each_pixel_in_its_colour(scale: Scale) -> None:
    """Reference library: Pillow reads the PNG."""
    grid = np.linspace(20, 60, 60).reshape(6, 10)
    shown = np.asarray(picture(grid, scale=scale).convert("RGB"))
    assert shown.shape == (6, 10, 3)
    assert np.array_equal(shown, colours_of(scale)[levels_of(grid.astype("f4"), 20, 60)])


def test_a_pixel_without_a_value_is_clear() -> None:
    grid = np.full((4, 4), 30.0)
    grid[1, 2] = np.nan
    alpha = np.asarray(picture(grid).convert("RGBA"))[:, :, 3]
    assert np.argwhere(alpha == 0).tolist() == [[1, 2]]


@pytest.mark.parametrize("ground_c", [20.0, 40.0, 60.0])
def test_hatching_stands_out_on_any_grey(ground_c: float) -> None:
    grid = np.full((60, 80), ground_c)
    grid[20:40, 20:60] = ground_c + 1
    shown = np.asarray(picture(grid, above_c=ground_c + 0.5).convert("L"), dtype=int)
    assert shown.shape == (720, 960)
    inside, outside = shown[260:460, 260:700], shown[:220]
    assert inside.min() < 60
    assert inside.max() > 240
    assert np.ptp(outside) == 0


def test_below_a_line_is_hatched_too_and_a_scale_of_colour_turns_grey() -> None:
    grid = np.tile(np.linspace(20, 60, 40), (30, 1))
    below = np.asarray(picture(grid, scale=Scale.PETROL, below_c=40.0).convert("RGB"), dtype=int)
    greys = np.ptp(below[:, 300:], axis=2)
    assert greys.max() <= 1
    left, right = below[:, :200].std(), below[:, 280:].std()
    assert left > 1.5 * right


def test_a_raster_beyond_any_screen_shows_the_hottest_of_each_block() -> None:
    grid = np.full((1300, 1301), 25.0)
    grid[641, 7] = 60.0
    assert shrunk_by(1300, 1301) == 2
    shown = np.asarray(picture(grid).convert("L"))
    assert shown.shape == (650, 651)
    assert shown[320, 3] == shown.max() > 240
    assert (shown == shown.max()).sum() == 1
