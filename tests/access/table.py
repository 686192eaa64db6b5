"""The table of all routes: who may use each, and how a request to it is filled in.

A route that is not in here fails the build. To add one:

* ``Row("METHOD path", who, bound, …)``: ``who`` are the roles of design.md's table "Who may do
  what" (T, E, M, A, or ALL); ``bound`` says from whom the thing at the address is hidden.
* Path parameters are taken from the world (tests/access/world.py) by their name; ``at`` maps one
  that is called otherwise, or wants another state: ``at={"round_id": "round_id_draft"}``.
* ``json`` (API), ``form`` (pages) and ``files`` make a body with which somebody allowed really
  gets through: refusals by role are only proven by a request that is otherwise right.
* Several rows may stand for one route (one per kind of thing, or per move).
"""

from tests.access.condition_rows import READING_PAGES, REEVALUATION_PAGES
from tests.access.criteria_rows import CRITERIA
from tests.access.field_rows import FIELD
from tests.access.finding_rows import FINDINGS, PLACES
from tests.access.paper_rows import PAPER
from tests.access.people_rows import OPEN, PEOPLE
from tests.access.picture_rows import PICTURES
from tests.access.plan_rows import PLANS
from tests.access.raster_rows import RASTERS
from tests.access.reevaluation_rows import REEVALUATIONS
from tests.access.register_rows import AROUND, NOUNS, REGISTER_PAGES
from tests.access.round_rows import RETURNS, ROUND_PAGES, ROUNDS
from tests.access.rows import Row
from tests.access.walking_rows import WALKING

TABLE: tuple[Row, ...] = (
    *OPEN,
    *PEOPLE,
    *NOUNS,
    *AROUND,
    *CRITERIA,
    *REGISTER_PAGES,
    *ROUNDS,
    *ROUND_PAGES,
    *WALKING,
    *PLANS,
    *RETURNS,
    *FIELD,
    *PAPER,
    *RASTERS,
    *PICTURES,
    *READING_PAGES,
    *REEVALUATION_PAGES,
    *REEVALUATIONS,
    *FINDINGS,
    *PLACES,
)
