"""What the people of the story decide: findings opened, told, planned, repaired, set aside."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from seed_data.faults import AGAIN, Fault
from seed_data.people import ENGINEER, MANAGER
from seed_data.walking import Ground, Walk, at
from seed_data.world import RepairStory
from service.domain.words import Found, Level
from service.storage.unit import Store
from service.usecases.condition.overview import see_site
from service.usecases.findings.move_finding import (
    accept_risk,
    edit_finding,
    plan_repair,
    record_repair,
    see_finding,
    set_aside,
    tell,
)
from service.usecases.findings.open_finding import FindingFields, open_on_point
from service.usecases.findings.repair_fields import RepairFields

#: Nobody has looked at this one yet: it waits on the Desk.
UNDECIDED = frozenset({"MIL-MCC1-F06-L2"})
#: Rounds here are so far apart that the engineer does not wait for a second visit.
AT_ONCE = frozenset({"QUA", "ESK", "WET"})
DUE_DAYS = 42
#: Levels that make the engineer look at the site.
GRAVE = tuple(level.word for level in Level if level >= Level.PLAN_REPAIR)


@dataclass(frozen=True, slots=True)
class Outlook:
    """Where an open finding stands at the end: days are counted from the last month-end."""

    tag: str
    due_days: int
    planned_days: int | None = None
    work_order: str = ""
    interim: str = ""
    cause: str = ""
    aside: str = ""
    risk: str = ""


OUTLOOKS = (
    Outlook(
        AGAIN, 46, 46, "WO-41877", cause="Terminal works loose again", interim="Looked at every month"
    ),
    Outlook(
        "SAL-MCC1-F03-L1", 33, 33, "WO-41902",
        interim="Standby pump carries the duty; this feeder at half load",
        risk="Half load until the outage; control room looks at the amps twice a shift.",
    ),
    Outlook("RAV-P3-DE", 35, 35, "WO-41899", interim="Pump last in the duty order; run for an hour at most"),
    Outlook("WEN-P4-DE", 40, 40, "WO-41890", interim="Greased; bearing is ordered"),
    Outlook("COL-MCC1-F05-L3", 61, 61, "WO-41854"),
    Outlook("LUT-T1-LV-L2", -6, interim="Load kept under 80 %"),
    Outlook("QUA-MCC1-F02-L2", 40, interim="To be read again with the booster at load"),
    Outlook("ESK-MCC1-F04-L2", 150, aside="The board is replaced in spring; the joint goes with it."),
)  # fmt: skip


@dataclass(slots=True)
class Decisions:
    """The engineer's book: which findings are live, and how often a point stood out."""

    ground: Ground
    point_ids: Mapping[str, int]
    faults: Mapping[str, list[Fault]]
    live: dict[str, int] = field(default_factory=dict)
    seen: dict[str, int] = field(default_factory=dict)

    @property
    def store(self) -> Store:
        return self.ground.store

    def tell_at_once(self, walk: Walk, now: datetime) -> None:
        """An Act now does not wait: the technician has told the control room from the door."""
        for grave in (one for upload in walk.uploads for one in upload.act_now):
            known = self.live.get(grave.point_tag) == grave.finding_id
            self.live[grave.point_tag] = grave.finding_id
            tell(
                self.store,
                self.ground.actors[walk.story.technician],
                finding_id=grave.finding_id,
                told_whom="Control room, shift lead",
                told_at=now - timedelta(hours=5),
                answer="Standby put in service; section manager informed"
                if not known
                else "Known; load taken off now",
                now=now,
            )

    def after_sign_off(self, walk: Walk, now: datetime) -> None:
        """Open what has stood at Plan repair twice, or is graver; the newest waits."""
        site = walk.story.site
        if not any(word in upload.levels for upload in walk.uploads for word in GRAVE):
            self.seen = {tag: n for tag, n in self.seen.items() if not tag.startswith(f"{site}-")}
            return
        picture = see_site(self.store, self.ground.engineer, site_id=self.ground.site_ids[site], now=now)
        for point in picture.points:
            grave = (point.level or 0) >= Level.PLAN_REPAIR
            count = self.seen.get(point.tag, 0) + 1 if grave else 0
            self.seen[point.tag] = count
            if not grave or point.tag not in self.faults or point.tag in UNDECIDED or self._live(point.tag):
                continue
            if count >= 2 or site in AT_ONCE or (point.level or 0) > Level.PLAN_REPAIR:
                self._open(point.tag, now)

    def _open(self, tag: str, now: datetime) -> None:
        fields = FindingFields(
            owner_id=self.ground.actors[ENGINEER].person_id,
            due_on=now.date() + timedelta(days=DUE_DAYS),
        )
        opened = open_on_point(
            self.store, self.ground.engineer, point_id=self.point_ids[tag], fields=fields, now=now
        )
        self.live[tag] = opened.finding.id

    def plan(self, repair: RepairStory, now: datetime) -> None:
        """A week or two before: the day and the work order."""
        tag = repair.fault.tag
        if not self._live(tag):
            self._open(tag, now)
        file = see_finding(self.store, self.ground.engineer, finding_id=self.live[tag])
        plan_repair(
            self.store,
            self.ground.engineer,
            finding_id=file.finding.id,
            version=file.finding.version,
            planned_for=repair.on,
            work_order=f"WO-{30000 + 37 * (repair.on.year - 2000) * 12 + 7 * repair.on.month + file.finding.id}",
            now=now,
        )

    def mend(self, repair: RepairStory, now: datetime) -> None:
        """As found, as left; the readings that follow prove it or do not."""
        fault = repair.fault
        file = see_finding(self.store, self.ground.engineer, finding_id=self.live[fault.tag])
        record_repair(
            self.store,
            self.ground.engineer,
            finding_id=file.finding.id,
            version=file.finding.version,
            repair=RepairFields(
                repaired_at=at(repair.on, 10, 30),
                as_left=fault.as_left,
                as_found=fault.as_found,
                by="Site fitters" if fault.replaced else "Site electricians",
                cause=fault.cause,
                torque_found_nm=fault.torque_found_nm,
                torque_left_nm=fault.torque_left_nm,
                replaced=fault.replaced,
                found=Found.FAULT.value,
                cost=fault.cost,
            ),
            now=now,
        )

    def _live(self, tag: str) -> bool:
        """Whether the point has a finding that still wants something; a proven one is put away."""
        if tag not in self.live:
            return False
        file = see_finding(self.store, self.ground.engineer, finding_id=self.live[tag])
        if not file.finding.live:
            del self.live[tag]
        return file.finding.live

    def look_ahead(self, last: date, now: datetime) -> None:
        """At the last month-end: owners, days, interim measures; one set aside, one risk accepted."""
        for outlook in OUTLOOKS:
            if self._live(outlook.tag):
                self._settle(outlook, last, now)

    def _settle(self, outlook: Outlook, last: date, now: datetime) -> None:
        engineer, finding_id = self.ground.engineer, self.live[outlook.tag]
        finding = see_finding(self.store, engineer, finding_id=finding_id).finding
        fields = FindingFields(
            title=finding.title,
            owner_id=engineer.person_id,
            due_on=last + timedelta(days=outlook.due_days),
            work_order=outlook.work_order,
            cause=outlook.cause,
            interim_measure=outlook.interim,
            consequence=finding.consequence,
        )
        version = edit_finding(
            self.store, engineer, finding_id=finding_id, version=finding.version, fields=fields, now=now
        ).finding.version
        if outlook.planned_days is not None:
            day = last + timedelta(days=outlook.planned_days)
            version = plan_repair(
                self.store, engineer, finding_id=finding_id, version=version, planned_for=day, now=now
            ).finding.version
        if outlook.aside:
            review = last + timedelta(days=outlook.due_days)
            set_aside(
                self.store,
                engineer,
                finding_id=finding_id,
                version=version,
                reason=outlook.aside,
                review_on=review,
                now=now,
            )
        if outlook.risk:
            accept_risk(
                self.store,
                self.ground.actors[MANAGER],
                finding_id=finding_id,
                version=version,
                note=outlook.risk,
                now=now,
            )
