"""Rows of pages about one reading, and of evaluating again on pages."""

from tests.access.rows import A, Bound, E, M, Row, World, roles

READING_PAGES = (
    Row("GET /readings/{uid}", bound=Bound.ROUND, at={"uid": "reading_uid"}),
    Row("GET /api/v1/points/{thing_id}/standing", bound=Bound.ROUND, at={"thing_id": "point_id"}),
)

_OVERSEERS = roles(E, M, A)


def _asked(world: World) -> dict[str, str]:
    return {
        "target": "site",
        "id": str(world["site_id"]),
        "emissivity": "0.90",
        "emissivity_how": "contact comparison",
    }


def _commit(world: World) -> dict[str, str]:
    return _asked(world) | {"reason": "Emissivity measured"}


REEVALUATION_PAGES = (
    Row("GET /reevaluate", roles(E), Bound.SITE, query="target=site&id={site_id}"),
    Row("POST /reevaluate/preview", roles(E), Bound.SITE, form=_asked),
    Row("POST /reevaluate", roles(E), Bound.SITE, form=_commit),
    Row("GET /reevaluations", _OVERSEERS),
    Row("GET /reevaluations/{reevaluation_id}", _OVERSEERS, Bound.SITE),
    Row(
        "POST /reevaluations/{reevaluation_id}/take-back",
        roles(E),
        Bound.SITE,
        form=lambda w: {"reason": "Wrong round"},
    ),
)
