"""Strips kept between renders: fresh for everybody, never blank, drawn again only after a change."""

from datetime import date

import numpy as np

from service.domain.overview import SiteCount, Strokes
from service.pages.strip_shelf import StripShelf

TODAY = date(2026, 11, 25)


def site(site_id: int, points: int, version: int = 1) -> SiteCount:
    return SiteCount(site_id, f"Works {site_id}", "Europe/London", version, (points, 0, 0, 0, 0), 0)


def strokes(points: int) -> Strokes:
    flat, no = np.full(points, 0.4), np.zeros(points, dtype=np.bool_)
    levels = np.zeros(points, dtype=np.int64)
    names = tuple(f"point {k}" for k in range(points))
    return Strokes(np.arange(points) + 1, levels, flat, flat, no, no, no, names, ("Hall",) * points)


def test_people_who_see_other_sites_keep_each_others_strips() -> None:
    shelf = StripShelf(TODAY)
    every, one = [site(1, 90), site(2, 30)], [site(2, 30)]
    wide = shelf.draw(every, {1: strokes(90), 2: strokes(30)})
    assert shelf.stale(one) == [2], "drawn at the scale of the largest site in sight"
    narrow = shelf.draw(one, {2: strokes(30)})
    assert narrow[2] != wide[2]
    assert shelf.stale(every) == shelf.stale(one) == []
    assert shelf.draw(every, {}) == wide


def test_only_a_changed_site_is_drawn_again() -> None:
    shelf = StripShelf(TODAY)
    shelf.draw([site(1, 90), site(2, 30)], {1: strokes(90), 2: strokes(30)})
    assert shelf.stale([site(1, 90), site(2, 30, version=2)]) == [2]
    assert shelf.stale([site(1, 90), site(2, 29)]) == [2], "a point was retired"


def test_a_strip_drawn_anew_meanwhile_is_shown_rather_than_none() -> None:
    shelf = StripShelf(TODAY)
    before, after = [site(1, 30)], [site(1, 30, version=2)]
    shelf.draw(before, {1: strokes(30)})
    assert shelf.stale(before) == []
    shelf.draw(after, {1: strokes(30)})  # by another request, between the two halves of this one
    assert "<svg" in shelf.draw(before, {})[1]
