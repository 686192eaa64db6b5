"""Crew days against published tours and orienteering scores, and against exact sums of small cases."""

import math

import numpy as np
import pytest

from service.planning.day_routes import Candidate, CrewDay, Place, PlannedDays, TravelRules, Work, plan_days
from tests.published.evidence import BY_HAND, MEMORY, PUBLISHED, evidence, named

#: latitude,longitude in degrees and minutes
BURMA14 = """
    16.47,96.1 16.47,94.44 20.09,92.54 22.39,93.37 25.23,97.24 22,96.05 20.47,97.02 17.2,96.29
    16.3,97.38 14.05,98.12 16.53,97.38 21.52,95.59 19.41,97.13 20.09,94.55
"""
ULYSSES16 = """
    38.24,20.42 39.57,26.15 40.56,25.32 36.26,23.12 33.48,10.54 37.56,12.19 38.42,13.11 37.52,20.44
    41.23,9.1 41.17,13.05 36.08,-5.21 38.47,15.13 38.15,15.35 37.51,15.17 35.49,14.32 39.36,19.56
"""
#: lower triangle, without its diagonal
DANTZIG42 = """
    8 39 45 37 47 9 50 49 21 15 61 62 21 20 17 58 60 16 17 18 6 59 60 15 20 26 17 10 62 66 20 25 31 22
    15 5 81 81 40 44 50 41 35 24 20 103 107 62 67 72 63 57 46 41 23 108 117 66 71 77 68 61 51 46 26 11
    145 149 104 108 114 106 99 88 84 63 49 40 181 185 140 144 150 142 135 124 120 99 85 76 35 187 191
    146 150 156 142 137 130 125 105 90 81 41 10 161 170 120 124 130 115 110 104 105 90 72 62 34 31 27
    142 146 101 104 111 97 91 85 86 75 51 59 29 53 48 21 174 178 133 138 143 129 123 117 118 107 83 84
    54 46 35 26 31 185 186 142 143 140 130 126 124 128 118 93 101 72 69 58 58 43 26 164 165 120 123 124
    106 106 105 110 104 86 97 71 93 82 62 42 45 22 137 139 94 96 94 80 78 77 84 77 56 64 65 90 87 58 36
    68 50 30 117 122 77 80 83 68 62 60 61 50 34 42 49 82 77 60 30 62 70 49 21 114 118 73 78 84 69 63 57
    59 48 28 36 43 77 72 45 27 59 69 55 27 5 85 89 44 48 53 41 34 28 29 22 23 35 69 105 102 74 56 88 99
    81 54 32 29 77 80 36 40 46 34 27 19 21 14 29 40 77 114 111 84 64 96 107 87 60 40 37 8 87 89 44 46
    46 30 28 29 32 27 36 47 78 116 112 84 66 98 95 75 47 36 39 12 11 91 93 48 50 48 34 32 33 36 30 34
    45 77 115 110 83 63 97 91 72 44 32 36 9 15 3 105 106 62 63 64 47 46 49 54 48 46 59 85 119 115 88 66
    98 79 59 31 36 42 28 33 21 20 111 113 69 71 66 51 53 56 61 57 59 71 96 130 126 98 75 98 85 62 38 47
    53 39 42 29 30 12 91 92 50 51 46 30 34 38 43 49 60 71 103 141 136 109 90 115 99 81 53 61 62 36 34
    24 28 20 20 83 85 42 43 38 22 26 32 36 51 63 75 106 142 140 112 93 126 108 88 60 64 66 39 36 27 31
    28 28 8 89 91 55 55 50 34 39 44 49 63 76 87 120 155 150 123 100 123 109 86 62 71 78 52 49 39 44 35
    24 15 12 95 97 64 63 56 42 49 56 60 75 86 97 126 160 155 128 104 128 113 90 67 76 82 62 59 49 53 40
    29 25 23 11 74 81 44 43 35 23 30 39 44 62 78 89 121 159 155 127 108 136 124 101 75 79 81 54 50 42
    46 43 39 23 14 14 21 67 69 42 41 31 25 32 41 46 64 83 90 130 164 160 133 114 146 134 111 85 84 86
    59 52 47 51 53 49 32 24 24 30 9 74 76 61 60 42 44 51 60 66 83 102 110 147 185 179 155 133 159 146
    122 98 105 107 79 71 66 70 70 60 48 40 36 33 25 18 57 59 46 41 25 30 36 47 52 71 93 98 136 172 172
    148 126 158 147 124 121 97 99 71 65 59 63 67 62 46 38 37 43 23 13 17 45 46 41 34 20 34 38 48 53 73
    96 99 137 176 178 151 131 163 159 135 108 102 103 73 67 64 69 75 72 54 46 49 54 34 24 29 12 35 37
    35 26 18 34 36 46 51 70 93 97 134 171 176 151 129 161 163 139 118 102 101 71 65 65 70 84 78 58 50
    56 62 41 32 38 21 9 29 33 30 21 18 35 33 40 45 65 87 91 117 166 171 144 125 157 156 139 113 95 97
    67 60 62 67 79 82 62 53 59 66 45 38 45 27 15 6 3 11 41 37 47 57 55 58 63 83 105 109 147 186 188 164
    144 176 182 161 134 119 116 86 78 84 88 101 108 88 80 86 92 71 64 71 54 41 32 25 5 12 55 41 53 64
    61 61 66 84 111 113 150 186 192 166 147 180 188 167 140 124 119 90 87 90 94 107 114 77 86 92 98 80
    74 77 60 48 38 32 6
"""
#: x,y,score; the first is where the path begins, the last where it ends
SET2 = """
    4.6,7.1,0 5.7,11.4,20 4.4,12.3,20 2.8,14.3,30 3.2,10.3,15 3.5,9.8,15 4.4,8.4,10 7.8,11,20
    8.8,9.8,20 7.7,8.2,20 6.3,7.9,15 5.4,8.2,10 5.8,6.8,10 6.7,5.8,25 13.8,13.1,40 14.1,14.2,40
    11.2,13.6,30 9.7,16.4,30 9.5,18.8,50 4.7,16.8,30 5,5.6,0
"""
FAR_MIN = 1_000_000.0


def planned(
    way: np.ndarray, score: list[int], *, begin: int, end: int, limit_min: float, steps: int
) -> PlannedDays:
    """One crew day without a break; every place a site of its own, no sign-in, no time on the spot."""
    nodes = range(len(way))
    work = Work(
        [Candidate(k, Place(k), 0.0, score[k]) for k in nodes if k not in (begin, end)],
        [CrewDay(1, 1, 0.0, limit_min, begins=begin, ends=end, break_min=0.0)],
        travel=TravelRules(sign_in_min=0.0),
        drive_min={(a, b): float(way[a, b]) for a in nodes for b in nodes},
    )
    return plan_days(work, steps=steps, bounded=False)


def geographic(text: str) -> np.ndarray:
    """The distances that the library of tours lays down: pi 3.141592, radius 6378.388 km, cut off."""
    degrees = np.array([[float(v) for v in pair.split(",")] for pair in text.split()])
    whole = np.trunc(degrees)
    radians = 3.141592 * (whole + 5 * (degrees - whole) / 3) / 180
    lat, lon = radians.T
    q1 = np.cos(lon[:, None] - lon)
    q2, q3 = np.cos(lat[:, None] - lat), np.cos(lat[:, None] + lat)
    inner = np.clip(0.5 * ((1 + q1) * q2 - (1 - q1) * q3), -1, 1)
    way = np.trunc(6378.388 * np.arccos(inner) + 1)
    np.fill_diagonal(way, 0)
    return way


def triangle(text: str) -> np.ndarray:
    below = [int(v) for v in text.split()]
    n = round((1 + math.sqrt(1 + 8 * len(below))) / 2)
    way = np.zeros((n, n))
    way[np.tril_indices(n, -1)] = below
    return way + way.T


TOURS = [
    (geographic(BURMA14), 14, 3323, 60, "TSPLIB", "burma14", PUBLISHED),
    (geographic(ULYSSES16), 16, 6859, 150, "TSPLIB", "ulysses16", PUBLISHED),
    (triangle(DANTZIG42), 42, 699, 250, "Dantzig, Fulkerson, Johnson 1954", "42 cities", PUBLISHED),
]


@pytest.mark.parametrize(("way", "count", "length", "steps"), named(TOURS))
def test_closed_tour_is_the_shortest(way, count, length, steps):
    assert len(way) == count
    plan = planned(way, [1] * count, begin=0, end=0, limit_min=FAR_MIN, steps=steps)
    assert plan.value == count - 1
    assert plan.minutes == length


#: Limit of the path and best score; each optimum proved once by an exact solver outside this project.
SCORES = [
    (15, 120), (20, 200), (23, 210), (25, 230), (27, 230), (30, 265), (32, 300), (35, 320), (38, 360),
    (40, 395), (45, 450),
]  # fmt: skip
ORIENTEERING = [
    (limit, best, 0.86 if limit == 32 else 0.95, "Tsiligirides 1984", f"set 2, Tmax {limit}", MEMORY)
    for limit, best in SCORES
]


@pytest.mark.parametrize(("limit", "best", "share"), named(ORIENTEERING))
def test_score_of_a_path_within_its_limit(limit, best, share):
    """Ways in thousandths, rounded up, so that what fits here fits the published limit too."""
    x, y, score = np.array([[float(v) for v in row.split(",")] for row in SET2.split()]).T
    way = np.ceil(1000 * np.hypot(x[:, None] - x, y[:, None] - y)) / 10
    plan = planned(way, score.astype(int).tolist(), begin=0, end=20, limit_min=100.0 * limit, steps=200)
    assert share * best <= plan.value <= best


CASES, CANDIDATES, SHIFT_MIN = 30, 12, 300.0


def drawn_case(seed: int) -> Work:
    """Twelve candidates at three sites, a third of them only for two hours, on one short day."""
    rng = np.random.default_rng(seed)
    drive = {(a, b): float(rng.integers(10, 40)) for a in range(4) for b in range(4) if a != b}
    hours = (((0.0, 120.0),), ((150.0, 300.0),), (), (), (), ())
    return Work(
        [
            Candidate(
                k,
                Place(int(rng.integers(3)), float(rng.uniform(0, 400)), float(rng.uniform(0, 400))),
                float(rng.integers(10, 35)),
                int(rng.integers(10, 100)),
                hours[int(rng.integers(6))],
            )
            for k in range(CANDIDATES)
        ],
        [CrewDay(1, 1, 0.0, SHIFT_MIN, begins=3, ends=3)],
        drive_min=drive,
    )


def best_value(work: Work) -> int:
    """Dynamic programming over all subsets: earliest end of each subset by its last visit."""
    n, ones = len(work.candidates), list(work.candidates)
    leg = np.array([[_tenths(work, a, b) for b in ones] for a in ones])
    out = np.array([round(10 * (work.drive_min[3, one.place.site] + 10)) for one in ones])
    home = np.array([round(10 * work.drive_min[one.place.site, 3]) for one in ones])
    earliest = np.full((1 << n, n), 1e9)
    for j in range(n):
        earliest[1 << j, j] = _end(ones[j], np.array(float(out[j])))
    sizes = np.array([mask.bit_count() for mask in range(1 << n)])
    for size in range(1, n):
        masks = np.flatnonzero(sizes == size)
        for j in range(n):
            own = masks[(masks >> j & 1) == 0]
            arrive = (earliest[own] + leg[:, j]).min(axis=1)
            earliest[own | 1 << j, j] = _end(ones[j], arrive)
    done = (earliest + home).min(axis=1) <= 10 * SHIFT_MIN
    worth = sum((np.arange(1 << n) >> k & 1) * one.score for k, one in enumerate(ones))
    return int(worth[done].max(initial=0))


def _tenths(work: Work, a: Candidate, b: Candidate) -> int:
    if a.place.site == b.place.site:
        return round(10 * 1.3 * math.dist((a.place.x_m, a.place.y_m), (b.place.x_m, b.place.y_m)) / 50)
    return round(10 * (work.drive_min[a.place.site, b.place.site] + 10))


def _end(one: Candidate, arrive: np.ndarray) -> np.ndarray:
    begin, last = 0.0, 1e8
    if one.windows:
        begin, last = 10 * one.windows[0][0], 10 * (one.windows[0][1] - one.minutes)
    return np.where(arrive <= last, np.maximum(arrive, begin) + 10 * one.minutes, 1e9)


@evidence("exact subset programming", "30 cases of 12 candidates", BY_HAND)
def test_small_days_are_never_above_the_best_and_mostly_equal_to_it():
    equal = 0
    for seed in range(CASES):
        work = drawn_case(seed)
        value, best = plan_days(work, steps=60, bounded=False).value, best_value(work)
        assert value <= best
        equal += value == best
    assert equal >= 27
