"""Recalls and articles that are assembled of several pieces: nothing hides inside another thing."""

from __future__ import annotations

import pytest

from salvage.errors import Refused
from salvage.ids import Code
from salvage.store.lookup import load_piece
from salvage.work.articles import assemble, take_apart
from salvage.work.check import run_checks
from salvage.work.history import undo
from salvage.work.materials import NewBatch, add_batch, use_batches
from salvage.work.pieces import sell
from salvage.work.recall import NewRecall, begin_recall, open_recall, view_recall
from salvage.work.recall_causes import from_thing
from salvage.work.recall_settle import settle_items
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, cut_circle


def cut(shop: Workshop, board: Code, x_mm: float = 30) -> Code:
    """A piece of a board."""
    piece = cut_circle(shop, board, x_mm, 40).piece
    assert piece is not None
    return piece.code


class Pair:
    """Earrings of two boards."""

    def __init__(self, shop: Workshop) -> None:
        self.boards = [add_cleared_board(shop).code for _ in range(2)]
        self.parts = [cut(shop, board) for board in self.boards]
        self.article = assemble(shop, parts=self.parts, name="tern earrings").piece.code


@pytest.fixture
def pair(empty_shop: Workshop) -> Pair:
    """The earrings."""
    return Pair(empty_shop)


def held(shop: Workshop, recall: Code) -> set[Code]:
    """What a recall holds."""
    return {item.code for item in view_recall(shop.conn, recall).items}


def test_an_article_is_called_back_with_one_of_its_boards(empty_shop: Workshop, pair: Pair) -> None:
    """The good half hangs on the bad one; taken apart it is free, and the article still called."""
    recall = open_recall(empty_shop, subject=pair.boards[0], reason="sharp edge").recall.code
    called = held(empty_shop, recall)
    with pytest.raises(Refused, match="recalled"):
        sell(empty_shop, piece=pair.article, price_minor=900)

    assert called == {pair.boards[0], pair.parts[0], pair.article}
    assert load_piece(empty_shop.conn, pair.parts[1]).recalled == 0
    assert [line.name for line in run_checks(empty_shop) if not line.ok] == []


def test_a_part_is_where_its_article_is(empty_shop: Workshop, pair: Pair) -> None:
    """Sold inside the earrings, it is told as sold, with venue and day."""
    sell(empty_shop, piece=pair.article, price_minor=900, venue="Quay Market")
    view = open_recall(empty_shop, subject=pair.boards[0], reason="sharp edge")
    now = {one.code: one for one in view.now}

    assert now[pair.article].group == now[pair.parts[0]].group == "sold"
    assert (
        now[pair.parts[0]].words == f"in article {pair.article}, sold at Quay Market on 2026-05-04"
    )
    assert now[pair.parts[0]].venue == "Quay Market"


def test_an_article_made_of_a_called_piece_on_another_device_joins(empty_shop: Workshop) -> None:
    """Where a recall does not hold, what is assembled meanwhile is in it at once."""
    board = add_cleared_board(empty_shop).code
    parts = [cut(empty_shop, board), cut(empty_shop, add_cleared_board(empty_shop).code)]
    new = NewRecall(from_thing(empty_shop.conn, board), "odd smell", hold=False)
    recall = begin_recall(empty_shop, new=new).recall.code
    article = assemble(empty_shop, parts=parts, name="pair").piece.code

    assert held(empty_shop, recall) == {board, parts[0], article}
    undo(empty_shop)
    assert held(empty_shop, recall) == {board, parts[0]}


def test_a_batch_in_an_article_stays_in_its_parts(empty_shop: Workshop, pair: Pair) -> None:
    """The glue does not go away when the earrings are taken apart, before the recall or after."""
    glue = add_batch(empty_shop, new=NewBatch("adhesive", "glue")).batch.code
    use_batches(empty_shop, batches=[glue], pieces=[pair.article])
    other = Pair(empty_shop)
    use_batches(empty_shop, batches=[glue], pieces=[other.article])
    take_apart(empty_shop, article=other.article, reason="broken hook")
    recall = open_recall(empty_shop, subject=glue, reason="irritates skin").recall.code
    before = held(empty_shop, recall)
    take_apart(empty_shop, article=pair.article, reason="for the recall")

    assert before == {glue, pair.article, other.article, *other.parts}
    assert held(empty_shop, recall) == {*before, *pair.parts}


def test_an_article_is_settled_with_the_parts_in_it(empty_shop: Workshop, pair: Pair) -> None:
    """A part alone is not, while it hangs in the article."""
    recall = open_recall(empty_shop, subject=pair.boards[0], reason="sharp edge").recall.code
    with pytest.raises(Refused, match=f"is a part of {pair.article}"):
        settle_items(
            empty_shop, recall=recall, outcome="destroyed", items=[pair.parts[0]], note="crushed"
        )
    view = settle_items(
        empty_shop, recall=recall, outcome="destroyed", items=[pair.article], note="crushed"
    )

    assert {item.code for item in view.items if item.is_settled} == {pair.article, pair.parts[0]}
    assert load_piece(empty_shop.conn, pair.article).stage == "withdrawn"
    assert [line.name for line in run_checks(empty_shop) if not line.ok] == []
