"""A client with two sites and its sets of criteria: a test shows only what it speaks of."""

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from service.domain.criteria_kept import KeptCriteria, SiteCriteria
from service.domain.people import Actor
from service.domain.words import Role
from service.storage.unit import Store
from service.usecases.condition.criteria_sets import CriteriaPage, choose_site_criteria, see_criteria
from service.usecases.condition.edit_criteria import copy_set, edit_set
from service.usecases.condition.presets import ensure_presets
from tests.builders import Plant, build_plant

NOW = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)


@dataclass
class Sets:
    store: Store
    plant: Plant

    def actor(self, role: Role = Role.ENGINEER, **change: Any) -> Actor:
        return self.plant.actor(role, **change)

    def stranger(self, role: Role = Role.ENGINEER) -> Actor:
        """Somebody of another client."""
        nowhere = {"sites": frozenset(), "clients": frozenset({999}), "whole_clients": frozenset({999})}
        return self.plant.actor(role, every_site=False, **nowhere)

    def page(self, actor: Actor | None = None) -> CriteriaPage:
        return see_criteria(self.store, actor or self.actor(), now=NOW)

    def preset(self, name: str = "two-column") -> KeptCriteria:
        return next(kept for kept in self.page().sets if kept.name == name)

    def own(self, title: str = "Own rules", **body: Any) -> KeptCriteria:
        """A copy of the two columns for the client, with some fields changed."""
        kept = copy_set(
            self.store, self.actor(), self.preset().id, title=title, client_id=self.plant.client_id, now=NOW
        )
        return self.edited(kept, **body) if body else kept

    def edited(self, kept: KeptCriteria, **body: Any) -> KeptCriteria:
        whole = kept.criteria.to_dict() | body
        return edit_set(self.store, self.actor(), kept.id, edits=kept.edits, body=whole, now=NOW)

    def site(self, place: int = 0) -> SiteCriteria:
        wanted = self.plant.site_ids[place]
        return next(site for site in self.page().sites if site.site_id == wanted)

    def choose(self, criteria_id: int | None, *, place: int = 0) -> None:
        site = self.site(place)
        choose_site_criteria(
            self.store, self.actor(), site_id=site.site_id, criteria_id=criteria_id, version=site.version,
            now=NOW,
        )  # fmt: skip


def lay_sets(store: Store, **plant: Any) -> Sets:
    ensure_presets(store, now=NOW)
    return Sets(store, build_plant(store, **({"sites": 2} | plant)))
