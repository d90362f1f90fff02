"""
Laws of codes: what a tired hand or a dirty scanner does to a code is always noticed.

ISO/IEC 7064 MOD 37-2 has the prime modulus 37 and weights that are powers of 2, so single
substitutions, swaps of neighbours, swaps across one character and twin errors all change the sum.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.errors import BadCode
from salvage.ids import (
    KINDS,
    LETTERS,
    Code,
    check_character,
    mint_code,
    nearest_codes,
    next_code,
    parse_code,
    running_number,
    tidy_code,
)

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"

bodies = st.text(alphabet=ALPHABET, min_size=3, max_size=12)
kinds = st.sampled_from(sorted(KINDS))
devices = st.sampled_from(LETTERS)
numbers = st.integers(min_value=0, max_value=999_999)


@st.composite
def codes(draw: st.DrawFn) -> Code:
    """Any code that a device could have printed."""
    return next_code(draw(kinds), draw(devices), draw(numbers))[0]


def _is_refused(text: str) -> bool:
    try:
        parse_code(text)
    except BadCode:
        return True
    return False


@given(codes())
def test_every_printed_code_is_read(code: Code) -> None:
    """Whatever a device prints, every device reads."""
    assert parse_code(code) == code


@given(codes())
def test_every_code_has_one_spelling(code: Code) -> None:
    """A code names its kind, device and number, and these make the code again."""
    assert mint_code(code[0], code[1], running_number(code)) == code


@given(kinds, devices, numbers)
def test_running_numbers_go_up(kind: str, device: str, last: int) -> None:
    """The next code has a larger number, and no usable number between is left out."""
    _, number = next_code(kind, device, last)

    assert number > last
    assert all(mint_code(kind, device, between) is None for between in range(last + 1, number))


@given(st.text(max_size=20))
def test_tidying_twice_changes_nothing(text: str) -> None:
    """A code that was tidied is tidy."""
    assert tidy_code(tidy_code(text)) == tidy_code(text)


@given(codes(), st.data())
def test_a_wrong_character_is_noticed(code: Code, data: st.DataObject) -> None:
    """One character misread, anywhere, and the code is refused."""
    place = data.draw(st.integers(0, len(code) - 1))
    other = data.draw(st.sampled_from(ALPHABET.replace(code[place], "")))

    assert _is_refused(code[:place] + other + code[place + 1 :])


@given(codes(), st.data())
def test_swapped_neighbours_are_noticed(code: Code, data: st.DataObject) -> None:
    """Two neighbours typed in the wrong order are refused, unless they are alike."""
    place = data.draw(st.integers(0, len(code) - 2))
    swapped = code[:place] + code[place + 1] + code[place] + code[place + 2 :]

    assert _is_refused(swapped) == (swapped != code)


@given(codes(), st.data())
def test_swaps_across_one_character_are_noticed(code: Code, data: st.DataObject) -> None:
    """abc typed as cba is refused, unless the ends are alike."""
    place = data.draw(st.integers(0, len(code) - 3))
    swapped = code[:place] + code[place : place + 3][::-1] + code[place + 3 :]

    assert _is_refused(swapped) == (swapped != code)


@given(bodies, st.data())
def test_twin_errors_are_noticed(body: str, data: st.DataObject) -> None:
    """aa typed as bb changes the check character."""
    place = data.draw(st.integers(0, len(body) - 2))
    first, second = data.draw(
        st.lists(st.sampled_from(ALPHABET), min_size=2, max_size=2, unique=True)
    )
    right = body[:place] + first * 2 + body[place + 2 :]
    wrong = body[:place] + second * 2 + body[place + 2 :]

    assert check_character(right) != check_character(wrong)


@pytest.mark.parametrize("code", ["BC0002J", next_code("P", "X", 98_764)[0]])
def test_no_single_wrong_character_slips_through(code: str) -> None:
    """Tried one by one: every place, every other character."""
    missed = [
        code[:place] + other + code[place + 1 :]
        for place in range(len(code))
        for other in ALPHABET
        if other != code[place] and not _is_refused(code[:place] + other + code[place + 1 :])
    ]

    assert missed == []


@given(codes(), st.lists(codes(), max_size=10))
def test_a_code_on_the_shelf_is_the_nearest_to_itself(code: Code, others: list[Code]) -> None:
    """Searching for what is there finds it first."""
    assert nearest_codes(code, [*others, code])[0] == code


@given(codes(), st.data())
def test_a_code_with_one_mistake_is_still_offered(code: Code, data: st.DataObject) -> None:
    """A character lost, doubled or misread leaves the right code among the nearest."""
    place = data.draw(st.integers(0, len(code) - 1))
    wrong = data.draw(
        st.sampled_from(
            [
                code[:place] + code[place + 1 :],
                code[:place] + code[place] + code[place:],
                code[:place] + "9" + code[place + 1 :],
            ]
        )
    )

    assert nearest_codes(wrong, [code]) == [code]
