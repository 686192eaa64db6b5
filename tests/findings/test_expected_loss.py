"""What may cost most is decided first, among equals: chance x money an hour x days until mended."""

from collections.abc import Callable
from datetime import datetime

import pytest

from service.domain.losses import loss_of
from service.domain.words import Role
from service.pages.view import loss_words
from service.storage.tables.register import EquipmentRow
from service.storage.unit import Store
from service.usecases.condition.overview import see_overview
from service.usecases.findings.desk import see_desk
from tests.builders import build_plant
from tests.doors import browser_as, open_app
from tests.pages.standing_builders import rename, set_state
from tests.pages.test_standing import page, text_of


def test_expected_loss_is_worked_out_by_hand() -> None:
    """32 % x 250 an hour x 28 days x 24 hours = 53 760."""
    loss = loss_of(0.32, 250.0, 28)
    assert loss is not None
    assert loss.expected == pytest.approx(53_760)
    assert "53\u00a0800 within 12 months: 32" in loss_words(loss)


@pytest.mark.parametrize("known", [(None, 250.0, 28), (0.3, None, 28)])
def test_nothing_is_made_up_where_chance_or_money_is_unknown(known) -> None:
    assert loss_of(*known) is None
    assert loss_words(loss_of(*known)) == ""


def test_standing_and_desk_put_what_may_cost_most_first_and_say_why(
    any_store: Store, clock: Callable[[], datetime], now: datetime
) -> None:
    plant = build_plant(any_store, sites=1, views=2)
    cheap, dear, grave = plant.point_ids[0], plant.point_ids[3], plant.point_ids[4]
    rename(any_store, EquipmentRow, plant.equipment_ids[0], cost_per_hour=100.0, repair_lead_days=10)
    for point, level, chance in ((cheap, 2, 0.2), (dear, 2, 0.6), (grave, 3, None)):
        set_state(
            any_store, point, level=level, chance_12=chance, reference="over like parts", last_sentence="x"
        )
    overview = see_overview(any_store, plant.actor(), now=now)
    assert [point.point_id for point in overview.worst] == [grave, dear, cheap]
    desk = see_desk(any_store, plant.actor(), now=now)
    assert [item.point_id for item in desk.items if item.point_id] == [grave, dear, cheap]
    engineer = browser_as(open_app(any_store, clock), any_store, plant, Role.ENGINEER, now)
    for path in ("/", "/desk"):
        assert "of 10 days at 100 an hour." in text_of(page(engineer, path)).replace("\u00a0", " "), path
