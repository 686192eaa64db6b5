"""A site is judged by the set chosen for it, from the choice on; earlier verdicts keep theirs."""

from datetime import UTC, datetime, timedelta

import pytest

from service.domain.words import Role
from service.errors import Forbidden, NotFound, Stale
from service.storage.assessments import standing_verdicts
from service.storage.unit import Store
from service.usecases.condition.criteria_sets import choose_class_criteria, choose_site_criteria, see_criteria
from service.usecases.condition.edit_criteria import copy_set
from service.usecases.condition.presets import ensure_presets
from tests.readings.builders import issue

JAN = datetime(2026, 1, 12, 8, 0, tzinfo=UTC)


def test_a_choice_counts_from_then_on(any_store: Store) -> None:
    ensure_presets(any_store, now=JAN)
    made = issue(any_store, walked_at=JAN)
    made.bring(made.all_records())
    page = see_criteria(any_store, made.engineer, now=JAN)
    (site,) = page.sites
    other = copy_set(
        any_store, made.engineer, site.in_force_id, title="Own", client_id=made.plant.client_id, now=JAN
    )
    choose_site_criteria(
        any_store, made.engineer, site_id=site.site_id, criteria_id=other.id, version=site.version, now=JAN
    )
    again = issue(any_store, plant=made.plant, walked_at=JAN + timedelta(days=30))
    again.bring(again.all_records())
    with any_store.look() as unit:
        used = [stored.criteria_id for stored in standing_verdicts(unit, [made.rows[0][2]])[made.rows[0][2]]]
    assert used == [site.in_force_id, other.id]


def test_a_choice_is_the_engineers_and_no_edit_is_lost(any_store: Store) -> None:
    ensure_presets(any_store, now=JAN)
    made = issue(any_store, walked_at=JAN)
    (site,) = see_criteria(any_store, made.engineer, now=JAN).sites
    with pytest.raises(Forbidden):
        choose_site_criteria(
            any_store, made.plant.actor(Role.MANAGER), site_id=site.site_id, criteria_id=None,
            version=site.version, now=JAN,
        )  # fmt: skip
    with pytest.raises(Stale):
        choose_site_criteria(
            any_store,
            made.engineer,
            site_id=site.site_id,
            criteria_id=None,
            version=site.version + 1,
            now=JAN,
        )
    with pytest.raises(NotFound):
        choose_site_criteria(
            any_store, made.engineer, site_id=site.site_id, criteria_id=999, version=site.version, now=JAN
        )


def test_a_class_of_equipment_is_judged_by_its_own_set(any_store: Store) -> None:
    ensure_presets(any_store, now=JAN)
    made = issue(any_store, walked_at=JAN)
    (site,) = see_criteria(any_store, made.engineer, now=JAN).sites
    own = copy_set(
        any_store, made.engineer, site.in_force_id, title="Boards", client_id=made.plant.client_id, now=JAN
    )
    choose_class_criteria(
        any_store, made.engineer, site_id=site.site_id, equipment_class="Switchboard", criteria_id=own.id,
        version=site.version, now=JAN,
    )  # fmt: skip
    made.bring(made.all_records())
    with any_store.look() as unit:
        used = {
            stored.criteria_id
            for several in standing_verdicts(unit, [row[2] for row in made.rows]).values()
            for stored in several
        }
    assert used == {own.id}
