"""Months made at random in memory: what is due where, who walks when, what is behind a cover."""

from datetime import date, timedelta
from random import Random

from service.domain.plan_visits import PlanSite, Visit
from service.domain.plans import PlanBody, Walk, walk_key
from service.domain.stop_facts import EquipmentFacts
from service.domain.words import Access
from service.usecases.plans.candidates import Ground

MONTH = date(2026, 12, 1)
MON_TO_FRI = 5
HOURS = ("", "", "mon-fri 08:00-10:00", "mon,wed 13:00-15:00")


def facts_of(key: int, site: int, **change: object) -> EquipmentFacts:
    fields: dict[str, object] = {
        "id": key, "client_id": 1, "site_id": site, "site_name": f"Site {site}", "time_zone": "Europe/London",
        "latitude": 54.0 + site * 0.05, "longitude": -1.0, "setup_minutes": 10, "area_id": site, "area_name": "Hall",
        "area_order": 0, "x_m": float(key % 7) * 20, "y_m": float(key % 5) * 15, "tag": f"E{key}", "name": f"Board {key}",
        "walking_order": key, "access": Access.CLOSED_FRONT, "minutes": 10, "load_hours": "", "usual_load_share": None,
        "stand_off": "", "ppe": "", "outdoor": False, "criticality": "medium", "rated_current_a": None,
        "settle_minutes": None, "contact_name": "", "contact_phone": "", "safety_text": "", "voltage_class": "",
        "phase_names": "L1,L2,L3", "retired_at": None,
    } | change  # fmt: skip
    return EquipmentFacts(**fields)  # type: ignore[arg-type]


def visit_of(facts: EquipmentFacts, **change: object) -> Visit:
    fields: dict[str, object] = {
        "facts": facts, "points": 3, "due_on": MONTH, "reason": "12 months", "early": False, "must": "", "worth": 100,
    } | change  # fmt: skip
    return Visit(**fields)  # type: ignore[arg-type]


def site_of(key: int) -> PlanSite:
    return PlanSite(key, 1, f"Site {key}", "Europe/London", 54.0 + key * 0.05, -1.0, 10, "", False)


def random_month(seed: int) -> tuple[PlanBody, Ground]:
    """Two sites, some twenty visits, ten walks with too few hours for all."""
    rng = Random(seed)
    visits = tuple(
        visit_of(
            facts_of(
                key,
                1 + key % 2,
                minutes=rng.choice((5, 10, 25)),
                access=rng.choice((Access.CLOSED_FRONT, Access.HINGED_COVER, Access.BOLTED_COVER)),
                load_hours=rng.choice(HOURS),
                outdoor=rng.random() < 0.2,
            ),
            worth=rng.randint(20, 400),
            must="its twelve months end" if rng.random() < 0.15 else "",
        )
        for key in range(1, 22)
    )
    days = [MONTH + timedelta(days=ago) for ago in range(14)]
    walks = tuple(
        Walk(
            key=walk_key(day, 1), day=day, person_id=1, start_min=450, end_min=450 + rng.choice((60, 90, 120)),
            qualified=rng.random() < 0.6, category=1, indoors_only=rng.random() < 0.2,
        )
        for day in days
        if day.weekday() < MON_TO_FRI
    )  # fmt: skip
    return PlanBody(MONTH, (1, 2), walks), ground_of(visits)


def ground_of(visits: tuple[Visit, ...]) -> Ground:
    sites = {visit.facts.site_id: site_of(visit.facts.site_id) for visit in visits}
    return Ground(visits, sites, (), {1: frozenset(sites)}, {}, frozenset(), today=MONTH)
