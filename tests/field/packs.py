"""Packs of small rounds, as a technician's device gets them."""

import random
from datetime import date, datetime
from typing import Any

from service.api.pack_replies import PackReply
from service.storage.unit import Store
from service.usecases.condition.presets import ensure_presets
from service.usecases.field.pack import read_pack
from tests.builders import MADE, build_plant
from tests.readings.builders import Issued, issue


def pack_of(walk: Issued, *, now: datetime | None = None) -> dict[str, Any]:
    """The pack as its technician gets it, read back from its JSON."""
    read = read_pack(walk.store, walk.technician, walk.round_id, now=now or walk.walked_at)
    return dict(PackReply.of(read).model_dump(mode="json", by_alias=True))


def points_of(pack: dict[str, Any]) -> list[dict[str, Any]]:
    return [point for stop in pack["stops"] for view in stop["views"] for point in view["points"]]


def visited(store: Store, *, visits: int = 2, seed: int = 5, **kinds: int) -> Issued:
    """The last of some rounds a month apart; the earlier ones were walked."""
    ensure_presets(store, now=MADE)
    rng = random.Random(seed)
    plant = build_plant(store, **kinds)
    walk = issue(store, plant=plant, day=date(2026, 1, 12))
    for month in range(visits):
        walk.bring(
            [walk.record(place, round(rng.gauss(36.0, 0.5), 1)) for place in range(len(walk.rows))],
        )
        walk = issue(store, plant=plant, day=date(2026, 2 + month, 9))
    return walk
