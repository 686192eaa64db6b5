"""The pack as JSON, format 1: temperatures in °C, rises in K, currents in A, times of day in minutes."""

import hashlib
from datetime import date, datetime
from typing import Any

from pydantic import BaseModel, Field

from service.api.pack_judging import criteria_out
from service.api.pack_points import PackPointOut
from service.domain.packs import (
    FORMAT,
    Pack,
    PackInstrument,
    PackPermit,
    PackSite,
    PackStop,
    PackView,
)
from service.domain.walking_parties import Walker
from service.domain.words import RoundState
from service.usecases.rounds.browse import RoundLine
from service.usecases.rounds.sheets import amps_boxes


class FieldRoundReply(BaseModel):
    """A round that may be taken along."""

    id: int
    code: str
    name: str
    planned_on: date
    start_min: int
    state: RoundState
    person: str
    sites: list[str]
    stops: int
    points: int
    answered: int

    @classmethod
    def of(cls, line: RoundLine) -> "FieldRoundReply":
        round_ = line.round
        return cls(
            **{name: getattr(round_, name) for name in ("id", "code", "name", "planned_on", "start_min")},
            state=round_.state,
            person=line.person,
            sites=list(line.sites),
            stops=line.stops,
            points=line.points,
            answered=line.answered,
        )


class PackPersonOut(BaseModel):
    id: int
    name: str
    role: str
    qualified: bool

    @classmethod
    def of(cls, walker: Walker | None) -> "PackPersonOut | None":
        if walker is None:
            return None
        return cls(id=walker.id, name=walker.name, role=walker.role.value, qualified=walker.qualified)


class PackRoundOut(BaseModel):
    """The round; ``settings`` hold for all its readings where they say nothing."""

    id: int
    code: str
    name: str
    planned_on: date
    start_min: int
    state: RoundState
    person: PackPersonOut | None
    second_person: PackPersonOut | None
    weather: str
    note: str
    instrument_id: int | None
    points: int
    settings: dict[str, Any]

    @classmethod
    def of(cls, pack: Pack) -> "PackRoundOut":
        round_ = pack.round
        return cls(
            **{name: getattr(round_, name) for name in ("id", "code", "name", "planned_on", "start_min")},
            **{name: getattr(round_, name) for name in ("state", "weather", "note", "instrument_id")},
            person=PackPersonOut.of(pack.walkers.get(round_.person_id or 0)),
            second_person=PackPersonOut.of(pack.walkers.get(round_.second_person_id or 0)),
            points=pack.points,
            settings={name: dict(said) for name, said in round_.settings.items()},
        )


class PackInstrumentOut(BaseModel):
    id: int
    serial: str
    name: str
    kind: str
    low_c: float | None
    high_c: float | None
    ifov_mrad: float | None
    accuracy_k: float | None
    accuracy_percent: float | None
    band_low_um: float | None
    band_high_um: float | None
    calibration_due: date | None

    @classmethod
    def of(cls, one: PackInstrument) -> "PackInstrumentOut":
        optics = one.optics
        return cls(
            id=one.told.id,
            serial=one.told.serial,
            name=one.told.name,
            kind=one.kind,
            low_c=optics.range_low_c,
            high_c=optics.range_high_c,
            ifov_mrad=optics.ifov_mrad,
            accuracy_k=optics.accuracy_k,
            accuracy_percent=optics.accuracy_percent,
            band_low_um=optics.band_low_um,
            band_high_um=optics.band_high_um,
            calibration_due=one.told.calibration_due,
        )


class PackSiteOut(BaseModel):
    id: int
    name: str
    time_zone: str
    contact_name: str
    contact_phone: str
    safety_text: str
    cautions: list[str]
    before_doors: str

    @classmethod
    def of(cls, site: PackSite) -> "PackSiteOut":
        facts = site.facts
        return cls(
            id=facts.site_id,
            name=facts.site_name,
            time_zone=facts.time_zone,
            contact_name=facts.contact_name,
            contact_phone=facts.contact_phone,
            safety_text=facts.safety_text,
            cautions=list(site.cautions),
            before_doors=site.before_doors,
        )


class PackPermitOut(BaseModel):
    id: int
    state: str
    number: str
    from_: datetime | None = Field(serialization_alias="from")
    to: datetime | None

    @classmethod
    def of(cls, permit: PackPermit | None) -> "PackPermitOut | None":
        if permit is None:
            return None
        return cls(
            id=permit.id,
            state=permit.state,
            number=permit.number,
            from_=permit.valid_from,
            to=permit.valid_to,
        )


class PackViewOut(BaseModel):
    """One view, as it is framed from one place."""

    id: int
    tag: str
    name: str
    order: int
    phase_names: str
    asks_amps: bool
    asks_neutral: bool
    amps: list[str] = Field(description="labels of its amps boxes: each phase once, then the neutral")
    triggers: list[str]
    neutral_last_a: float | None
    picture: str | None = Field(description="uid of its latest picture")
    drawing: str | None = Field(description="uid of its latest drawing")
    points: list[PackPointOut]

    @classmethod
    def of(cls, view: PackView, *, on: date) -> "PackViewOut":
        first = view.first
        return cls(
            id=view.id,
            tag=first.view_tag,
            name=first.view_name,
            order=first.view_order,
            phase_names=first.phase_names,
            asks_amps=first.asks_amps,
            asks_neutral=first.asks_neutral,
            amps=list(amps_boxes([point.row for point in view.points])),
            triggers=list(view.triggers),
            neutral_last_a=view.neutral_last_a,
            picture=view.picture,
            drawing=view.drawing,
            points=[PackPointOut.of(point, on=on) for point in view.points],
        )


class PackStopOut(BaseModel):
    """One stop; ``criteria`` names the set by which it is judged."""

    id: int
    position: int
    sheet_code: str
    site_id: int
    area: str
    title: str
    tag: str
    equipment_id: int
    access: str
    access_words: str
    outdoor: bool
    two_people: bool
    stand_off: str
    ppe: str
    arrive_min: float
    minutes: int
    load_hours: str
    expected_load: float | None
    rated_current_a: float | None
    settle_minutes: float | None
    permit: PackPermitOut | None
    not_open: str
    running: str = Field(description="what the site was asked of a machine that runs in turn; else empty")
    cautions: list[str]
    at_act_now: str
    distances: list[str]
    criteria: str
    drawing: str | None = Field(description="uid of the latest drawing of the whole equipment")
    views: list[PackViewOut]

    @classmethod
    def of(cls, stop: PackStop, *, on: date) -> "PackStopOut":
        facts = stop.facts
        return cls(
            **{name: getattr(stop, name) for name in _OF_STOP},
            **{name: getattr(facts, name) for name in _OF_FACTS},
            area=facts.area_name,
            title=facts.name,
            equipment_id=facts.id,
            access=facts.access.value,
            expected_load=facts.usual_load_share,
            permit=PackPermitOut.of(stop.permit),
            cautions=list(stop.cautions.lines),
            at_act_now=stop.cautions.at_act_now,
            distances=list(stop.distances),
            views=[PackViewOut.of(view, on=on) for view in stop.views],
        )


_OF_STOP = (
    *("id", "position", "sheet_code", "access_words", "arrive_min", "minutes", "two_people", "stand_off"),
    *("not_open", "running", "criteria", "drawing"),
)
_OF_FACTS = ("site_id", "tag", "outdoor", "ppe", "load_hours", "rated_current_a", "settle_minutes")


class PackReply(BaseModel):
    """All of it. ``etag`` changes with anything but ``made_at``."""

    format: int
    made_at: datetime
    etag: str
    person: PackPersonOut | None
    round: PackRoundOut
    instruments: list[PackInstrumentOut]
    criteria: dict[str, Any]
    sites: list[PackSiteOut]
    stops: list[PackStopOut]

    @classmethod
    def of(cls, pack: Pack) -> "PackReply":
        reply = cls(
            format=FORMAT,
            made_at=pack.made_at,
            etag="",
            person=PackPersonOut.of(pack.person),
            round=PackRoundOut.of(pack),
            instruments=[PackInstrumentOut.of(one) for one in pack.instruments],
            criteria={name: criteria_out(one) for name, one in pack.criteria.items()},
            sites=[PackSiteOut.of(site) for site in pack.sites],
            stops=[PackStopOut.of(stop, on=pack.asked_on) for stop in pack.stops],
        )
        content = reply.model_dump_json(exclude={"made_at", "etag"}, by_alias=True)
        return reply.model_copy(update={"etag": hashlib.sha256(content.encode()).hexdigest()[:32]})
