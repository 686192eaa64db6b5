"""One round through its states: planned, permits, issued, returned as a filled file, signed off."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from seed_data.faults import NO_NUMBER, HotPart
from seed_data.people import PERMIT_ISSUERS
from seed_data.register_file import CAMERAS
from seed_data.utility import TIME_ZONE, SiteSpec
from seed_data.world import RoundStory, RowStory
from service.domain.people import Actor
from service.domain.readings import UploadResult
from service.domain.round_columns import OFF_THE_ROUND, Cell, RoundFile
from service.domain.rounds import Permit, Round
from service.domain.stop_facts import SheetPoint
from service.domain.words import Access, Reason
from service.intake.content_hash import content_hash_of
from service.intake.raw_rows import Ways, rows_of_tables
from service.intake.tables import read_tables
from service.jobs.worker import Worker
from service.reports.round_file import round_file_csv
from service.storage.unit import Store
from service.usecases.rounds.browse import list_rounds
from service.usecases.rounds.correct import correct_reading
from service.usecases.rounds.decide_double import decide_double, list_doubles
from service.usecases.rounds.edit import RoundDetails, edit_round
from service.usecases.rounds.issue import issue_round
from service.usecases.rounds.list_readings import list_round_readings
from service.usecases.rounds.permits import PermitFields, ask_permit, close_permit, grant_permit
from service.usecases.rounds.plan import RoundWish, plan_round
from service.usecases.rounds.sheets import read_rows
from service.usecases.rounds.sign_off import sign_off_round
from service.usecases.rounds.upload import upload_round

ZONE = ZoneInfo(TIME_ZONE)
START_MIN = 7 * 60 + 30
#: Ran out of time: such rows come back blank, and get their reason at sign-off.
OUT_OF_TIME = "T"


def at(day: date, hour: int, minute: int = 0) -> datetime:
    """An instant on the sites' clock."""
    return datetime.combine(day, time(hour, minute), ZONE)


@dataclass(frozen=True, slots=True)
class Ground:
    """What walking needs to know of the service: who is who, and the ids of what is registered."""

    store: Store
    actors: Mapping[str, Actor]
    engineer: Actor
    client_id: int
    site_ids: Mapping[str, int]
    instrument_ids: Mapping[str, int]
    sites: Mapping[str, SiteSpec]
    routes: dict[str, int]
    hill_run: list[int] = field(default_factory=list)

    def worker(self, now: datetime) -> Worker:
        return Worker(self.store, clock=lambda: now)


@dataclass(slots=True)
class Walk:
    """A round of the story on its way through the service."""

    ground: Ground
    story: RoundStory
    round: Round | None = None
    permits: list[Permit] = field(default_factory=list)
    uploads: list[UploadResult] = field(default_factory=list)

    @property
    def required(self) -> Round:
        assert self.round is not None, f"{self.story.site} {self.story.on} was not planned"
        return self.round

    def plan(self, now: datetime) -> None:
        """A draft from the site's route, and its permits asked for."""
        ground, story = self.ground, self.story
        site = ground.sites[story.site]
        wish = RoundWish(
            name=f"{site.name}, {site.often} round",
            planned_on=story.on,
            start_min=START_MIN,
            route_id=ground.routes[story.site],
        )
        self.round = plan_round(ground.store, ground.engineer, wish, now=now)
        self.permits = [
            ask_permit(
                ground.store,
                ground.engineer,
                self.round.id,
                site_id=ground.site_ids[story.site],
                stop_ids=stop_ids,
                fields=PermitFields(covers=covers),
                now=now,
            )
            for covers, stop_ids in self._covers()
        ]

    def _covers(self) -> list[tuple[str, list[int]]]:
        """The covers of each permit: all of the site's boards, but a board without a number apart."""
        site = self.ground.sites[self.story.site]
        of_point = {point.tag: one for one in site.equipment for view in one.views for point in view.points}
        rows = read_rows(self.ground.store, self.ground.engineer, self.required.id)
        apart = NO_NUMBER.get((self.story.site, self.story.month), "")
        groups: dict[bool, list[tuple[str, int]]] = {}
        for stop_id, stop in {row.stop_id: of_point[row.tag] for row in rows}.items():
            if Access(stop.access).behind_cover:
                groups.setdefault(stop.tag == apart, []).append((stop.name, stop_id))
        return [
            (", ".join(name for name, _ in stops), [stop_id for _, stop_id in stops])
            for _, stops in sorted(groups.items())
        ]

    def issue(self, now: datetime) -> None:
        """On the morning: who walks with what in which weather, the permit's number, and out it goes."""
        ground, story = self.ground, self.story
        details = RoundDetails(
            name=self.required.name,
            planned_on=story.on,
            start_min=START_MIN,
            person_id=ground.actors[story.technician].person_id,
            second_person_id=ground.actors[story.second].person_id,
            instrument_id=ground.instrument_ids[CAMERAS[story.technician]],
            weather=story.weather,
        )
        changed = edit_round(
            ground.store, ground.engineer, self.required.id, details, version=self.required.version, now=now
        )
        self._grant(now)
        self.round = issue_round(
            ground.store, ground.engineer, changed.id, version=changed.version, now=now
        ).round

    def _grant(self, now: datetime) -> None:
        """The first permit gets its number; one beyond it stays asked for."""
        story, permit = self.story, self.permits[0]
        fields = PermitFields(
            number=f"MW-{story.on:%y%m}-{permit.id:04d}",
            issuer=PERMIT_ISSUERS[story.month % 2],
            covers=permit.covers,
            valid_from=at(story.on, 7, 30),
            valid_to=at(story.on, 14, 0),
            escort="Duty electrician of the site",
            stand_off="1.0 m from the open door",
        )
        ground = self.ground
        self.permits[0] = grant_permit(
            ground.store, ground.engineer, permit.id, version=permit.version, now=now, fields=fields
        )

    def bring_back(self, now: datetime) -> None:
        """The technician's filled file, then what the second person read, then the background job."""
        story = self.story
        rows = [row for row in story.rows if row.reason != OUT_OF_TIME]
        self._send(story.technician, rows, now=now, hot_parts=True)
        again = [row for row in rows if row.odd == "retyped"]
        if again:
            meant = [replace(row, temperature_c=row.meant_c) for row in again]
            self._send(story.technician, meant, now=now, reason="Mistyped; the picture shows this figure")
        twice = [replace(row, temperature_c=row.second_c, picture="") for row in rows if row.odd == "double"]
        if twice:
            self._send(story.second, twice, now=now)
        self.ground.worker(now).work_off()

    def _send(
        self,
        login: str,
        rows: Sequence[RowStory],
        *,
        now: datetime,
        reason: str = "",
        hot_parts: bool = False,
    ) -> None:
        """Fill the rows of the round's file in and send it, as a spreadsheet would."""
        store, actor, round_ = self.ground.store, self.ground.actors[login], self.required
        filled = _filled(read_rows(store, actor, round_.id), rows, round_=round_, reason=reason)
        if hot_parts:
            site = self.ground.sites[self.story.site].name
            filled += [_hot_part(part, round_, site) for part in self.story.hot_parts]
        content = round_file_csv(RoundFile(round_.code, round_.name, round_.planned_on, tuple(filled)))
        result = upload_round(
            store,
            actor,
            round_id=round_.id,
            rows=rows_of_tables(read_tables(content), Ways(decimal=".")),
            content_hash=content_hash_of(".", "C", content),
            key=None,
            channel="file",
            now=now,
            file_name=f"{round_.code}.csv",
        )
        self.uploads.append(result)

    def close_permits(self, now: datetime) -> None:
        ground = self.ground
        self.permits = [
            close_permit(ground.store, ground.engineer, permit.id, version=permit.version, now=now)
            if permit.number
            else permit
            for permit in self.permits
        ]

    def sign_off(self, now: datetime) -> None:
        """The engineer decides what was read twice, gives the missing reasons, and signs."""
        ground, story = self.ground, self.story
        if any(row.second_c is not None for row in story.rows):
            self._decide_doubles(now)
        late = {row.tag for row in story.rows if row.reason == OUT_OF_TIME}
        reasons = {}
        if late:
            rows = read_rows(ground.store, ground.engineer, self.required.id)
            reasons = {row.row_uid: Reason.OUT_OF_TIME for row in rows if row.tag in late}
        (current,) = list_rounds(ground.store, ground.engineer, after=self.required.id - 1, limit=1)
        self.round = sign_off_round(
            ground.store, ground.engineer, current.id, reasons=reasons, version=current.version, now=now
        )

    def _decide_doubles(self, now: datetime) -> None:
        ground = self.ground
        _, doubles = list_doubles(ground.store, ground.engineer, round_id=self.required.id)
        for double in doubles:
            first = min(double.readings, key=lambda reading: reading.id)
            decide_double(
                ground.store,
                ground.engineer,
                round_id=self.required.id,
                row_uid=double.row_uid,
                source=first.source,
                now=now,
            )
        ground.worker(now).work_off()

    def correct(self, point_ids: Mapping[str, int], now: datetime) -> None:
        """What was mistyped and nobody saw before sign-off: the engineer's revisions, with the reason."""
        ground = self.ground
        for row in self.story.rows:
            if row.odd != "slip":
                continue
            stored = list_round_readings(
                ground.store, ground.engineer, round_id=self.required.id, after=0, limit=500
            )
            reading = next(one for one in stored if one.point_id == point_ids[row.tag])
            correct_reading(
                ground.store,
                ground.engineer,
                reading.uid,
                revision=reading.revision,
                changes={"temperature_c": row.meant_c},
                reason="Mistyped on the sheet; the picture shows this figure",
                key=None,
                now=now,
            )
        ground.worker(now).work_off()


def _filled(
    sheet: Sequence[SheetPoint], rows: Sequence[RowStory], *, round_: Round, reason: str
) -> list[Mapping[str, Cell]]:
    """The rows of the round in sheet order, filled in where the story tells of them, else blank."""
    told = {row.tag: row for row in rows}
    filled: list[Mapping[str, Cell]] = []
    for point in sheet:
        keys: dict[str, Cell] = {
            "round_code": round_.code,
            "row_uid": point.row_uid,
            "point_tag": point.tag,
            "point_name": point.name,
            "visit_kind": point.visit_kind,
        }
        row = told.get(point.tag)
        filled.append(keys if row is None else keys | _cells(row, reason))
    return filled


def _hot_part(part: HotPart, round_: Round, site: str) -> Mapping[str, Cell]:
    return {
        "round_code": round_.code,
        "stop": OFF_THE_ROUND,
        "site": site,
        "temperature_c": part.temperature_c,
        "picture": part.picture,
        "place": part.place,
        "note": part.note,
    }


def _cells(row: RowStory, correction_reason: str) -> dict[str, Cell]:
    cells: dict[str, Cell] = {
        "taken_at": row.taken,
        "temperature_c": row.temperature_c,
        "ambient_c": row.ambient_c,
        "current_a": row.amps,
        "neutral_a": row.neutral_a,
        "wind_m_s": row.wind_m_s,
        "emissivity_set": None if row.temperature_c is None else 0.95,
        "picture": row.picture,
        "reason": row.reason,
        "note": row.note,
        "correction_reason": correction_reason,
    }
    return {name: cell for name, cell in cells.items() if cell not in (None, "")}
