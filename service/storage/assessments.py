"""Assessments: what each reading says, the earlier ones kept when another replaces them."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import case, select, text, update

from service.domain.verdicts import Verdict
from service.domain.words import Level, ReferenceKind
from service.storage.bulk import insert_rows, is_one_of
from service.storage.tables.readings import AssessmentRow, ReadingRow
from service.storage.unit import Unit

#: Columns of a new assessment, in the order in which ``add_assessments`` takes them.
NEW = (
    "id",
    "reading_id",
    "point_id",
    "round_id",
    "taken_at",
    "assessed_at",
    "criteria_id",
    "method_version",
    "current",
    "counts_level",
    "counts_trend",
    "episode",
    "level",
    "band",
    "at_least",
    "near_line",
    "clears",
    "trended",
    "reference",
    "value_k",
    "common_k",
    "rise_air_k",
    "load_ratio",
    "share_of_rated",
    "over_first_line",
    "rule",
    "sentence",
    "published_band",
    "cold",
    "unequal_load",
    "members",
    "u_k",
    "u_common_k",
    "common_low_k",
    "common_high_k",
    "corrected_c",
    "p0",
    "p1",
    "p2",
    "p3",
    "p4",
    "inputs",
    "cautions",
    "smallest_fault_k",
    "reevaluation_id",
    "replaces_id",
)
#: Columns that a verdict is not made of.
_ASIDE = ("assessed_at", "method_version", "corrected_c", "reevaluation_id", "replaces_id")
_REFERENCES = {kind.value: kind for kind in ReferenceKind}
_LEVELS: dict[int | None, Level | None] = {None: None, **{int(level): level for level in Level}}


@dataclass(frozen=True, slots=True)
class StoredVerdict:
    """A verdict as it stands, with what it was made by and what it feeds."""

    assessment_id: int
    reading_id: int
    round_id: int | None
    taken_at: datetime
    criteria_id: int
    episode: int
    counts_level: bool
    counts_trend: bool
    temperature_c: float | None
    current_a: float | None
    inputs: str | None
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class EarlierRise:
    """A clearing rise of about a year ago: where a point's stroke begins."""

    taken_at: datetime
    reference: ReferenceKind | None
    value_k: float | None
    common_k: float | None
    share_of_rated: float | None


def add_assessments(unit: Unit, rows: Sequence[Sequence[Any]]) -> None:
    """Store new assessments, each with its values in the order of ``NEW``."""
    insert_rows(unit, AssessmentRow, NEW, rows=rows)


def retire_assessments(unit: Unit, ids: Iterable[int]) -> None:
    """Others have replaced these: they stay as history and feed nothing."""
    unit.session.execute(
        update(AssessmentRow)
        .where(is_one_of(unit, AssessmentRow.id, ids))
        .values(current=False)
        .execution_options(synchronize_session=False)
    )


def inputs_held(unit: Unit, reading_ids: Iterable[int]) -> dict[int, str]:
    """By reading what its standing assessment rests on; those judged before that was kept are left out."""
    query = select(AssessmentRow.reading_id, AssessmentRow.inputs).where(
        is_one_of(unit, AssessmentRow.reading_id, reading_ids),
        AssessmentRow.current,
        AssessmentRow.inputs.is_not(None),
    )
    return {reading_id: inputs for reading_id, inputs in unit.session.execute(query) if inputs is not None}


def standing_verdicts(unit: Unit, point_ids: Iterable[int]) -> dict[int, list[StoredVerdict]]:
    """By point its current verdicts, oldest first."""
    columns = [getattr(AssessmentRow, name) for name in NEW if name not in _ASIDE]
    usable = case((ReadingRow.not_assessable.is_(None), ReadingRow.temperature_c))
    query = (
        select(*columns, usable.label("temperature_c"), ReadingRow.current_a)
        .join(ReadingRow, ReadingRow.id == AssessmentRow.reading_id)
        .where(is_one_of(unit, AssessmentRow.point_id, point_ids), AssessmentRow.current)
        .order_by(AssessmentRow.point_id, AssessmentRow.taken_at, AssessmentRow.id)
    )
    found: dict[int, list[StoredVerdict]] = {}
    for row in unit.session.execute(query):
        found.setdefault(row.point_id, []).append(
            StoredVerdict(
                assessment_id=row.id,
                reading_id=row.reading_id,
                round_id=row.round_id,
                taken_at=row.taken_at,
                criteria_id=row.criteria_id,
                episode=row.episode,
                counts_level=row.counts_level,
                counts_trend=row.counts_trend,
                temperature_c=row.temperature_c,
                current_a=row.current_a,
                inputs=row.inputs,
                verdict=verdict_of(row),
            )
        )
    return found


def verdict_of(row: Any) -> Verdict:
    """The verdict that a row of assessments keeps."""
    return Verdict(
        point_id=row.point_id,
        level=_LEVELS[row.level],
        band=_LEVELS[row.band],
        at_least=row.at_least,
        near_line=row.near_line,
        clears=row.clears,
        trended=row.trended,
        reference=None if row.reference is None else _REFERENCES[row.reference],
        value_k=row.value_k,
        common_k=row.common_k,
        rise_air_k=row.rise_air_k,
        load_ratio=row.load_ratio,
        share_of_rated=row.share_of_rated,
        over_first_line=row.over_first_line,
        rule=row.rule,
        sentence=row.sentence,
        published_band=row.published_band,
        cold=row.cold,
        unequal_load=row.unequal_load,
        members=tuple(int(part) for part in row.members.split()),
        u_k=row.u_k,
        chances=None if row.p0 is None else (row.p0, row.p1, row.p2, row.p3, row.p4),
        u_common_k=row.u_common_k,
        common_low_k=row.common_low_k,
        common_high_k=row.common_high_k,
        smallest_fault_k=row.smallest_fault_k,
        cautions=tuple(row.cautions.split()),
    )


def rises_near(
    unit: Unit, asked: Sequence[tuple[int, int, datetime, datetime, datetime]]
) -> dict[int, EarlierRise]:
    """By point the clearing rise nearest to a day, within a span and since the last repair.

    Parameters
    ----------
    unit : Unit
        Reading or writing.
    asked : sequence of (point, episode, first, wanted, last)
        Span and wanted instant of each point.

    Returns
    -------
    dict of int to EarlierRise
        Points without such a reading are left out.
    """
    if not asked:
        return {}
    found: dict[int, EarlierRise] = {}
    wanted = {point_id: middle for point_id, _episode, _first, middle, _last in asked}
    statement, bound = (_on_sqlite if unit.dialect == "sqlite" else _on_postgres)(asked)
    columns = ("point_id", "taken_at", "reference", "value_k", "common_k", "share_of_rated")
    shaped = statement.columns(**{name: AssessmentRow.__table__.c[name].type for name in columns})
    for row in unit.connection.execute(shaped, bound).all():
        rise = EarlierRise(
            row.taken_at,
            None if row.reference is None else _REFERENCES[row.reference],
            row.value_k,
            row.common_k,
            row.share_of_rated,
        )
        other, middle = found.get(row.point_id), wanted[row.point_id]
        if other is None or abs(rise.taken_at - middle) < abs(other.taken_at - middle):
            found[row.point_id] = rise
    return found


_FOUND = "q.point_id, a.taken_at, a.reference, a.value_k, a.common_k, a.share_of_rated"
_FIT = "b.point_id = q.point_id AND b.episode = q.episode AND b.current AND b.clears AND b.counts_level"


def _on_sqlite(asked: Sequence[tuple[int, int, datetime, datetime, datetime]]) -> tuple[Any, dict[str, Any]]:
    stamp = "%Y-%m-%d %H:%M:%S.%f"
    rows = [[p, e, *(moment.strftime(stamp) for moment in span)] for p, e, *span in asked]
    parts = ", ".join(
        f"json_extract(value, '$[{place}]') AS {name}"
        for place, name in enumerate(("point_id", "episode", "first", "wanted", "last"))
    )
    return (
        text(
            f"WITH q AS MATERIALIZED (SELECT {parts} FROM json_each(:asked)) "
            f"SELECT {_FOUND} FROM q JOIN assessments a ON a.id = (SELECT b.id FROM assessments b "
            f"WHERE {_FIT} AND b.taken_at BETWEEN q.first AND q.wanted ORDER BY b.taken_at DESC LIMIT 1) "
            f"UNION ALL SELECT {_FOUND} FROM q JOIN assessments a ON a.id = (SELECT b.id FROM assessments b "
            f"WHERE {_FIT} AND b.taken_at > q.wanted AND b.taken_at <= q.last ORDER BY b.taken_at LIMIT 1)"
        ),
        {"asked": json.dumps(rows)},
    )


def _on_postgres(
    asked: Sequence[tuple[int, int, datetime, datetime, datetime]],
) -> tuple[Any, dict[str, Any]]:
    names = ("point_id", "episode", "first", "wanted", "last")
    kinds = ("bigint", "integer", "timestamptz", "timestamptz", "timestamptz")
    columns = ", ".join(f"{name} {kind}" for name, kind in zip(names, kinds, strict=True))
    written: dict[datetime, str] = {}
    rows = []
    for p, e, *span in asked:
        for moment in span:
            if moment not in written:
                written[moment] = moment.isoformat()
        rows.append(dict(zip(names, (p, e, *(written[moment] for moment in span)), strict=True)))
    return (
        text(
            f"WITH q AS MATERIALIZED (SELECT * FROM json_to_recordset(CAST(:asked AS json)) AS t({columns})) "
            f"SELECT {_FOUND} FROM q CROSS JOIN LATERAL (SELECT b.* FROM assessments b WHERE {_FIT} "
            f"AND b.taken_at BETWEEN q.first AND q.wanted ORDER BY b.taken_at DESC LIMIT 1) a "
            f"UNION ALL SELECT {_FOUND} FROM q CROSS JOIN LATERAL (SELECT b.* FROM assessments b "
            f"WHERE {_FIT} AND b.taken_at > q.wanted AND b.taken_at <= q.last ORDER BY b.taken_at LIMIT 1) a"
        ),
        {"asked": json.dumps(rows)},
    )
