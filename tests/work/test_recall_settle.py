"""Settling a recall: item by item, with what it does to the thing, until it may be closed."""

from __future__ import annotations

import pytest

from salvage.errors import BadValue, NotFound, Refused
from salvage.ids import Code
from salvage.store.journal import read_events_about
from salvage.store.lookup import load_board, load_piece
from salvage.work.check import run_checks
from salvage.work.cutting import NewCut, record_cut
from salvage.work.outings import NewOuting, plan_outing
from salvage.work.packing import pack
from salvage.work.pieces import sell, set_price, set_stage, take_back
from salvage.work.recall import (
    NewRecall,
    add_to_recall,
    begin_recall,
    close_recall,
    hold_recall,
    open_recall,
    view_recall,
)
from salvage.work.recall_causes import from_thing
from salvage.work.recall_settle import settle_items
from salvage.work.selling import sell_pieces
from salvage.work.slips import SaleItem, Terms
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, circle_at, cut_circle, dump


class Called:
    """A board with four pieces, one of them sold, called back."""

    def __init__(self, shop: Workshop) -> None:
        self.shop = shop
        self.board = add_cleared_board(shop).code
        places = ((20, 20), (60, 20), (20, 60), (60, 60))
        cuts = [cut_circle(shop, self.board, *place) for place in places]
        self.pieces = [cut.piece.code for cut in cuts if cut.piece]
        sell(shop, piece=self.pieces[0], price_minor=900, venue="Quay Market")
        self.recall = open_recall(shop, subject=self.board, reason="sharp edge").recall.code

    def settle(self, outcome: str, *items: Code, note: str = "seen") -> None:
        """Settle some items."""
        settle_items(self.shop, recall=self.recall, outcome=outcome, items=items, note=note)

    def recalled(self) -> set[Code]:
        """Pieces that are held."""
        return {code for code in self.pieces if load_piece(self.shop.conn, code).recalled}


@pytest.fixture
def called(empty_shop: Workshop) -> Called:
    """The recall."""
    return Called(empty_shop)


def test_each_outcome_does_what_it_says_to_the_thing(called: Called) -> None:
    """Taken back, withdrawn, retired, let go; by whom and when is on record."""
    sold, crushed, mended, lost = called.pieces
    conn = called.shop.conn
    called.settle("returned", sold)
    back = load_piece(conn, sold).stage
    called.settle("destroyed", sold, crushed, called.board, note="crushed")
    called.settle("repaired", mended, note="edge dulled")
    called.settle("not found", lost)
    view = view_recall(conn, called.recall)

    assert back == "returned"
    assert [load_piece(conn, code).stage for code in called.pieces] == [
        "withdrawn", "withdrawn", "rough", "rough",
    ]  # fmt: skip
    assert load_board(conn, called.board).retired == f"recall {called.recall}: crushed"
    assert view.open_items == ()
    assert {item.settled_by for item in view.items} == {"Maren"}
    assert called.recalled() == {sold, crushed, lost}
    assert sell(called.shop, piece=mended, price_minor=900).piece.stage == "sold"
    assert [line.name for line in run_checks(called.shop) if not line.ok] == []


def test_closing_with_something_open_is_refused_with_the_list(called: Called) -> None:
    """A returned piece still waits for what is done to it; a reason closes all the same."""
    sold, *rest = called.pieces
    called.settle("returned", sold)
    called.settle("not affected", *rest, called.board)
    before = dump(called.shop)
    with pytest.raises(Refused, match=f"cannot be closed:\n  {sold}  circle, came back") as refused:
        close_recall(called.shop, recall=called.recall, outcome="done")
    unchanged = dump(called.shop)
    close_recall(called.shop, recall=called.recall, outcome="done", anyway="it is in the drawer")
    kinds = [event.kind for event in read_events_about(called.shop.conn, called.recall)]

    assert rest[0] not in str(refused.value)
    assert unchanged == before
    assert kinds[-2:] == ["recall.closed", "recall.left_open"]


def test_what_turns_up_after_the_closing_is_still_held(called: Called) -> None:
    """Not found, or with a buyer who was told: when it comes back it is not sold again unseen."""
    sold, lost, *rest = called.pieces
    called.settle("buyer told", sold)
    called.settle("not found", lost)
    called.settle("not affected", *rest, called.board)
    close_recall(called.shop, recall=called.recall, outcome="done")
    take_back(called.shop, piece=sold, reason="the notice")
    held = called.recalled()
    called.settle("repaired", sold, note="edge dulled")

    assert held == {sold, lost}
    assert called.recalled() == {lost}


@pytest.mark.parametrize(
    ("outcome", "which", "says"),
    [
        ("returned", 1, "is not sold"),
        ("repaired", 0, "is sold"),
        ("destroyed", 0, "is sold"),
        ("not found", 0, "is sold"),
        ("buyer told", 1, "no buyer has it"),
        ("returned", 4, "which nobody bought here"),
    ],
)
def test_an_outcome_that_cannot_be_is_refused(
    called: Called, outcome: str, which: int, says: str
) -> None:
    """What is with a buyer cannot be crushed here; nothing is written."""
    before = dump(called.shop)
    with pytest.raises(Refused, match=says):
        called.settle(outcome, [*called.pieces, called.board][which])

    assert dump(called.shop) == before


def test_what_is_missing_is_said(called: Called) -> None:
    """A note where one is needed, an outcome that is one, a thing of this recall."""
    with pytest.raises(BadValue, match="say how it was seen"):
        called.settle("repaired", called.pieces[1], note=" ")
    with pytest.raises(BadValue, match="is no outcome"):
        called.settle("eaten", called.pieces[1])
    other = add_cleared_board(called.shop).code
    with pytest.raises(NotFound, match=f"{other} is not in"):
        called.settle("not affected", other)


def test_recalled_pieces_are_not_worked_on(called: Called) -> None:
    """They cannot go on to the next stage; they can be withdrawn."""
    with pytest.raises(Refused, match="is recalled"):
        set_stage(called.shop, pieces=[called.pieces[1]], stage="sealed")
    set_stage(called.shop, pieces=[called.pieces[1]], stage="withdrawn", note="bad")

    assert load_piece(called.shop.conn, called.pieces[1]).stage == "withdrawn"


def test_a_recall_may_look_first_and_hold_later(empty_shop: Workshop) -> None:
    """Opened without holding, things go on as before; held in one step, and let go in one."""
    board = add_cleared_board(empty_shop).code
    new = NewRecall(from_thing(empty_shop.conn, board), "odd smell", hold=False)
    recall = begin_recall(empty_shop, new=new).recall.code
    piece = cut_circle(empty_shop, board, 30, 40).piece
    assert piece is not None
    free = load_piece(empty_shop.conn, piece.code).recalled
    hold_recall(empty_shop, recall=recall)
    held = load_piece(empty_shop.conn, piece.code).recalled
    with pytest.raises(Refused, match="holds its things already"):
        hold_recall(empty_shop, recall=recall)
    hold_recall(empty_shop, recall=recall, hold=False)

    assert (free, held) == (0, 1)
    assert load_board(empty_shop.conn, board).recalled == 0
    assert [line.name for line in run_checks(empty_shop) if not line.ok] == []


def test_things_that_the_cause_did_not_reach_may_be_taken_in(called: Called) -> None:
    """With all that came of them; twice, or without a reason, is refused."""
    other = add_cleared_board(called.shop).code
    piece = cut_circle(called.shop, other, 30, 40).piece
    assert piece is not None
    view = add_to_recall(called.shop, recall=called.recall, things=[other], why="no date code")

    assert {other, piece.code} <= {item.code for item in view.items}
    assert load_piece(called.shop.conn, piece.code).recalled == 1
    with pytest.raises(Refused, match=r"in .* already"):
        add_to_recall(called.shop, recall=called.recall, things=[piece.code], why="again")
    with pytest.raises(BadValue, match="say why"):
        add_to_recall(called.shop, recall=called.recall, things=[other], why="")


def test_scrap_of_a_recalled_board_is_told(empty_shop: Workshop) -> None:
    """Offcuts have no record of where they went, and that is said."""
    board = add_cleared_board(empty_shop).code
    spot = circle_at(empty_shop, 30, 40)
    new = NewCut(board, spot, outcome="scrap", reason="cracked", kerf_mm=0)
    scrap = record_cut(empty_shop, new=new).cut.code
    view = open_recall(empty_shop, subject=board, reason="sharp edge")

    assert {one.code: one.words for one in view.unknown} == {
        scrap: f"scrap of {board}: where it went is not on record"
    }


def test_pieces_at_an_outing_are_told_first_after_the_sold_ones(called: Called) -> None:
    """Whoever stands at the fair must be rung up: it is said what is packed, and for which fair."""
    shop = called.shop
    board = add_cleared_board(shop).code
    piece = cut_circle(shop, board, 30, 40).piece
    assert piece is not None
    set_stage(shop, pieces=[piece.code], stage="ready")
    set_price(shop, pieces=[piece.code], price_minor=900)
    outing = plan_outing(shop, new=NewOuting("Lantern Fair", shop.today)).outing.code
    pack(shop, outing=outing, pieces=[piece.code])
    view = open_recall(shop, subject=board, reason="sharp edge")
    now = {one.code: (one.group, one.words) for one in view.now}

    assert now[piece.code] == ("outing", f"ready, packed for Lantern Fair ({outing})")
    assert [one.group for one in view.now] == ["outing", "shelf"]


def test_a_piece_sold_without_its_label_is_not_ruled_out(called: Called) -> None:
    """Nobody knows which one it was, and the slip on which it stands is named."""
    item = SaleItem(words="a green kite", price_minor=900)
    terms = Terms(day=called.shop.today, paid_by="cash", venue="Quay Market")
    sale = sell_pieces(called.shop, items=[item], terms=terms).sale
    assert sale is not None
    unknown = {one.code: one.words for one in view_recall(called.shop.conn, called.recall).unknown}
    words = "on this slip a piece without its label: a green kite, 2026-05-04 at Quay Market"

    assert unknown == {sale.slip.number: words}
