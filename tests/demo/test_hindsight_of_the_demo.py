"""Five years looked back over: each planted fault against the day on which it would have been flagged."""

from seed_data.flagged import flagged_faults
from seed_data.world import World
from service.storage.unit import Store
from tests.conftest import NOW

#: A fault that has grown by so much at common load is one that a practitioner would want to hear of [K].
WORTH_HEARING_K = 6.0


def test_planted_faults_that_grew_were_flagged_after_they_began_and_before_their_repair(
    demo_store: Store, demo_world: World
) -> None:
    told = [one for one in flagged_faults(demo_store, demo_world, now=NOW) if one.grown_k >= WORTH_HEARING_K]
    missed = [str(one) for one in told if one.flag is None]
    assert len(told) >= 15
    assert len(missed) <= 0.2 * len(told), missed
    for one in told:
        if one.flag is not None:
            assert one.began_on <= one.flag.first_on
