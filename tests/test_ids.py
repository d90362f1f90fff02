"""Codes on boards and pieces: minted, typed, scanned, and looked up when misread."""

from __future__ import annotations

import pytest

from salvage.errors import BadCode
from salvage.ids import (
    KINDS,
    LETTERS,
    check_character,
    kind_of,
    mint_code,
    nearest_codes,
    next_code,
    parse_code,
    running_number,
    tidy_code,
    uuid7,
)


def test_letters_stay_on_their_keys() -> None:
    """A keyboard scanner set to a French or German layout types our letters right.

    AZERTY moves A, M, Q, W and Z; QWERTZ moves Y and Z (from memory).
    """
    assert set(LETTERS).isdisjoint("AMQWYZ")


def test_letters_most_often_taken_for_digits_are_left_out() -> None:
    """I and L look like 1, O and Q like 0, S like 5, Z like 2: none of them is on a label."""
    assert set(LETTERS).isdisjoint("ILOQSZ")


def test_letters_are_single_capitals_and_hold_the_kinds() -> None:
    """Sixteen letters serve for kinds, devices and check characters alike."""
    assert len(set(LETTERS)) == len(LETTERS) == 16
    assert set(KINDS) <= set(LETTERS)


@pytest.mark.parametrize(
    "text", ["BC0002J", "bc0002j", " BC-0002-J ", "b c 0 0 0 2 j", "BC.0002.J", "BC_0002–J\n"]
)
def test_a_code_may_be_typed_loosely(text: str) -> None:
    """Spaces, hyphens and small letters do not matter."""
    assert parse_code(text) == "BC0002J"


@pytest.mark.parametrize(
    "text",
    [
        "",
        "BC0002",
        "0002J",
        "BC002J",
        "BCC002J",
        "8C0002J",
        "BC0002*",
        "AC0002J",
        "BC٠٠٠2J",
        "BC0000D",
    ],
)
def test_what_has_not_the_shape_of_a_code_is_not_ours(text: str) -> None:
    """A barcode of the supermarket is not taken for one of ours."""
    with pytest.raises(BadCode, match="not one of our codes"):
        parse_code(text)


def test_a_mistyped_code_is_refused() -> None:
    """One wrong digit breaks the last letter."""
    with pytest.raises(BadCode, match="misread or mistyped"):
        parse_code("BC0003J")


def test_a_code_of_the_wrong_kind_is_refused_in_words() -> None:
    """Who scans a piece where a board is wanted is told so."""
    piece, _ = next_code("P", "C", 0)

    with pytest.raises(BadCode, match="is a piece, not a board or cut"):
        parse_code(piece, kind="BK", field="board")
    assert parse_code(piece, kind="BP") == piece


def test_numbers_with_an_awkward_check_character_are_skipped() -> None:
    """Number 1 of board device C ends in a letter we do not print, so number 2 is the first."""
    assert mint_code("B", "C", 1) is None
    assert next_code("B", "C", 0) == ("BC0002J", 2)


def test_about_43_in_100_numbers_are_used() -> None:
    """Sixteen of 37 check characters are printable for us."""
    used = sum(mint_code("B", "C", number) is not None for number in range(1, 10_001))

    assert used / 10_000 == pytest.approx(16 / 37, abs=0.02)


def test_long_running_numbers_have_no_leading_zero() -> None:
    """Number 12 has one spelling only, even where the check character of another would fit."""
    spellings = [f"B{device}00012" for device in LETTERS]
    fits = [body + check_character(body) for body in spellings if check_character(body) in LETTERS]

    assert fits
    for text in fits:
        with pytest.raises(BadCode):
            parse_code(text)


def test_a_code_tells_its_kind_and_number() -> None:
    """A screen shows what a code stands for."""
    assert kind_of("PC0001D") == "piece"
    assert running_number("BC12345K") == 12345
    assert tidy_code(" bc-0002 j ") == "BC0002J"


def test_a_misread_code_is_answered_with_the_nearest() -> None:
    """One swap, one wrong character or one missing counts as one edit; the best comes first."""
    known = ["BC0020J", "BC0002J", "PC7777X", "BC0002JX"]

    assert nearest_codes("bc-0200-j", known) == ["BC0020J", "BC0002J"]
    assert nearest_codes("BC0002J", known) == ["BC0002J", "BC0002JX", "BC0020J"]
    assert nearest_codes("BC002J", known)[:2] == ["BC0002J", "BC0020J"]


def test_far_codes_are_not_offered() -> None:
    """What differs in three places or more is no help."""
    assert nearest_codes("BC9999K", ["BC0002J", "PC0001D"]) == []


def test_no_more_codes_are_offered_than_asked_for() -> None:
    """Three suggestions are read; thirty are not."""
    known = [f"BC000{digit}J" for digit in range(10)]

    assert nearest_codes("BC0002J", known, most=3) == ["BC0002J", "BC0000J", "BC0001J"]


def test_an_id_is_that_of_the_published_example() -> None:
    """RFC 9562, appendix A.6: version 7 of Tuesday, 22 February 2022, 2:22:22 in the afternoon."""
    random = bytes.fromhex("0cc318c4dc0c0c07398f")

    assert uuid7(0x017F22E279B0, random) == "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"
    assert uuid7(0x017F22E279B0, random + b"more") == uuid7(0x017F22E279B0, random)
    assert uuid7(2**48, bytes(10)) == uuid7(0, bytes(10)) == "00000000-0000-7000-8000-000000000000"
    assert uuid7(2**48 - 1, b"\xff" * 10) == "ffffffff-ffff-7fff-bfff-ffffffffffff"


def test_every_kind_has_its_word() -> None:
    """Letters are on labels for ever, so none changes its meaning."""
    words = (
        "B board, P piece, D drop-off, G donor, K cut, R reservation, C consignment, H recall,"
        " T stock-take, F place, X action, J plan, V batch, E waste container, N order, U outing"
    )

    assert ", ".join(f"{letter} {kind_of(letter)}" for letter in KINDS) == words
    for letter in KINDS:
        code, number = next_code(letter, "C", 0)

        assert parse_code(code) == code
        assert (kind_of(code), running_number(code)) == (KINDS[letter], number)
