"""The papers of a recall: the list holds all, the notice tells buyers what, why and what to do."""

from __future__ import annotations

import io

import pdfplumber
import pytest

from salvage.errors import Refused
from salvage.ids import Code
from salvage.paper.recall_papers import DEFERENCE, USUAL_TO_DO
from salvage.work.pieces import sell
from salvage.work.recall import open_recall
from salvage.work.recall_papers import print_recall_list, print_recall_notice, soft_words
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, cut_circle


@pytest.fixture
def recall(empty_shop: Workshop) -> Code:
    """A board of which two pieces were sold at two venues, and one is here."""
    change_settings(empty_shop, typed={"name": "Tidewrack Workshop", "contact": "4 Beacon Row"})
    board = add_cleared_board(empty_shop).code
    cuts = [cut_circle(empty_shop, board, x_mm, 40) for x_mm in (20, 55, 90)]
    pieces = [cut.piece.code for cut in cuts if cut.piece]
    for piece, venue in zip(pieces, ("Quay Market", "Lantern Fair"), strict=False):
        sell(empty_shop, piece=piece, price_minor=900, venue=venue)
    return open_recall(empty_shop, subject=board, reason="The edge may cut skin.").recall.code


def words_of(pdf: bytes) -> str:
    """All text of a PDF, its lines joined."""
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        return " ".join(" ".join(page.extract_text().split()) for page in document.pages)


def codes_sold(shop: Workshop) -> dict[str, str]:
    """Pieces by the venue at which they were sold."""
    return dict(shop.conn.execute("SELECT venue, piece FROM sale"))


def test_the_list_names_everything_and_the_clocks(empty_shop: Workshop, recall: Code) -> None:
    """Every item with where it is; duties with their source; the authority comes first."""
    told = words_of(print_recall_list(empty_shop, recall=recall))
    rows = empty_shop.conn.execute("SELECT code FROM recall_item").fetchall()

    assert all(code in told for (code,) in rows)
    assert len(rows) == 4
    assert "within 24 hours (Consumer Product Safety Act section 15(b)" in told
    assert "Clocks run from the hour at which it became known" in told
    assert "Its rules come first." in told


def test_the_notice_tells_what_why_and_what_to_do(empty_shop: Workshop, recall: Code) -> None:
    """Only what is sold; the heading that the EU asks for (2023/988, art. 36, from memory)."""
    told = words_of(print_recall_notice(empty_shop, recall=recall))
    here = empty_shop.conn.execute("SELECT code FROM piece WHERE stage = 'rough'").fetchall()

    assert "Product safety recall" in told
    assert "The edge may cut skin." in told
    assert USUAL_TO_DO in told
    assert DEFERENCE in told
    assert "4 Beacon Row" in told
    assert all(code in told for code in codes_sold(empty_shop).values())
    assert len(here) == 1
    assert here[0][0] not in told
    assert "planetarium" not in told.casefold()


def test_a_venue_is_told_of_its_own_sales_only(empty_shop: Workshop, recall: Code) -> None:
    """And where nothing was sold there, the venues are named."""
    sold = codes_sold(empty_shop)
    told = words_of(print_recall_notice(empty_shop, recall=recall, venue="quay market"))

    assert sold["Quay Market"] in told
    assert sold["Lantern Fair"] not in told
    with pytest.raises(Refused, match="sold at: Lantern Fair, Quay Market"):
        print_recall_notice(empty_shop, recall=recall, venue="Moon")


def test_words_that_play_a_danger_down_are_found() -> None:
    """Some places forbid them on a notice; plain words pass."""
    assert soft_words("A voluntary recall; no injuries") == ("voluntary", "no injuries")
    assert soft_words("The edge may cut skin.") == ()
