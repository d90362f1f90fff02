"""Plans of symbols and their mending, held against other programs and the standards' examples."""

from __future__ import annotations

import random

import pytest

from salvage.codes.draw import Symbol, draw_data_matrix, draw_qr
from salvage.codes.ecc import DATA_MATRIX_FIELD, QR_FIELD, mend
from salvage.codes.layout import (
    DATA_MATRIX_CHECKS,
    MASKS,
    QR_CHECKS,
    data_matrix_layout,
    format_cells,
    format_words,
    qr_layout,
)

# ISO/IEC 18004, annex I: the text 01234567 in version 1-M, data and then check codewords; from
# memory of the standard.
QR_EXAMPLE = bytes.fromhex("10200C566180EC11EC11EC11EC11EC11A524D4C1ED36C7872C55")
# ISO/IEC 16022, annex O: the text 123456 in a symbol of 10 modules; from memory of the standard.
DATA_MATRIX_EXAMPLE = (142, 164, 186, 114, 25, 5, 88, 102)

SYMBOLS = [
    draw_qr("BC0002J"),
    draw_qr("HTTPS://TIDEBELL.EXAMPLE/C/BC0002J"),
    draw_data_matrix("BC0002J"),
    draw_data_matrix("XB33994U"),
]


def codewords_of(symbol: Symbol) -> tuple[list[int], int]:
    """The codewords of a drawn symbol by our plan, and how many of them are checks."""
    dark = [[mark == "#" for mark in row] for row in symbol.rows]
    side = len(dark)
    if symbol.kind == "QR":
        word = tuple(dark[row][column] for row, column in format_cells(side)[0])
        ((level, mask),) = [key for key, value in format_words().items() if value == word]
        cells = qr_layout(side).bits
        bits = [dark[row][column] != MASKS[mask](row, column) for row, column in cells]
        checks = QR_CHECKS[side][level]
    else:
        bits = [dark[row][column] for row, column in data_matrix_layout(side).bits]
        checks = DATA_MATRIX_CHECKS[side]
    groups = [bits[start : start + 8] for start in range(0, len(bits), 8)]
    return [int("".join("01"[bit] for bit in group), 2) for group in groups], checks


@pytest.mark.parametrize("symbol", SYMBOLS, ids=lambda symbol: f"{symbol.kind} {symbol.text[-8:]}")
def test_our_plan_is_the_other_programs_plan(symbol: Symbol) -> None:
    """Fixed modules lie where zxing-cpp draws them, and its codewords are whole to us."""
    layout = (qr_layout if symbol.kind == "QR" else data_matrix_layout)(len(symbol.rows))
    wrong = [
        cell
        for cell, dark in layout.fixed.items()
        if (symbol.rows[cell[0]][cell[1]] == "#") != dark
    ]
    codewords, checks = codewords_of(symbol)
    spoilt = [codewords[0] ^ 0x55, *codewords[1:]]

    assert wrong == []
    assert mend(spoilt, checks, layout.field) == codewords


def test_the_standards_qr_example_is_mended() -> None:
    """Five wrong codewords of the example, or ten known to be doubtful, are worked out."""
    example = list(QR_EXAMPLE)
    five = [value ^ 0xFF if place < 5 else value for place, value in enumerate(example)]
    ten = [0 if place < 10 else value for place, value in enumerate(example)]

    assert mend(example, 10, QR_FIELD) == example
    assert mend(five, 10, QR_FIELD) == example
    assert mend(ten, 10, QR_FIELD, range(10)) == example


def test_the_standards_data_matrix_example_is_mended() -> None:
    """Two wrong codewords of five checks are put right, three are too many."""
    example = list(DATA_MATRIX_EXAMPLE)
    two = [1, 2, *example[2:]]
    three = [1, 2, 3, *example[3:]]

    assert mend(two, 5, DATA_MATRIX_FIELD) == example
    assert mend(three, 5, DATA_MATRIX_FIELD) != example


@pytest.mark.parametrize("symbol", SYMBOLS, ids=lambda symbol: f"{symbol.kind} {symbol.text[-8:]}")
def test_everything_within_the_bound_is_mended(symbol: Symbol) -> None:
    """Twice the errors and the doubtful ones together up to the checks: always the same symbol."""
    codewords, checks = codewords_of(symbol)
    field = QR_FIELD if symbol.kind == "QR" else DATA_MATRIX_FIELD
    numbers = random.Random(7)
    mended = []
    for errors in range(checks // 2 + 1):
        places = numbers.sample(range(len(codewords)), checks - errors)
        spoilt = list(codewords)
        for place in places:
            spoilt[place] = numbers.randrange(256)
        mended.append(mend(spoilt, checks, field, places[errors:]))

    assert mended == [codewords] * (checks // 2 + 1)


def test_more_doubts_than_checks_are_refused() -> None:
    """What cannot be known is not made up."""
    assert mend(list(QR_EXAMPLE), 10, QR_FIELD, range(11)) is None
