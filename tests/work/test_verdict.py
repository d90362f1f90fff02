"""Go or no-go, and what no reason overrides."""

from __future__ import annotations

import pytest

from salvage.errors import Held
from salvage.ids import Code
from salvage.records.things import Board
from salvage.store.lookup import load_board
from salvage.work.cards import print_card
from salvage.work.clear import NewCheck, record_checks
from salvage.work.cutting import NewCut, record_cut
from salvage.work.look import look_at
from salvage.work.pieces import sell
from salvage.work.recall import close_recall, open_recall
from salvage.work.receive import add_data_parts, settle_data_part
from salvage.work.record import NewBoard, record_boards, retire_board
from salvage.work.verdict import Obstacle, find_obstacles
from salvage.work.workshop import Workshop
from tests.bench import add_board, add_drop_off, circle_at, clear, cut_circle, dump


def _obstacles(shop: Workshop, board: Code) -> tuple[Obstacle, ...]:
    return find_obstacles(shop.conn, load_board(shop.conn, board))


def test_a_cleared_board_has_none(empty_shop: Workshop, cleared_board: Board) -> None:
    """Nothing in the way is a go."""
    assert _obstacles(empty_shop, cleared_board.code) == ()


def test_what_is_there_comes_before_what_was_not_looked_for(
    empty_shop: Workshop, held_board: Board
) -> None:
    """A known battery is told before the unchecked rest."""
    record_checks(
        empty_shop, boards=[held_board.code], checks=[NewCheck("data-bearing-part", "present")]
    )
    words = [obstacle.words for obstacle in _obstacles(empty_shop, held_board.code)]

    assert words[0] == "data-bearing-part: present"
    assert all(word.endswith(": not checked") for word in words[1:])
    assert len(words) > 1


def test_a_board_that_is_not_measured_or_used_up_is_told(empty_shop: Workshop) -> None:
    """There is merely nothing to cut; that needs no override."""
    drop_off = add_drop_off(empty_shop)
    bare = record_boards(empty_shop, new=NewBoard(drop_off, "memory-module"))[0]
    clear(empty_shop, bare.code)
    (obstacle,) = _obstacles(empty_shop, bare.code)

    assert obstacle.words == "it has no outline yet"
    assert not obstacle.forbids_cutting


@pytest.mark.parametrize("override", ["", "seen by the safety officer"])
def test_no_reason_overrides_a_recall(
    empty_shop: Workshop, cleared_board: Board, override: str
) -> None:
    """A piece cut from a recalled board would be sold: it is not cut at all, until it is closed."""
    recall = open_recall(empty_shop, subject=cleared_board.code, reason="mercury found").recall
    new = NewCut(cleared_board.code, circle_at(empty_shop, 40, 40), override_reason=override)
    before = dump(empty_shop)
    with pytest.raises(Held, match="it is recalled"):
        record_cut(empty_shop, new=new)
    after = dump(empty_shop)
    close_recall(empty_shop, recall=recall.code, outcome="false alarm", anyway="a drill")

    assert after == before
    assert record_cut(empty_shop, new=new).piece


@pytest.mark.parametrize("override", ["", "seen by the safety officer"])
def test_no_reason_opens_a_retired_board(
    empty_shop: Workshop, cleared_board: Board, override: str
) -> None:
    """A board that is said to be gone yields no pieces."""
    retire_board(empty_shop, board=cleared_board.code, reason="gone to the recycler")
    new = NewCut(cleared_board.code, circle_at(empty_shop, 40, 40), override_reason=override)
    with pytest.raises(Held, match="it was retired: gone to the recycler"):
        record_cut(empty_shop, new=new)


@pytest.mark.parametrize("subject", ["drop-off", "donor"])
def test_a_board_recorded_during_a_recall_is_held_too(empty_shop: Workshop, subject: str) -> None:
    """The rest of a recalled box, recorded only later, comes from the same cause."""
    first = add_board(empty_shop)
    ((donor,),) = empty_shop.conn.execute("SELECT donor FROM drop_off")
    cause = Code(donor) if subject == "donor" else first.drop_off
    recall = open_recall(empty_shop, subject=cause, reason="mercury found").recall
    late = add_board(empty_shop, drop_off=first.drop_off)
    clear(empty_shop, late.code)
    with pytest.raises(Held, match="it is recalled"):
        cut_circle(empty_shop, late.code, 40, 40)
    held = load_board(empty_shop.conn, late.code).recalled
    stranger = add_board(empty_shop)  # from a drop-off and donor of its own
    close_recall(empty_shop, recall=recall.code, outcome="false alarm", anyway="a drill")

    assert held
    assert not stranger.recalled
    assert _obstacles(empty_shop, late.code) == ()


def test_open_data_parts_and_overrides_are_told_before_a_cut(
    empty_shop: Workshop, held_board: Board
) -> None:
    """They do not forbid it; whoever cuts should know of them."""
    add_data_parts(
        empty_shop,
        drop_off=held_board.drop_off,
        data_parts=(("hard disk", 2), ("memory card", 1)),
    )
    settle_data_part(empty_shop, drop_off=held_board.drop_off, n=2, state="returned", how="by post")
    spot = circle_at(empty_shop, 40, 40)
    cut = record_cut(empty_shop, new=NewCut(held_board.code, spot, override_reason="a trial")).cut
    clear(empty_shop, held_board.code)
    look = look_at(empty_shop, board=held_board.code)
    add_data_parts(empty_shop, drop_off=add_drop_off(empty_shop), data_parts=(("other", 1),))

    assert look.go
    assert look.warnings == (
        f"its drop-off {held_board.drop_off} has open data-bearing parts: 2 x hard disk",
        f"cut before by override, {cut.code}: a trial",
    )
    assert look_at(empty_shop, board=add_board(empty_shop).code).warnings == ()


def test_a_piece_cut_by_override_is_not_sold_before_its_board_is_clear(
    empty_shop: Workshop, held_board: Board
) -> None:
    """The maker took the risk for the maker, not for the buyer: no card and no sale until then."""
    spot = circle_at(empty_shop, 40, 40)
    new = NewCut(held_board.code, spot, override_reason="a trial")
    piece = record_cut(empty_shop, new=new).piece
    assert piece is not None
    before = dump(empty_shop)
    with pytest.raises(Held, match=rf"{held_board.code} still has .*: not checked") as caught:
        sell(empty_shop, piece=piece.code, price_minor=1)
    with pytest.raises(Held, match="was cut by override"):
        print_card(empty_shop, piece=piece.code)
    unchanged = dump(empty_shop) == before
    clear(empty_shop, held_board.code)

    assert unchanged
    assert f"salvage board clear {held_board.code}" in caught.value.hint
    assert print_card(empty_shop, piece=piece.code, dry_run=True)
    assert sell(empty_shop, piece=piece.code, price_minor=1).piece.stage == "sold"


def test_a_hazard_found_after_a_lawful_cut_is_a_matter_of_recall(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """A piece that was cut from a cleared board is not held by the by: a recall says so openly."""
    piece = cut_circle(empty_shop, cleared_board.code, 40, 40).piece
    assert piece is not None
    record_checks(
        empty_shop, boards=[cleared_board.code], checks=[NewCheck("coin-cell", "present")]
    )

    assert sell(empty_shop, piece=piece.code, price_minor=1).piece.stage == "sold"
