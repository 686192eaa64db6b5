"""Readings as typed, what each says, and the state of every point."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.domain.words import (
    LoadSource,
    Reason,
    ReevaluationTarget,
    ReferenceKind,
    SettingSource,
    Trend,
    VisitKind,
)
from service.storage.tables.base import Base, Key, Keyed, few, one_of, within


class ReadingRow(Keyed, Base):
    """Immutable: a correction is a new revision that says which one it supersedes."""

    __tablename__ = "readings"
    __table_args__ = (
        UniqueConstraint("row_id", "source", "revision"),
        Index("ix_readings_point_id_taken_at", "point_id", "taken_at"),
        few(
            "ix_readings_no_permit_recorded",
            "round_id",
            where="no_permit_recorded",
            on_sqlite="no_permit_recorded = 1",
        ),
        few("ix_readings_not_assessable", "point_id", "taken_at", "id", where="not_assessable IS NOT NULL"),
        one_of("visit_kind", VisitKind),
        one_of("load_source", LoadSource),
        one_of("not_assessable", Reason),
        within("temperature_c", -90, 2000),
        within("current_a", 0, 100000),
        within("emissivity", 0.01, 1),
        within("window_transmission", 0.01, 1),
        within("path_transmission", 0.01, 1),
        one_of("emissivity_standing", SettingSource),
        one_of("reflected_standing", SettingSource),
    )
    uid: Mapped[str] = mapped_column(unique=True)
    point_id: Mapped[int] = mapped_column(ForeignKey("points.id"))
    round_id: Mapped[int | None] = mapped_column(ForeignKey("rounds.id"), index=True)
    row_id: Mapped[int | None] = mapped_column(ForeignKey("round_rows.id"))
    upload_id: Mapped[int | None] = mapped_column(ForeignKey("uploads.id"))
    #: whose row: "person 12" or "device <id>"; another source is a second reading
    source: Mapped[str]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    device: Mapped[str] = mapped_column(default="")
    revision: Mapped[int] = mapped_column(default=1)
    supersedes_id: Mapped[int | None] = mapped_column(ForeignKey("readings.id"), unique=True)
    correction_reason: Mapped[str] = mapped_column(default="")
    content_hash: Mapped[str]
    received_at: Mapped[datetime]
    taken_at: Mapped[datetime]
    device_time: Mapped[str] = mapped_column(default="")
    skew_s: Mapped[float | None]
    visit_kind: Mapped[str] = mapped_column(default=VisitKind.ROUTINE.value)
    load_source: Mapped[str] = mapped_column(default=LoadSource.SERVICE.value)
    not_assessable: Mapped[str | None]
    temperature_c: Mapped[float | None]
    ambient_c: Mapped[float | None]
    reflected_c: Mapped[float | None]
    humidity_percent: Mapped[float | None]
    wind_m_s: Mapped[float | None]
    fan_on_part: Mapped[bool] = mapped_column(default=False)
    current_a: Mapped[float | None]
    neutral_a: Mapped[float | None]
    distance_m: Mapped[float | None]
    minutes_at_load: Mapped[float | None]
    emissivity_set: Mapped[float | None]
    reflected_set_c: Mapped[float | None]
    transmission_set: Mapped[float | None]
    #: what was found on this visit: narrower than the round's and the point's own settings
    emissivity: Mapped[float | None]
    emissivity_standing: Mapped[str | None]
    reflected_standing: Mapped[str | None]
    #: NULL: as the equipment's access says
    through_window: Mapped[bool | None]
    window_transmission: Mapped[float | None]
    window_c: Mapped[float | None]
    path_transmission: Mapped[float | None]
    #: answers to the boxes that only some kinds of point ask for
    boxes: Mapped[dict[str, Any] | None] = mapped_column(JSON)
    instrument_id: Mapped[int | None] = mapped_column(ForeignKey("instruments.id"))
    picture: Mapped[str] = mapped_column(default="")
    note: Mapped[str] = mapped_column(Text, default="")
    no_permit_recorded: Mapped[bool] = mapped_column(default=False)
    #: the cells as typed, before any conversion
    typed: Mapped[dict[str, Any] | None] = mapped_column(JSON)


class AssessmentRow(Keyed, Base):
    """What one reading says by one version of criteria and method."""

    __tablename__ = "assessments"
    __table_args__ = (
        Index("ix_assessments_point_id_taken_at", "point_id", "taken_at"),
        Index("ix_assessments_reading_id", "reading_id"),
        Index("ix_assessments_round_id", "round_id"),
        few(
            "ix_assessments_out_of_trend",
            "reading_id",
            where="NOT counts_trend",
            on_sqlite="counts_trend = 0",
        ),
        few("ix_assessments_reevaluation_id", "reevaluation_id", where="reevaluation_id IS NOT NULL"),
        one_of("reference", ReferenceKind),
        within("level", 0, 4),
        within("band", 0, 4),
    )
    reading_id: Mapped[int] = mapped_column(ForeignKey("readings.id"))
    point_id: Mapped[int] = mapped_column(ForeignKey("points.id"))
    round_id: Mapped[int | None] = mapped_column(ForeignKey("rounds.id"))
    taken_at: Mapped[datetime]
    assessed_at: Mapped[datetime]
    criteria_id: Mapped[int] = mapped_column(ForeignKey("criteria_sets.id"))
    method_version: Mapped[str]
    #: false once a correction or a re-evaluation has replaced it; history keeps both
    current: Mapped[bool] = mapped_column(default=True)
    #: the worse of two readings feeds the level, neither the trend, until decided
    counts_level: Mapped[bool] = mapped_column(default=True)
    counts_trend: Mapped[bool] = mapped_column(default=True)
    episode: Mapped[int] = mapped_column(default=0)
    level: Mapped[int | None]
    band: Mapped[int | None]
    at_least: Mapped[bool]
    near_line: Mapped[bool]
    clears: Mapped[bool]
    trended: Mapped[bool]
    reference: Mapped[str | None]
    value_k: Mapped[float | None]
    common_k: Mapped[float | None]
    corrected_c: Mapped[float | None]
    rise_air_k: Mapped[float | None]
    load_ratio: Mapped[float | None]
    share_of_rated: Mapped[float | None]
    over_first_line: Mapped[bool]
    rule: Mapped[str]
    sentence: Mapped[str]
    published_band: Mapped[str] = mapped_column(default="")
    cold: Mapped[bool] = mapped_column(default=False)
    unequal_load: Mapped[bool] = mapped_column(default=False)
    members: Mapped[str] = mapped_column(default="")
    u_k: Mapped[float | None]
    u_common_k: Mapped[float | None]
    p0: Mapped[float | None]
    p1: Mapped[float | None]
    p2: Mapped[float | None]
    p3: Mapped[float | None]
    p4: Mapped[float | None]
    #: 95 % interval at common load
    common_low_k: Mapped[float | None]
    common_high_k: Mapped[float | None]
    #: inputs the figures were computed from, each with its source and half-width: a list as JSON
    inputs: Mapped[str | None] = mapped_column(Text)
    #: keys of what was refused or is to be taken with care, apart by blanks
    cautions: Mapped[str] = mapped_column(default="", server_default="")
    #: the smallest fault at common load that this visit would have shown
    smallest_fault_k: Mapped[float | None]
    #: of reevaluations, and the assessment whose place this one took: rows that are never deleted,
    #: so that no key has to guard them
    reevaluation_id: Mapped[int | None] = mapped_column(Key)
    replaces_id: Mapped[int | None] = mapped_column(Key)


class ReevaluationRow(Keyed, Base):
    """Settings changed after the visits: what, why, by whom, and what it moved."""

    __tablename__ = "reevaluations"
    __table_args__ = (one_of("target", ReevaluationTarget),)
    uid: Mapped[str] = mapped_column(unique=True)
    target: Mapped[str]
    #: id of the reading, point, round or site
    target_id: Mapped[int] = mapped_column(Key)
    client_id: Mapped[int] = mapped_column(ForeignKey("clients.id"))
    #: the site; NULL for a round of several
    site_id: Mapped[int | None] = mapped_column(ForeignKey("sites.id"), index=True)
    changes: Mapped[dict[str, Any]] = mapped_column(JSON)
    reason: Mapped[str] = mapped_column(Text)
    at: Mapped[datetime]
    by_person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    undoes_id: Mapped[int | None] = mapped_column(ForeignKey("reevaluations.id"))
    readings: Mapped[int] = mapped_column(default=0)
    levels_changed: Mapped[int] = mapped_column(default=0)
    points_changed: Mapped[int] = mapped_column(default=0)


class RasterRow(Keyed, Base):
    """A temperature raster that belongs to a reading; the file itself lies beside the database."""

    __tablename__ = "rasters"
    __table_args__ = (UniqueConstraint("reading_id", "content_hash"),)
    uid: Mapped[str] = mapped_column(unique=True)
    reading_id: Mapped[int] = mapped_column(ForeignKey("readings.id"))
    file_name: Mapped[str]
    content_hash: Mapped[str]
    stored_as: Mapped[str]
    rows: Mapped[int]
    columns: Mapped[int]
    low_c: Mapped[float]
    high_c: Mapped[float]
    received_at: Mapped[datetime]
    by_person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))


class RasterRegionRow(Keyed, Base):
    """A box or a spot drawn on a raster, with its numbers; a changed one is a new row."""

    __tablename__ = "raster_regions"
    __table_args__ = (one_of("shape", ("box", "spot")),)
    raster_id: Mapped[int] = mapped_column(ForeignKey("rasters.id"), index=True)
    name: Mapped[str]
    shape: Mapped[str]
    #: half-open box, first row and column 0; of a spot: centre twice, and its radius
    row_from: Mapped[int]
    column_from: Mapped[int]
    row_to: Mapped[int]
    column_to: Mapped[int]
    radius: Mapped[float | None]
    figures: Mapped[dict[str, Any]] = mapped_column(JSON)
    at: Mapped[datetime]
    by_person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    retired_at: Mapped[datetime | None]


class PointStateRow(Base):
    """One row per point: all that an overview needs, kept in the upload's transaction."""

    __tablename__ = "point_state"
    __table_args__ = (
        # all that counts per site and level need, so that they never open the rows themselves
        Index("ix_point_state_site_id_level", "site_id", "level", "last_read_at", "point_id"),
        Index("ix_point_state_level", "level"),
        Index("ix_point_state_due_on", "due_on"),
        one_of("trend", Trend),
        one_of("reference", ReferenceKind),
        within("level", 0, 4),
    )
    point_id: Mapped[int] = mapped_column(ForeignKey("points.id"), primary_key=True, autoincrement=False)
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"))
    equipment_id: Mapped[int] = mapped_column(ForeignKey("equipment.id"), index=True)
    assessment_id: Mapped[int | None] = mapped_column(ForeignKey("assessments.id"))
    #: standing (design §2), trend included; NULL is No verdict
    level: Mapped[int | None]
    at_least: Mapped[bool] = mapped_column(default=False)
    since: Mapped[date | None]
    #: standing by readings alone, and its counters, so that the next visit can go on
    reading_level: Mapped[int | None]
    lower_run: Mapped[int] = mapped_column(default=0)
    clear_run: Mapped[int] = mapped_column(default=0)
    lower_peak: Mapped[int | None]
    previous_over_first_line: Mapped[bool] = mapped_column(default=False)
    last_read_at: Mapped[datetime | None]
    last_cleared_at: Mapped[datetime | None]
    last_temperature_c: Mapped[float | None]
    last_current_a: Mapped[float | None]
    last_rule: Mapped[str] = mapped_column(default="")
    last_sentence: Mapped[str] = mapped_column(default="")
    reference: Mapped[str | None]
    value_k: Mapped[float | None]
    common_k: Mapped[float | None]
    load_ratio: Mapped[float | None]
    u_k: Mapped[float | None]
    u_common_k: Mapped[float | None]
    smallest_fault_k: Mapped[float | None]
    #: height on the four rungs (0 floor … 4 past Act now), now and a year ago
    height_now: Mapped[float | None]
    height_year_ago: Mapped[float | None]
    year_ago_k: Mapped[float | None]
    year_ago_on: Mapped[date | None]
    act_line_k: Mapped[float | None]
    trend: Mapped[str] = mapped_column(default=Trend.TOO_FEW_VISITS.value)
    slope_k_month: Mapped[float | None]
    slope_low: Mapped[float | None]
    slope_high: Mapped[float | None]
    trend_p: Mapped[float | None]
    trend_visits: Mapped[int] = mapped_column(default=0)
    trend_since: Mapped[date | None]
    trend_method: Mapped[str] = mapped_column(default="")
    #: latest visits that the slope belongs to; how sure the rise is, its size and its beginning
    trend_fitted: Mapped[int | None]
    trend_z: Mapped[float | None]
    trend_risen_k: Mapped[float | None]
    trend_onset_on: Mapped[date | None]
    pending: Mapped[bool] = mapped_column(default=False)
    crossing_from: Mapped[date | None]
    crossing_to: Mapped[date | None]
    crossing_likeliest: Mapped[date | None]
    chance_6: Mapped[float | None]
    chance_12: Mapped[float | None]
    #: where the level may go: day and five levels [K] a month; read for one point at a time
    trend_fan: Mapped[list[list[Any]] | None] = mapped_column(JSON(none_as_null=True), deferred=True)
    baseline_k: Mapped[float | None]
    baseline_visits: Mapped[int] = mapped_column(default=0)
    episode: Mapped[int] = mapped_column(default=0)
    due_on: Mapped[date | None]
    due_reason: Mapped[str] = mapped_column(default="")
    finding_id: Mapped[int | None] = mapped_column(ForeignKey("findings.id"))
    criteria_id: Mapped[int | None] = mapped_column(ForeignKey("criteria_sets.id"))
    data_version: Mapped[int] = mapped_column(default=0)


class TrendVerdictRow(Keyed, Base):
    """Appended when a trend says something else than before; never changed."""

    __tablename__ = "trend_verdicts"
    __table_args__ = (Index("ix_trend_verdicts_point_id_id", "point_id", "id"), one_of("trend", Trend))
    point_id: Mapped[int] = mapped_column(ForeignKey("points.id"))
    told_at: Mapped[datetime]
    trend: Mapped[str]
    slope_k_month: Mapped[float | None]
    slope_low: Mapped[float | None]
    slope_high: Mapped[float | None]
    visits: Mapped[int]
    fitted: Mapped[int]
    risen_k: Mapped[float | None]
    onset_on: Mapped[date | None]
    chance_6: Mapped[float | None]
    chance_12: Mapped[float | None]
    crossing_from: Mapped[date | None]
    crossing_to: Mapped[date | None]
    method: Mapped[str]
    criteria_id: Mapped[int | None] = mapped_column(ForeignKey("criteria_sets.id"))
    episode: Mapped[int]
    newest_on: Mapped[date | None]
    round_id: Mapped[int | None] = mapped_column(ForeignKey("rounds.id"))


class SiteStateRow(Base):
    """Bumped whenever anything shown of a site changes."""

    __tablename__ = "site_state"
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"), primary_key=True, autoincrement=False)
    data_version: Mapped[int] = mapped_column(default=0)
    changed_at: Mapped[datetime]


class StandingChangeRow(Keyed, Base):
    """Appended when a point's standing changes: feeds *as at* and *since last month*."""

    __tablename__ = "standing_changes"
    __table_args__ = (
        Index("ix_standing_changes_point_id_on", "point_id", "on"),
        Index("ix_standing_changes_on", "on"),
        within("level", 0, 4),
    )
    point_id: Mapped[int] = mapped_column(ForeignKey("points.id"))
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"), index=True)
    on: Mapped[date]
    level: Mapped[int | None]
    was: Mapped[int | None]
    at_least: Mapped[bool] = mapped_column(default=False)
    trend: Mapped[str]
    common_k: Mapped[float | None]
    height: Mapped[float | None]
    cause: Mapped[str] = mapped_column(default="")


class SiteMonthRow(Base):
    """Standings of a site at each month's end, rolled up."""

    __tablename__ = "site_months"
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"), primary_key=True, autoincrement=False)
    month: Mapped[str] = mapped_column(primary_key=True)
    level_0: Mapped[int] = mapped_column(default=0)
    level_1: Mapped[int] = mapped_column(default=0)
    level_2: Mapped[int] = mapped_column(default=0)
    level_3: Mapped[int] = mapped_column(default=0)
    level_4: Mapped[int] = mapped_column(default=0)
    no_verdict: Mapped[int] = mapped_column(default=0)
    points_read: Mapped[int] = mapped_column(default=0)


class VisitGroupRow(Keyed, Base):
    """Site × round × instrument × kind, with the offset its points share (filled by the trend engine)."""

    __tablename__ = "visit_groups"
    __table_args__ = (UniqueConstraint("site_id", "round_id", "instrument_id", "kind"),)
    site_id: Mapped[int] = mapped_column(ForeignKey("sites.id"))
    round_id: Mapped[int] = mapped_column(ForeignKey("rounds.id"), index=True)
    instrument_id: Mapped[int | None] = mapped_column(ForeignKey("instruments.id"))
    kind: Mapped[str]
    offset_k: Mapped[float | None]
    offset_u_k: Mapped[float | None]
    members: Mapped[int | None]
    method_version: Mapped[str] = mapped_column(default="")
