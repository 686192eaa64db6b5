"""Temperature rasters from files: CSV and TIFF say the same, and what is no raster is told."""

import io
import resource
import struct
import subprocess
import sys
import zlib
from contextlib import suppress
from pathlib import Path
from random import Random

import numpy as np
import pytest
import tifffile
from PIL import Image

from service.errors import Invalid
from service.intake.rasters import read_raster
from service.physics.raster import Box, difference, statistics
from tests.intake.rasters import Grid, as_csv, as_tiff, scene

HOT, COOL = Box(100, 80, 106, 88), Box(100, 200, 106, 208)
WAYS = {
    "comma": lambda grid: as_csv(grid),
    "semicolon, decimal comma": lambda grid: as_csv(grid, ";", ","),
    "tab": lambda grid: as_csv(grid, "\t"),
    "tab, decimal comma, UTF-16": lambda grid: as_csv(grid, "\t", ",").decode().encode("utf-16"),
    "said by sep=": lambda grid: b"sep=;\r\n" + as_csv(grid, ";"),
    "a separator at each end": lambda grid: as_csv(grid).replace(b"\r\n", b",\r\n"),
    "TIFF of 32 bits": lambda grid: as_tiff(grid.astype("f4")),
    "TIFF of 64 bits": lambda grid: as_tiff(grid),
    "TIFF, high byte first": lambda grid: as_tiff(grid.astype(">f4"), byteorder=">"),
    "TIFF in strips, deflated": lambda grid: as_tiff(
        grid.astype("f4"), rowsperstrip=7, compression="zlib", predictor=False
    ),
    "TIFF in tiles, deflated": lambda grid: as_tiff(
        grid.astype("f4"), tile=(64, 96), compression="zlib", predictor=False
    ),
    "large TIFF": lambda grid: as_tiff(grid.astype("f4"), bigtiff=True),
}


def problems_of(content: bytes) -> list[tuple[str, str, str, str]]:
    with pytest.raises(Invalid) as refused:
        read_raster(content)
    assert all(p.message and p.remedy for p in refused.value.problems)
    return [(p.where, p.field, p.found, p.message) for p in refused.value.problems]


def message_of(content: bytes) -> str:
    (problem,) = problems_of(content)
    return problem[3]


# ---- what is read -------------------------------------------------------------------------


@pytest.mark.parametrize("way", WAYS)
def test_every_way_of_writing_it_gives_the_same_figures(way: str) -> None:
    """Worked by hand: parts truly at 60 and 45 °C, 15 K apart, under noise of 0.1 K."""
    grid = read_raster(WAYS[way](scene())).grid_c
    assert grid.shape == (240, 320)
    assert np.abs(grid - scene()).max() < 1e-3
    truth = statistics(scene(), HOT)
    found = statistics(grid, HOT)
    assert (found.hottest_at, found.coldest_at) == (truth.hottest_at, truth.coldest_at)
    figures = [found.hottest_c, found.hot3x3_c, found.p99_c, found.mean_c, found.sd_k]
    assert figures == pytest.approx(
        [truth.hottest_c, truth.hot3x3_c, truth.p99_c, truth.mean_c, truth.sd_k], abs=1e-3
    )
    assert difference(found, statistics(grid, COOL)).hot3x3_k == pytest.approx(15.0, abs=0.2)
    assert found.hottest_c > found.hot3x3_c, "noise drives the single hottest pixel up"


def test_sixteen_numbers_give_the_figures_worked_by_hand() -> None:
    """Worked by hand: 1 to 16; 15.85 is the linear quantile, 4.760952 divides by n − 1."""
    found = statistics(read_raster(as_csv(np.arange(1.0, 17.0).reshape(4, 4), digits=0)).grid_c)
    assert (found.hottest_c, found.mean_c, found.hot3x3_c, found.hottest_at) == (16, 8.5, 13.5, (3, 3))
    assert (found.p99_c, found.sd_k) == pytest.approx((15.85, 4.760952), abs=1e-6)


@pytest.mark.parametrize(
    "how",
    [
        {},
        {"compression": "zlib", "predictor": False},
        {"tile": (16, 32)},
        {"rowsperstrip": 1},
        {"bigtiff": True},
    ],
)
@pytest.mark.parametrize("kind", ["<f2", "<f4", "<f8", ">f4", ">f8"])
def test_a_tiff_reads_as_the_reference_library_reads_it(kind: str, how: dict[str, object]) -> None:
    """Reference library: tifffile's own way from file to array."""
    content = as_tiff(scene()[:50, :70].astype(kind), byteorder=kind[0], **how)
    assert np.array_equal(read_raster(content).grid_c, tifffile.imread(io.BytesIO(content)).astype("f4"))


@pytest.mark.parametrize("compression", [None, "tiff_adobe_deflate"])
def test_a_tiff_of_another_program_is_read(compression: str | None) -> None:
    """Reference library: Pillow writes 32-bit floats."""
    out, grid = io.BytesIO(), scene().astype("f4")
    Image.fromarray(grid).save(out, format="TIFF", compression=compression)
    assert np.array_equal(read_raster(out.getvalue()).grid_c, grid)


def test_pixels_without_a_value_are_none() -> None:
    csv_grid = read_raster(b"20.5,,nan,21\n22,23,NaN,24\n25,26,27, \n28,29,30,31").grid_c
    assert np.argwhere(np.isnan(csv_grid)).tolist() == [[0, 1], [0, 2], [1, 2], [2, 3]]
    marked = np.where(np.arange(30) % 7 == 0, -9999.0, 25.0).reshape(5, 6).astype("f4")
    content = as_tiff(marked, extratags=[(42113, "s", 0, "-9999", True)])
    assert np.isnan(read_raster(content).grid_c).sum() == 5


def test_a_true_minus_sign_is_a_minus_sign() -> None:
    grid = read_raster("−12,5;−3,0;1,0\n".encode() * 3).grid_c
    assert grid[0].tolist() == [-12.5, -3.0, 1.0]


# ---- what is refused: CSV -----------------------------------------------------------------


def test_text_and_ragged_rows_are_named_with_row_and_column() -> None:
    assert problems_of(b"20,21,22\n20,x1,22\n20,21\n20,21,22,23\n20,,nan") == [
        ("row 2", "column 2", "x1", "This cell is not a number."),
        ("row 3", "column 3", "2 cells; the first row has 3", "A row of another length."),
        ("row 4", "column 4", "4 cells; the first row has 3", "A row of another length."),
    ]


@pytest.mark.parametrize(
    "cell", ["25 °C", "1_000", "inf", "0x1A", "١٢", "=1+1", "N/A", "--1", "1e9999", "9" * 41]
)
def test_a_cell_that_is_no_plain_number_is_refused(cell: str) -> None:
    place = problems_of(f"20;21;22\n20;{cell};22\n20;21;22\n".encode())[0]
    assert place[:2] == ("row 2", "column 2")


def test_decimal_commas_between_commas_are_found_out() -> None:
    quoted = as_csv(scene()[:3, :3], ";", ",").decode().replace(";", '","').replace("\r\n", '"\r\n"')
    assert "comma parts the cells" in problems_of(f'"{quoted}'[:-1].encode())[0][3]
    for digits in (1, 2, 3):
        assert "decimal commas" in message_of(as_csv(scene()[:40], ",", ",", digits)), digits


def test_whole_numbers_between_commas_are_read() -> None:
    assert read_raster(as_csv(np.round(scene()[:9, :8]), digits=0)).grid_c.shape == (9, 8)


def test_two_decimal_signs_in_one_file_are_refused() -> None:
    problem = problems_of(b"20,5;21,5\n20;21\n20.5;21\n" * 3)[0]
    assert (problem[0], problem[3]) == ("row 3", "Two decimal signs in one file.")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"\n\n", "empty"),
        (b"20,21\n\n22,23", "empty row"),
        (b"\xff\xd8\xff\xe0 picture", "neither a CSV"),
        (b"\x89PNG\r\n\x1a\n", "neither a CSV"),
        (b"PK\x03\x04 book", "neither a CSV"),
        (b"20,21\x00\n", "neither a CSV"),
        ("Température\n".encode("cp1252"), "encoding"),
        (b",,\n,,\n,,\n", "No pixel"),
        (b"20,21\n22,23\n24,25\n26,27\n", "Fewer than 9"),
        (b"20,21,22\n" * 16_385, "16384 rows"),
        (b"1," * 16_385 + b"1\n", "16384 rows or columns"),
        (b"1.5,2.5\n" + b"9" * 10_000_000, "another length"),
    ],
)
def test_what_is_no_grid_is_told(content: bytes, said: str) -> None:
    assert said in problems_of(content)[0][3]


def test_values_that_are_no_temperatures_are_told_once_with_place_and_count() -> None:
    grid = scene()[:20, :20].copy()
    grid[3, 4] = grid[5, 6] = 2000.5
    problem = problems_of(as_csv(grid))
    assert problem == [
        ("row 4", "column 5", "2000.5; 2 of 400 pixels in all", "Values outside -90 to 2000 °C.")
    ]
    assert "Values outside" in message_of(as_tiff(np.full((9, 9), np.inf, "f4")))
    assert "Values outside" in message_of(as_tiff(np.full((9, 9), 1e300)))


# ---- what is refused: TIFF ----------------------------------------------------------------

SMALL = scene()[:20, :30].astype("f4")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (as_tiff((SMALL * 100).astype("u2")), "not floats"),
        (as_tiff(SMALL.astype("i4")), "not floats"),
        (as_tiff(np.zeros((20, 20, 3), "u1"), photometric="rgb"), "colour"),
        (as_tiff(np.zeros((20, 20, 3), "f4"), photometric="rgb"), "colour"),
        (as_tiff(np.zeros((2, 20, 20), "f4"), planarconfig="separate", metadata=None), "several bands"),
        (as_tiff(np.stack([SMALL, SMALL])), "more than one page"),
        (as_tiff(np.stack([SMALL] * 3), imagej=True), "more than one page"),
        (as_tiff(np.zeros((2001, 2000), "f4")), "4 million pixels"),
        (as_tiff(np.zeros((1, 20_000), "f4")), "16384"),
        (as_tiff(np.full((20, 20), np.nan, "f4")), "No pixel"),
        (as_tiff(SMALL, compression="lzma"), "Packed in a way"),
        (as_tiff(SMALL, extratags=[(274, "H", 1, 3, True)]), "upright"),
        (as_tiff(SMALL)[:1000], "damaged"),
        (b"II*\x00" + b"\xff" * 60, "damaged"),
        (b"II*\x00\x08\x00\x00\x00", "damaged"),
    ],
)
def test_a_tiff_that_is_no_raster_is_told(content: bytes, said: str) -> None:
    assert said in problems_of(content)[0][3]


def test_a_file_over_forty_mebibytes_is_not_looked_at() -> None:
    assert "larger than 40 MiB" in message_of(b"II*\x00" + bytes(40 * 1024 * 1024))


def with_piece(content: bytes, piece: bytes) -> bytes:
    """A TIFF of one strip, its strip exchanged for another piece of bytes put at the end."""
    with tifffile.TiffFile(io.BytesIO(content)) as file:
        tags = file.pages.first.tags
        places = {name: tags[name].valueoffset for name in ("StripOffsets", "StripByteCounts")}
    changed = bytearray(content) + piece
    struct.pack_into("<I", changed, places["StripOffsets"], len(content))
    struct.pack_into("<I", changed, places["StripByteCounts"], len(piece))
    return bytes(changed)


def test_a_bomb_is_counted_while_it_is_unpacked() -> None:
    """A thousand to one: 300 MiB of zeros in a strip of 2,400 bytes."""
    sound = as_tiff(SMALL, compression="zlib", predictor=False, bigtiff=False)
    assert np.array_equal(read_raster(with_piece(sound, zlib.compress(SMALL.tobytes()))).grid_c, SMALL)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    bomb = with_piece(sound, zlib.compress(bytes(300 * 1024 * 1024)))
    packed = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    assert "more than its size says" in message_of(bomb)
    assert (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - max(before, packed)) < 32 * 1024
    short = with_piece(sound, zlib.compress(SMALL.tobytes()[:-4]))
    assert "damaged" in message_of(short)


def test_swollen_tags_are_refused_before_numbers_are_made_of_them() -> None:
    """A list of ten million strips in a file of 40 MiB would take ten times its room."""
    count = 10_000_000
    entries = [(256, 4, 1, 20), (257, 4, 1, 20), (273, 4, count, 100), (279, 4, count, 100), (339, 3, 1, 3)]
    table = struct.pack("<H", len(entries)) + b"".join(struct.pack("<HHII", *entry) for entry in entries)
    content = b"II*\x00" + struct.pack("<I", 8) + table + bytes(4 * count)
    assert "tag 273 with 10000000 values" in problems_of(content[: 40 * 1024 * 1024])[0][2]


@pytest.mark.parametrize(
    "sound", [as_tiff(SMALL), as_tiff(SMALL, compression="zlib"), as_csv(SMALL, ";", ",")]
)
def test_damaged_files_are_read_or_refused(sound: bytes) -> None:
    draw = Random(20261125)
    read = 0
    for _ in range(400):
        damaged = bytearray(sound)
        for _ in range(draw.choice((1, 2, 8))):
            damaged[draw.randrange(min(len(damaged), 400))] = draw.randrange(256)
        if draw.random() < 0.3:
            del damaged[draw.randrange(len(damaged)) :]
        with suppress(Invalid):
            grid: Grid = read_raster(bytes(damaged)).grid_c
            read += 1
            assert grid.shape[0] * grid.shape[1] >= 9
    assert 0 < read < 400


# ---- in bounds ----------------------------------------------------------------------------

PROGRAM = """
import resource, sys
from service.errors import Invalid
from service.intake.rasters import read_raster
content = open(sys.argv[1], "rb").read()
before = resource.getrusage(resource.RUSAGE_SELF)
try:
    read_raster(content)
except Invalid:
    pass
after = resource.getrusage(resource.RUSAGE_SELF)
busy = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
print((after.ru_maxrss - before.ru_maxrss) * 1024, busy)
"""
MIB = 1024 * 1024
HEAVY = {
    "four million pixels as CSV": lambda: (b",".join([b"25.4375"] * 2000) + b"\n") * 2000,
    "four million pixels as TIFF": lambda: as_tiff(np.full((2000, 2000), 25.0), compression="zlib"),
    "one cell as long as a file may be": lambda: b"9" * (40 * MIB),
    "one row as long as a file may be": lambda: b"1," * (20 * MIB),
    "as many rows as go in": lambda: b"1\n" * (20 * MIB),
    "quotes": lambda: b'"1",' * (10 * MIB),
    "words": lambda: (b"words;" * 1000 + b"\n") * 6000,
}


@pytest.mark.parametrize("name", HEAVY)
def test_a_heavy_raster_is_answered_soon_and_in_little_memory(name: str, tmp_path: Path) -> None:
    path = tmp_path / "file"
    path.write_bytes(HEAVY[name]())
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(path)], capture_output=True, check=True, timeout=120
    )
    growth, seconds = (float(word) for word in done.stdout.split())
    assert growth <= 256 * MIB
    assert seconds <= 10
