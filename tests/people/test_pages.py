"""Sign-in and Set-up in the browser."""

import re
from collections.abc import Callable
from datetime import datetime

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.domain.people import PersonFields
from service.domain.words import Role
from service.pages.asking import own_address
from service.storage.unit import Store
from service.usecases.people.accounts import COMMAND, add_person, show_person
from service.usecases.people.demo import DEMO_PASSWORD
from tests.builders import Plant
from tests.doors import CHEAP, COOKIE, OWN_PAGE, browser, browser_as, open_app, program

PASSWORD = "kettle gravel orbit nine"


@pytest.fixture
def ada(store: Store, now: datetime) -> int:
    fields = PersonFields(login="ada", name="Ada <b>Penrose</b>", role=Role.MANAGER)
    return add_person(store, COMMAND, fields, PASSWORD, now=now, hasher=CHEAP).person.id


def form(**typed: str) -> dict[str, str]:
    return typed


def test_a_page_leads_to_sign_in_and_back(app: FastAPI, ada: int) -> None:
    client = browser(app)
    asked = client.get("/set-up/tokens?x=1")
    assert asked.status_code == 303
    assert asked.headers["location"] == "/sign-in?next=%2Fset-up%2Ftokens%3Fx%3D1"
    page = client.get(asked.headers["location"])
    assert 'value="/set-up/tokens?x=1"' in page.text
    entered = client.post("/sign-in", data=form(login="ada", password=PASSWORD, next="/set-up/tokens?x=1"))
    assert (entered.status_code, entered.headers["location"]) == (303, "/set-up/tokens?x=1")
    assert client.get("/set-up/tokens").status_code == 200


def test_a_wrong_password_says_so_and_keeps_the_name(app: FastAPI, ada: int) -> None:
    answer = browser(app).post("/sign-in", data=form(login="ada", password="wrong"))
    assert answer.status_code == 401
    assert "The name or the password is not right." in answer.text
    assert 'value="ada"' in answer.text
    assert "wrong" not in answer.text.split("<main")[1]
    assert "set-cookie" not in answer.headers


def test_too_many_tries_are_told_with_what_to_do(app: FastAPI, ada: int) -> None:
    client = browser(app)
    answers = [client.post("/sign-in", data=form(login="ada", password="wrong")) for _ in range(11)]
    assert [answer.status_code for answer in answers] == [401] * 10 + [429]
    assert "Wait a quarter of an hour" in answers[-1].text


def test_the_cookie_is_bound_to_host_tls_and_http(
    store: Store, clock: Callable[[], datetime], ada: int
) -> None:
    app = open_app(store, clock, secure_cookies=True)
    client = TestClient(app, base_url="https://testserver", headers=OWN_PAGE, follow_redirects=False)
    answer = client.post("/sign-in", data=form(login="ada", password=PASSWORD))
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith("__Host-riseline=")
    parts = {part.strip().lower() for part in cookie.split(";")[1:]}
    assert {"path=/", "secure", "httponly", "samesite=lax"} <= parts
    assert not any(part.startswith("domain") for part in parts)
    assert "max-age=31536000" in answer.headers["strict-transport-security"]


def test_the_secret_is_new_at_each_sign_in_and_dead_after_signing_out(app: FastAPI, ada: int) -> None:
    client = browser(app)
    client.post("/sign-in", data=form(login="ada", password=PASSWORD))
    first = client.cookies[COOKIE]
    client.post("/sign-in", data=form(login="ada", password=PASSWORD))
    second = client.cookies[COOKIE]
    assert first != second
    assert browser(app, first).get("/set-up").status_code == 303, "the old one has ended"
    assert client.post("/sign-out").headers["location"] == "/sign-in"
    assert COOKIE not in client.cookies
    assert browser(app, second).get("/set-up").status_code == 303


@pytest.mark.parametrize(
    "wanted",
    [
        "//evil.example",
        "https://evil.example/",
        "/\\evil.example",
        "javascript:alert(1)",
        "desk",
        "/a\nb",
        "",
    ],
)
def test_sign_in_leads_nowhere_else(app: FastAPI, ada: int, wanted: str) -> None:
    assert own_address(wanted) == "/"
    answer = browser(app).post("/sign-in", data=form(login="ada", password=PASSWORD, next=wanted))
    assert answer.headers["location"] == "/"


def demo_page(app: FastAPI, *, host: str, name: str, **headers: str) -> str:
    client = TestClient(app, base_url=f"http://{name}", client=(host, 5000), headers=headers)
    return client.get("/sign-in").text


def test_demonstration_sign_ins_show_in_demo_mode_on_this_machine_only(
    store: Store, clock: Callable[[], datetime], now: datetime
) -> None:
    fields = PersonFields(login="demo.engineer", name="Dana Weir", role=Role.ENGINEER)
    add_person(store, COMMAND, fields, DEMO_PASSWORD, now=now, demo=True, hasher=CHEAP)
    demo, real = open_app(store, clock, demo=True), open_app(store, clock)
    here = {"host": "127.0.0.1", "name": "localhost:8402"}
    assert "demo.engineer" in demo_page(demo, **here)
    assert "demo.engineer" in demo_page(demo, host="::1", name="[::1]:8402")
    closed = [
        demo_page(real, **here),
        demo_page(demo, host="192.0.2.9", name="localhost:8402"),
        demo_page(demo, host="127.0.0.1", name="rebound.example"),
        demo_page(demo, **here, **{"X-Forwarded-For": "192.0.2.9"}),
    ]
    assert [page for page in closed if "demo.engineer" in page or DEMO_PASSWORD in page] == []
    outside = TestClient(demo, client=("192.0.2.9", 5000), headers=OWN_PAGE, follow_redirects=False)
    assert (
        outside.post("/sign-in", data=form(login="demo.engineer", password=DEMO_PASSWORD)).status_code == 401
    )
    inside = TestClient(
        demo, base_url="http://localhost", client=("127.0.0.1", 5), headers=OWN_PAGE, follow_redirects=False
    )
    assert (
        inside.post("/sign-in", data=form(login="demo.engineer", password=DEMO_PASSWORD)).status_code == 303
    )


@pytest.mark.parametrize(
    ("role", "words"),
    [
        (Role.TECHNICIAN, {"Your units", "Your tokens", "Your password", "Your calendar"}),
        (Role.MANAGER, {"Your units", "Your tokens", "Your password", "Who did what"}),
        (
            Role.ENGINEER,
            {
                "Your units",
                "Your tokens",
                "Your password",
                "Your calendar",
                "Who did what",
                "Criteria",
                "Instruments",
                "Emissivities",
                "Phrases",
                "Common loads",
                "Load hours and minutes",
                "Bring a register in",
            },
        ),
        (
            Role.ADMINISTRATOR,
            {"Your units", "Your tokens", "Your password", "Who did what", "People", "Presets"},
        ),
    ],
)
def test_set_up_shows_what_the_role_may(
    app: FastAPI, store: Store, plant: Plant, now: datetime, role: Role, words: set[str]
) -> None:
    page = browser_as(app, store, plant, role, now).get("/set-up").text
    assert set(re.findall(r'class="row-link" href="[^"]+"><b>([^<]+)</b>', page)) == words


def test_an_account_is_opened_granted_certified_and_closed_in_the_browser(
    app: FastAPI, store: Store, plant: Plant, now: datetime
) -> None:
    boss = browser_as(app, store, plant, Role.ADMINISTRATOR, now)
    typed = form(name="Ada Penrose", login="ada", role="engineer", email="", password="short")
    refused = boss.post("/set-up/people/new", data=typed)
    assert refused.status_code == 422
    assert 'href="#field-password"' in refused.text
    assert 'value="Ada Penrose"' in refused.text
    assert "short" not in refused.text.split("<main")[1].replace("shorten", "")
    made = boss.post("/set-up/people/new", data=typed | {"password": PASSWORD})
    address = made.headers["location"]
    assert "so this account sees nothing" in boss.get(address).text
    opens = f"{plant.client_id}/{plant.site_ids[1]}"
    assert boss.post(f"{address}/grants", data=form(opens=opens)).status_code == 303
    page = boss.get(address).text
    assert "Merrowdale Water: Site 2" in page
    assert "neither evaluates nor signs" in page
    bad = boss.post(f"{address}/certificates", data=form(category="2", scope="x", expires_on="soon"))
    assert "This is not a date." in bad.text
    kept = form(category="2", scope="thermography", number="C-9", expires_on="2027-05-01")
    boss.post(f"{address}/certificates", data=kept)
    assert "Category 2: evaluates, and signs as an engineer." in boss.get(address).text
    person_id = int(address.rsplit("/", 1)[1])
    record = show_person(store, COMMAND, person_id)
    version = str(record.person.version)
    grant_id, held = record.grants[0].id, record.certificates[0]
    boss.post(f"{address}/certificates/{held.id}/remove", data=form(version=str(held.version)))
    boss.post(f"{address}/grants/{grant_id}/revoke", data=form(version=version))
    stale = boss.post(f"{address}/close", data=form(version=version))
    assert stale.status_code == 409
    assert "Somebody changed this meanwhile" in stale.text
    version = str(show_person(store, COMMAND, person_id).person.version)
    assert boss.post(f"{address}/close", data=form(version=version)).status_code == 303
    record = show_person(store, COMMAND, person_id)
    assert (record.person.active, record.grants, record.certificates) == (False, (), ())


def test_a_token_is_shown_once(app: FastAPI, store: Store, plant: Plant, now: datetime) -> None:
    client = browser_as(app, store, plant, Role.TECHNICIAN, now)
    page = client.post("/set-up/tokens", data=form(name="phone", days="7", round_id=""))
    (secret,) = re.findall(r"rl_[\w-]{43}", page.text)
    assert page.headers["cache-control"] == "no-store"
    assert program(app, secret).get("/api/v1/people/me").json()["role"] == "technician"
    again = client.get("/set-up/tokens").text
    assert secret not in again
    assert secret[:8] in again
    (revoke,) = re.findall(r"/set-up/tokens/\d+/revoke", again)
    assert client.post(revoke).status_code == 303
    assert program(app, secret).get("/api/v1/people/me").status_code == 401


def test_ones_own_password_is_changed_in_the_browser(app: FastAPI, ada: int) -> None:
    client, elsewhere = browser(app), browser(app)
    for one in (client, elsewhere):
        one.post("/sign-in", data=form(login="ada", password=PASSWORD))
    wrong = client.post("/set-up/password", data=form(password="no", new_password="violet harbour stone"))
    assert wrong.status_code == 422
    done = client.post("/set-up/password", data=form(password=PASSWORD, new_password="violet harbour stone"))
    assert done.status_code == 303
    assert client.get("/set-up").status_code == 200
    assert elsewhere.get("/set-up").status_code == 303


def test_names_are_text_on_every_page(
    app: FastAPI, store: Store, plant: Plant, now: datetime, ada: int
) -> None:
    boss = browser_as(app, store, plant, Role.ADMINISTRATOR, now)
    for path in ("/set-up/people", f"/set-up/people/{ada}", "/set-up/audit"):
        page = boss.get(path).text
        assert "Ada <b>" not in page
        assert "Ada &lt;b&gt;Penrose" in page


def test_the_page_of_an_address_that_is_not_there_shows_where_else_to_go(
    app: FastAPI, store: Store, plant: Plant, now: datetime
) -> None:
    known, unknown = browser_as(app, store, plant, Role.MANAGER, now), browser(app)
    assert 'href="/desk"' in known.get("/nothing").text
    assert 'href="/desk"' not in unknown.get("/nothing").text
