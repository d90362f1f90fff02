"""
Which module of a symbol means what, for the few symbols that we print.

QR versions 1 and 2 (ISO/IEC 18004) and square Data Matrix symbols of 12 to 16 modules (ISO/IEC
16022): the modules that are the same in every symbol, and the order of the bits in the others. The
rules are from memory of the standards; the tests hold them against symbols of two other programs.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from salvage.codes.ecc import DATA_MATRIX_FIELD, QR_FIELD, Field

Cell = tuple[int, int]
"""Row and column."""


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """
    The plan of one kind of symbol.

    Args:
        kind: ``QR`` or ``Data Matrix``.
        side: Modules along a side.
        quiet: Modules of quiet zone that are sure to be light.
        fixed: Modules that are the same in every symbol; true is dark.
        bits: Modules in the order of the bits of the codewords, first bit first.
        field: For mending.
    """

    kind: str
    side: int
    quiet: int
    fixed: dict[Cell, bool]
    bits: tuple[Cell, ...]
    field: Field

    @property
    def codewords(self) -> int:
        """Codewords, of data and checks together."""
        return len(self.bits) // 8


# Check codewords of the symbols with one block: ISO/IEC 18004 table 9; ISO/IEC 16022 table 7.
QR_CHECKS = {21: {"L": 7, "M": 10, "Q": 13, "H": 17}, 25: {"L": 10, "M": 16, "Q": 22, "H": 28}}
DATA_MATRIX_CHECKS = {12: 7, 14: 10, 16: 12}

_LEVEL_BITS = {"L": 1, "M": 0, "Q": 3, "H": 2}  # ISO/IEC 18004, table 12

MASKS: tuple[Callable[[int, int], bool], ...] = (
    lambda i, j: (i + j) % 2 == 0,
    lambda i, j: i % 2 == 0,
    lambda i, j: j % 3 == 0,
    lambda i, j: (i + j) % 3 == 0,
    lambda i, j: (i // 2 + j // 3) % 2 == 0,
    lambda i, j: i * j % 2 + i * j % 3 == 0,
    lambda i, j: (i * j % 2 + i * j % 3) % 2 == 0,
    lambda i, j: ((i + j) % 2 + i * j % 3) % 2 == 0,
)
"""Where each mask of a QR code turns dark and light around (ISO/IEC 18004, table 10)."""


@cache
def qr_layout(side: int) -> Layout:
    """The plan of a QR code of 21 or 25 modules; format modules are neither fixed nor bits."""
    fixed: dict[Cell, bool] = {}
    for top, left in ((0, 0), (0, side - 7), (side - 7, 0)):
        for row in range(-1, 8):
            for column in range(-1, 8):
                if 0 <= top + row < side and 0 <= left + column < side:
                    ring = max(abs(row - 3), abs(column - 3))
                    fixed[top + row, left + column] = ring in (0, 1, 3)
    for place in range(8, side - 8):
        fixed[6, place] = fixed[place, 6] = place % 2 == 0
    if side == 25:
        for row in range(16, 21):
            for column in range(16, 21):
                fixed[row, column] = max(abs(row - 18), abs(column - 18)) != 1
    fixed[side - 8, 8] = True
    taken = set(fixed) | {cell for word in format_cells(side) for cell in word}
    order = []
    for turn, right in enumerate(range(side - 1, 0, -2)):
        pair = right - 1 if right <= 6 else right
        rows = range(side) if turn % 2 else range(side - 1, -1, -1)
        order += [(row, column) for row in rows for column in (pair, pair - 1)]
    bits = [cell for cell in order if cell not in taken]
    return Layout("QR", side, 4, fixed, tuple(bits[: len(bits) // 8 * 8]), QR_FIELD)


def format_cells(side: int) -> tuple[tuple[Cell, ...], tuple[Cell, ...]]:
    """The modules of the two copies of the 15 format bits, first bit first."""
    near = [(8, place) for place in (0, 1, 2, 3, 4, 5, 7, 8)]
    near += [(place, 8) for place in (7, 5, 4, 3, 2, 1, 0)]
    far = [(side - 1 - place, 8) for place in range(7)]
    far += [(8, side - 8 + place) for place in range(8)]
    return tuple(near), tuple(far)


@cache
def format_words() -> dict[tuple[str, int], tuple[bool, ...]]:
    """The 15 format bits of each level and mask (ISO/IEC 18004, 7.9: BCH 15,5, then a mask)."""
    words = {}
    for level, number in _LEVEL_BITS.items():
        for mask in range(8):
            data = number << 3 | mask
            rest = data << 10
            for place in range(14, 9, -1):
                if rest >> place & 1:
                    rest ^= 0x537 << place - 10
            word = (data << 10 | rest) ^ 0x5412
            words[level, mask] = tuple(bool(word >> place & 1) for place in range(14, -1, -1))
    return words


@cache
def data_matrix_layout(side: int) -> Layout:
    """The plan of a square Data Matrix symbol of one region, 12 to 16 modules along a side."""
    last = side - 1
    fixed: dict[Cell, bool] = {}
    for place in range(side):
        fixed[0, place] = place % 2 == 0
        fixed[place, last] = (last - place) % 2 == 0
    for place in range(side):
        fixed[place, 0] = fixed[last, place] = True
    inner = side - 2
    spots, rest = _place_bits(inner)
    bits = tuple((row + 1, column + 1) for row, column in spots)
    for row, column, dark in rest:
        fixed[row + 1, column + 1] = dark
    return Layout("Data Matrix", side, 1, fixed, bits, DATA_MATRIX_FIELD)


def _place_bits(size: int) -> tuple[list[Cell], list[tuple[int, int, bool]]]:
    """ISO/IEC 16022, annex F: the diagonal walk that lays codewords of eight modules."""
    taken: set[Cell] = set()
    spots: list[Cell] = []

    def lay(cells: list[Cell]) -> None:
        for row, column in cells:
            cell = _wrapped(row, column, size)
            taken.add(cell)
            spots.append(cell)

    row, column = 4, 0
    while row < size or column < size:
        if (row, column) == (size, 0):
            lay(_corner_one(size))
        if (row, column) == (size - 2, 0) and size % 4:
            lay(_corner_two(size))
        while True:  # up and to the right
            if row < size and column >= 0 and (row, column) not in taken:
                lay(_foot(row, column))
            row, column = row - 2, column + 2
            if row < 0 or column >= size:
                break
        row, column = row + 1, column + 3
        while True:  # down and to the left
            if row >= 0 and column < size and (row, column) not in taken:
                lay(_foot(row, column))
            row, column = row + 2, column - 2
            if row >= size or column < 0:
                break
        row, column = row + 3, column + 1
    end = size - 1
    if (end, end) in taken:
        return spots, []
    corner = [(end, end, True), (end - 1, end - 1, True)]
    return spots, [*corner, (end, end - 1, False), (end - 1, end, False)]


def _wrapped(row: int, column: int, size: int) -> Cell:
    shift = 4 - (size + 4) % 8
    if row < 0:
        row, column = row + size, column + shift
    if column < 0:
        row, column = row + shift, column + size
    return row, column


def _foot(row: int, column: int) -> list[Cell]:
    """The usual shape of a codeword, its last module at *row* and *column*."""
    shape = ((-2, -2), (-2, -1), (-1, -2), (-1, -1), (-1, 0), (0, -2), (0, -1), (0, 0))
    return [(row + down, column + across) for down, across in shape]


def _corner_one(size: int) -> list[Cell]:
    end = size - 1
    low = [(end, 0), (end, 1), (end, 2)]
    return [*low, (0, end - 1), (0, end), (1, end), (2, end), (3, end)]


def _corner_two(size: int) -> list[Cell]:
    end = size - 1
    left = [(end - 2, 0), (end - 1, 0), (end, 0)]
    return [*left, (0, end - 3), (0, end - 2), (0, end - 1), (0, end), (1, end)]
