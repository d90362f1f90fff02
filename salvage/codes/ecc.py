"""
Reed-Solomon codes over 256 values: wrong codewords put right, and doubtful ones worked out.

ISO/IEC 18004 (QR) and ISO/IEC 16022 (Data Matrix) both protect their codewords so. A reader that
knows which codewords are doubtful can mend twice as many of them as one that does not, and that is
why this is here beside the readers: none of them takes a hint.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from functools import cache


@dataclass(frozen=True, slots=True)
class Field:
    """
    One of the two fields in use.

    Args:
        polynomial: That makes the field; 0x11D in QR codes, 0x12D in Data Matrix.
        first_root: Power of the generator's first root; 0 in QR codes, 1 in Data Matrix.
    """

    polynomial: int
    first_root: int


QR_FIELD = Field(0x11D, 0)
DATA_MATRIX_FIELD = Field(0x12D, 1)


@cache
def _tables(polynomial: int) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Powers of two, twice around, and logarithms."""
    powers, logs, value = [0] * 510, [0] * 256, 1
    for power in range(255):
        powers[power] = powers[power + 255] = value
        logs[value] = power
        value <<= 1
        if value & 0x100:
            value ^= polynomial
    return tuple(powers), tuple(logs)


class _Arithmetic:
    """Products and values of polynomials over one field, lowest power first."""

    def __init__(self, field: Field) -> None:
        self.powers, self.logs = _tables(field.polynomial)

    def times(self, one: int, other: int) -> int:
        return self.powers[self.logs[one] + self.logs[other]] if one and other else 0

    def product(self, one: Sequence[int], other: Sequence[int], most: int) -> list[int]:
        result = [0] * min(most, len(one) + len(other) - 1)
        for i, a in enumerate(one):
            for j, b in enumerate(other[: len(result) - i]):
                result[i + j] ^= self.times(a, b)
        return result

    def value_at(self, polynomial: Sequence[int], x: int) -> int:
        total = 0
        for factor in reversed(polynomial):
            total = self.times(total, x) ^ factor
        return total


def mend(
    codewords: Sequence[int], checks: int, field: Field, doubtful: Collection[int] = ()
) -> list[int] | None:
    """
    The codewords put right, or None where more is wrong than can be mended.

    Args:
        codewords: Data and check codewords, in order.
        checks: How many of them are check codewords.
        field: Of the symbology.
        doubtful: Places whose values are not to be trusted, counted from 0.
    """
    if len(doubtful) > checks:
        return None
    sums = _Arithmetic(field)
    syndromes = _syndromes(sums, codewords, checks, field)
    if not any(syndromes):
        return list(codewords)
    erased = [1]
    for place in doubtful:
        erased = sums.product(erased, [1, sums.powers[len(codewords) - 1 - place]], checks + 1)
    known = sums.product(erased, syndromes, checks)
    errors = _shortest_register(known[len(doubtful) :], sums.times, sums.powers, sums.logs)
    if 2 * (len(errors) - 1) + len(doubtful) > checks:
        return None
    locator = sums.product(errors, erased, checks + 1)
    mended = _corrected(sums, codewords, syndromes, locator, field)
    if mended is None or any(_syndromes(sums, mended, checks, field)):
        return None
    return mended


def _syndromes(sums: _Arithmetic, codewords: Sequence[int], checks: int, field: Field) -> list[int]:
    """All 0 where nothing is wrong."""
    lowest_first = codewords[::-1]
    return [
        sums.value_at(lowest_first, sums.powers[field.first_root + place])
        for place in range(checks)
    ]


def _corrected(
    sums: _Arithmetic,
    codewords: Sequence[int],
    syndromes: Sequence[int],
    locator: Sequence[int],
    field: Field,
) -> list[int] | None:
    """Codewords with what the locator finds put right (Forney's formula)."""
    powers, logs = sums.powers, sums.logs
    last = len(codewords) - 1
    places = [
        place
        for place in range(last + 1)
        if sums.value_at(locator, powers[(255 - (last - place)) % 255]) == 0
    ]
    if len(places) != len(locator) - 1:
        return None
    evaluator = sums.product(syndromes, locator, len(syndromes))
    slope = [factor if power % 2 else 0 for power, factor in enumerate(locator)][1:]
    mended = list(codewords)
    for place in places:
        log = last - place
        inverse = powers[(255 - log) % 255]
        under = sums.value_at(slope, inverse)
        if under == 0:
            return None
        shift = powers[log * (1 - field.first_root) % 255]
        over = sums.times(sums.value_at(evaluator, inverse), shift)
        mended[place] ^= powers[(logs[over] - logs[under]) % 255] if over else 0
    return mended


def _shortest_register(
    sequence: Sequence[int],
    multiply: Callable[[int, int], int],
    powers: Sequence[int],
    logs: Sequence[int],
) -> list[int]:
    """Berlekamp and Massey's shortest linear recurrence, lowest power first."""
    current, previous = [1], [1]
    length, gap, last = 0, 1, 1
    for at, value in enumerate(sequence):
        miss = value
        for back in range(1, length + 1):
            if back < len(current):
                miss ^= multiply(current[back], sequence[at - back])
        if miss == 0:
            gap += 1
            continue
        factor = powers[(logs[miss] - logs[last]) % 255]
        shifted = [0] * gap + [multiply(factor, part) for part in previous]
        size = max(len(current), len(shifted))
        joined = [
            (current[k] if k < len(current) else 0) ^ (shifted[k] if k < len(shifted) else 0)
            for k in range(size)
        ]
        if 2 * length <= at:
            previous, last, length, gap = current, miss, at + 1 - length, 1
        else:
            gap += 1
        current = joined
    while len(current) > 1 and current[-1] == 0:
        current.pop()
    return current
