"""The 5 % promise of the list of called points, on simulated fleets whose truth is known."""

import numpy as np
import pytest

from bench.simulated.snapshot import listed
from bench.simulated.table import WORLDS
from service.trends.discovery import chance_of_z, divisor_for

#: A list of some 200 points at 5 % holds about ten false ones, give or take three.
CHANCE_OF_SOME = 0.02


@pytest.mark.parametrize(
    ("world", "seed"),
    list(zip(WORLDS, (909, 1909, 2909), strict=True)),
    ids=["over air, seed 909", "like parts, seed 1909", "bearings, seed 2909"],
)
def test_of_a_list_at_five_percent_no_more_than_that_is_false(world, seed):
    """Seeds that no divisor was chosen on; needs a field recheck like every figure of these worlds."""
    found = listed(world, seed=seed, sites=40, share=0.05)
    assert found.false_share <= 0.05 + CHANCE_OF_SOME
    assert found.named > 60
    assert found.power > 0.55


def test_without_a_wider_law_three_like_parts_would_break_it():
    """Why their form has a divisor of its own: that of single series names twice as many wrongly."""
    like_parts = WORLDS[1]
    found = listed(like_parts, seed=1909, sites=40, share=0.05, divisor=divisor_for("single"))
    assert found.false_share > 0.08


def test_scores_of_several_forms_are_weighed_each_by_its_own_law():
    mixed = chance_of_z([5.0, 5.0], [20, 20], divisor=[divisor_for("single"), divisor_for("joint")])
    alone = [chance_of_z(5.0, 20, divisor=divisor_for(form)) for form in ("single", "joint")]
    np.testing.assert_allclose(mixed, alone)
    assert mixed[1] > mixed[0]
