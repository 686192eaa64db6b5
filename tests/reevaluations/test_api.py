"""Re-evaluation as a program asks for it."""

from service.domain.words import Role
from service.storage.unit import Store
from tests.doors import open_app, program_as
from tests.readings.builders import issue


def test_a_program_looks_commits_and_takes_back(store: Store) -> None:
    issued = issue(store)
    issued.bring([issued.record(place, 46.6 if place == 0 else 44.0, reflected_c=25.0) for place in range(6)])
    now = issued.received_at
    with program_as(open_app(store, lambda: now), store, issued.plant, Role.ENGINEER, now) as engineer:
        asked = {
            "target": "site",
            "target_id": issued.plant.site_ids[0],
            "changes": {"emissivity": {"value": 0.6, "standing": "measured", "how": "contact comparison"}},
        }
        looked = engineer.post("/api/v1/reevaluations/preview", json=asked).json()
        assert (looked["readings"], looked["reevaluation_id"]) == (6, None)
        assert engineer.get("/api/v1/reevaluations").json()["items"] == []
        done = engineer.post("/api/v1/reevaluations", json=asked | {"reason": "Contact comparison"})
        assert done.status_code == 201
        assert done.json()["moved"] == looked["moved"]
        number = done.json()["reevaluation_id"]
        back = engineer.post(f"/api/v1/reevaluations/{number}/undo", json={"reason": "Wrong site"})
        assert back.status_code == 201
        newest, first = engineer.get("/api/v1/reevaluations").json()["items"]
        assert (newest["undoes_id"], first["undone_by_id"]) == (number, newest["id"])
