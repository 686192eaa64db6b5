"""What the JSON door says of readings and uploads, and the rows it takes."""

from collections.abc import Mapping
from dataclasses import asdict
from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from service.api.figure_schemas import SaysOut
from service.domain.boxes import BoxValue, boxes_of
from service.domain.reading_sheets import Assessed
from service.domain.readings import Reading, UploadPreview, UploadResult
from service.domain.words import LoadSource, PointKind, Reason, SettingSource, VisitKind
from service.errors import Problem
from service.intake.limits import MOST_CHARACTERS, MOST_ROWS
from service.intake.reading_cells import NUMBERS
from service.usecases.rounds.decide_double import Double

#: no control characters and no half characters: what every database can hold
_TEXT = "^[^\\u0000-\\u0008\\u000b\\u000c\\u000e-\\u001f\\u007f]*$"


def _text(description: str) -> Any:
    return Field(default=None, max_length=MOST_CHARACTERS, pattern=_TEXT, description=description)


def _number(name: str, description: str) -> Any:
    within = NUMBERS[name]
    if within.temperature:
        return Field(default=None, description=f"{description} [{within.low:g} to {within.high:g} °C]")
    return Field(default=None, ge=within.low, le=within.high, description=description)


def _told_boxes() -> dict[str, Any]:
    """What the document says of boxes: a property each, with unit, range and the kinds that ask for it."""
    told: dict[str, dict[str, Any]] = {}
    for kind in PointKind:
        for box in boxes_of(kind):
            known = told.setdefault(box.key, {"description": "", "x-kinds": []})
            known["x-kinds"].append(kind.value)
            unit = f" [{box.unit}]" if box.unit else ""
            known["description"] = f"{box.label}{unit}; asked of: {', '.join(known['x-kinds'])}. {box.why}"
            if box.value is BoxValue.YES_OR_NO:
                known["type"] = ["boolean", "null"]
            elif box.value in (BoxValue.NUMBER, BoxValue.TEMPERATURE):
                known["type"] = ["number", "null"]
                if box.value is BoxValue.NUMBER:
                    known |= {"minimum": box.low, "maximum": box.high}
                else:
                    known["description"] += f" [{box.low:g} to {box.high:g} °C]"
            elif box.words:
                known["enum"] = [*box.words, None]
            else:
                known["type"] = ["string", "null"]
    return {"properties": told, "additionalProperties": False}


class Body(BaseModel):
    model_config = ConfigDict(extra="forbid")


class CorrectableBody(Body):
    """The boxes of a returned row; what is left out is not known."""

    taken_at: str | None = _text("date and time; without an offset on the site's clock")
    temperature_c: float | None = _number("temperature_c", "what the instrument showed")
    ambient_c: float | None = _number("ambient_c", "air near the part")
    reflected_c: float | None = _number("reflected_c", "reflected apparent temperature")
    current_a: float | None = _number("current_a", "current of this part or phase [A]")
    neutral_a: float | None = _number("neutral_a", "current of the view's neutral [A]")
    wind_m_s: float | None = _number("wind_m_s", "at the part [m/s]")
    fan_on_part: bool | None = Field(default=None, description="a fan blows on the part")
    humidity_percent: float | None = _number("humidity_percent", "relative humidity [%]")
    distance_m: float | None = _number("distance_m", "instrument to part [m]")
    minutes_at_load: float | None = _number("minutes_at_load", "how long it has carried this load")
    emissivity_set: float | None = _number("emissivity_set", "emissivity set in the instrument")
    reflected_set_c: float | None = _number("reflected_set_c", "reflected temperature set in it")
    transmission_set: float | None = _number("transmission_set", "transmission set in it, of window or path")
    emissivity: float | None = _number("emissivity", "of the part itself, found on this visit")
    emissivity_standing: SettingSource | None = Field(
        default=None, description="how the emissivity was come by; null means assumed"
    )
    reflected_standing: SettingSource | None = Field(
        default=None, description="how the reflected temperature was come by; null means assumed"
    )
    through_window: bool | None = Field(
        default=None, description="read through an inspection window; null means as the access says"
    )
    window_transmission: float | None = _number(
        "window_transmission", "share of the heat that the window lets through"
    )
    window_c: float | None = _number("window_c", "temperature of the window's pane")
    path_transmission: float | None = _number(
        "path_transmission", "share that the air lets through; null means worked out"
    )
    boxes: dict[str, str | float | bool | None] | None = Field(
        default=None,
        description="answers to the boxes of the point's kind, by key; temperatures in the unit of the send",
        json_schema_extra=_told_boxes(),
    )
    instrument_serial: str | None = _text("serial number; none means the round's instrument")
    reason: Reason | None = Field(default=None, description="letter of why it could not be read")
    picture: str | None = _text("number of the thermal picture")
    note: str | None = _text("seen, heard or smelt")
    visit_kind: VisitKind | None = None
    load_source: LoadSource | None = None


class RowBody(CorrectableBody):
    """One returned row, named by its row id, or by point tag, or by a place off the round."""

    row_uid: str | None = _text("id of the row, made at issue")
    round_code: str | None = _text("code of the round, if the sender wants it checked")
    point_tag: str | None = _text("tag of the point, if the sender wants it checked")
    uid: str | None = Field(
        default=None,
        pattern=r"^[A-Za-z0-9._:-]{8,64}$",
        description="the client's own id of this reading, unique for ever",
    )
    site: str | None = _text("code or name of the site of a part off the round")
    place: str | None = _text("where a hot part met off the round is")
    correction_reason: str | None = _text("why a row sent before is changed now")
    device_time: str | None = _text(
        "the device's clock as it showed; without taken_at the reading was taken then, put right by skew_s"
    )
    skew_s: float | None = _number("skew_s", "how far the device's clock was ahead [s]")


class SentRowBody(RowBody):
    """A row that is sent alone, under an id of its own."""

    replaces: list[Annotated[str, Field(pattern="^[A-Za-z0-9._:-]{8,64}$")]] | None = Field(
        default=None, max_length=200, description="earlier sends that this one stands for, come or not"
    )
    temperature_unit: Literal["°C", "°F"] = Field(default="°C", description="of every temperature in it")


class UploadBody(Body):
    rows: list[RowBody] = Field(min_length=1, max_length=MOST_ROWS)
    temperature_unit: Literal["°C", "°F"] = Field(default="°C", description="of every temperature in it")


class ProblemOut(BaseModel):
    where: str
    field: str
    found: str
    message: str
    remedy: str

    @classmethod
    def of(cls, problem: Problem) -> "ProblemOut":
        return cls(**problem.as_dict())


class ActNowOut(BaseModel):
    """Tell the site's contact at once, and keep with the finding whom and what they answered."""

    finding_id: int
    point_id: int
    point_tag: str
    title: str
    sentence: str


class SecondReadingOut(BaseModel):
    row_id: int
    point_id: int
    point_tag: str


class UploadReply(BaseModel):
    """What was stored; the same for the same send and for the same content sent by another."""

    upload_id: int
    round_id: int
    round_code: str
    received_at: datetime
    rows_new: int
    rows_equal: int
    rows_corrected: int
    rows_second: int
    off_round: int
    not_assessable: int
    without_permit: int
    still_not_read: int
    levels: Mapping[str, int]
    act_now: list[ActNowOut]
    second_readings: list[SecondReadingOut]
    finding_ids: list[int]
    warnings: list[ProblemOut]

    @classmethod
    def of(cls, result: UploadResult) -> "UploadReply":
        return cls.model_validate(asdict(result))


class ChangeOut(BaseModel):
    where: str
    point_tag: str
    field: str
    was: str
    now: str


class PreviewReply(BaseModel):
    """What an upload would do. ``problems`` forbid it; ``warnings`` ask to look again."""

    round_id: int
    round_code: str
    storable: bool
    rows_new: int
    rows_equal: int
    rows_corrected: int
    rows_second: int
    rows_blank: int
    off_round: int
    not_assessable: int
    without_permit: int
    still_not_read: int
    already_stored: bool
    changes: list[ChangeOut]
    warnings: list[ProblemOut]
    problems: list[ProblemOut]
    problem_count: int
    decimal: str
    temperature_unit: str

    @classmethod
    def of(cls, preview: UploadPreview) -> "PreviewReply":
        return cls.model_validate(asdict(preview) | {"storable": preview.storable})


class ReadingReply(BaseModel):
    """One reading as stored; ``current`` is false once a correction has superseded it."""

    id: int
    uid: str
    point_id: int
    round_id: int | None
    source: str
    person_id: int | None
    device: str
    revision: int
    current: bool
    correction_reason: str
    received_at: datetime
    taken_at: datetime
    visit_kind: VisitKind
    load_source: LoadSource
    not_assessable: Reason | None
    temperature_c: float | None
    ambient_c: float | None
    reflected_c: float | None
    humidity_percent: float | None
    wind_m_s: float | None
    fan_on_part: bool
    current_a: float | None
    neutral_a: float | None
    distance_m: float | None
    minutes_at_load: float | None
    emissivity_set: float | None
    reflected_set_c: float | None
    transmission_set: float | None
    emissivity: float | None = Field(description="of the part itself, found on this visit (0.01 to 1)")
    emissivity_standing: SettingSource | None
    reflected_standing: SettingSource | None
    through_window: bool | None = Field(description="null: as the equipment's access says")
    window_transmission: float | None = Field(description="share of the heat let through (0.01 to 1)")
    window_c: float | None = Field(description="temperature of the window's pane [°C]")
    path_transmission: float | None = Field(description="share let through by the air (0.01 to 1)")
    boxes: dict[str, str | float | bool] | None = Field(
        description="answers to the boxes of the point's kind, by key; temperatures in °C"
    )
    instrument_id: int | None
    picture: str
    note: str
    no_permit_recorded: bool
    typed: dict[str, Any] | None
    device_time: str
    skew_s: float | None = Field(description="how far the device's clock was ahead [s]")

    @classmethod
    def of(cls, reading: Reading) -> "ReadingReply":
        return cls.model_validate({name: getattr(reading, name) for name in cls.model_fields})


class JudgedReadingReply(ReadingReply):
    """The same with what it says; null where a correction has superseded it or nothing was judged yet."""

    says: SaysOut | None = None

    @classmethod
    def of_judged(cls, reading: Reading, says: Assessed | None) -> "JudgedReadingReply":
        typed = {name: getattr(reading, name) for name in ReadingReply.model_fields}
        return cls.model_validate(typed | {"says": None if says is None else SaysOut.of(says)})


class CorrectionBody(Body):
    """Fields to change (null empties one) and why."""

    changes: CorrectableBody
    reason: str = Field(min_length=1, max_length=MOST_CHARACTERS, pattern=_TEXT)

    def changed(self) -> dict[str, Any]:
        return self.changes.model_dump(exclude_unset=True, mode="json")


class DoubleReply(BaseModel):
    """A point read by two sources on one round; ``chosen`` is null while undecided."""

    row_uid: str
    point_id: int
    point_tag: str
    point_name: str
    chosen: str | None
    readings: list[ReadingReply]

    @classmethod
    def of(cls, double: Double) -> "DoubleReply":
        return cls(
            row_uid=double.row_uid,
            point_id=double.point_id,
            point_tag=double.point_tag,
            point_name=double.point_name,
            chosen=double.chosen,
            readings=[ReadingReply.of(reading) for reading in double.readings],
        )


class DecisionBody(Body):
    source: str = Field(min_length=1, max_length=200, description="whose reading stands")
