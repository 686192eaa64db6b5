"""Rows of pages about one reading, and of evaluating again on pages."""

from tests.access.rows import Bound, Row

READING_PAGES = (Row("GET /readings/{uid}", bound=Bound.ROUND, at={"uid": "reading_uid"}),)
