"""Cards, tags and labels: 'not for children' unless shown, and of lead only what was measured."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from salvage.ids import Code
from salvage.knowledge.amounts import parse_amount
from salvage.paper.stock import STOCKS, Stock
from salvage.work.assays import NewAssay, record_assay, void_assay
from salvage.work.card_claims import NOT_FOR_CHILDREN, card_care
from salvage.work.cards import CardLook, print_card, print_cards
from salvage.work.gate_steps import NewProduct, describe_pieces, set_audience
from salvage.work.labels import LabelLook, print_labels
from salvage.work.pieces import set_price, view_piece
from salvage.work.record import set_lead
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, cut_circle
from tests.paper.printed import letters

LAB = NewAssay(
    "lead",
    parse_amount("<10 ppm"),
    "digestion",
    part="laminate",
    instrument="ICP 2",
    lab="Quay lab",
)
BARE = NewProduct("ornament", "absent", "absent", "absent", "absent", "absent")


@pytest.fixture
def piece(empty_shop: Workshop) -> Code:
    """A piece of a board about which nothing is known."""
    change_settings(empty_shop, typed={"markets": "US"})
    found = cut_circle(empty_shop, add_cleared_board(empty_shop).code, 40, 40).piece
    assert found is not None
    set_price(empty_shop, pieces=[found.code], price_minor=1850)
    return found.code


def _grade(shop: Workshop, piece: Code) -> Code:
    board = view_piece(shop.conn, piece).board.code
    record_assay(shop, code=board, new=LAB)
    describe_pieces(shop, pieces=[piece], new=BARE)
    set_audience(shop, piece=piece, audience="child", reason="report L-204")
    return board


def _care(shop: Workshop, piece: Code) -> str:
    view = view_piece(shop.conn, piece)
    return " ".join(card_care(shop, view.piece, view.boards))


def test_a_card_says_not_for_children_until_the_evidence_is_there(
    empty_shop: Workshop, piece: Code
) -> None:
    """And again once the evidence falls."""
    said = [_care(empty_shop, piece)]
    board = _grade(empty_shop, piece)
    said.append(_care(empty_shop, piece))
    void_assay(empty_shop, code=board, n=1, why="report withdrawn")
    said.append(_care(empty_shop, piece))

    assert ["Not for children." in text for text in said] == [True, False, True]
    assert ["away from children" in text for text in said] == [True, False, True]
    assert "".join(NOT_FOR_CHILDREN.split()) in letters(print_card(empty_shop, piece=piece))


@pytest.mark.parametrize("design", ["tag", "card"])
@pytest.mark.parametrize("stock", STOCKS.values(), ids=list(STOCKS))
def test_tags_and_labels_say_it_on_every_stock(
    empty_shop: Workshop, piece: Code, stock: Stock, design: str
) -> None:
    """However small the label is, the line is on it."""
    pdf = print_labels(empty_shop, codes=[piece], stock=stock, look=LabelLook(design)).pdf

    assert "Notforchildren" in letters(pdf)


@pytest.mark.parametrize(
    "design",
    ["pocket", "a7", "4x6", "a6", "folded", "large", "origin", "price", "swing", "stall", "tent"],
)
def test_every_design_of_card_and_tag_says_it(
    empty_shop: Workshop, piece: Code, design: str
) -> None:
    """Where no caution has room, one line has; four tested parts do not push it off."""
    board = view_piece(empty_shop.conn, piece).board.code
    for part in ("laminate", "solder", "component", "bare metal"):
        record_assay(empty_shop, code=board, new=replace(LAB, part=part))
    pages = print_cards(empty_shop, pieces=[piece], look=CardLook(design)).printed.pages

    assert "Notforchildren" in letters(pages[0])


def test_a_label_leaves_it_out_only_with_evidence(empty_shop: Workshop, piece: Code) -> None:
    """What is shown for each part may be given to a child, and its tag no longer warns."""
    _grade(empty_shop, piece)
    pdf = print_labels(empty_shop, codes=[piece], stock=STOCKS["roll-57x32"]).pdf

    assert "Notforchildren" not in letters(pdf)


def test_a_card_tells_the_figure_and_what_nobody_tested(empty_shop: Workshop, piece: Code) -> None:
    """The highest standing result of each part, the others named, and never 'lead-free'."""
    board = view_piece(empty_shop.conn, piece).board.code
    set_lead(empty_shop, board=board, lead_status="tested", lead_evidence="two shots")
    for figure in ("120 ppm", "0.02 %", "90 ppm"):
        new = replace(LAB, amount=parse_amount(figure))
        record_assay(empty_shop, code=board, new=new)
    told = _care(empty_shop, piece)

    assert "Lead, measured: laminate 0.02 % (digestion, 2026-05-04)." in told
    assert "Not tested, so treated as present: bare metal, solder, component" in told
    assert not re.search(r"lead.free|free of lead|\bsafe\b|certif|compl[iy]", told.lower())


@pytest.mark.parametrize("status", ["unknown", "assumed-leaded", "marked-lead-free", "tested"])
def test_no_status_makes_a_card_say_free_of_lead(
    empty_shop: Workshop, piece: Code, status: str
) -> None:
    """A status is somebody's word; only a figure is a figure."""
    board = view_piece(empty_shop.conn, piece).board.code
    set_lead(empty_shop, board=board, lead_status=status, lead_evidence="logo on the back")
    told = _care(empty_shop, piece).lower().replace("lead-free or rohs mark", "")

    assert "lead" in told
    assert not re.search(r"lead.free|free of lead|no lead|\bsafe\b|certif|compl[iy]", told)
