"""What the JSON door says of a point's series beside its trend; none of it decides anything."""

from datetime import datetime

from pydantic import BaseModel, ConfigDict, Field

from service.domain.second_opinions import SecondOpinions
from service.trends.unsaid import Unsaid

_OPINIONS = ("slope", "order", "related", "change", "cusum", "ewma", "wander", "apart")


class _Opinion(BaseModel):
    model_config = ConfigDict(from_attributes=True)


class SlopeOpinionOut(_Opinion):
    k_month: float
    low: float
    high: float


class OrderOpinionOut(_Opinion):
    s: int
    pairs: int
    tied_pairs: int
    p: float = Field(description="one-sided, in its own direction")
    exact: bool = Field(description="else by the normal law")


class RelatedOpinionOut(_Opinion):
    z: float
    factor: float = Field(description="by what the variance of S was multiplied")
    p: float = Field(description="one-sided, in its own direction")


class ChangeOpinionOut(_Opinion):
    last_before: datetime
    visits_before: int
    before_k: float = Field(description="median of the visits up to it")
    since_k: float = Field(description="median of the visits after it")
    size: float = Field(description="largest |U|")
    p: float


class ChartOpinionOut(_Opinion):
    baseline_k: float = Field(description="median of the first four visits")
    now: float = Field(description="in standard deviations, above 0 upwards")
    line: float
    over_since: datetime | None
    last_over: datetime | None
    last_over_up: bool


class ApartVisitOut(_Opinion):
    taken_at: datetime
    rise_k: float
    off_k: float = Field(description="from the median of the seven visits about it; it stays in the series")


class SecondOpinionsOut(BaseModel):
    """Figures an engineer may know from elsewhere, on the visits since repair; they decide nothing.

    Ranges of slopes hold nine chances in ten.
    """

    visits: int = Field(description="looked at, one a day, the latest 120")
    first_at: datetime | None
    slope: SlopeOpinionOut | None = Field(description="Theil-Sen")
    order: OrderOpinionOut | None = Field(description="Mann-Kendall")
    related: RelatedOpinionOut | None = Field(description="Mann-Kendall after Hamed and Rao")
    change: ChangeOpinionOut | None = Field(description="change of level after Pettitt")
    cusum: ChartOpinionOut | None
    ewma: ChartOpinionOut | None
    wander: SlopeOpinionOut | None = Field(description="local linear trend at the last visit")
    apart: list[ApartVisitOut] | None = Field(description="outliers after Hampel")
    not_told: dict[str, str] = Field(description="why an opinion is null, by its name")

    @classmethod
    def of(cls, found: SecondOpinions) -> "SecondOpinionsOut":
        figures = {name: getattr(found, name) for name in _OPINIONS}
        unsaid = {name: value for name, value in figures.items() if isinstance(value, Unsaid)}
        return cls.model_validate(
            {
                "visits": found.visits,
                "first_at": found.first_at,
                **{name: None if name in unsaid else value for name, value in figures.items()},
                "not_told": {name: value.name.lower().replace("_", " ") for name, value in unsaid.items()},
            }
        )
