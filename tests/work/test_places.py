"""Places with labels, and what their codes say."""

from __future__ import annotations

import pytest

from salvage.errors import BadCode, BadValue, NotFound
from salvage.ids import KINDS, next_code
from salvage.records.place import PLACE_KIND
from salvage.store.lookup import load_board
from salvage.work.places import find_place, list_places, name_places, place_words, view_place
from salvage.work.record import move_board
from salvage.work.trace import trace
from salvage.work.workshop import Workshop
from tests.bench import add_board


def test_a_scanned_place_takes_a_board_by_its_name(empty_shop: Workshop) -> None:
    """The label of shelf A3 under the scanner puts the board onto shelf A3."""
    board = add_board(empty_shop).code
    (place,) = name_places(empty_shop, names=["  shelf   A3 "])
    moved = move_board(empty_shop, board=board, place=place.code.lower())

    assert place.code[0] == PLACE_KIND
    assert KINDS[PLACE_KIND] == "place"
    assert moved.place == "shelf A3"
    assert view_place(empty_shop.conn, place.code).boards == (board,)
    assert trace(empty_shop, place.code).subject.words == "shelf A3, boards there: 1"


def test_a_place_keeps_its_code(empty_shop: Workshop) -> None:
    """Naming a place again, in whatever case, gives the code that is on its label already."""
    first = name_places(empty_shop, names=["shelf A3"])
    again = name_places(empty_shop, names=["Shelf a3", "box 7", "BOX 7"])

    assert again[0] == first[0]
    assert again[1] == again[2]
    assert [view.place.name for view in list_places(empty_shop)] == ["box 7", "shelf A3"]
    assert find_place(empty_shop.conn, "attic") is None


def test_a_place_without_a_label_is_a_text_as_before(empty_shop: Workshop) -> None:
    """Whoever prints no labels for shelves goes on typing."""
    board = add_board(empty_shop).code
    move_board(empty_shop, board=board, place="under the  bench")

    assert load_board(empty_shop.conn, board).place == "under the bench"


def test_what_is_no_place_takes_nothing(empty_shop: Workshop) -> None:
    """A board scanned where a shelf was meant is refused, and so is a shelf nobody named."""
    board = add_board(empty_shop).code
    with pytest.raises(BadCode, match=f"{board} is a board"):
        move_board(empty_shop, board=board, place=board)
    with pytest.raises(NotFound, match="no place"):
        place_words(empty_shop.conn, next_code(PLACE_KIND, "K", 0)[0])


@pytest.mark.parametrize("name", ["", "  ", "x" * 61, "BC0002J"])
def test_a_name_that_no_label_can_bear_is_refused(empty_shop: Workshop, name: str) -> None:
    """Nothing, a story, and another thing's code are no names of places."""
    with pytest.raises(BadValue):
        name_places(empty_shop, names=["shelf A3", name])

    assert list_places(empty_shop) == ()


def test_no_name_at_all_is_refused(empty_shop: Workshop) -> None:
    """There must be something to name."""
    with pytest.raises(BadValue, match="no place"):
        name_places(empty_shop, names=[])


def test_a_dry_run_names_nothing(empty_shop: Workshop) -> None:
    """What was only tried leaves no place behind."""
    (tried,) = name_places(empty_shop, names=["shelf A3"], dry_run=True)

    assert tried.name == "shelf A3"
    assert list_places(empty_shop) == ()
