"""What is left of a board, from its record."""

from __future__ import annotations

import pytest
import shapely

from salvage.geometry.outline import rectangle, to_polygon
from salvage.records.region import region_of_text
from salvage.records.things import Board
from salvage.work.area import account_board, read_taken, to_um2, usable_with
from salvage.work.cutting import NewCut, record_cut, release, reserve
from salvage.work.record import NewBoard, NewKeepOut, add_keep_outs, record_boards
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.bench import add_drop_off, circle_at, cut_circle


def _usable(shop: Workshop, code: str) -> int:
    ((um2,),) = shop.conn.execute("SELECT usable_um2 FROM board WHERE code = ?", (code,))
    return int(um2)


def test_a_fresh_board_is_usable_but_for_its_corners(cleared_board: Board) -> None:
    """A disc of 12 mm sweeps all of 120 x 80 mm but (1 - pi/4) of a 12 mm square in each corner."""
    swept = 120 * 80 - (4 - 3.14159265) * 6**2

    assert cleared_board.usable_um2 / 1e6 == pytest.approx(swept, abs=1.0)


def test_a_board_without_outline_has_no_account(empty_shop: Workshop) -> None:
    """What was not measured is not guessed at."""
    board = record_boards(empty_shop, new=NewBoard(add_drop_off(empty_shop), "other"))[0]

    assert account_board(empty_shop.conn, board) is None
    assert usable_with(empty_shop.conn, board) == 0


def test_the_layers_add_up_to_the_outline(empty_shop: Workshop, cleared_board: Board) -> None:
    """Cut, kerf, keep-out, wall, reserved, usable and unusable make up every square millimetre."""
    code = cleared_board.code
    cut_circle(empty_shop, code, 30, 40)
    reserve(empty_shop, board=code, spot=circle_at(empty_shop, 95, 55), for_whom="order 3")
    keep_out = NewKeepOut(rectangle(12, 12), "port")
    add_keep_outs(empty_shop, board=code, keep_outs=[keep_out])
    ledger = account_board(empty_shop.conn, cleared_board)

    assert ledger is not None
    assert sum(ledger.areas_mm2.values()) == pytest.approx(120 * 80, rel=1e-6)
    assert ledger.area_mm2("keep-out") == pytest.approx(144, rel=1e-6)
    assert ledger.area_mm2("cut") == pytest.approx(3.14159265 * 15**2, rel=1e-3)
    # Kerf: a ring of 2 mm round a circle of 15 mm radius.
    assert ledger.area_mm2("kerf") == pytest.approx(3.14159265 * (17**2 - 15**2), rel=1e-3)
    assert to_um2(ledger.usable_mm2) == _usable(empty_shop, code)


def test_a_cut_takes_at_least_its_own_area(empty_shop: Workshop, cleared_board: Board) -> None:
    """What is usable after a cut is at most what was before, less the piece."""
    for x_mm in (25, 60, 95):
        cut = cut_circle(empty_shop, cleared_board.code, x_mm, 40).cut

        assert cut.usable_after_um2 <= cut.usable_before_um2 - cut.area_um2
        assert cut.usable_after_um2 == _usable(empty_shop, cleared_board.code)


def test_taken_things_are_cuts_standing_keep_outs_and_held_places(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """What was released or lifted takes nothing; one thing may be left out of the account."""
    code = cleared_board.code
    held = reserve(empty_shop, board=code, spot=circle_at(empty_shop, 25, 40), for_whom="order 3")
    free = reserve(empty_shop, board=code, spot=circle_at(empty_shop, 70, 40), for_whom="order 4")
    release(empty_shop, reservation=free.code)
    add_keep_outs(empty_shop, board=code, keep_outs=[NewKeepOut(rectangle(4, 4), "port")])
    kinds = [(item.kind, item.label) for item in read_taken(empty_shop.conn, code)]

    assert kinds == [("keep-out", "port"), ("reservation", held.code)]
    assert [i.kind for i in read_taken(empty_shop.conn, code, without=1)] == ["reservation"]
    assert [i.kind for i in read_taken(empty_shop.conn, code, without=held.code)] == ["keep-out"]


@pytest.mark.parametrize("typed", [{"least-mm": "25"}, {"wall-mm": "6"}, {"tool-mm": "5"}])
def test_usable_areas_follow_the_settings(
    empty_shop: Workshop, cleared_board: Board, typed: dict[str, str]
) -> None:
    """A wider tool, wall or least shape leaves less of a board that was cut already."""
    cut_circle(empty_shop, cleared_board.code, 40, 40)
    before = _usable(empty_shop, cleared_board.code)
    change_settings(empty_shop, typed=typed)
    after = _usable(empty_shop, cleared_board.code)
    change_settings(empty_shop, typed={"least-mm": "12", "wall-mm": "1", "tool-mm": "2"})

    assert after < before
    assert _usable(empty_shop, cleared_board.code) == before


def test_the_usable_region_never_touches_what_is_taken(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """Computed with shapely alone: usable fragments stay a kerf, a wall and a tool from a cut."""
    cut_circle(empty_shop, cleared_board.code, 40, 40)
    ledger = account_board(empty_shop.conn, cleared_board)
    ((text,),) = empty_shop.conn.execute("SELECT region FROM cut")
    piece = to_polygon(region_of_text(text))

    assert ledger is not None
    gaps = [shapely.distance(to_polygon(f.region), piece) for f in ledger.fragments]
    assert min(gaps) == pytest.approx(2 + 1 + 2, abs=0.02)


def test_shears_leave_no_kerf(empty_shop: Workshop, cleared_board: Board) -> None:
    """With a kerf of 0 the kerf layer is empty and more stays usable."""
    spot = circle_at(empty_shop, 40, 40)
    routed = record_cut(empty_shop, new=NewCut(cleared_board.code, spot), dry_run=True)
    sheared = record_cut(empty_shop, new=NewCut(cleared_board.code, spot, tool="shears", kerf_mm=0))
    ledger = account_board(empty_shop.conn, cleared_board)

    assert ledger is not None
    assert ledger.area_mm2("kerf") == 0
    assert sheared.board.usable_um2 > routed.board.usable_um2
