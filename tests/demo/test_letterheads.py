"""The letters of the demonstration: the utility's letterhead on each, and each names its own site."""

import re
from datetime import date

from seed_data.people import actors
from seed_data.utility import CLIENT_NAME, PLAN
from service.domain.words import Role
from service.storage.tables.people import PersonRow
from service.storage.unit import Store
from service.usecases.reports.round_report import list_reports, see_round_report
from tests.conftest import NOW
from tests.doors import browser, open_app, session_of

SITES = {plan.name for plan in PLAN}


def test_letters_of_every_site_carried_the_name_of_one_works_on_top(demo_store: Store) -> None:
    engineer = actors(demo_store, ["r.amsel"], now=NOW)["r.amsel"]
    found = list_reports(demo_store, engineer, first=date(2026, 1, 1), last=date(2026, 12, 31))
    heads = [see_round_report(demo_store, engineer, round_id=one.id).head for one in found[-20:]]
    assert len({head.sites for head in heads}) > 3, "letters of several sites are looked at"
    for head in heads:
        assert head.letterhead.startswith(CLIENT_NAME)
        assert not [site for site in SITES if site in head.letterhead]
        assert set(head.sites) <= SITES


def test_the_letter_names_its_own_site_under_the_letterhead(demo_store: Store) -> None:
    engineer = actors(demo_store, ["r.amsel"], now=NOW)["r.amsel"]
    found = list_reports(demo_store, engineer, first=date(2026, 1, 1), last=date(2026, 12, 31))
    with demo_store.look() as unit:
        manager = unit.session.query(PersonRow).filter_by(role=Role.MANAGER.value).first()
        assert manager is not None
        person_id = manager.id
    client = browser(open_app(demo_store, lambda: NOW), session_of(demo_store, person_id, NOW))
    for one in found[-4:]:
        head = see_round_report(demo_store, engineer, round_id=one.id).head
        page = client.get(f"/reports/rounds/{one.id}").text
        named = re.search(r'class="letter-of">([^<]*)<', page)
        assert named is not None
        assert all(site in named[1] for site in head.sites)
        assert not [site for site in SITES - set(head.sites) if site in named[1]]
