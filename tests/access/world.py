"""Two clients, three sites, rounds in every state, and somebody of every kind to ask for them.

Everything asked for lies at the *home* site (first of client A). Names carry marks by which the
harness sees who reads what: CLIENT things are for everybody of the client, SITE things for those
of the site; a technician reads WALKED or APART, whichever lies on rounds of their own.
"""

from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import update

from service.domain.field_records import FieldSend, SendKind
from service.domain.pictures import Mark, MarkShape
from service.domain.plans import PlanBody, PlannedStop, Walk, walk_key
from service.domain.rasters import RegionShape, RegionWish
from service.domain.reevaluation import Asked, NewValue
from service.domain.sheet_codes import make_code
from service.domain.words import ReevaluationTarget, Role
from service.intake.raw_rows import Ways, rows_of_records
from service.reports.round_file import round_file_csv
from service.security.tokens import digest
from service.storage import plans
from service.storage.files import FileShelf
from service.storage.tables.findings import FindingRow
from service.storage.tables.people import CertificateRow, GrantRow, PersonRow, SessionRow, TokenRow
from service.storage.tables.planning import (
    AbsenceRow,
    CalendarFeedRow,
    MonthPlanRow,
    SiteClosureRow,
    SiteForecastRow,
    WalkingHoursRow,
)
from service.storage.tables.readings import PointStateRow
from service.storage.tables.register import (
    AreaRow,
    ClientRow,
    EquipmentRow,
    InstrumentRow,
    PointRow,
    SiteRow,
    ViewMemberRow,
    ViewRow,
)
from service.storage.tables.rounds import (
    PermitRow,
    RoundPointRow,
    RoundRow,
    RouteRow,
    RouteStopRow,
    RunRequestRow,
    StopRow,
)
from service.storage.unit import Store, Unit
from service.usecases.condition.presets import ensure_presets
from service.usecases.field.send_reading import send_reading
from service.usecases.labels.make import Wanted, make_labels
from service.usecases.people.sign_in import actor_by_session
from service.usecases.pictures.bring import Sent, bring_picture
from service.usecases.pictures.change import PictureWish, change_picture, keep_voice
from service.usecases.rasters.bring import bring_raster
from service.usecases.rasters.draw import draw_region
from service.usecases.reevaluations.reevaluate import reevaluate
from service.usecases.register.import_register import stage_import
from service.usecases.rounds.questions import ask
from service.usecases.rounds.return_pages import keep_file
from service.usecases.rounds.round_file import read_round_file
from service.usecases.rounds.sheet_scans import SentFile, bring_scans
from service.usecases.rounds.upload import upload_round
from service.usecases.spoken_notes.keep import SentNote, keep_note
from tests.access.criteria_world import add_sets
from tests.builders import STAMPS, add
from tests.doors import CHEAP, files_of
from tests.pictures.builders import encoded

CLIENT = "Tarnholt"
SITE = "Quillfen"
WALKED = "Dunlow"
APART = "Wrackstone"
#: a day for which its site has a forecast
FORECAST_DAY = "2026-12-03"
ABSENT_ID = 987_654
ABSENT_CODE = make_code(lambda below: below - 1)
PASSWORD = "kettle gravel orbit nine"
#: a scan of a signed sheet, as small as one can be
SCAN = b"%PDF-1.4\n% a signed sheet, nothing in it but these words and the mark of its end\n%%EOF\n"
#: a raster of 6 by 8 pixels
RASTER = b"\n".join([b"25.5,25.25,25.75,26.5,27.5,26.25,25.5,25.125"] * 6)


@dataclass(frozen=True)
class Persona:
    """Somebody who asks: with a role, from a place, by a living or an ended secret."""

    name: str
    role: Role | None = None
    #: home, away (another site of the same client), abroad (another client), nowhere
    place: str = "home"
    walks: bool = False
    certified: bool = False
    ended: bool = False
    round_token: bool = False

    @property
    def secret(self) -> str:
        return f"secret-of-{self.name}".replace(" ", "-")

    @property
    def known(self) -> bool:
        return self.role is not None and not self.ended


ANONYMOUS = Persona("anonymous", place="nowhere")
TECHNICIAN = Persona("technician", Role.TECHNICIAN, walks=True)
OTHER_TECHNICIAN = Persona("technician of another round", Role.TECHNICIAN)
ENGINEER = Persona("engineer", Role.ENGINEER, certified=True)
PLAIN_ENGINEER = Persona("engineer without certificate", Role.ENGINEER)
MANAGER = Persona("manager", Role.MANAGER)
ADMINISTRATOR = Persona("administrator", Role.ADMINISTRATOR)
REVOKED = replace(ENGINEER, name="engineer revoked", ended=True)
EXPIRED = replace(ENGINEER, name="engineer expired", ended=True)
CLOSED = replace(ENGINEER, name="engineer whose account is closed", ended=True)
FAR = tuple(
    Persona(f"{role.value} {place}", role, place=place, certified=True)
    for place in ("away", "abroad")
    for role in (Role.TECHNICIAN, Role.ENGINEER, Role.MANAGER)
)
ROUND_TOKEN = Persona("token of one round", Role.TECHNICIAN, walks=True, round_token=True)
HERE = (TECHNICIAN, OTHER_TECHNICIAN, ENGINEER, PLAIN_ENGINEER, MANAGER, ADMINISTRATOR)
PERSONAS = (ANONYMOUS, REVOKED, EXPIRED, CLOSED, *FAR, *HERE)


@dataclass
class World:
    """Ids of what lies at home, by the name of the path parameter that stands for it."""

    ids: dict[str, int] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)
    people: dict[str, int] = field(default_factory=dict)

    def __getitem__(self, name: str) -> int:
        return self.ids[name]

    def absent(self) -> "World":
        """The same addresses with ids that nothing has."""
        texts = {name: ABSENT_CODE if name.startswith("code") else "absent-uid-0" for name in self.texts}
        return World(dict.fromkeys(self.ids, ABSENT_ID), texts, self.people)


def build_world(store: Store, now: datetime) -> World:
    """Fill an empty database; the same ids each time."""
    world = World()
    ensure_presets(store, now=now)
    with store.begin() as unit:
        client = add(unit, ClientRow(code="A", name="Utility A", **STAMPS))
        abroad = add(unit, ClientRow(code="B", name="Utility B", **STAMPS))
        places = {"home": (client.id, None)}
        for code, name, owner in (
            ("H", f"{SITE} Works", client),
            ("W", "Away", client),
            ("X", "Abroad", abroad),
        ):
            site = add(unit, SiteRow(client_id=owner.id, code=code, name=name, **STAMPS))
            if code == "H":
                world.ids |= {"client_id": client.id, "site_id": site.id}
            elif code == "W":
                places["away"] = (client.id, site.id)
            else:
                places["abroad"] = (abroad.id, None)
        world.ids |= add_sets(unit, client_id=client.id, mark=CLIENT, now=now)
        _people(unit, world, places, now)
        _register(unit, world)
        _rounds(unit, world, now)
        _finding(unit, world, now)
        _tokens(unit, world, now)
        _walking(unit, world, now)
        _plan(unit, world, now)
    _readings(store, world, now)
    _held(store, world, now)
    _raster(store, world, now)
    _pictures(store, world, now)
    _paper(store, world, now)
    _reevaluation(store, world, now)
    _staged(store, world, now)
    return world


def _people(unit: Unit, world: World, places: dict[str, tuple[int, int | None]], now: datetime) -> None:
    encoded = CHEAP.hash(PASSWORD)
    for persona in PERSONAS:
        if persona.role is None:
            continue
        login = persona.name.replace(" ", ".")
        person = add(
            unit,
            PersonRow(
                login=login,
                name=f"{persona.name} by name",
                role=persona.role.value,
                password_hash=encoded,
                qualified=True,
                active=persona is not CLOSED,
                **STAMPS,
            ),
        )
        world.people[persona.name] = person.id
        client_id, site_id = places[persona.place]
        grant = add(unit, GrantRow(person_id=person.id, client_id=client_id, site_id=site_id))
        if persona.certified:
            day = now.date().replace(year=2030)
            held = add(unit, CertificateRow(person_id=person.id, category=2, expires_on=day, **STAMPS))
            if persona is ENGINEER:
                world.ids |= {"certificate_id": held.id}
        _session(unit, persona, person.id, now)
        if persona is ENGINEER:
            world.ids |= {"person_id": person.id, "grant_id": grant.id}


def _session(unit: Unit, persona: Persona, person_id: int, now: datetime) -> None:
    ends = now if persona is EXPIRED else now + timedelta(hours=5)
    ended = now if persona is REVOKED else None
    common: dict[str, Any] = {
        "person_id": person_id,
        "created_at": now,
        "expires_at": ends,
        "revoked_at": ended,
    }
    add(unit, SessionRow(secret_hash=digest(persona.secret), seen_at=now, **common))
    token = TokenRow(
        secret_hash=digest(persona.secret), name=persona.name, prefix="rl_xxxxx", used_at=now, **common
    )
    add(unit, token)


def _register(unit: Unit, world: World) -> None:
    site_id = world["site_id"]
    area = add(unit, AreaRow(site_id=site_id, code="A1", name=f"{SITE} switchroom", **STAMPS))
    world.ids |= {"area_id": area.id}
    for k, mark in enumerate((WALKED, APART)):
        board = add(
            unit,
            EquipmentRow(
                site_id=site_id,
                area_id=area.id,
                tag=f"{mark}-MCC",
                name=f"{mark} board",
                equipment_class="switchboard",
                rated_current_a=400.0,
                **STAMPS,
            ),
        )
        view = add(
            unit,
            ViewRow(
                site_id=site_id, equipment_id=board.id, tag=f"{mark}-F1", name=f"{mark} feeder", **STAMPS
            ),
        )
        for phase in ("L1", "L2", "L3"):
            point = add(
                unit,
                PointRow(
                    site_id=site_id,
                    view_id=view.id,
                    tag=f"{mark}-F1-{phase}",
                    name=f"{mark} {phase}",
                    kind="joint",
                    phase=phase,
                    common_load_a=100.0,
                    common_load_source="highest seen",
                    **STAMPS,
                ),
            )
            add(unit, ViewMemberRow(view_id=view.id, point_id=point.id, from_at=STAMPS["created_at"]))
            state = PointStateRow(
                point_id=point.id,
                site_id=site_id,
                equipment_id=board.id,
                level=3,
                due_on=STAMPS["created_at"].date(),
                due_reason="monthly",
            )
            add(unit, state)
            world.ids.setdefault("point_id_other", point.id)
        suffix = "" if k == 0 else "_apart"
        world.ids |= {
            f"equipment_id{suffix}": board.id,
            f"view_id{suffix}": view.id,
            f"point_id{suffix}": point.id,
        }
    camera = InstrumentRow(
        client_id=world["client_id"], serial=f"{CLIENT}-IR", name=f"{CLIENT} camera", **STAMPS
    )
    world.ids |= {"instrument_id": add(unit, camera).id}


def _rounds(unit: Unit, world: World, now: datetime) -> None:
    route = add(unit, RouteRow(client_id=world["client_id"], name=f"{SITE} monthly", **STAMPS))
    add(unit, RouteStopRow(route_id=route.id, equipment_id=world["equipment_id"], position=1))
    world.ids |= {"route_id": route.id}
    for state in ("draft", "issued", "returned", "signed off"):
        suffix = "" if state == "issued" else f"_{state.replace(' ', '_')}"
        _round(unit, world, now, state=state, suffix=suffix, apart=False)
    _round(unit, world, now, state="issued", suffix="_apart", apart=True)


def _round(unit: Unit, world: World, now: datetime, *, state: str, suffix: str, apart: bool) -> None:
    mark, walker = (APART, OTHER_TECHNICIAN) if apart else (WALKED, TECHNICIAN)
    equipment, view = ("equipment_id_apart", "view_id_apart") if apart else ("equipment_id", "view_id")
    made = add(
        unit,
        RoundRow(
            client_id=world["client_id"],
            code=f"{mark}-{state}".upper().replace(" ", "-"),
            name=f"{mark} {state}",
            planned_on=now.date(),
            state=state,
            person_id=world.people[walker.name],
            issued_at=None if state == "draft" else now,
            returned_at=now if state in ("returned", "signed off") else None,
            signed_off_at=now if state == "signed off" else None,
            **STAMPS,
        ),
    )
    permit = add(
        unit,
        PermitRow(round_id=made.id, site_id=world["site_id"], issuer=f"{mark} desk", asked_at=now, **STAMPS),
    )
    asked = add(
        unit,
        RunRequestRow(
            round_id=made.id,
            equipment_id=world[equipment],
            day=made.planned_on,
            asked_of=f"{mark} desk",
            state="asked",
            asked_at=now,
            **STAMPS,
        ),
    )
    code = None if state == "draft" else make_code(lambda below: made.id % below)
    stop = add(
        unit,
        StopRow(
            round_id=made.id,
            equipment_id=world[equipment],
            site_id=world["site_id"],
            position=1,
            minutes=5,
            permit_id=permit.id,
            sheet_code=code,
        ),
    )
    if state != "draft":
        points = unit.session.query(PointRow).filter_by(view_id=world[view]).order_by(PointRow.id)
        for k, point in enumerate(points):
            row = RoundPointRow(
                uid=f"row-uid-{made.id}-{k}",
                round_id=made.id,
                stop_id=stop.id,
                view_id=world[view],
                point_id=point.id,
                position=k + 1,
            )
            add(unit, row)
        world.texts |= {f"code{suffix}": code or "", f"row_uid{suffix}": f"row-uid-{made.id}-0"}
    world.ids |= {f"round_id{suffix}": made.id, f"stop_id{suffix}": stop.id, f"permit_id{suffix}": permit.id}
    world.ids |= {f"request_id{suffix}": asked.id}


def _finding(unit: Unit, world: World, now: datetime) -> None:
    for suffix, mark in (("", WALKED), ("_apart", APART)):
        finding = add(
            unit,
            FindingRow(
                client_id=world["client_id"],
                site_id=world["site_id"],
                point_id=world[f"point_id{suffix}"],
                title=f"{mark} lug is hot",
                level=4,
                opened_at=now,
                **STAMPS,
            ),
        )
        world.ids |= {f"finding_id{suffix}": finding.id}


def _walking(unit: Unit, world: World, now: datetime) -> None:
    person_id, site_id, day = world["person_id"], world["site_id"], now.date() + timedelta(days=9)
    add(unit, WalkingHoursRow(person_id=person_id, part="reads", hours="mon-fri 08:00-16:00", **STAMPS))
    span: dict[str, Any] = {"from_on": day, "to_on": day}
    absence = add(unit, AbsenceRow(person_id=person_id, note=f"{CLIENT} course", **span))
    closure = add(unit, SiteClosureRow(site_id=site_id, reason=f"{SITE} gate is mended", **span))
    fog = {"words": f"{SITE} fog", "unfit": True, "at": now}
    add(unit, SiteForecastRow(site_id=site_id, day=date.fromisoformat(FORECAST_DAY), **fog))
    feed = CalendarFeedRow(
        person_id=world.people[TECHNICIAN.name],
        secret_hash=digest("calendar"),
        prefix="calendar",
        created_at=now,
        used_at=now,
    )
    world.ids |= {"absence_id": absence.id, "closure_id": closure.id, "feed_id": add(unit, feed).id}
    world.texts |= {"calendar_secret": "calendar"}


def _plan(unit: Unit, world: World, now: datetime) -> None:
    """A plan of next month with a stop on a walk: equipment that is on no round."""
    common = {"site_id": world["site_id"], **STAMPS}
    spare = add(
        unit, EquipmentRow(area_id=world["area_id"], tag=f"{SITE}-SPARE", name=f"{SITE} spare", **common)
    )
    view = add(unit, ViewRow(equipment_id=spare.id, tag=f"{SITE}-SPARE-V", name=f"{SITE} bars", **common))
    add(unit, PointRow(view_id=view.id, tag=f"{SITE}-SPARE-P", name=f"{SITE} bar", kind="joint", **common))
    world.ids["equipment_id_plan"] = spare.id
    day = (now.date().replace(day=1) + timedelta(days=40)).replace(day=8)
    walk = Walk(
        key=walk_key(day, world["person_id"]),
        day=day,
        person_id=world["person_id"],
        start_min=450,
        end_min=930,
        category=2,
        stops=(PlannedStop(spare.id, 5, 460, 460, 465),),
        leave_min=450,
        back_min=480,
    )
    month_on = day.replace(day=1)
    body = PlanBody(month_on=month_on, site_ids=(world["site_id"],), walks=(walk,), drawn=True)
    plan = plans.add_plan(
        unit, client_id=world["client_id"], month_on=month_on, name=f"{SITE} month", now=now
    )
    for number in (0, 1):
        plan = plans.add_version(unit, plan, body, parent=number, what="begun", by=None, now=now)
    unit.session.execute(update(MonthPlanRow).values(version=1))
    world.ids["plan_id"] = plan.id
    world.texts["walk_key"] = walk.key


def _tokens(unit: Unit, world: World, now: datetime) -> None:
    owner = world.people[TECHNICIAN.name]
    common: dict[str, Any] = {"person_id": owner, "created_at": now, "used_at": now}
    week = now + timedelta(days=7)
    spare = TokenRow(secret_hash=digest("spare"), name="spare", prefix="rl_spare", expires_at=week, **common)
    world.ids |= {"token_id": add(unit, spare).id}
    secret = digest(ROUND_TOKEN.secret)
    own = TokenRow(
        secret_hash=secret,
        name="one round",
        prefix="rl_round",
        expires_at=week,
        round_id=world["round_id"],
        **common,
    )
    add(unit, own)


def _readings(store: Store, world: World, now: datetime) -> None:
    """Two sources read the same rows of the returned round, so one row is a double."""
    for k, persona in enumerate((TECHNICIAN, ENGINEER)):
        records = [
            {
                "row_uid": world.texts["row_uid_returned"],
                "uid": f"reading-uid-{k}",
                "taken_at": now.isoformat(),
                "temperature_c": 40.0 + k,
                "ambient_c": 25.0,
                "current_a": 90.0,
            }
        ]
        upload = upload_round(
            store,
            actor_by_session(store, persona.secret, now=now),
            round_id=world["round_id_returned"],
            rows=rows_of_records(records, Ways()),
            content_hash=f"content {k}",
            key=None,
            channel="reading",
            now=now,
        )
        world.ids |= {"upload_id": upload.upload_id}
    world.texts |= {"reading_uid": "reading-uid-0", "reading_uid_other": "reading-uid-1"}


def _reevaluation(store: Store, world: World, now: datetime) -> None:
    """The readings of the returned round, evaluated again with another load."""
    engineer = actor_by_session(store, ENGINEER.secret, now=now)
    asked = Asked(ReevaluationTarget.ROUND, world["round_id_returned"], {"current_a": NewValue(80.0)})
    done = reevaluate(store, engineer, asked=asked, reason=f"{WALKED}: meter misread", now=now)
    assert done.reevaluation_id is not None
    world.ids |= {"reevaluation_id": done.reevaluation_id}


def _held(store: Store, world: World, now: datetime) -> None:
    """A reading that a device sent to a round that was signed off."""
    body = {"row_uid": world.texts["row_uid_signed_off"], "temperature_c": 44.0, "note": WALKED}
    sent = FieldSend(
        "held-uid-1", SendKind.READING, world["round_id_signed_off"], body, "held", "2026-11-25T08:00:00Z", 0.0,
        keep=True,
    )  # fmt: skip
    actor = actor_by_session(store, TECHNICIAN.secret, now=now)
    held = send_reading(store, actor, sent, now=now).held
    assert held is not None
    assert held.held_id is not None
    world.ids |= {"held_id": held.held_id}


def _raster(store: Store, world: World, now: datetime) -> None:
    """A raster of the technician's reading, with two boxes."""
    walker, files = actor_by_session(store, TECHNICIAN.secret, now=now), FileShelf(files_of(store))
    uid = world.texts["reading_uid"]
    raster = bring_raster(store, walker, uid, files=files, content=RASTER, file_name=f"{WALKED}.csv", now=now)
    world.texts |= {"raster_uid": raster.uid}
    for suffix, left in (("", 0), ("_other", 4)):
        wish = RegionWish(f"{WALKED}{suffix}", RegionShape.BOX, 0, left, 5, left + 4)
        region = draw_region(store, walker, raster.uid, wish, files=files, now=now)
        world.ids |= {f"region_id{suffix}": region.id}


def _pictures(store: Store, world: World, now: datetime) -> None:
    """Two pictures of the technician's point: a plain one, and one with a mark and a spoken note."""
    walker, shelf = actor_by_session(store, TECHNICIAN.secret, now=now), FileShelf(files_of(store))
    round_id, row_uid = world["round_id_returned"], world.texts["row_uid_returned"]
    for suffix in ("", "_spoken"):
        sent = Sent(encoded(number=len(suffix)), f"{WALKED}.jpg", f"picture-uid{suffix}", row_uid=row_uid)
        picture = bring_picture(store, walker, round_id, sent, shelf=shelf, now=now).picture
        world.texts |= {f"picture_uid{suffix}": picture.uid}
    mark = Mark(MarkShape.RING, 10, 10, 30, 30, WALKED)
    change_picture(store, walker, picture.uid, PictureWish(marks=(mark,)), version=picture.version, now=now)
    spoken = keep_voice(
        store, walker, picture.uid, content=b"OggS" + b"\0" * 20, shelf=shelf, round_id=round_id, now=now
    )
    world.ids |= {"picture_version_spoken": spoken.version}


def _paper(store: Store, world: World, now: datetime) -> None:
    """A scan, a spoken note and a question of the returned round, and a label on the equipment of the walked one."""
    walker, files = actor_by_session(store, TECHNICIAN.secret, now=now), FileShelf(files_of(store))
    engineer = actor_by_session(store, ENGINEER.secret, now=now)
    round_id = world["round_id_returned"]
    sent = [SentFile(f"{WALKED}.pdf", SCAN)]
    (scan,) = bring_scans(store, walker, round_id, files=files, sent=sent, typed_code="", now=now)
    spoken = SentNote("spoken-uid", b"OggS" + b"\0" * 30, row_uid=world.texts["row_uid_returned"])
    note = keep_note(store, walker, round_id, spoken, shelf=files, now=now)
    asked = ask(
        store, engineer, round_id, row_uid=world.texts["row_uid_returned"], text=f"{WALKED}: fan on?", now=now
    )
    wanted = Wanted(equipment_ids=(world["equipment_id"],))
    (label,) = make_labels(store, engineer, wanted, now=now)
    world.ids |= {"question_id": asked.id}
    world.texts |= {"scan_uid": scan.uid, "spoken_uid": note.uid, "code_label": label.code}


def _staged(store: Store, world: World, now: datetime) -> None:
    """Files that were chosen and looked at, not stored yet."""
    walker = actor_by_session(store, TECHNICIAN.secret, now=now)
    engineer = actor_by_session(store, ENGINEER.secret, now=now)
    world.texts |= {
        "file_uid": keep_file(
            store,
            walker,
            round_id=world["round_id"],
            file_name="round.csv",
            content=round_file_csv(read_round_file(store, walker, world["round_id"], now=now)),
            now=now,
        ),
        "import_uid": stage_import(store, engineer, file_name="r.csv", content=b"client_code\n", now=now),
    }
