"""Batches of materials: what came in, with which papers, and into which pieces each went."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest

from salvage.errors import BadFile, BadValue, NotFound, Refused
from salvage.ids import Code
from salvage.work.check import run_checks
from salvage.work.history import read_history, undo
from salvage.work.materials import (
    NewBatch,
    NewPaper,
    Use,
    add_batch,
    add_batch_paper,
    batches_of,
    list_batches,
    use_batches,
    view_batch,
    void_use,
)
from salvage.work.pieces import sell, set_stage
from salvage.work.trace import trace
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, cut_circle, dump

HOOKS = NewBatch(
    "finding", "ear hook", maker="Finial", lot="L7", pack_milli=100_000, cost_minor=1250
)
PDF = b"%PDF-1.7\nno nickel above the limit\n"


@pytest.fixture
def pieces(empty_shop: Workshop) -> list[Code]:
    """Two pieces of one board."""
    board = add_cleared_board(empty_shop).code
    cut = [cut_circle(empty_shop, board, x_mm, 40) for x_mm in (30, 80)]
    return [view.piece.code for view in cut if view.piece]


def test_a_batch_is_kept_with_its_papers(empty_shop: Workshop) -> None:
    """Maker, lot, day, cost and the declaration, byte for byte; a second paper may come later."""
    view = add_batch(empty_shop, new=HOOKS, papers=[NewPaper(PDF, "declaration.pdf")])
    view = add_batch_paper(
        empty_shop, batch=view.batch.code, paper=NewPaper(b"sheet", "data.txt", "data sheet")
    )

    assert view.batch.title == "ear hook, Finial, lot L7"
    assert view.batch.received_on == "2026-05-04"
    assert [paper.title for paper in view.papers] == ["declaration.pdf", "data sheet"]
    assert empty_shop.files.load(view.papers[0].sha256) == PDF
    assert [line.name for line in run_checks(empty_shop) if not line.ok] == []


def test_uses_say_what_went_into_which_piece_and_who_did_it(
    empty_shop: Workshop, pieces: list[Code]
) -> None:
    """From batch to pieces and from piece to batches, with the exact cost of what went in."""
    batch = add_batch(empty_shop, new=HOOKS).batch.code
    use = Use(each_milli=2000, note="a pair each")
    (view,) = use_batches(empty_shop, batches=[batch], pieces=[*pieces, pieces[0]], use=use)
    ((found, noted),) = batches_of(empty_shop.conn, pieces[1])

    assert view.pieces == tuple(pieces)
    assert (found.code, noted.stage, noted.by) == (batch, "assembled", "Maren")
    assert found.cost_of(noted.each_milli) == Fraction(25)  # 2 of 100 hooks for 12.50
    assert found.cost_of(None) is None
    assert "batch used at stage assembled" in read_history(empty_shop, pieces[0])[-1].words
    forward = trace(empty_shop, batch).forward.branches
    assert [branch.link.code for branch in forward] == sorted(pieces)


def test_a_stage_may_name_its_batches(empty_shop: Workshop, pieces: list[Code]) -> None:
    """Sealed with this varnish: one step, taken back as one."""
    varnish = add_batch(empty_shop, new=NewBatch("sealant", "varnish")).batch.code
    before = dump(empty_shop)["material_use"]
    set_stage(empty_shop, pieces=pieces, stage="sealed", batches=[varnish])
    used = view_batch(empty_shop.conn, varnish).pieces
    undo(empty_shop)

    assert used == tuple(pieces)
    assert dump(empty_shop)["material_use"] == before == []


def test_a_use_noted_by_mistake_is_taken_back_and_stays_on_record(
    empty_shop: Workshop, pieces: list[Code]
) -> None:
    """The piece counts no more, and the history tells why; twice is refused."""
    batch = add_batch(empty_shop, new=HOOKS).batch.code
    use_batches(empty_shop, batches=[batch], pieces=pieces)
    view = void_use(empty_shop, batch=batch, n=1, why="the tin beside it")

    assert view.pieces == ()
    assert [use.voided for use in view.uses] == ["the tin beside it"] * 2
    assert batches_of(empty_shop.conn, pieces[0]) == ()
    with pytest.raises(Refused, match="taken back already"):
        void_use(empty_shop, batch=batch, n=1, why="again")
    with pytest.raises(NotFound, match="no use 2"):
        void_use(empty_shop, batch=batch, n=2, why="again")


def test_what_cannot_be_is_refused_and_nothing_is_written(
    empty_shop: Workshop, pieces: list[Code]
) -> None:
    """Without a name, from tomorrow, an empty paper, into a sold or withdrawn piece."""
    batch = add_batch(empty_shop, new=HOOKS).batch.code
    sell(empty_shop, piece=pieces[0], price_minor=900)
    before = dump(empty_shop)
    with pytest.raises(BadValue, match="say what it is"):
        add_batch(empty_shop, new=NewBatch("resin", " "))
    with pytest.raises(BadValue, match="has not come yet"):
        add_batch(empty_shop, new=NewBatch("resin", "x", received_on=date(2026, 5, 5)))
    with pytest.raises(BadFile, match="is empty"):
        add_batch_paper(empty_shop, batch=batch, paper=NewPaper(b"", "x.pdf"))
    with pytest.raises(Refused, match="is sold"):
        use_batches(empty_shop, batches=[batch], pieces=pieces)
    with pytest.raises(BadValue, match="at least one batch"):
        use_batches(empty_shop, batches=[], pieces=pieces)
    with pytest.raises(BadValue, match="say why"):
        void_use(empty_shop, batch=batch, n=1, why=" ")
    with pytest.raises(BadValue, match="nothing goes into"):
        set_stage(empty_shop, pieces=pieces, stage="withdrawn", note="x", batches=[batch])

    assert dump(empty_shop) == before


def test_batches_are_listed_by_kind(empty_shop: Workshop) -> None:
    """The newest first, all or those of one kind."""
    old = add_batch(empty_shop, new=NewBatch("resin", "r", received_on=date(2026, 4, 1)))
    new = add_batch(empty_shop, new=HOOKS)

    assert [view.batch.code for view in list_batches(empty_shop)] == [
        new.batch.code,
        old.batch.code,
    ]
    assert [view.batch.name for view in list_batches(empty_shop, material="resin")] == ["r"]
