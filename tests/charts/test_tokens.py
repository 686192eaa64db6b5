"""Tokens: readable text, visible marks, and levels that stay apart without colour and for colour-blind eyes."""

from itertools import combinations, pairwise

import pytest

from service.charts.marks import level_mark
from tests.charts.colour_vision import SIMULATIONS, contrast, distance, lab, linear, themes

THEMES = themes()
TEXTS = ("ink", "ink-2", "ink-3", "line", "look", "plan", "soon", "act")
MARKS = ("rule-strong", "calm", "ghost", "look", "plan", "soon", "act", "line")
LEVELS = ("calm", "look", "plan", "soon", "act")


def test_the_dark_theme_is_the_same_whether_the_device_or_the_person_asks() -> None:
    assert THEMES["dark"] == THEMES["dark by choice"]
    assert THEMES["light"].keys() == THEMES["dark"].keys()


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("ground", ["paper", "sheet"])
@pytest.mark.parametrize("text", TEXTS)
def test_text_reaches_the_aa_contrast(theme: str, ground: str, text: str) -> None:
    """WCAG 2.2, success criterion 1.4.3: 4.5 to 1."""
    assert contrast(THEMES[theme][text], THEMES[theme][ground]) >= 4.5


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("ground", ["paper", "sheet"])
@pytest.mark.parametrize("mark", MARKS)
def test_marks_and_borders_reach_three_to_one(theme: str, ground: str, mark: str) -> None:
    """WCAG 2.2, success criterion 1.4.11: 3 to 1."""
    assert contrast(THEMES[theme][mark], THEMES[theme][ground]) >= 3.0


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(
    ("text", "ground"),
    [
        ("on-line", "line"),
        ("on-act-chip", "act-chip"),
        ("soon", "soon-tint"),
        ("plan", "plan-tint"),
        ("look", "look-tint"),
        ("act", "act-tint"),
        ("line", "line-tint"),
        ("ink", "well"),
        ("ink-2", "well"),
        ("ink-2", "line-tint"),
        ("ink-2", "later"),
        ("ink", "quiet-band"),
    ],
)
def test_text_on_its_own_ground_reaches_the_aa_contrast(theme: str, text: str, ground: str) -> None:
    assert contrast(THEMES[theme][text], THEMES[theme][ground]) >= 4.5


def test_light_levels_darken_with_gravity_so_that_a_grey_print_keeps_their_order() -> None:
    lightness = [lab(linear(THEMES["light"][level]))[0] for level in LEVELS]
    assert lightness == sorted(lightness, reverse=True)
    steps = [before - after for before, after in pairwise(lightness)]
    assert min(steps) >= 2.3, "about one just noticeable difference"
    assert min(steps[2:]) >= 4.5, "Repair soon stands clear of Plan repair and of Act now"


def test_the_dark_end_of_act_now_is_the_brightest_thing_of_the_chart() -> None:
    dark = THEMES["dark"]
    brightness = {
        level: contrast(dark[level], dark["sheet"])
        for level in ("look", "plan", "soon", "act-end", "act-chip")
    }
    assert min(brightness["act-end"], brightness["act-chip"]) > 1.5 * max(
        brightness["look"], brightness["plan"], brightness["soon"]
    )


@pytest.mark.parametrize("vision", list(SIMULATIONS))
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_end_marks_stay_apart_for_every_eye(theme: str, vision: str) -> None:
    ends = {name: THEMES[theme][name] for name in ("calm", "look", "plan", "soon", "act-end")}
    for first, second in combinations(ends, 2):
        if {first, second} == {"look", "plan"}:
            continue  # one hue for a deuteranope by the given tokens: told by fill, below
        assert distance(ends[first], ends[second], vision=vision) >= 12, (first, second)


def test_look_again_and_plan_repair_differ_by_fill_and_weight_where_hue_fails() -> None:
    css = (themes.__globals__["TOKENS"].parent / "charts.css").read_text()
    open_ring = css[css.index(".end-1 {") : css.index(".end-2 {")]
    disc = css[css.index(".end-2 {") : css.index(".end-3 {")]
    assert "stroke: var(--look)" in open_ring
    assert "fill: var(--sheet)" in open_ring
    assert "fill: var(--plan)" in disc
    for theme in ("light", "dark"):
        ring_fill, disc_fill = THEMES[theme]["sheet"], THEMES[theme]["plan"]
        assert all(distance(ring_fill, disc_fill, vision=vision) >= 40 for vision in SIMULATIONS)


def test_six_levels_have_six_shapes() -> None:
    shapes = {level: str(level_mark(level)) for level in (None, 0, 1, 2, 3, 4)}
    told_by = {
        None: "ghost-dots",
        0: "calm-wave",
        1: "<circle",
        2: "<circle",
        3: 'class="end end-3" d="M',
        4: "<rect",
    }
    assert len(set(shapes.values())) == 6
    for level, shape in told_by.items():
        assert shape in shapes[level]
    assert 'class="stem"' in shapes[4]
