"""Where is it from, and what became of it: from every kind of thing, both ways."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from salvage.errors import NotFound
from salvage.ids import KINDS, Code, next_code
from salvage.work.cutting import NewCut, record_cut, release, reserve
from salvage.work.donors import set_naming
from salvage.work.mass import NewConsignment, send_consignment
from salvage.work.pieces import sell, set_stage, take_back
from salvage.work.recall import open_recall
from salvage.work.record import retire_board
from salvage.work.trace import Branch, descendants, trace, where_now
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, circle_at, cut_circle


@dataclass(frozen=True)
class _Family:
    """The codes of one line: donor, drop-off, board, cut, piece, scrap, reservation, batteries."""

    donor: Code
    drop_off: Code
    board: Code
    cut: Code
    piece: Code
    scrap: Code
    reservation: Code
    consignment: Code


@pytest.fixture
def family(empty_shop: Workshop) -> _Family:
    """One board with a piece, a scrap and a reservation, and what left for the recycler."""
    board = add_cleared_board(empty_shop)
    view = cut_circle(empty_shop, board.code, 25, 40)
    assert view.piece is not None
    spot = circle_at(empty_shop, 65, 40, width_mm=20)
    scrap = record_cut(
        empty_shop, new=NewCut(board.code, spot, outcome="scrap", reason="chipped")
    ).cut
    spot = circle_at(empty_shop, 100, 40, width_mm=20)
    held = reserve(empty_shop, board=board.code, spot=spot, for_whom="order 3")
    new = NewConsignment("Kelpie Recycling", "coin cells", 40.0, drop_off=board.drop_off)
    sent = send_consignment(empty_shop, new=new)
    ((donor,),) = empty_shop.conn.execute("SELECT donor FROM drop_off")
    return _Family(
        Code(donor), board.drop_off, board.code, view.cut.code, view.piece.code, scrap.code,
        held.code, sent.code,
    )  # fmt: skip


def _codes(branch: Branch) -> list[Code]:
    found = [branch.link.code]
    for inner in branch.branches:
        found += _codes(inner)
    return found


@pytest.mark.parametrize(
    ("start", "back"),
    [
        ("piece", ("cut", "board", "drop_off", "donor")),
        ("cut", ("board", "drop_off", "donor")),
        ("scrap", ("board", "drop_off", "donor")),
        ("reservation", ("board", "drop_off", "donor")),
        ("board", ("drop_off", "donor")),
        ("consignment", ("drop_off", "donor")),
        ("drop_off", ("donor",)),
        ("donor", ()),
    ],
)
def test_everything_traces_back_to_its_donor(
    empty_shop: Workshop, family: _Family, start: str, back: tuple[str, ...]
) -> None:
    """Whatever is in the hand, the line back ends with who gave it."""
    found = trace(empty_shop, getattr(family, start))

    assert [link.code for link in found.back] == [getattr(family, name) for name in back]
    assert [link.kind for link in found.back] == [KINDS[link.code[0]] for link in found.back]
    assert found.subject.code == getattr(family, start)


@pytest.mark.parametrize(
    ("start", "forward"),
    [
        ("donor", ("drop_off", "board", "cut", "piece", "scrap", "reservation", "consignment")),
        ("drop_off", ("board", "cut", "piece", "scrap", "reservation", "consignment")),
        ("board", ("cut", "piece", "scrap", "reservation")),
        ("cut", ("piece",)),
        ("scrap", ()),
        ("piece", ()),
        ("reservation", ()),
        ("consignment", ()),
    ],
)
def test_everything_traces_forward(
    empty_shop: Workshop, family: _Family, start: str, forward: tuple[str, ...]
) -> None:
    """From a donor to every piece, and from each thing to all that came of it, once each."""
    code = getattr(family, start)
    wanted = [code, *(getattr(family, name) for name in forward)]

    assert _codes(trace(empty_shop, code).forward) == wanted
    assert list(descendants(empty_shop.conn, code)) == wanted


def test_a_recall_traces_to_its_cause_and_to_what_it_holds(
    empty_shop: Workshop, family: _Family
) -> None:
    """Boards without pieces are shown as well, and nothing twice."""
    bare = add_cleared_board(empty_shop)
    recalls = [
        open_recall(empty_shop, subject=subject, reason="mercury").recall.code
        for subject in (family.drop_off, bare.code, family.piece)
    ]
    whole, board, piece = (trace(empty_shop, code) for code in recalls)

    assert [link.code for link in whole.back] == [family.drop_off, family.donor]
    assert _codes(whole.forward)[1:] == [
        family.board,
        family.cut,
        family.piece,
        family.scrap,
        family.reservation,
    ]
    assert _codes(board.forward)[1:] == [bare.code]
    assert _codes(piece.forward)[1:] == [family.piece]
    assert [link.code for link in piece.back][:2] == [family.piece, family.cut]


def test_the_words_tell_where_things_are_now(empty_shop: Workshop, family: _Family) -> None:
    """Sold where and when, came back, recalled, retired: the link says it."""
    sell(empty_shop, piece=family.piece, price_minor=1, venue="Quay Market")
    sold = trace(empty_shop, family.piece).subject.words
    take_back(empty_shop, piece=family.piece, reason="too large")
    back = trace(empty_shop, family.piece).subject.words
    open_recall(empty_shop, subject=family.board, reason="mercury")
    recalled = trace(empty_shop, family.piece).subject.words
    board = trace(empty_shop, family.board).subject.words
    release(empty_shop, reservation=family.reservation)
    retire_board(empty_shop, board=family.board, reason="used up")

    assert sold == "circle, sold at Quay Market on 2026-05-04"
    assert back == "circle, came back"
    assert recalled == "circle, came back, recalled"
    assert board.startswith("Orrery X2 expansion card, cleared, recalled, ")
    assert "retired: used up" in trace(empty_shop, family.board).subject.words
    assert "scrap: chipped" in trace(empty_shop, family.scrap).subject.words
    assert trace(empty_shop, family.reservation).subject.words == "circle for order 3, released"
    assert "40 g, to Kelpie Recycling" in trace(empty_shop, family.consignment).subject.words


def test_an_override_is_told_in_the_trace(empty_shop: Workshop) -> None:
    """Who follows a piece back reads that its board was not clear."""
    board = add_cleared_board(empty_shop)
    new = NewCut(board.code, circle_at(empty_shop, 40, 40), override_reason="a trial")
    cut = record_cut(empty_shop, new=new).cut

    assert "override: a trial" in trace(empty_shop, cut.code).subject.words


def test_a_private_name_is_marked_as_such(empty_shop: Workshop, family: _Family) -> None:
    """The owner sees the name, told apart from what may be said."""
    described = trace(empty_shop, family.donor).subject.words
    set_naming(empty_shop, donor=family.donor, naming="named", naming_how="by letter")
    named = trace(empty_shop, family.donor).subject.words

    assert described == "a planetarium (private: Kelpie Point Planetarium)"
    assert named == "Kelpie Point Planetarium"


@pytest.mark.parametrize("kind", KINDS)
def test_an_unknown_code_of_each_kind_is_not_found(empty_shop: Workshop, kind: str) -> None:
    """What is not here has no line."""
    code, _ = next_code(kind, "K", 0)
    with pytest.raises(NotFound, match=code):
        trace(empty_shop, code)


def test_a_withdrawn_piece_is_where_it_was_put(empty_shop: Workshop, family: _Family) -> None:
    """Its stage is its place."""
    (view,) = set_stage(empty_shop, pieces=[family.piece], stage="withdrawn", note="broken")

    assert where_now(empty_shop.conn, view.piece) == "withdrawn"


def test_a_gift_was_given_and_not_sold(empty_shop: Workshop, family: _Family) -> None:
    """Nothing was paid, so no line says that it was sold."""
    view = sell(empty_shop, piece=family.piece, price_minor=0, venue="Lantern Fair")

    assert where_now(empty_shop.conn, view.piece) == "given away at Lantern Fair on 2026-05-04"
