"""One reading laid out: what was read, what each assessment made of it, and how its figure comes about."""

from dataclasses import dataclass
from datetime import datetime

from service.domain.criteria import Criteria
from service.domain.measuring import Measured, band_of, lay_out, measure
from service.domain.rasters import PointPlace
from service.domain.reading_budget import ReadingBudget, Trials
from service.domain.readings import Reading
from service.domain.reevaluation import KeptReevaluation
from service.domain.settings import Inputs
from service.domain.verdicts import Verdict
from service.domain.words import Level, PointKind


@dataclass(frozen=True, slots=True)
class Assessed:
    """What a reading said by one version of criteria, method and inputs."""

    assessment_id: int
    assessed_at: datetime
    method_version: str
    criteria_id: int
    current: bool
    counts_level: bool
    counts_trend: bool
    corrected_c: float | None
    inputs: Inputs | None
    reevaluation_id: int | None
    replaces_id: int | None
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class ReadPart:
    """A part that entered the reference of a reading, as it was read on the same visit."""

    point_id: int
    name: str
    phase: str
    reading_uid: str
    inputs: Inputs
    measured: Measured

    @property
    def word(self) -> str:
        return self.phase or self.name


@dataclass(frozen=True, slots=True)
class ReadBy:
    """Who read with what on which round."""

    reader: str
    instrument: str
    round_id: int
    round_code: str
    kind: PointKind
    component: str
    baseline_k: float | None


@dataclass(frozen=True, slots=True)
class ReadingSheet:
    """Everything the page of a reading prints.

    ``assessed`` are all assessments, the newest first; ``shown`` is the one that the sheet lays
    out: the standing one, or the last of a reading that a correction replaced. ``parts`` are those
    compared, the judged one first; empty where the figure cannot be laid out. ``trials`` is there
    where the closed form is too rough. ``lines`` are the action lines of the deciding column.
    """

    reading: Reading
    place: PointPlace
    read_by: ReadBy
    revisions: tuple[tuple[Reading, str], ...]
    assessed: tuple[Assessed, ...]
    criteria: dict[int, Criteria]
    reevaluations: tuple[KeptReevaluation, ...]
    parts: tuple[ReadPart, ...] = ()
    budget: ReadingBudget | None = None
    trials: Trials | None = None
    asked_for_trials: bool = False
    lines: tuple[tuple[Level, float], ...] = ()
    lines_unit: str = "K"
    may_evaluate: bool = False

    @property
    def shown(self) -> Assessed | None:
        if not self.assessed:
            return None
        return next((one for one in self.assessed if one.current), self.assessed[0])

    @property
    def apparent_c(self) -> float | None:
        """The reading with the instrument's settings undone [°C]."""
        shown = self.shown
        if shown is None or shown.inputs is None or shown.inputs.shown_c is None:
            return None
        found = float(lay_out([shown.inputs], band_of(shown.inputs)[0]).apparent.value[0])
        return found if found == found else None

    @property
    def measured(self) -> Measured | None:
        """The reading brought to the surface, from the inputs that are kept."""
        if self.parts:
            return self.parts[0].measured
        shown = self.shown
        if shown is None or shown.inputs is None or shown.inputs.shown_c is None:
            return None
        return measure([shown.inputs])[0]
