"""Codes on labels against ISO/IEC 18004: its worked example, and read back by a reader written from it.

No reading library is installed, so the reader below stands in for one: it finds the format, takes
the mask away, walks the codewords, checks each block by the syndromes of its Reed-Solomon code and
reads the bytes. It shares nothing with the library that draws.
"""

from collections.abc import Iterator, Sequence

import pytest
import segno

from service.charts.label_sheet import symbol
from tests.published.evidence import BY_HAND, MEMORY, evidence

STANDARD = "ISO/IEC 18004"
Matrix = Sequence[Sequence[bool]]
#: by version, for correction M: codewords for correction of a block, data codewords of each block
BLOCKS_M = {
    1: (10, (16,)),
    2: (16, (28,)),
    3: (26, (44,)),
    4: (18, (32, 32)),
    5: (24, (43, 43)),
    6: (16, (27, 27, 27, 27)),
}
MASKS = (
    lambda i, j: (i + j) % 2 == 0,
    lambda i, j: i % 2 == 0,
    lambda i, j: j % 3 == 0,
    lambda i, j: (i + j) % 3 == 0,
    lambda i, j: (i // 2 + j // 3) % 2 == 0,
    lambda i, j: i * j % 2 + i * j % 3 == 0,
    lambda i, j: (i * j % 2 + i * j % 3) % 2 == 0,
    lambda i, j: ((i + j) % 2 + i * j % 3) % 2 == 0,
)
FORMAT_MASK = 0b101010000010010


def format_of(modules: Matrix) -> tuple[int, int]:
    """Level and mask from the fifteen modules beside the upper left finder; their BCH code must hold."""
    places = [(8, j) for j in (0, 1, 2, 3, 4, 5, 7, 8)] + [(i, 8) for i in (7, 5, 4, 3, 2, 1, 0)]
    bits = sum(modules[i][j] << (14 - k) for k, (i, j) in enumerate(places)) ^ FORMAT_MASK
    rest = bits
    for shift in range(14, 9, -1):
        if rest >> shift & 1:
            rest ^= 0b10100110111 << (shift - 10)
    assert rest == 0, "the format is damaged"
    return bits >> 13, bits >> 10 & 7


def is_function(i: int, j: int, size: int) -> bool:
    """Finders with their format, timing, and the one alignment pattern of versions 2 to 6."""
    corners = (i < 9 and j < 9) or (i < 9 and j >= size - 8) or (i >= size - 8 and j < 9)
    alignment = size > 21 and size - 9 <= i <= size - 5 and size - 9 <= j <= size - 5
    return corners or i == 6 or j == 6 or alignment


def codewords(modules: Matrix) -> bytes:
    size = len(modules)
    _, mask = format_of(modules)
    bits = [modules[i][j] ^ MASKS[mask](i, j) for i, j in zigzag(size) if not is_function(i, j, size)]
    whole = len(bits) // 8 * 8
    return bytes(int("".join("01"[bit] for bit in bits[k : k + 8]), 2) for k in range(0, whole, 8))


def zigzag(size: int) -> Iterator[tuple[int, int]]:
    """Two columns at a time from the lower right, up and down; the column of the timing is left out."""
    up = True
    for right in [*range(size - 1, 6, -2), *range(5, 0, -2)]:
        for i in range(size - 1, -1, -1) if up else range(size):
            yield from ((i, right), (i, right - 1))
        up = not up


def blocks_of(stream: bytes, version: int) -> list[tuple[bytes, bytes]]:
    """(data, correction) of each block: codewords of the blocks stand one by one in turn."""
    correction, sizes = BLOCKS_M[version]
    count, data = len(sizes), sum(sizes)
    return [
        (stream[k:data:count], stream[data + k : data + correction * count : count]) for k in range(count)
    ]


def syndromes(block: bytes, correction: int) -> list[int]:
    """All zero where nothing is damaged: GF(256) over x⁸ + x⁴ + x³ + x² + 1."""
    powers = [1]
    for _ in range(254):
        powers.append((powers[-1] << 1) ^ (0x11D if powers[-1] & 0x80 else 0))
    log = {value: power for power, value in enumerate(powers)}
    found = []
    for root in range(correction):
        total = 0
        for value in block:
            total = (powers[(log[total] + root) % 255] if total else 0) ^ value
        found.append(total)
    return found


def read(modules: Matrix) -> str:
    """The text of a symbol of version 1 to 6 at correction M, in byte mode."""
    version = (len(modules) - 17) // 4
    assert format_of(modules)[0] == 0b00, "correction is not M"
    data = b""
    for part, correction in blocks_of(codewords(modules), version):
        assert not any(syndromes(part + correction, len(correction)))
        data += part
    bits = int.from_bytes(data, "big")
    length = len(data) * 8
    assert bits >> (length - 4) == 0b0100, "not in byte mode"
    count = bits >> (length - 12) & 0xFF
    return (bits >> (length - 12 - 8 * count) & ((1 << 8 * count) - 1)).to_bytes(count, "big").decode()


@evidence(STANDARD, "Annex I: 01234567 as symbol 1-M", MEMORY)
def test_the_worked_example_of_the_standard_has_its_codewords() -> None:
    made = segno.make("01234567", version=1, error="m", mode="numeric", boost_error=False)
    ((data, correction),) = blocks_of(codewords([[bool(m) for m in row] for row in made.matrix]), 1)
    assert data.hex(" ").upper() == "10 20 0C 56 61 80 EC 11 EC 11 EC 11 EC 11 EC 11"
    assert correction.hex(" ").upper() == "A5 24 D4 C1 ED 36 C7 87 2C 55"


@evidence(STANDARD, "read back by a reader written from its clauses 7 and 8", BY_HAND)
@pytest.mark.parametrize(
    "address",
    [
        "http://127.0.0.1:8321/at/7K2QX4AB",
        "https://plant.example/at/23456789",
        "https://a-long-name-of-a-service.some-department.plant.example/at/ACEFHJKM",
    ],
)
def test_the_code_of_a_label_reads_back_as_its_address(address: str) -> None:
    assert read(symbol(address)) == address


@evidence(STANDARD, "a damaged module is seen by the reader's syndromes", BY_HAND)
def test_twin_a_reader_that_checks_nothing_would_read_a_damaged_symbol() -> None:
    modules = [list(row) for row in symbol("https://plant.example/at/23456789")]
    size = len(modules)
    modules[size - 1][size - 1] ^= True
    with pytest.raises(AssertionError):
        read(modules)
