"""Handing a board over to the router's program."""

from __future__ import annotations

from pathlib import Path

import pytest

from salvage.errors import BadOutline, BadValue, Held
from salvage.geometry import dxf
from salvage.geometry.outline import circle, map_points, rectangle, to_polygon
from salvage.records.region import Region, region_of_text
from salvage.records.things import Board, Reservation
from salvage.work.cutting import Spot, reserve
from salvage.work.handing_over import choose_datum, hand_over, parse_side, print_setup
from salvage.work.library import add_shape, choose_shape
from salvage.work.record import NewBoard, NewKeepOut, add_keep_outs, record_boards
from salvage.work.workshop import Workshop
from tests.bench import add_drop_off, circle_at
from tests.paper import printed

TERN = Path(__file__).parents[2] / "demo_db" / "shapes" / "tern.svg"


def _reserve(shop: Workshop, board: Board) -> Reservation:
    add_shape(shop, name="tern", data=TERN.read_bytes(), file_name="tern.svg")
    spot = Spot(choose_shape(shop, name="tern"), 70_000, 40_000, 12_000)
    keep_out = NewKeepOut(rectangle(20, 20), "serial port")
    add_keep_outs(shop, board=board.code, keep_outs=[keep_out])
    return reserve(shop, board=board.code, spot=spot, for_whom="order 12")


def test_the_drawing_is_read_back_true(empty_shop: Workshop, cleared_board: Board) -> None:
    """The piece comes out of the exchange file where it was reserved, to a hundredth of a mm."""
    held = _reserve(empty_shop, cleared_board)
    data = hand_over(empty_shop, board=cleared_board.code, form="dxf")
    (piece,) = dxf.read_dxf(data, name="x.dxf", layers=["CUT", "CUT-HOLES"])
    there, here = to_polygon(piece), to_polygon(region_of_text(held.region))

    assert there.hausdorff_distance(here) <= 0.01
    assert there.area == pytest.approx(here.area, rel=0.002)


def test_the_back_is_mirrored(empty_shop: Workshop, cleared_board: Board) -> None:
    """Turned over about its vertical middle, the piece lies at 120 mm less its place."""
    held = _reserve(empty_shop, cleared_board)
    data = hand_over(empty_shop, board=cleared_board.code, form="dxf", side="back")
    (piece,) = dxf.read_dxf(data, name="x.dxf", layers=["CUT", "CUT-HOLES"])
    mirrored = map_points(region_of_text(held.region), lambda p: (120_000 - p[0], p[1]))

    assert to_polygon(piece).symmetric_difference(to_polygon(mirrored)).area < 0.5


def test_the_svg_names_board_and_place(empty_shop: Workshop, cleared_board: Board) -> None:
    """Code, reservation and keep-out stand in the file; its size is the board's, in mm."""
    held = _reserve(empty_shop, cleared_board)
    text = hand_over(empty_shop, board=cleared_board.code).decode()

    assert 'width="120mm" height="80mm"' in text
    for word in (cleared_board.code, held.code, "serial port"):
        assert word in text


def test_the_setup_sheet_says_what_is_to_be_done(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """Code, place, datum, keep-out and cautions are on page one, limits and sources on page two."""
    held = _reserve(empty_shop, cleared_board)
    pdf = print_setup(empty_shop, board=cleared_board.code)
    text = printed.letters(pdf)

    for words in (cleared_board.code, held.code, "order 12", "serial port", "lower left edge"):
        assert "".join(words.split()) in text
    assert "glassfibre" in text
    assert printed.sizes_mm(pdf) == [(210.0, 297.0)] * 2
    page, _ = printed.pages_of(pdf, 150)
    assert printed.read_by_zxing(page) == [cleared_board.code]


def test_a_held_board_is_not_handed_over(empty_shop: Workshop, held_board: Board) -> None:
    """What may not be cut does not go to the router."""
    reserve(
        empty_shop, board=held_board.code, spot=circle_at(empty_shop, 60, 40), for_whom="order 1"
    )

    with pytest.raises(Held, match="not checked"):
        hand_over(empty_shop, board=held_board.code)


def test_nothing_reserved_is_nothing_to_hand_over(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """An empty drawing would be a slip; so is a form that is none."""
    with pytest.raises(BadValue, match="nothing is reserved"):
        hand_over(empty_shop, board=cleared_board.code)
    with pytest.raises(BadValue, match="svg or dxf"):
        hand_over(empty_shop, board=cleared_board.code, form="pdf")
    with pytest.raises(BadValue, match="front or back"):
        parse_side("upside down")


def test_a_board_without_outline_is_refused(empty_shop: Workshop) -> None:
    """Nothing can be placed on a board that is not measured."""
    (board,) = record_boards(empty_shop, new=NewBoard(add_drop_off(empty_shop), "backplane"))

    with pytest.raises(BadOutline):
        print_setup(empty_shop, board=board.code)


def _with_holes(*middles_mm: tuple[int, int]) -> Region:
    ring = circle(3.2).outer
    holes = tuple(
        tuple((x + mx * 1000, y + my * 1000) for x, y in reversed(ring)) for mx, my in middles_mm
    )
    return Region(rectangle(120, 80).outer, holes)


def test_three_far_holes_make_the_datum() -> None:
    """Mounting holes are found again by a pin; the three farthest off one line are taken."""
    outline = _with_holes((5, 5), (110, 5), (5, 70), (60, 37))
    datum = choose_datum(outline)

    assert {round(point.hole_mm, 1) for point in datum} == {3.2}
    assert len(datum) == 3
    assert {(round(p.x_mm), round(p.y_mm)) for p in datum} <= {
        (5, 5),
        (110, 5),
        (5, 70),
        (60, 37),
    }


def test_two_holes_do_not_hold_a_board() -> None:
    """With fewer than three holes the corners of the edge serve."""
    datum = choose_datum(_with_holes((5, 5), (110, 5)))

    assert [point.hole_mm for point in datum] == [0, 0, 0]


def test_a_shape_comes_from_an_exchange_drawing(empty_shop: Workshop, cleared_board: Board) -> None:
    """What was handed over as DXF can be taken in as a shape again."""
    _reserve(empty_shop, cleared_board)
    own = choose_shape(empty_shop, name="tern").region
    text = _dxf_of(own)
    shape = add_shape(empty_shop, name="tern two", data=text, file_name="Tern.DXF")

    assert shape.area_um2 == pytest.approx(own.area_um2, rel=0.002)


def _dxf_of(region: Region) -> bytes:
    import io

    import ezdxf

    drawing = ezdxf.new("R2010", units=4)  # type: ignore[attr-defined]
    for ring in (region.outer, *region.holes):
        points = [(x / 1000, y / 1000) for x, y in ring]
        drawing.modelspace().add_lwpolyline(points, close=True)
    stream = io.StringIO()
    drawing.write(stream)
    return stream.getvalue().encode()
