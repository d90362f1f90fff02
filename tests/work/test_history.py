"""History: what was done stays written, undone or not."""

from __future__ import annotations

import pytest

from salvage.errors import NotFound, Refused
from salvage.ids import next_code
from salvage.records.things import Board
from salvage.work.check import run_checks
from salvage.work.donors import set_naming
from salvage.work.history import LEAST_ENDING, read_history, read_journal, short_id, undo
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.bench import (
    add_drop_off,
    cut_circle,
    dump,
)
from tests.work.stock import Stock, last_operation, projection


def test_undone_things_stay_in_the_history(empty_shop: Workshop, cleared_board: Board) -> None:
    """The cut is marked as undone, and the correction tells why; the code is never given again."""
    board = cleared_board.code
    first = cut_circle(empty_shop, board, 40, 40)
    undo(empty_shop, why="wrong board")
    second = cut_circle(empty_shop, board, 40, 40)
    lines = read_history(empty_shop, first.cut.code)

    assert [(line.event.kind, line.undone) for line in lines] == [
        ("cut.made", True),
        ("correction.undone", False),
    ]
    assert lines[1].words == "undone: cut piece: wrong board"
    assert first.cut.code != second.cut.code
    assert first.piece != second.piece


def test_plain_undo_goes_back_step_by_step(empty_shop: Workshop, cleared_board: Board) -> None:
    """Undo again takes the step before, not the undoing."""
    board = cleared_board.code
    before = projection(empty_shop)
    cut_circle(empty_shop, board, 25, 40)
    cut_circle(empty_shop, board, 65, 40)
    acts = [undo(empty_shop).act, undo(empty_shop).act]
    third = undo(empty_shop).act

    assert acts == ["cut piece", "cut piece"]
    assert third == "clear board"
    assert before != projection(empty_shop)


def test_plain_undo_passes_settings_over(empty_shop: Workshop, cleared_board: Board) -> None:
    """Settings are set again, not taken back; the step before them goes, and it is said."""
    made = cut_circle(empty_shop, cleared_board.code, 40, 40)
    change_settings(empty_shop, typed={"wall-mm": "3"})
    undone = undo(empty_shop)

    assert undone.act == "cut piece"
    assert undone.passed_over == ("settings: wall_um = 3000",)
    assert made.piece is not None
    assert set(undone.codes) == {made.cut.code, made.piece.code, cleared_board.code}
    assert undone.about == (undone.codes,)


def test_where_only_settings_are_left_nothing_is_undone(empty_shop: Workshop) -> None:
    """A new workshop has its settings and nothing else."""
    change_settings(empty_shop, typed={"wall-mm": "3"})
    with pytest.raises(NotFound, match="nothing to undo; set an old value again"):
        undo(empty_shop)


def test_the_end_of_an_id_is_enough(empty_shop: Workshop) -> None:
    """Ids of one morning begin alike; their ends differ. A letter or two is too little."""
    code = add_drop_off(empty_shop)
    operation = last_operation(empty_shop)
    with pytest.raises(NotFound, match="names 0 operations"):
        undo(empty_shop, operation=operation[-(LEAST_ENDING - 1) :])
    undone = undo(empty_shop, operation=short_id(operation).upper())

    assert (undone.operation, undone.act) == (operation, "log drop-off")
    assert code in undone.codes


def test_later_steps_are_told_last_first(empty_shop: Workshop, cleared_board: Board) -> None:
    """Each with the id to undo it by and the codes it is about, in the order to undo them."""
    board = cleared_board.code
    cleared = last_operation(empty_shop)
    made = [cut_circle(empty_shop, board, 25 + 40 * n, 40) for n in range(2)]
    with pytest.raises(Refused) as refused:
        undo(empty_shop, operation=cleared)
    steps = [line.split() for line in str(refused.value).splitlines() if line.startswith("  ")]
    for short, *_ in steps:
        undo(empty_shop, operation=short)
    undo(empty_shop, operation=cleared)

    assert [cut.cut.code in step for cut, step in zip(reversed(made), steps, strict=True)] == [
        True,
        True,
    ]
    assert all(board in step for step in steps)
    assert f"salvage undo {steps[0][0]}" in refused.value.hint


def test_undo_needs_one_operation(empty_shop: Workshop) -> None:
    """An id that names none, or more than one, is a question."""
    add_drop_off(empty_shop)
    add_drop_off(empty_shop)
    with pytest.raises(NotFound, match="names 0 operations"):
        undo(empty_shop, operation="zzz")
    with pytest.raises(NotFound, match="names 3 operations"):
        undo(empty_shop, operation="0")


def test_a_trial_undo_tells_and_leaves(empty_shop: Workshop) -> None:
    """A dry run names what would be taken back."""
    add_drop_off(empty_shop)
    before = dump(empty_shop)
    told = undo(empty_shop, dry_run=True)

    assert told.act == "log drop-off"
    assert len(told.words) == 2
    assert dump(empty_shop) == before


def test_the_history_of_nobody_is_not_found(empty_shop: Workshop) -> None:
    """A code that the journal never mentioned has none."""
    code, _ = next_code("B", "K", 0)
    with pytest.raises(NotFound, match="nothing with the code"):
        read_history(empty_shop, code)


def test_the_journal_shows_the_newest_last(empty_shop: Workshop) -> None:
    """As many lines as were asked for, every one in words."""
    Stock(empty_shop)
    lines = read_journal(empty_shop, most=3)
    everything = read_journal(empty_shop, most=-1)

    assert [line.event.kind for line in lines] == [
        "keepout.added",
        "reservation.made",
        "recall.begun",
    ]
    assert len(everything) == lines[-1].event.seq
    assert all(line.words for line in everything)


def test_a_wish_that_a_card_rests_on_is_not_taken_back(empty_shop: Workshop) -> None:
    """A printed card bears witness to the wish: it is changed by a new wish, not undone."""
    from salvage.work.cards import print_card

    stock = Stock(empty_shop)
    ((donor,),) = empty_shop.conn.execute(
        "SELECT donor FROM drop_off JOIN board ON board.drop_off = drop_off.code"
        " WHERE board.code = ?",
        (stock.board,),
    )
    set_naming(empty_shop, donor=donor, naming="named", naming_how="by letter")
    wish = last_operation(empty_shop)
    print_card(empty_shop, piece=stock.piece)
    with pytest.raises(Refused, match="story card printed, donor named"):
        undo(empty_shop, operation=wish)
    set_naming(empty_shop, donor=donor, naming="anonymous", naming_how="by telephone")

    assert [line for line in run_checks(empty_shop) if not line.ok] == []
