"""Rows of re-evaluations: an engineer of the site, nobody else; all see what was done."""

from typing import Any

from tests.access.rows import Bound, E, Row, World, roles

_R = "/api/v1/reevaluations"


def _asked(world: World) -> dict[str, Any]:
    changes = {"emissivity": {"value": 0.9, "how": "contact comparison"}}
    return {"target": "round", "target_id": world["round_id_returned"], "changes": changes}


def _commit(world: World) -> dict[str, Any]:
    return _asked(world) | {"reason": "Emissivity measured"}


REEVALUATIONS = (
    Row(f"GET {_R}"),
    Row(f"POST {_R}/preview", roles(E), Bound.ROUND, json=_asked),
    Row(f"POST {_R}", roles(E), Bound.ROUND, json=_commit),
    Row(
        f"POST {_R}/{{reevaluation_id}}/undo",
        roles(E),
        Bound.ROUND,
        json=lambda w: {"reason": "Wrong round"},
        through=(409,),
    ),
)
