"""Cutting and reserving: only where there is room, only from a board that is clear."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
import shapely
from shapely import affinity

from salvage.errors import BadOutline, BadValue, Held, NoRoom, NotFound, Refused
from salvage.geometry.outline import map_points, rectangle, to_polygon
from salvage.ids import Code, next_code
from salvage.records.region import Region, region_of_text
from salvage.records.things import Board
from salvage.work.cutting import (
    ONE_BOARD,
    NewCut,
    Spot,
    describe_spot,
    record_cut,
    release,
    reserve,
    spot_of_reservation,
    usual_kerf_mm,
)
from salvage.work.history import read_history
from salvage.work.library import ChosenShape, choose_shape
from salvage.work.record import NewBoard, NewKeepOut, add_keep_outs, record_boards
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.bench import add_board, add_cleared_board, add_drop_off, circle_at, cut_circle, dump


def _square_at(x_mm: float, y_mm: float, *, side_mm: float = 20) -> Spot:
    half = round(side_mm * 500)
    square = Region(((-half, -half), (half, -half), (half, half), (-half, half)))
    return Spot(ChosenShape("square", square), round(x_mm * 1000), round(y_mm * 1000))


def _measured(error: pytest.ExceptionInfo[NoRoom]) -> float:
    """The first area that a refusal tells, in mm²."""
    found = re.search(r"([0-9.]+) mm²", str(error.value))

    assert found is not None
    return float(found[1])


def test_a_cut_makes_a_piece_that_knows_its_board(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """The piece has a code of its own, the cut has its place, and the area goes down."""
    view = cut_circle(empty_shop, cleared_board.code, 40, 40)

    assert view.piece is not None
    assert (view.piece.cut, view.piece.board) == (view.cut.code, cleared_board.code)
    assert (view.piece.stage, view.piece.custody) == ("rough", ONE_BOARD)
    assert (view.cut.x_um, view.cut.y_um, view.cut.kerf_um) == (40_000, 40_000, 2000)
    assert view.cut.area_um2 == pytest.approx(3.14159265 * 15_000**2, rel=1e-3)
    assert view.cut.usable_before_um2 == cleared_board.usable_um2
    assert view.board.usable_um2 == view.cut.usable_after_um2 < cleared_board.usable_um2
    assert view.board.cut_count == 1


def test_scrap_needs_a_reason_and_makes_no_piece(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """What broke is written down with the why; it takes its room all the same."""
    spot = circle_at(empty_shop, 40, 40)
    with pytest.raises(BadValue, match="say why it is scrap"):
        record_cut(empty_shop, new=NewCut(cleared_board.code, spot, outcome="scrap", reason=" "))
    view = record_cut(
        empty_shop, new=NewCut(cleared_board.code, spot, outcome="scrap", reason="cracked")
    )

    assert view.piece is None
    assert (view.cut.outcome, view.cut.reason) == ("scrap", "cracked")
    with pytest.raises(NoRoom, match=f"overlaps cut '{view.cut.code}'"):
        cut_circle(empty_shop, cleared_board.code, 40, 40)


def test_a_held_board_is_not_cut(empty_shop: Workshop, held_board: Board) -> None:
    """Each open hazard is named, and nothing is written."""
    before = dump(empty_shop)
    with pytest.raises(Held, match=r"may not be cut.*coin-cell: not checked.*board clear"):
        cut_circle(empty_shop, held_board.code, 40, 40)
    blank = NewCut(held_board.code, circle_at(empty_shop, 40, 40), override_reason="  ")
    with pytest.raises(Held):
        record_cut(empty_shop, new=blank)

    assert dump(empty_shop) == before


def test_an_override_stays_on_the_record(empty_shop: Workshop, held_board: Board) -> None:
    """Who cuts a held board all the same is in the history with the reason, for ever."""
    new = NewCut(
        held_board.code,
        circle_at(empty_shop, 40, 40),
        override_reason="seen by the safety officer",
    )
    view = record_cut(empty_shop, new=new)
    last = read_history(empty_shop, held_board.code)[-1]

    assert view.cut.override_reason == "seen by the safety officer"
    assert view.cut.by == "Maren"
    assert "OVERRIDE: seen by the safety officer" in last.words


def _taken(shop: Workshop, board: Code, what: str, side_mm: float) -> shapely.Polygon:
    """A square of something at (50, 40), as a polygon of shapely's own making."""
    spot = _square_at(50, 40, side_mm=side_mm)
    if what == "cut":
        record_cut(shop, new=NewCut(board, spot, kerf_mm=2.0))
    elif what == "reservation":
        reserve(shop, board=board, spot=spot, for_whom="order 3")
    else:
        add_keep_outs(shop, board=board, keep_outs=[NewKeepOut(spot.region(), "port")])
    return shapely.box(50 - side_mm / 2, 40 - side_mm / 2, 50 + side_mm / 2, 40 + side_mm / 2)


@pytest.mark.parametrize("what", ["cut", "keep-out", "reservation"])
def test_an_overlap_is_refused_with_its_measure(
    empty_shop: Workshop, cleared_board: Board, what: str
) -> None:
    """The area told is the one that shapely measures on its own polygons."""
    other = _taken(empty_shop, cleared_board.code, what, 20)
    before = dump(empty_shop)
    with pytest.raises(NoRoom, match=f"overlaps {what}") as caught:
        record_cut(empty_shop, new=NewCut(cleared_board.code, _square_at(66, 44), kerf_mm=2.0))
    piece = shapely.box(56, 34, 76, 54)
    # Beside a cut its kerf counts; beside the others the kerf that is about to be cut.
    true = (
        piece.intersection(other.buffer(2, quad_segs=64))
        if what == "cut"
        else piece.buffer(2, quad_segs=64).intersection(other)
    )

    assert _measured(caught) == pytest.approx(true.area, abs=0.06)
    assert dump(empty_shop) == before


@pytest.mark.parametrize(("x_mm", "y_mm"), [(5, 40), (118, 40), (60, 3), (60, 79), (0, 0)])
def test_a_piece_over_the_edge_is_refused_with_its_measure(
    empty_shop: Workshop, cleared_board: Board, x_mm: float, y_mm: float
) -> None:
    """How much hangs over is told, and how far the board reaches."""
    with pytest.raises(NoRoom, match=r"reaches over the edge by .* 0,0 to 120,80 mm") as caught:
        record_cut(empty_shop, new=NewCut(cleared_board.code, _square_at(x_mm, y_mm)))
    piece = shapely.box(x_mm - 10, y_mm - 10, x_mm + 10, y_mm + 10)
    off = piece.difference(shapely.box(0, 0, 120, 80)).area

    assert _measured(caught) == pytest.approx(off, abs=0.06)


def test_a_piece_over_a_hole_is_refused(empty_shop: Workshop) -> None:
    """A hole in the board is an edge as well."""
    hole = tuple(reversed(_square_at(60, 40, side_mm=8).region().outer))
    outline = Region(rectangle(120, 80).outer, (hole,))
    new = NewBoard(add_drop_off(empty_shop), "memory-module", outline=outline)
    board = record_boards(empty_shop, new=new)[0]
    with pytest.raises(NoRoom, match="reaches over the edge") as caught:
        record_cut(
            empty_shop, new=NewCut(board.code, _square_at(60, 40), override_reason="a trial")
        )

    assert _measured(caught) == pytest.approx(64, abs=0.06)


def test_touching_edges_are_no_overlap(empty_shop: Workshop, cleared_board: Board) -> None:
    """Along the board's edge, and with shears edge to edge, pieces may touch."""
    for x_mm, y_mm in ((10, 10), (30, 10), (10, 30), (110, 70)):
        new = NewCut(cleared_board.code, _square_at(x_mm, y_mm), tool="shears", kerf_mm=0)
        record_cut(empty_shop, new=new)
    with pytest.raises(NoRoom):
        record_cut(
            empty_shop,
            new=NewCut(cleared_board.code, _square_at(49.9, 10), tool="shears", kerf_mm=0),
        )


def test_a_kerf_keeps_neighbours_apart(empty_shop: Workshop, cleared_board: Board) -> None:
    """A router that takes 2 mm leaves no room for an edge 1.9 mm away; at 2 mm it does."""
    record_cut(empty_shop, new=NewCut(cleared_board.code, _square_at(20, 40), kerf_mm=2.0))
    with pytest.raises(NoRoom, match="or its kerf"):
        record_cut(empty_shop, new=NewCut(cleared_board.code, _square_at(41.9, 40)))

    assert record_cut(empty_shop, new=NewCut(cleared_board.code, _square_at(42, 40))).piece


def test_a_cut_from_the_back_is_mirrored(empty_shop: Workshop, cleared_board: Board) -> None:
    """Turned over, the piece is as drawn: shapely's own mirror image gives the same region."""
    tri = Region(((-9000, -5000), (9000, -5000), (-9000, 5000)))
    shape = ChosenShape("fin", tri)
    front = Spot(shape, 40_000, 40_000, 30_000)
    back = Spot(shape, 40_000, 40_000, 30_000, "back")
    view = record_cut(empty_shop, new=NewCut(cleared_board.code, back))
    mirrored = affinity.scale(to_polygon(tri), -1, 1, origin=(0, 0))
    wanted = affinity.translate(affinity.rotate(mirrored, 30, origin=(0, 0)), 40, 40)
    region = to_polygon(region_of_text(view.cut.region))

    assert (view.cut.side, view.cut.mirrored) == ("back", 1)
    assert region.symmetric_difference(wanted).area < 0.05
    assert front.region() != back.region()


@pytest.mark.parametrize("kerf_mm", [0.0, 2.0])
def test_a_reservation_is_cut_as_it_stands(
    empty_shop: Workshop, cleared_board: Board, kerf_mm: float
) -> None:
    """What was held for somebody is cut in its place, and is then no longer held."""
    moon = choose_shape(empty_shop, name="half-moon", width_mm=20)
    spot = Spot(moon, 40_000, 40_000, 12_345, "back")
    held = reserve(empty_shop, board=cleared_board.code, spot=spot, for_whom="order 3")
    again = spot_of_reservation(held)
    view = record_cut(
        empty_shop,
        new=NewCut(cleared_board.code, again, kerf_mm=kerf_mm, reservation=held.code),
    )
    ((state,),) = empty_shop.conn.execute("SELECT state FROM reservation")

    assert view.cut.region == held.region == spot.region().to_text()
    assert (view.cut.x_um, view.cut.angle_mdeg, view.cut.side) == (40_000, 12_345, "back")
    assert (state, view.cut.reservation) == ("cut", held.code)
    with pytest.raises(Refused, match="is cut on"):
        record_cut(empty_shop, new=NewCut(cleared_board.code, again, reservation=held.code))


def test_a_released_place_is_free_again(empty_shop: Workshop, cleared_board: Board) -> None:
    """After the order is off, the area is as before; a place is released once."""
    spot = circle_at(empty_shop, 40, 40)
    held = reserve(empty_shop, board=cleared_board.code, spot=spot, for_whom="order 3")
    with pytest.raises(NoRoom, match=f"overlaps reservation '{held.code}'"):
        cut_circle(empty_shop, cleared_board.code, 45, 40)
    released = release(empty_shop, reservation=held.code, reason="order off")
    with pytest.raises(Refused, match="released already"):
        release(empty_shop, reservation=held.code)

    assert released.state == "released"
    ((usable,),) = empty_shop.conn.execute("SELECT usable_um2 FROM board")
    assert usable == cleared_board.usable_um2
    cut_circle(empty_shop, cleared_board.code, 45, 40)


def test_a_reservation_needs_a_name_and_room(empty_shop: Workshop, held_board: Board) -> None:
    """A place on a held board may be promised, but not to nobody and not over another's."""
    spot = circle_at(empty_shop, 40, 40)
    with pytest.raises(BadValue, match="for whom"):
        reserve(empty_shop, board=held_board.code, spot=spot, for_whom=" ")
    reserve(empty_shop, board=held_board.code, spot=spot, for_whom="order 3")
    with pytest.raises(NoRoom, match="overlaps reservation"):
        reserve(empty_shop, board=held_board.code, spot=spot, for_whom="order 4")


def test_a_reservation_of_another_board_is_refused(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """A place belongs to one board."""
    other = add_cleared_board(empty_shop)
    spot = circle_at(empty_shop, 40, 40)
    held = reserve(empty_shop, board=other.code, spot=spot, for_whom="order 3")
    with pytest.raises(Refused, match=f"not held on {cleared_board.code}"):
        record_cut(empty_shop, new=NewCut(cleared_board.code, spot, reservation=held.code))


def test_a_board_without_outline_has_no_room(empty_shop: Workshop) -> None:
    """Before a board is measured nothing can be placed on it."""
    new = NewBoard(add_drop_off(empty_shop), "memory-module")
    board = record_boards(empty_shop, new=new)[0]
    spot = circle_at(empty_shop, 40, 40)
    with pytest.raises(BadOutline, match="no outline yet"):
        record_cut(empty_shop, new=NewCut(board.code, spot, override_reason="a trial"))
    with pytest.raises(BadOutline, match="no outline yet"):
        reserve(empty_shop, board=board.code, spot=spot, for_whom="order 3")


def test_unknown_boards_and_reservations_are_not_found(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """A code that is right in form but nobody's is refused."""
    spot = circle_at(empty_shop, 40, 40)
    nobody: Callable[[str], Code] = lambda kind: next_code(kind, "K", 0)[0]  # noqa: E731
    with pytest.raises(NotFound, match="no board"):
        record_cut(empty_shop, new=NewCut(nobody("B"), spot))
    with pytest.raises(NotFound, match="no reservation"):
        record_cut(empty_shop, new=NewCut(cleared_board.code, spot, reservation=nobody("R")))
    with pytest.raises(NotFound, match="no reservation"):
        release(empty_shop, reservation=nobody("R"))


def test_a_trial_cuts_nothing(empty_shop: Workshop, cleared_board: Board) -> None:
    """A dry run tells code and remaining area; the real cut then gives the same."""
    before = dump(empty_shop)
    new = NewCut(cleared_board.code, circle_at(empty_shop, 40, 40))
    tried = record_cut(empty_shop, new=new, dry_run=True)
    after = dump(empty_shop)
    done = record_cut(empty_shop, new=new)

    assert after == before
    assert tried.cut.code == done.cut.code
    assert tried.board.usable_um2 == done.board.usable_um2


def test_the_usual_kerf_is_the_tools(empty_shop: Workshop) -> None:
    """The router's from the settings, none for shears, a saw's from the table."""
    change_settings(empty_shop, typed={"kerf-mm": "1.5"})

    assert usual_kerf_mm(empty_shop, "router") == 1.5
    assert usual_kerf_mm(empty_shop, "shears") == 0
    assert 0 < usual_kerf_mm(empty_shop, "saw") < 1


def test_a_place_reads_in_words(empty_shop: Workshop) -> None:
    """Where a shape goes is told as people say it."""
    shape = choose_shape(empty_shop, name="circle", width_mm=30)

    assert describe_spot(Spot(shape, 30_500, 42_000)) == "circle at 30.5 mm, 42 mm, front"
    turned = Spot(shape, 0, 1000, 45_000, "back")
    assert describe_spot(turned) == "circle at 0 mm, 1 mm, turned 45°, back"


def test_a_keep_out_drawn_over_an_old_cut_stays_lawful(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """A region marked after a cut may lie over it: nothing is to be cut there again."""
    cut_circle(empty_shop, cleared_board.code, 40, 40)
    over = map_points(rectangle(30, 30), lambda point: (point[0] + 25_000, point[1] + 25_000))
    add_keep_outs(empty_shop, board=cleared_board.code, keep_outs=[NewKeepOut(over, "burnt")])
    with pytest.raises(NoRoom, match="burnt"):
        cut_circle(empty_shop, cleared_board.code, 68, 40)


def test_boards_are_cut_apart_from_one_another(empty_shop: Workshop) -> None:
    """The same place on two boards is two pieces."""
    first, second = add_cleared_board(empty_shop), add_board(empty_shop)
    cut_circle(empty_shop, first.code, 40, 40)
    new = NewCut(second.code, circle_at(empty_shop, 40, 40), override_reason="a trial")

    assert record_cut(empty_shop, new=new).board.cut_count == 1
