"""Codes as they are typed or scanned."""

from __future__ import annotations

from pathlib import Path

import pytest

from salvage.errors import BadCode
from salvage.work.reading import read_code
from tests.bench import add_board, make_shop


def test_a_code_is_read_however_it_is_typed(tmp_path: Path) -> None:
    """Small letters, hyphens, a scanner's prefix and a card's address mean the same board."""
    with make_shop(tmp_path) as shop:
        code = add_board(shop).code
        typed = (
            code.lower(),
            f" {code[:3]}-{code[3:]} ",
            f"]C1{code}",
            f"HTTPS://X.EXAMPLE/{code}",
        )
        found = {read_code(shop, text=text, kinds="B") for text in typed}

    assert found == {code}


def test_a_slip_offers_the_nearest_of_its_kind(tmp_path: Path) -> None:
    """A wrong check letter names the board that was meant."""
    with make_shop(tmp_path) as shop:
        code = add_board(shop).code
        with pytest.raises(BadCode) as caught:
            read_code(shop, text=code[:-1] + "B", kinds="B", field="BOARD")

    assert caught.value.hint == f"nearest: {code}"
    assert caught.value.field == "BOARD"


def test_another_kind_is_told_without_guessing(tmp_path: Path) -> None:
    """A good code of a piece, where a board is wanted, is no misreading of a board's."""
    with make_shop(tmp_path) as shop:
        add_board(shop)
        with pytest.raises(BadCode, match="is a piece, not a board") as caught:
            read_code(shop, text="PT0021G", kinds="B")

    assert caught.value.hint == ""


def test_what_is_far_from_any_code_gets_none_offered(tmp_path: Path) -> None:
    """Nonsense is told as such."""
    with make_shop(tmp_path) as shop, pytest.raises(BadCode) as caught:
        read_code(shop, text="serial port")

    assert "a code looks like" in caught.value.hint
