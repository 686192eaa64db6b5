"""What the JSON door says of figures: value, uncertainty, chances, reasons and what they rest on."""

from datetime import datetime

from pydantic import BaseModel, Field

from service.domain.figures_told import told_with_u
from service.domain.reading_sheets import Assessed
from service.domain.settings import Inputs, Setting
from service.domain.words import Level, ReferenceKind, SettingSource
from service.physics.uncertainty import EXPANDED_BY


class FigureOut(BaseModel):
    """A figure in full, its standard uncertainty u, U = 2·u (about 95 %), and both as printed."""

    y: float
    u: float | None
    expanded_u: float | None = Field(description="U = 2·u")
    told: str = Field(description="rounded by U: two significant digits of U, y to the same place")

    @classmethod
    def of(cls, y: float | None, u: float | None) -> "FigureOut | None":
        if y is None:
            return None
        told = told_with_u(y, u)
        return cls(
            y=y,
            u=u,
            expanded_u=None if u is None else EXPANDED_BY * u,
            told=f"{y:.1f}" if told is None else str(told),
        )


class SettingOut(BaseModel):
    """A quantity with half the width of its range, how it was come by, and who says it."""

    value: float
    half_width: float
    standing: SettingSource
    place: str = Field(description="reading, round, point, air, assumed or re-evaluation")


class InputsOut(BaseModel):
    """What a figure rests on. Without a half-width: as typed or from the register."""

    settings: dict[str, SettingOut] = Field(
        description="emissivity, reflected_c, transmission (of the air), window_transmission; those that play a part"
    )
    numbers: dict[str, float] = Field(description="the others, in the unit that their name ends with")
    window: bool
    reevaluated: list[str] = Field(description="names of what a re-evaluation has set")

    @classmethod
    def of(cls, inputs: Inputs) -> "InputsOut":
        told = inputs._asdict()
        settings = {name: value for name, value in told.items() if isinstance(value, Setting)}
        numbers = {
            name: float(value)
            for name, value in told.items()
            if isinstance(value, (int, float)) and not isinstance(value, bool)
        }
        return cls(
            settings={name: SettingOut(**setting._asdict()) for name, setting in settings.items()},
            numbers=numbers,
            window=bool(inputs.window),
            reevaluated=list(inputs.reevaluated),
        )


class SaysOut(BaseModel):
    """What a reading says by the assessment that stands."""

    assessed_at: datetime
    criteria_id: int
    method_version: str
    reevaluation_id: int | None
    level: Level | None = Field(description="null: No verdict")
    at_least: bool
    band: Level | None = Field(description="by the deciding column alone")
    near_line: bool
    reference: ReferenceKind | None
    surface_c: float | None
    rise_k: FigureOut | None = Field(description="as measured; this is what is judged")
    at_common_load_k: FigureOut | None
    common_low_k: float | None = Field(description="lower end of the 95 % interval at common load")
    common_high_k: float | None
    load_ratio: float | None
    chances: list[float] | None = Field(description="of the levels 0 to 4, by the rise as measured")
    smallest_fault_k: float | None = Field(
        description="a clean reading under these conditions would hide less than this; at common load"
    )
    rule: str
    sentence: str
    cautions: list[str] = Field(description="keys of reasons and cautions")
    inputs: InputsOut | None

    @classmethod
    def of(cls, one: Assessed) -> "SaysOut":
        verdict = one.verdict
        return cls(
            assessed_at=one.assessed_at,
            criteria_id=one.criteria_id,
            method_version=one.method_version,
            reevaluation_id=one.reevaluation_id,
            level=verdict.level,
            at_least=verdict.at_least,
            band=verdict.band,
            near_line=verdict.near_line,
            reference=verdict.reference,
            surface_c=one.corrected_c,
            rise_k=FigureOut.of(verdict.value_k, verdict.u_k),
            at_common_load_k=FigureOut.of(verdict.common_k, verdict.u_common_k),
            common_low_k=verdict.common_low_k,
            common_high_k=verdict.common_high_k,
            load_ratio=verdict.load_ratio,
            chances=None if verdict.chances is None else list(verdict.chances),
            smallest_fault_k=verdict.smallest_fault_k,
            rule=verdict.rule,
            sentence=verdict.sentence,
            cautions=list(verdict.cautions),
            inputs=None if one.inputs is None else InputsOut.of(one.inputs),
        )
