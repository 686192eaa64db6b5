"""What came back of a round over JSON: row by row and stop by stop, with what it could have missed."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Path
from pydantic import BaseModel, Field

from service.api.asking import Around, Asker
from service.api.problems import PROBLEMS
from service.api.round_questions import QuestionReply
from service.api.spoken_notes import SpokenNoteReply
from service.domain.foretold import Worse
from service.domain.reception import CameBack, Counts, Hidden, Reception, counts_of
from service.domain.reports import ReportedPoint
from service.domain.words import Level, Reason, RoundState, Trend
from service.usecases.rounds.reception import ReceptionPage, read_reception
from service.usecases.rounds.timetable import TimedStop

router = APIRouter(tags=["rounds"], responses=PROBLEMS)
Id = Annotated[int, Path(ge=1, le=2**53)]


class CountsReply(BaseModel):
    rows: int
    read: int
    not_read: int = Field(description="with one of the ten reasons")
    reasons: dict[Reason, int] = Field(description="by reason letter")
    missing: int = Field(description="neither read nor given a reason")
    odd: int
    worse: int = Field(description="worse than foretold when the round was issued")
    above: int = Field(description="above Nothing found")

    @classmethod
    def of(cls, counts: Counts) -> "CountsReply":
        return cls.model_validate(counts, from_attributes=True)


class ReceivedStopReply(BaseModel):
    stop_id: int
    position: int
    title: str
    counts: CountsReply
    spoken_notes: list[SpokenNoteReply] = Field(description="to the stop as a whole")

    @classmethod
    def of(cls, stop: TimedStop, reception: Reception) -> "ReceivedStopReply":
        spoken = [note for note in reception.spoken if note.stop_id == stop.stop.id]
        return cls(
            stop_id=stop.stop.id,
            position=stop.stop.position,
            title=stop.facts.title,
            counts=CountsReply.of(counts_of(reception.of_stop(stop.stop.id))),
            spoken_notes=[SpokenNoteReply.of(note) for note in spoken],
        )


class WorseReply(BaseModel):
    """At common load [K]: what its trend foretold for that day, and what was read."""

    trend: Trend
    middle_k: float
    most_k: float
    read_k: float

    @classmethod
    def of(cls, worse: Worse) -> "WorseReply":
        return cls.model_validate(worse, from_attributes=True)


class CameBackReply(BaseModel):
    row_uid: str
    stop_id: int
    point_id: int
    point_tag: str
    equipment: str
    view: str
    name: str
    phase: str
    reading_uid: str = Field(description="empty: nothing came back of it")
    taken_at: datetime | None
    temperature_c: float | None
    value_k: float | None = Field(description="as measured, over its reference")
    common_k: float | None = Field(description="at common load")
    level: Level | None = Field(description="null: No verdict, or not read")
    at_least: bool
    sentence: str
    reason: Reason | None = Field(description="why it could not be read; null: it was, or is missing")
    reason_words: str
    missing: bool = Field(description="neither read nor given a reason")
    odd: list[str] = Field(description="what to look at again, a sentence each")
    foretold: bool = Field(description="something had been foretold when the round was issued")
    worse: WorseReply | None = Field(description="worse than that; null: it is not")
    smallest_fault_k: float | None = Field(
        description="the smallest fault at common load that it would have shown, nine chances in ten"
    )
    spoken_notes: list[SpokenNoteReply]

    @classmethod
    def of(cls, row: CameBack) -> "CameBackReply":
        point = row.point
        return cls(
            row_uid=row.row_uid,
            stop_id=row.stop_id,
            point_id=point.point_id,
            point_tag=point.tag,
            equipment=point.equipment,
            view=point.view,
            name=point.name,
            phase=point.phase,
            reading_uid=point.reading_uid,
            taken_at=point.taken_at,
            temperature_c=point.temperature_c,
            value_k=point.value_k,
            common_k=point.common_k,
            level=point.level,
            at_least=point.at_least,
            sentence=point.sentence,
            reason=point.reason,
            reason_words="" if point.reason is None else point.reason.word,
            missing=row.missing,
            odd=list(row.odd),
            foretold=row.foretold,
            worse=None if row.worse is None else WorseReply.of(row.worse),
            smallest_fault_k=point.smallest_fault_k,
            spoken_notes=[SpokenNoteReply.of(note) for note in row.spoken],
        )


class HiddenReply(BaseModel):
    """Why clean readings would have hidden more, and how many of them have that."""

    words: str
    count: int

    @classmethod
    def of(cls, hidden: Hidden) -> "HiddenReply":
        return cls.model_validate(hidden, from_attributes=True)


class MissedReply(BaseModel):
    """What the clean readings could have missed."""

    clean: int = Field(description="readings that accuse nobody")
    told: int = Field(description="of those, which can say what they would hide")
    worst_row_uid: str | None = Field(description="the one that would hide the most; null: none can say")
    worst_k: float | None = Field(description="how large a fault it would hide, at common load")
    why: list[HiddenReply] = Field(description="the commonest reason first")

    @classmethod
    def of(cls, reception: Reception) -> "MissedReply":
        missed = reception.missed
        return cls(
            clean=missed.clean,
            told=missed.told,
            worst_row_uid=_row_of(reception, missed.worst),
            worst_k=None if missed.worst is None else missed.worst.smallest_fault_k,
            why=[HiddenReply.of(one) for one in reception.hidden],
        )


class ReceptionReply(BaseModel):
    round_id: int
    code: str
    state: RoundState
    counts: CountsReply
    stops: list[ReceivedStopReply] = Field(description="in walking order")
    rows: list[CameBackReply] = Field(description="in walking order")
    of_round: list[str] = Field(description="what is odd about the whole round, a sentence each")
    could_have_missed: MissedReply
    foretold: int = Field(description="read rows of which something had been foretold")
    questions: list[QuestionReply]
    signed_sheets: int = Field(description="scans that are kept")

    @classmethod
    def of(cls, page: ReceptionPage) -> "ReceptionReply":
        reception = page.reception
        return cls(
            round_id=page.round.id,
            code=page.round.code,
            state=page.round.state,
            counts=CountsReply.of(reception.counts),
            stops=[ReceivedStopReply.of(stop, reception) for stop in page.day.stops],
            rows=[CameBackReply.of(row) for row in reception.rows],
            of_round=list(reception.of_round),
            could_have_missed=MissedReply.of(reception),
            foretold=reception.foretold,
            questions=[QuestionReply.of(question) for question in reception.questions],
            signed_sheets=reception.scans,
        )


def _row_of(reception: Reception, point: ReportedPoint | None) -> str | None:
    return next((row.row_uid for row in reception.rows if row.point is point), None)


@router.get("/rounds/{round_id}/reception")
def read(around: Around, asker: Asker, round_id: Id) -> ReceptionReply:
    """All that came back of an issued, returned or signed-off round: read, not read and why, missing, odd,
    worse than foretold, above Nothing found, and what it could have missed."""
    return ReceptionReply.of(read_reception(around.store, asker, round_id, now=around.now()))
