"""The version of all that is shown of a site."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.dialects import postgresql, sqlite

from service.storage.bulk import is_one_of, table_of
from service.storage.tables.readings import SiteStateRow
from service.storage.unit import Unit


def _bump(insert: Any) -> Any:
    table = table_of(SiteStateRow)
    statement = insert(table)
    return statement.on_conflict_do_update(
        index_elements=[table.c.site_id],
        set_={"data_version": table.c.data_version + 1, "changed_at": statement.excluded.changed_at},
    )


#: Made once: they take longer to say than to do.
_BUMPS = {"postgresql": _bump(postgresql.insert), "sqlite": _bump(sqlite.insert)}


def bump(unit: Unit, site_ids: Iterable[int], *, now: datetime) -> None:
    """Count on the data version of each site.

    Whoever changes what is shown of a site bumps it *first*: on PostgreSQL the touched row is
    locked until commit, so that two who work on one site's points wait for each other, always
    in the same order.
    """
    rows = [{"site_id": s, "data_version": 1, "changed_at": now} for s in sorted(set(site_ids))]
    if rows:
        unit.connection.execute(_BUMPS[unit.dialect], rows)


def data_versions(unit: Unit, site_ids: Iterable[int]) -> dict[int, int]:
    """Data version per site; a site nothing happened at yet has none."""
    wanted = is_one_of(unit, SiteStateRow.site_id, site_ids)
    rows = unit.session.execute(select(SiteStateRow.site_id, SiteStateRow.data_version).where(wanted))
    return {int(site_id): int(version) for site_id, version in rows}
