"""The weather expected at sites, over JSON: typed, listed, taken back."""

from datetime import date, timedelta
from typing import Annotated

from fastapi import APIRouter, Path, Query
from pydantic import BaseModel, ConfigDict, Field

from service.api.asking import Around, Asker
from service.api.problems import PROBLEMS
from service.domain.forecasts import Forecast
from service.usecases.plans.forecasts import (
    LONGEST_WORDS,
    MOST_TYPED_RAIN_MM,
    MOST_TYPED_WIND_M_S,
    list_forecasts,
    take_forecast_back,
    type_forecast,
)

router = APIRouter(prefix="/site-forecasts", tags=["who walks when"], responses=PROBLEMS)
SiteId = Annotated[int, Path(ge=1, le=2**53)]
#: as far as forecasts are listed where nobody says until when
AHEAD = timedelta(days=31)


class ForecastIn(BaseModel):
    model_config = ConfigDict(extra="forbid")
    words: Annotated[str, Field(max_length=LONGEST_WORDS)] = ""
    wind_m_s: Annotated[float | None, Field(ge=0, le=MOST_TYPED_WIND_M_S, allow_inf_nan=False)] = None
    rain_mm: Annotated[float | None, Field(ge=0, le=MOST_TYPED_RAIN_MM, allow_inf_nan=False)] = None
    unfit: bool = Field(default=False, description="not fit for outdoor readings, whatever wind and rain are")


class ForecastOut(BaseModel):
    site_id: int
    day: date
    words: str
    wind_m_s: float | None
    rain_mm: float | None
    unfit: bool
    why_unfit: str = Field(description="why outdoor readings could not clear; empty when they could")

    @classmethod
    def of(cls, forecast: Forecast) -> "ForecastOut":
        return cls.model_validate(forecast, from_attributes=True)


@router.get("")
def read_forecasts(
    around: Around,
    asker: Asker,
    from_on: Annotated[date | None, Query(description="first day; without it, today")] = None,
    to_on: Annotated[date | None, Query(description="last day; without it, a month after the first")] = None,
) -> list[ForecastOut]:
    """Forecasts for the sites in sight; not for technicians."""
    first = from_on or around.now().date()
    found = list_forecasts(around.store, asker, first=first, last=to_on or first + AHEAD)
    return [ForecastOut.of(one) for one in found]


@router.put("/{site_id}/{day}")
def put_forecast(around: Around, asker: Asker, site_id: SiteId, day: date, body: ForecastIn) -> ForecastOut:
    """Keep a forecast in the place of the one before; plans keep outdoor stops off unfit days."""
    wanted = Forecast(site_id, day, **body.model_dump())
    return ForecastOut.of(type_forecast(around.store, asker, wanted, now=around.now()))


@router.delete("/{site_id}/{day}", status_code=204)
def remove_forecast(around: Around, asker: Asker, site_id: SiteId, day: date) -> None:
    """Take it back."""
    take_forecast_back(around.store, asker, site_id, day, now=around.now())
