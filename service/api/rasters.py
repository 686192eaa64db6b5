"""Temperature rasters over JSON: brought to a reading, drawn on, compared, and given out again."""

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Response
from pydantic import BaseModel, ConfigDict, Field

from service.api.asking import Around, Asker, RawBody
from service.api.problems import PROBLEMS
from service.charts.raster_picture import raster_png
from service.charts.raster_scale import Scale
from service.domain.rasters import LONGEST_NAME, Raster, Region, RegionShape, RegionWish
from service.physics.raster import Difference, Statistics
from service.usecases.rasters.bring import LONGEST_FILE_NAME, bring_raster
from service.usecases.rasters.draw import draw_region, take_region_back
from service.usecases.rasters.see import (
    compare_regions,
    list_rasters,
    see_file,
    see_grid,
    see_raster,
    try_region,
)

router = APIRouter(tags=["rasters"], responses=PROBLEMS)

Uid = Annotated[str, Path(pattern=r"^[A-Za-z0-9._:-]{8,64}$")]
RegionId = Annotated[int, Path(ge=1, le=2**53)]
Pixel = Annotated[int, Field(ge=0, le=2**31 - 1)]
Celsius = Annotated[float | None, Query(ge=-1000, le=10_000, allow_inf_nan=False)]
MEDIA = {"csv": "text/csv; charset=utf-8", "tif": "image/tiff"}
_BINARY = {"schema": {"type": "string", "format": "binary"}}
_FILE_BODY: dict[str, Any] = {
    "requestBody": {"required": True, "content": {"text/csv": _BINARY, "image/tiff": _BINARY}}
}


class RasterReply(BaseModel):
    uid: str
    reading_uid: str
    file_name: str
    content_hash: str = Field(description="SHA-256 of the file as it came")
    rows: int
    columns: int
    low_c: float = Field(description="coldest pixel [°C]")
    high_c: float = Field(description="hottest pixel [°C]")
    received_at: datetime
    by: str

    @classmethod
    def of(cls, raster: Raster) -> "RasterReply":
        return cls.model_validate(raster, from_attributes=True)


class FiguresReply(BaseModel):
    pixels: int
    hot3x3_c: float = Field(description="mean of the 3×3 pixels about the hottest: the one to follow [°C]")
    hottest_c: float = Field(description="single hottest pixel; noise drives it up [°C]")
    hottest_at: tuple[int, int] = Field(description="its row and column, from 0 at the top left")
    coldest_c: float
    coldest_at: tuple[int, int]
    p99_c: float = Field(description="99 % quantile, linear [°C]")
    mean_c: float
    sd_k: float = Field(description="standard deviation with n − 1 [K]")

    @classmethod
    def of(cls, found: Statistics) -> "FiguresReply":
        return cls.model_validate(found, from_attributes=True)


class RegionReply(BaseModel):
    id: int
    name: str
    shape: RegionShape
    row_from: int
    column_from: int
    row_to: int
    column_to: int
    radius_px: float | None
    figures: FiguresReply
    at: datetime
    by: str

    @classmethod
    def of(cls, region: Region) -> "RegionReply":
        return cls.model_validate(region, from_attributes=True)


class SeenReply(RasterReply):
    regions: list[RegionReply]


class DifferenceReply(BaseModel):
    hot3x3_k: float
    hottest_k: float
    mean_k: float

    @classmethod
    def of(cls, found: Difference) -> "DifferenceReply":
        return cls.model_validate(found, from_attributes=True)


class RegionBody(BaseModel):
    """A box is half-open and needs ``row_to`` and ``column_to``; a spot lies about its first two."""

    model_config = ConfigDict(extra="forbid")
    name: str = Field(
        default="",
        max_length=LONGEST_NAME,
        pattern=r"^[^\u0000-\u001f\u007f]*$",
        description="empty: it gets one",
    )
    shape: RegionShape = RegionShape.BOX
    row_from: Pixel
    column_from: Pixel
    row_to: Pixel = 0
    column_to: Pixel = 0
    radius_px: Annotated[float, Field(gt=0, le=10_000)] | None = Field(
        default=None, description="of a spot; without one it is 3×3 pixels"
    )

    def wish(self) -> RegionWish:
        return RegionWish(
            self.name,
            self.shape,
            self.row_from,
            self.column_from,
            self.row_to,
            self.column_to,
            self.radius_px,
        )


@router.post("/readings/{uid}/rasters", status_code=201, openapi_extra=_FILE_BODY)
def bring(
    around: Around,
    asker: Asker,
    uid: Uid,
    body: RawBody,
    file_name: Annotated[str, Query(max_length=LONGEST_FILE_NAME)] = "",
) -> RasterReply:
    """Keep a CSV grid or a one-band float TIFF [°C] with a reading; the same file again is the same raster."""
    raster = bring_raster(
        around.store,
        asker,
        uid,
        files=around.files,
        content=body,
        file_name=file_name,
        now=around.now(),
    )
    return RasterReply.of(raster)


@router.get("/readings/{uid}/rasters")
def list_of_reading(around: Around, asker: Asker, uid: Uid) -> list[RasterReply]:
    """Rasters that came with any revision of a reading."""
    return [RasterReply.of(raster) for raster in list_rasters(around.store, asker, uid).rasters]


@router.get("/rasters/{uid}")
def read_raster(around: Around, asker: Asker, uid: Uid) -> SeenReply:
    """One raster with the regions that stand on it."""
    seen = see_raster(around.store, asker, uid)
    regions = [RegionReply.of(region) for region in seen.regions]
    return SeenReply(**RasterReply.of(seen.raster).model_dump(), regions=regions)


@router.get(
    "/rasters/{uid}/file",
    response_class=Response,
    responses={200: {"content": {"text/csv": _BINARY, "image/tiff": _BINARY}}},
)
def read_file(around: Around, asker: Asker, uid: Uid) -> Response:
    """The file as it came."""
    raster, content = see_file(around.store, asker, uid, files=around.files)
    kind = raster.stored_as.rsplit(".", 1)[1]
    headers = {"Content-Disposition": f'attachment; filename="raster-{raster.uid}.{kind}"'}
    return Response(content, media_type=MEDIA[kind], headers=headers)


@router.get(
    "/rasters/{uid}/picture.png",
    response_class=Response,
    responses={200: {"content": {"image/png": _BINARY}}},
)
def read_picture(
    around: Around,
    asker: Asker,
    uid: Uid,
    scale: Scale = Scale.GREY,
    low_c: Celsius = None,
    high_c: Celsius = None,
    above_c: Celsius = None,
    below_c: Celsius = None,
) -> Response:
    """The raster drawn between two temperatures; hatched on grey beyond a line."""
    raster, grid_c = see_grid(around.store, asker, uid, files=around.files)
    drawn = raster_png(
        grid_c,
        scale=scale,
        low_c=raster.low_c if low_c is None else low_c,
        high_c=raster.high_c if high_c is None else high_c,
        above_c=above_c,
        below_c=below_c,
    )
    return Response(drawn, media_type="image/png")


@router.post("/rasters/{uid}/figures")
def read_figures(around: Around, asker: Asker, uid: Uid, body: RegionBody) -> FiguresReply:
    """What a region would say; nothing is stored."""
    return FiguresReply.of(try_region(around.store, asker, uid, body.wish(), files=around.files))


@router.post("/rasters/{uid}/regions", status_code=201)
def draw(around: Around, asker: Asker, uid: Uid, body: RegionBody) -> RegionReply:
    """Store a region with the figures found in it."""
    region = draw_region(around.store, asker, uid, body.wish(), files=around.files, now=around.now())
    return RegionReply.of(region)


@router.put("/rasters/{uid}/regions/{region_id}")
def change(around: Around, asker: Asker, uid: Uid, region_id: RegionId, body: RegionBody) -> RegionReply:
    """Put another region in the place of one, under a new id; the old one stays on record."""
    region = draw_region(
        around.store,
        asker,
        uid,
        body.wish(),
        files=around.files,
        replaces=region_id,
        now=around.now(),
    )
    return RegionReply.of(region)


@router.delete("/rasters/{uid}/regions/{region_id}", status_code=204)
def take_back(around: Around, asker: Asker, uid: Uid, region_id: RegionId) -> None:
    """Take a region off the raster; it stays on record."""
    take_region_back(around.store, asker, uid, region_id, now=around.now())


@router.get("/rasters/{uid}/regions/{region_id}/difference")
def read_difference(
    around: Around,
    asker: Asker,
    uid: Uid,
    region_id: RegionId,
    over: Annotated[int, Query(ge=1, le=2**53, description="id of the region to be taken off")],
) -> DifferenceReply:
    """How far a region stands over another [K]: box and box, spot and box."""
    return DifferenceReply.of(compare_regions(around.store, asker, uid, first_id=region_id, second_id=over))
