"""
Reed-Solomon codes over 256 values: wrong codewords put right, and doubtful ones worked out.

ISO/IEC 18004 (QR) and ISO/IEC 16022 (Data Matrix) both protect their codewords so. A reader that
knows which codewords are doubtful can mend twice as many of them as one that does not, and that is
why this is here beside the readers: none of them takes a hint.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
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
    powers, logs = _tables(field.polynomial)

    def times(one: int, other: int) -> int:
        return powers[logs[one] + logs[other]] if one and other else 0

    def product(one: Sequence[int], other: Sequence[int], most: int) -> list[int]:
        result = [0] * min(most, len(one) + len(other) - 1)
        for i, a in enumerate(one):
            for j, b in enumerate(other[: len(result) - i]):
                result[i + j] ^= times(a, b)
        return result

    def value_at(polynomial: Sequence[int], x: int) -> int:
        total = 0
        for factor in reversed(polynomial):
            total = times(total, x) ^ factor
        return total

    length = len(codewords)
    if len(doubtful) > checks:
        return None
    lowest_first = codewords[::-1]
    syndromes = [value_at(lowest_first, powers[field.first_root + j]) for j in range(checks)]
    if not any(syndromes):
        return list(codewords)
    erased = [1]
    for place in doubtful:
        erased = product(erased, [1, powers[length - 1 - place]], checks + 1)
    known = product(erased, syndromes, checks)
    errors = _shortest_register(known[len(doubtful) :], times, powers, logs)
    if 2 * (len(errors) - 1) + len(doubtful) > checks:
        return None
    locator = product(errors, erased, checks + 1)
    places = [
        place
        for place in range(length)
        if value_at(locator, powers[(255 - (length - 1 - place)) % 255]) == 0
    ]
    if len(places) != len(locator) - 1:
        return None
    evaluator = product(syndromes, locator, checks)
    slope = [factor if power % 2 else 0 for power, factor in enumerate(locator)][1:]
    mended = list(codewords)
    for place in places:
        log = length - 1 - place
        inverse = powers[(255 - log) % 255]
        under = value_at(slope, inverse)
        if under == 0:
            return None
        over = times(value_at(evaluator, inverse), powers[log * (1 - field.first_root) % 255])
        mended[place] ^= powers[(logs[over] - logs[under]) % 255] if over else 0
    back = mended[::-1]
    if any(value_at(back, powers[field.first_root + j]) for j in range(checks)):
        return None
    return mended


def _shortest_register(
    sequence: Sequence[int], times: object, powers: Sequence[int], logs: Sequence[int]
) -> list[int]:
    """Berlekamp and Massey's shortest linear recurrence, lowest power first."""
    multiply = times
    assert callable(multiply)  # a function over the same field
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
