"""The emissivity table over JSON, with its sources."""

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.api.asking import Asker
from service.api.problems import PROBLEMS
from service.domain.point_surface import half_width_of_row
from service.physics.emissivity import SCOPE, Seen, Source, SurfaceRow, Use
from service.usecases.register.emissivities import list_surfaces

router = APIRouter(prefix="/emissivities", tags=["register"], responses=PROBLEMS)


class SourceOut(BaseModel):
    """Where a value stands; ``seen`` says whether it was read there or is quoted from memory."""

    key: str
    citation: str
    seen: Seen
    remark: str

    @classmethod
    def of(cls, source: Source) -> "SourceOut":
        return cls.model_validate(source, from_attributes=True)


class SurfaceOut(BaseModel):
    """One surface; without ``emissivity`` nothing is shipped, and ``remedy`` says how to find a value."""

    key: str = Field(description="what a point's emissivity_finish names")
    surface: str
    emissivity: float | None
    half_width: float | None
    low: float | None
    high: float | None
    printed: str = Field(description="ranges and values as the sources print them")
    temperature_c: str = Field(description="temperatures of the surface for which they hold, as text")
    use: Use
    remedy: str
    sources: list[SourceOut]

    @classmethod
    def of(cls, row: SurfaceRow) -> "SurfaceOut":
        return cls(
            key=row.key,
            surface=row.surface,
            emissivity=row.default,
            half_width=None if row.default is None else half_width_of_row(row),
            low=row.low,
            high=row.high,
            printed=row.printed,
            temperature_c=row.temperature,
            use=row.use,
            remedy=row.remedy,
            sources=[SourceOut.of(source) for source in row.sources],
        )


class EmissivitiesOut(BaseModel):
    """The whole table, and what its numbers are."""

    scope: str
    items: list[SurfaceOut]


@router.get("", operation_id="list_emissivities")
def list_emissivities(actor: Asker) -> EmissivitiesOut:
    """Emissivities that are shipped, each with range, half-width and sources."""
    return EmissivitiesOut(scope=SCOPE, items=[SurfaceOut.of(row) for row in list_surfaces(actor)])
