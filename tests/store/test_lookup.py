"""Finding things by their code."""

from __future__ import annotations

import pytest

from salvage.errors import NotFound
from salvage.ids import Code, next_code, running_number
from salvage.store.lookup import (
    complete_code,
    exists,
    load_board,
    load_consignment,
    load_donor,
    load_drop_off,
    load_piece,
    load_recall,
    load_reservation,
    read_private,
    suggest,
)
from salvage.work.workshop import Workshop
from tests.bench import add_board, add_drop_off


def test_an_unknown_code_offers_the_nearest(empty_shop: Workshop) -> None:
    """A code that was never given is refused with those that look like it."""
    board = add_board(empty_shop)
    device = empty_shop.settings.device
    other, _ = next_code("B", device, running_number(board.code))

    with pytest.raises(NotFound) as caught:
        load_board(empty_shop.conn, other)

    assert caught.value.nearest == (board.code,)


@pytest.mark.parametrize(
    ("kind", "load"),
    [
        ("P", load_piece),
        ("D", load_drop_off),
        ("G", load_donor),
        ("R", load_reservation),
        ("H", load_recall),
        ("C", load_consignment),
    ],
)
def test_every_kind_says_what_it_did_not_find(
    empty_shop: Workshop, kind: str, load: object
) -> None:
    """Each kind of thing is refused with its own word."""
    code, _ = next_code(kind, "K", 0)

    assert callable(load)
    with pytest.raises(NotFound, match=f"{code} in this workshop"):
        load(empty_shop.conn, code)


def test_codes_are_completed_from_their_beginning(empty_shop: Workshop) -> None:
    """Typing the first letters offers the codes that begin so."""
    first = add_board(empty_shop)
    second = add_board(empty_shop, drop_off=first.drop_off)

    assert complete_code(empty_shop.conn, first.code[:2], kinds="B") == [first.code, second.code]
    assert complete_code(empty_shop.conn, "X", kinds="BP") == []


def test_a_swap_of_neighbours_is_suggested(empty_shop: Workshop) -> None:
    """Two letters typed in the wrong order still lead to the board."""
    board = add_board(empty_shop)
    typed = board.code[:4] + board.code[5] + board.code[4] + board.code[6:]

    assert board.code in suggest(empty_shop.conn, typed, kinds="B")
    assert suggest(empty_shop.conn, typed, kinds="?") == []  # no kind of thing has that letter


def test_private_words_come_only_from_their_own_table(empty_shop: Workshop) -> None:
    """The name behind a seal is read where it is kept apart, or not at all."""
    drop_off = load_drop_off(empty_shop.conn, add_drop_off(empty_shop))
    donor = load_donor(empty_shop.conn, drop_off.donor)

    assert read_private(empty_shop.conn, donor.name_seal) == "Kelpie Point Planetarium"
    assert read_private(empty_shop.conn, "0" * 64) == ""
    assert exists(empty_shop.conn, Code(donor.code))
