"""Which use case does which kind of job; each may run twice and must end the same."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Protocol

from service.domain.jobs import JobKind
from service.storage.trend_series import points_of_sites
from service.storage.unit import Store
from service.usecases.condition.trend import assess_trends
from service.usecases.plans.draw_up import Wish, draw_up
from service.usecases.record.sweep import sweep_expired
from service.usecases.rounds.due import refresh_due_at


class Handler(Protocol):
    def __call__(self, store: Store, payload: Mapping[str, Any], *, now: datetime) -> None: ...


def _assess_trends(store: Store, payload: Mapping[str, Any], *, now: datetime) -> None:
    """Payload ``{"point_ids": [...]}`` or ``{"site_id": n}``; without them every point of the register."""
    point_ids = payload.get("point_ids")
    if "site_id" in payload:
        with store.look() as unit:
            point_ids = points_of_sites(unit, [payload["site_id"]])
    assess_trends(store, point_ids=None if point_ids is None else tuple(point_ids), now=now)
    # a point that rises is due sooner
    refresh_due_at(store, point_ids=tuple(point_ids or ()), now=now)


def _refresh_due(store: Store, payload: Mapping[str, Any], *, now: datetime) -> None:
    """Payload ``{"site_ids": [...]}``: the register changed what intervals stand on."""
    refresh_due_at(store, site_ids=tuple(payload.get("site_ids", ())), now=now)


def _sweep_expired(store: Store, payload: Mapping[str, Any], *, now: datetime) -> None:
    sweep_expired(store, now=now)


def _draw_up_plan(store: Store, payload: Mapping[str, Any], *, now: datetime) -> None:
    """Payload as `put_drawing` writes it; without an order, or one taken back, there is nothing to do."""
    if "order" not in payload:
        return
    draw_up(
        store,
        payload["plan_id"],
        base=payload["base"],
        order=payload["order"],
        by=payload["by"],
        wish=Wish(**payload["wish"]),
        now=now,
    )


HANDLERS: Mapping[str, Handler] = {
    JobKind.ASSESS_TRENDS: _assess_trends,
    JobKind.REFRESH_DUE: _refresh_due,
    JobKind.SWEEP_EXPIRED: _sweep_expired,
    JobKind.DRAW_UP_PLAN: _draw_up_plan,
}
