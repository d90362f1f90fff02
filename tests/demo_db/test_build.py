"""The demo workshop: every state of the job in one small invented spring."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from demo_db.build import TOUR, build_workshop
from salvage.ids import next_code, parse_code
from salvage.records.things import Board, Piece
from salvage.store.rows import select
from salvage.work.check import run_checks
from salvage.work.workshop import Workshop, open_workshop
from tests.bench import dump


@pytest.fixture(scope="module")
def demo_shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Workshop]:
    """The demo workshop, built once for this file."""
    folder: Path = tmp_path_factory.mktemp("demo") / "shop"
    build_workshop(folder)
    with open_workshop(folder) as shop:
        yield shop


def test_every_invariant_holds(demo_shop: Workshop) -> None:
    """The demo is as sound as a real workshop must be."""
    lines = run_checks(demo_shop)

    assert [line.faults for line in lines if not line.ok] == []


def test_boards_stand_in_every_state(demo_shop: Workshop) -> None:
    """Held, cleared, remnant, recalled and retired boards, from all four donors."""
    boards = select(demo_shop.conn, Board, "FROM board")

    assert {board.clearance for board in boards} == {"held", "cleared"}
    assert any(board.recalled for board in boards)
    assert any(board.retired for board in boards)
    assert any(board.cut_count and board.usable_um2 for board in boards)


def test_pieces_stand_in_several_stages(demo_shop: Workshop) -> None:
    """Rough, sanded, ready, sold and returned pieces; a sold one is recalled."""
    pieces = select(demo_shop.conn, Piece, "FROM piece")

    assert {"rough", "sanded", "ready", "sold", "returned"} <= {piece.stage for piece in pieces}
    assert any(piece.stage == "sold" and piece.recalled for piece in pieces)


def test_donors_have_different_wishes(demo_shop: Workshop) -> None:
    """One is named, one described, two stay unnamed."""
    wishes = [row[0] for row in demo_shop.conn.execute("SELECT naming FROM donor ORDER BY naming")]

    assert wishes == ["anonymous", "anonymous", "described", "named"]


def test_the_tour_goes_on_where_the_demo_ends(demo_shop: Workshop) -> None:
    """The codes that the tour names are the next ones of this workshop."""
    last = dict(demo_shop.conn.execute("SELECT kind, last FROM counter WHERE device = 'T'"))
    upcoming = {next_code(kind, "T", last[kind])[0] for kind in "DBP"}
    words = {word for line in TOUR for word in line.split()}
    named = {word for word in words if len(word) == 7 and word[1] == "T" and word[0] in "DBP"}

    assert named == upcoming
    assert {parse_code(code) for code in named} == named


def test_the_same_demo_every_time(demo_shop: Workshop, tmp_path: Path) -> None:
    """Whoever builds it gets the same events, codes and pictures."""
    build_workshop(tmp_path / "again")
    with open_workshop(tmp_path / "again") as again:
        first, second = dump(demo_shop), dump(again)

    first.pop("schema_file"), second.pop("schema_file")
    assert first == second
