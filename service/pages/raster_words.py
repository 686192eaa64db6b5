"""What the pages of a raster print: sentence, shapes on the picture, rows of figures, filled forms."""

from collections.abc import Mapping
from dataclasses import dataclass

from service.domain.rasters import PointPlace, Raster, Region, RegionShape
from service.pages import view
from service.physics.raster import Difference, Statistics, difference
from service.usecases.rasters.see import RastersOfReading, SeenRaster

#: half the reach of a spot without a radius: 3×3 pixels about its middle
_LEAST_REACH = 1.0
#: above this share of the height a name stands inside its shape, else over it
_NEAR_TOP = 7.0
#: from this share of the width on a name ends with its shape instead of beginning with it
_FAR_RIGHT = 66.0


@dataclass(frozen=True, slots=True)
class RasterLine:
    """One raster in the list of a reading."""

    raster: Raster
    href: str
    size: str


@dataclass(frozen=True, slots=True)
class RastersPart:
    """What rasters/of_reading.html prints."""

    lines: tuple[RasterLine, ...]
    send_to: str
    may_bring: bool
    zone: str


@dataclass(frozen=True, slots=True)
class Shape:
    """A region on the picture, in per cent of its width and height."""

    region: Region
    x: str
    y: str
    width: str
    height: str
    name_x: str
    name_ends: bool
    name_inside: bool
    words: str
    place: dict[str, str]


@dataclass(frozen=True, slots=True)
class FigureLine:
    """A region in the table, and how it stands over another."""

    region: Region
    at: str
    over: Difference | None


def rasters_part(seen: RastersOfReading) -> RastersPart:
    """The rasters of a reading and the form that brings another."""
    return RastersPart(
        lines=tuple(RasterLine(one, f"/rasters/{one.uid}", size_of(one)) for one in seen.rasters),
        send_to=f"/readings/{seen.reading.uid}/rasters",
        may_bring=seen.may_bring,
        zone=seen.place.zone,
    )


def size_of(raster: Raster) -> str:
    """240 rows of 320; 24.6 to 60.2 °C."""
    return f"{raster.rows} rows of {raster.columns}, {view.celsius_range(raster.low_c, raster.high_c)}"


def title(seen: SeenRaster, over: Region | None) -> str:
    """The news of the picture: the hottest region, and what it stands over."""
    if not seen.regions:
        return f"{view.celsius(seen.raster.high_c)} at the hottest pixel; nothing is drawn yet"
    hottest = max(seen.regions, key=lambda one: one.figures.hot3x3_c)
    if over is None or over.id == hottest.id:
        return f"{hottest.name} is at {view.celsius(hottest.figures.hot3x3_c)}"
    risen = difference(hottest.figures, over.figures).hot3x3_k
    return f"{hottest.name} is {view.kelvin(risen)} over {over.name}"


def crumbs(place: PointPlace) -> tuple[tuple[str, str], ...]:
    return (
        ("Equipment", "/equipment"),
        (place.equipment, f"/equipment/{place.equipment_id}"),
        (view.place(place.view, place.name), f"/points/{place.point_id}"),
    )


def shapes(seen: SeenRaster) -> tuple[Shape, ...]:
    return tuple(_shape(region, seen.raster) for region in seen.regions)


def _shape(region: Region, raster: Raster) -> Shape:
    if region.shape is RegionShape.SPOT:
        reach = (_LEAST_REACH if region.radius_px is None else region.radius_px) + 0.5
        top, left = region.row_from + 0.5 - reach, region.column_from + 0.5 - reach
        rows = columns = 2 * reach
    else:
        top, left = float(region.row_from), float(region.column_from)
        rows, columns = float(region.row_to - region.row_from), float(region.column_to - region.column_from)
    x, y, width = 100 * left / raster.columns, 100 * top / raster.rows, 100 * columns / raster.columns
    return Shape(
        region=region,
        x=_share(x),
        y=_share(y),
        width=_share(width),
        height=_share(100 * rows / raster.rows),
        name_x=_share(x + width if x > _FAR_RIGHT else x),
        name_ends=x > _FAR_RIGHT,
        name_inside=y < _NEAR_TOP,
        words=f"{region.name}, {_where(region)}: {view.celsius(region.figures.hot3x3_c)}",
        place=place_boxes(region),
    )


def _share(value: float) -> str:
    return f"{value:.3f}%"


def _where(region: Region) -> str:
    if region.shape is RegionShape.SPOT:
        reach = "3×3 pixels" if region.radius_px is None else f"radius {region.radius_px:g}"
        return f"spot at row {region.row_from}, column {region.column_from}, {reach}"
    rows = f"rows {region.row_from} to {region.row_to - 1}"
    return f"box of {rows}, columns {region.column_from} to {region.column_to - 1}"


def place_boxes(region: Region) -> dict[str, str]:
    """The region's place as the boxes of the form hold it."""
    spot = region.shape is RegionShape.SPOT
    return {
        "name": region.name,
        "shape": region.shape.value,
        "row": str(region.row_from),
        "column": str(region.column_from),
        "rows": "" if spot else str(region.row_to - region.row_from),
        "columns": "" if spot else str(region.column_to - region.column_from),
        "radius": "" if region.radius_px is None else f"{region.radius_px:g}",
    }


def first_boxes(raster: Raster) -> dict[str, str]:
    """A new box in the middle, a fifth of the picture's height."""
    side = max(3, min(raster.rows, raster.columns) // 5)
    side = min(side, raster.rows, raster.columns)
    return {
        "name": "",
        "shape": RegionShape.BOX.value,
        "row": str((raster.rows - side) // 2),
        "column": str((raster.columns - side) // 2),
        "rows": str(side),
        "columns": str(side),
        "radius": "",
    }


def figure_lines(seen: SeenRaster, over: Region | None) -> tuple[FigureLine, ...]:
    return tuple(
        FigureLine(
            region,
            "row {}, column {}".format(*region.figures.hottest_at),
            None if over is None or over.id == region.id else difference(region.figures, over.figures),
        )
        for region in seen.regions
    )


def in_words(found: Statistics) -> str:
    """What a region would say, in one sentence."""
    return (
        f"3×3 about the hottest {view.celsius(found.hot3x3_c)}, hottest pixel {view.celsius(found.hottest_c)}, "
        f"mean {view.celsius(found.mean_c)}, {view.counted(found.pixels, 'pixel')}."
    )


#: boxes of the page's form by the names that the use case gives to what it refuses
BOX_OF = {
    "row_from": "row",
    "column_from": "column",
    "row_to": "rows",
    "column_to": "columns",
    "radius_px": "radius",
    "name": "name",
}


def chosen(regions: tuple[Region, ...], wanted: str) -> Region | None:
    """The region that an address names, if it stands."""
    return next((one for one in regions if str(one.id) == wanted), None)


def typed_boxes(typed: Mapping[str, str], raster: Raster, changing: Region | None) -> dict[str, str]:
    """What the form shows: what was typed, else the region to be changed, else a new box."""
    start = first_boxes(raster) if changing is None else place_boxes(changing)
    if changing is not None and changing.shape is RegionShape.SPOT:
        start |= {"rows": first_boxes(raster)["rows"], "columns": first_boxes(raster)["columns"]}
    return start | {name: typed[name] for name in start if name in typed}


def meant(seen: SeenRaster) -> str:
    """The region that bears the point's name or phase; a figure of another part is never proposed."""
    words = {seen.place.name.casefold(), *seen.place.name.casefold().split()}
    return next((str(one.id) for one in seen.regions if one.name.casefold() in words), "")


def regions_to_take(seen: SeenRaster) -> list[tuple[str, str]]:
    return [(str(one.id), f"{one.name}: {view.celsius(one.figures.hot3x3_c)}") for one in seen.regions]
