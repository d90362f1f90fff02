"""Pieces: from rough to sold, back again, and never sold when they must not be."""

from __future__ import annotations

from datetime import date

import pytest

from salvage.errors import BadValue, NotFound, Refused
from salvage.ids import Code, next_code
from salvage.records.choices import BENCH_STAGES
from salvage.work.correct import BoardCorrection, correct_board
from salvage.work.pieces import (
    PIECE_STATES,
    list_pieces,
    sell,
    set_price,
    set_stage,
    take_back,
    view_piece,
    weigh_piece,
)
from salvage.work.recall import close_recall, open_recall
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, cut_circle, dump


@pytest.fixture
def piece(empty_shop: Workshop) -> Code:
    """A rough circle of 30 mm."""
    return cut_piece(empty_shop)


def cut_piece(shop: Workshop) -> Code:
    """A rough circle of 30 mm from a board of its own."""
    made = cut_circle(shop, add_cleared_board(shop).code, 40, 40).piece
    assert made is not None
    return made.code


@pytest.mark.parametrize("stage", BENCH_STAGES)
def test_a_piece_goes_through_the_bench(empty_shop: Workshop, piece: Code, stage: str) -> None:
    """Each stage that a maker sets by hand is taken."""
    (view,) = set_stage(empty_shop, pieces=[piece], stage=stage, note="320 grit")

    assert view.piece.stage == stage


@pytest.mark.parametrize("stage", ["sold", "returned", "lost", ""])
def test_other_stages_are_not_set_by_hand(empty_shop: Workshop, piece: Code, stage: str) -> None:
    """Sold and returned follow from a sale; they are not merely claimed."""
    before = dump(empty_shop)
    with pytest.raises(BadValue, match="not set by hand"):
        set_stage(empty_shop, pieces=[piece], stage=stage)

    assert dump(empty_shop) == before


def test_several_pieces_are_staged_all_or_none(empty_shop: Workshop, piece: Code) -> None:
    """One that is sold among them stops the whole tray."""
    other = cut_piece(empty_shop)
    sell(empty_shop, piece=other, price_minor=1800)
    before = dump(empty_shop)
    with pytest.raises(Refused, match=f"{other} is sold"):
        set_stage(empty_shop, pieces=[piece, other], stage="sealed")

    assert dump(empty_shop) == before


def test_a_withdrawal_needs_its_reason(empty_shop: Workshop, piece: Code) -> None:
    """Withdrawn pieces say why and are not sold; a bench stage brings them back."""
    with pytest.raises(BadValue, match="say why"):
        set_stage(empty_shop, pieces=[piece], stage="withdrawn", note=" ")
    set_stage(empty_shop, pieces=[piece], stage="withdrawn", note="edge splinters")
    with pytest.raises(Refused, match="is withdrawn"):
        sell(empty_shop, piece=piece, price_minor=1800)
    set_stage(empty_shop, pieces=[piece], stage="sanded", note="mended")

    assert sell(empty_shop, piece=piece, price_minor=1800).piece.stage == "sold"


def test_a_piece_is_sold_at_its_marked_price(empty_shop: Workshop, piece: Code) -> None:
    """At the stall nobody types the price again."""
    set_price(empty_shop, pieces=[piece], price_minor=1850)
    view = sell(empty_shop, piece=piece, venue="Quay Market", sold_on=date(2026, 5, 4))
    (sale,) = view.sales

    assert view.piece.stage == "sold"
    assert (sale.price_minor, sale.currency, sale.venue) == (1850, "EUR", "Quay Market")
    assert (sale.sold_on, sale.returned_on) == ("2026-05-04", "")


def test_a_price_given_at_the_sale_wins(empty_shop: Workshop, piece: Code) -> None:
    """A bargain, or a gift for nothing, is recorded as what was paid."""
    set_price(empty_shop, pieces=[piece], price_minor=1850)
    gift = sell(empty_shop, piece=piece, price_minor=0)

    assert gift.sales[0].price_minor == 0
    assert gift.piece.price_minor == 1850
    assert gift.sales[0].sold_on == "2026-05-04"  # the workshop's day


def test_a_marked_price_keeps_its_currency(empty_shop: Workshop, piece: Code) -> None:
    """When the workshop changes currency, a tag written before still means what it says."""
    set_price(empty_shop, pieces=[piece], price_minor=1850)
    change_settings(empty_shop, typed={"currency": "gbp"})
    view = sell(empty_shop, piece=piece)

    assert view.sales[0].currency == "EUR"


def test_without_any_price_there_is_no_sale(empty_shop: Workshop, piece: Code) -> None:
    """The maker is asked for it."""
    with pytest.raises(BadValue, match=f"salvage piece price {piece} AMOUNT; .*--price"):
        sell(empty_shop, piece=piece)


@pytest.mark.parametrize("price_minor", [-1, -100])
def test_a_negative_price_is_one_line(empty_shop: Workshop, piece: Code, price_minor: int) -> None:
    """What no gate stopped, the tables refuse; nothing is written."""
    before = dump(empty_shop)
    with pytest.raises(BadValue, match="does not fit"):
        set_price(empty_shop, pieces=[piece], price_minor=price_minor)

    assert dump(empty_shop) == before


def test_a_piece_is_sold_once(empty_shop: Workshop, piece: Code) -> None:
    """Two sellers at one stall do not both sell it."""
    sell(empty_shop, piece=piece, price_minor=1800)
    before = dump(empty_shop)
    with pytest.raises(Refused, match="is sold already"):
        sell(empty_shop, piece=piece, price_minor=1800)

    assert dump(empty_shop) == before


def test_a_piece_comes_back_and_is_sold_again(empty_shop: Workshop, piece: Code) -> None:
    """Both sales stay on the record, the first with day and reason of the return."""
    with pytest.raises(Refused, match="is not sold but rough"):
        take_back(empty_shop, piece=piece, reason="too large")
    sell(empty_shop, piece=piece, price_minor=1800, venue="Quay Market")
    with pytest.raises(BadValue, match="--reason"):
        take_back(empty_shop, piece=piece, reason="")
    back = take_back(empty_shop, piece=piece, reason="too large", returned_on=date(2026, 5, 4))
    again = sell(empty_shop, piece=piece, price_minor=1500)

    assert back.piece.stage == "returned"
    assert (back.sales[0].returned_on, back.sales[0].reason) == ("2026-05-04", "too large")
    assert [(sale.n, sale.price_minor) for sale in again.sales] == [(1, 1800), (2, 1500)]
    assert again.sales[1].returned_on == ""


def test_a_recalled_piece_is_not_sold(empty_shop: Workshop, piece: Code) -> None:
    """Until the recall is closed."""
    recall = open_recall(empty_shop, subject=piece, reason="nickel").recall
    with pytest.raises(Refused, match="recalled and may not be sold"):
        sell(empty_shop, piece=piece, price_minor=1800)
    close_recall(empty_shop, recall=recall.code, outcome="tested, fine", anyway="a drill")

    assert sell(empty_shop, piece=piece, price_minor=1800).piece.stage == "sold"


def test_a_piece_is_weighed(empty_shop: Workshop, piece: Code) -> None:
    """To the milligram; a weight of nothing is refused."""
    assert weigh_piece(empty_shop, piece=piece, weight_g=2.345).piece.weight_mg == 2345
    with pytest.raises(BadValue, match="does not fit"):
        weigh_piece(empty_shop, piece=piece, weight_g=0.0)


def test_an_unknown_piece_is_not_found(empty_shop: Workshop) -> None:
    """In every operation alike."""
    code, _ = next_code("P", "K", 0)
    for attempt in (
        lambda: set_stage(empty_shop, pieces=[code], stage="sealed"),
        lambda: set_price(empty_shop, pieces=[code], price_minor=1),
        lambda: sell(empty_shop, piece=code),
        lambda: take_back(empty_shop, piece=code, reason="x"),
    ):
        with pytest.raises(NotFound, match="no piece"):
            attempt()


def test_pieces_are_listed_by_state(empty_shop: Workshop, piece: Code) -> None:
    """What is still in the workshop, what is sold, what came back, what is called back."""
    ready, sold, back, gone, called = (cut_piece(empty_shop) for _ in range(5))
    set_stage(empty_shop, pieces=[ready], stage="ready")
    for code in (sold, back):
        sell(empty_shop, piece=code, price_minor=1)
    take_back(empty_shop, piece=back, reason="too large")
    set_stage(empty_shop, pieces=[gone], stage="withdrawn", note="broken")
    open_recall(empty_shop, subject=called, reason="nickel")
    found = {
        state: {p.code for p in list_pieces(empty_shop, state=state)} for state in PIECE_STATES
    }

    assert found[""] == {piece, ready, back, called}
    assert found["all"] == {piece, ready, sold, back, gone, called}
    assert found["rough"] == {piece, called}
    assert (found["ready"], found["sold"], found["returned"]) == ({ready}, {sold}, {back})
    assert (found["withdrawn"], found["recalled"]) == ({gone}, {called})
    assert list_pieces(empty_shop, most=1)[0].code == called


def test_a_view_leads_to_cut_and_board(empty_shop: Workshop, piece: Code) -> None:
    """From a piece in hand to where it was."""
    view = view_piece(empty_shop.conn, piece)

    assert view.cut.code == view.piece.cut
    assert view.board.code == view.cut.board == view.piece.board


def test_a_piece_weighs_no_more_than_its_board(empty_shop: Workshop) -> None:
    """Kilograms for grams are caught where the board was weighed."""
    board = add_cleared_board(empty_shop)
    weight = BoardCorrection(weight_g=90.0)
    piece = cut_circle(empty_shop, board.code, 40, 40).piece
    assert piece is not None
    unknown = weigh_piece(empty_shop, piece=piece.code, weight_g=80.0)
    correct_board(empty_shop, board=board.code, new=weight, why="weighed later")
    with pytest.raises(
        Refused, match=f"4 kg is more than the 90 g of its whole board {board.code}"
    ):
        weigh_piece(empty_shop, piece=piece.code, weight_g=4000.0)
    known = weigh_piece(empty_shop, piece=piece.code, weight_g=4.0)

    assert unknown.piece.weight_mg == 80_000
    assert known.piece.weight_mg == 4000
