"""What goes to the router's program is true to size, and the same file every time."""

from __future__ import annotations

import io
import math
import subprocess
import sys

import ezdxf.filemanagement
import ezdxf.recover
import pytest
import svgelements
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.errors import BadValue
from salvage.geometry.arcs import FLATTENING_MM
from salvage.geometry.dxf import read_dxf
from salvage.geometry.handover import (
    DatumPoint,
    Handover,
    PlacedPiece,
    Side,
    breadth_mm,
    notes_of,
    seen_from,
)
from salvage.geometry.handover_dxf import draw_handover_dxf
from salvage.geometry.handover_svg import draw_handover_svg
from salvage.geometry.outline import circle, rectangle, to_polygon
from salvage.geometry.placing import Placement, place
from salvage.geometry.shapes import built_in_shape
from salvage.geometry.svg import read_svg
from salvage.records.region import Region

THREE = (
    DatumPoint("hole 1", 5, 5, 3.2),
    DatumPoint("hole 2", 95, 5, 3.2),
    DatumPoint("left edge", 0, 50),
)
BOARD = rectangle(100, 60)
DISC = place(circle(30), Placement(25_000, 30_000))
TAG = place(built_in_shape("rounded-tag", width_mm=20), Placement(70_111, 31_222, 77_000))
PORT = place(rectangle(12, 8), Placement(44_000, 52_000))


def board(*pieces: Region) -> Handover:
    """A board with three datum points, a keep-out and some pieces."""
    placed = tuple(PlacedPiece(f"PA{n}", piece) for n, piece in enumerate(pieces))
    return Handover("BA100X", BOARD, THREE, placed, (PlacedPiece("serial port", PORT),))


def svg_layer(data: bytes, layer: str) -> list[Polygon]:
    """Polygons of a group, read by the drawing library, in mm with y up."""
    drawing = svgelements.SVG.parse(io.BytesIO(data), ppi=25.4, reify=True)
    group = next(e for e in drawing.elements() if getattr(e, "id", None) == layer)
    found = []
    for shape in group.select(lambda e: isinstance(e, svgelements.Shape)):
        for run in svgelements.Path(shape).as_subpaths():
            path = svgelements.Path(run)
            steps = [
                segment.point(i / 64)
                for segment in path
                if not isinstance(segment, svgelements.Move)
                for i in range(64 if isinstance(segment, svgelements.Arc) else 1)
            ]
            # The library's millimetre is off by half a millionth.
            found.append(Polygon([(p.x, 60 - p.y) for p in steps]))
    return found


def dxf_layer(data: bytes, layer: str) -> list[Polygon]:
    """Polygons of a layer, read by the drawing library."""
    document = ezdxf.filemanagement.read(io.StringIO(data.decode()))
    found = []
    for entity in document.modelspace().query(f'*[layer=="{layer}"]'):
        if entity.dxftype() == "CIRCLE":
            points = entity.flattening(0.0001)  # type: ignore[attr-defined]
        else:
            points = entity.vertices_in_wcs()  # type: ignore[attr-defined]
        found.append(Polygon([(p.x, p.y) for p in points]))
    return found


def check_same(found: BaseGeometry, truth: BaseGeometry) -> None:
    """Hausdorff distance at most 0.01 mm, area within 0.2 %."""
    assert found.hausdorff_distance(truth) <= 0.01
    assert found.area == pytest.approx(truth.area, rel=2e-3)


@pytest.mark.parametrize("side", ["front", "back"])
def test_both_drawings_are_read_back_true_to_size(side: Side) -> None:
    """Read by libraries of their own: edge, keep-out, piece with its hole, datum, on each side."""
    seen = seen_from(board(TAG), side)
    svg, dxf = draw_handover_svg(board(TAG), side=side), draw_handover_dxf(board(TAG), side=side)
    tag, port = to_polygon(seen.pieces[0].region), to_polygon(seen.keep_outs[0].region)

    for layers in (
        {name: svg_layer(svg, name) for name in ("board", "keep-out", "datum")}
        | {"rings": svg_layer(svg, "cut")},
        {"board": dxf_layer(dxf, "BOARD"), "keep-out": dxf_layer(dxf, "KEEP-OUT")}
        | {"datum": dxf_layer(dxf, "DATUM")}
        | {"rings": dxf_layer(dxf, "CUT") + dxf_layer(dxf, "CUT-HOLES")},
    ):
        check_same(layers["board"][0], to_polygon(BOARD))
        check_same(layers["keep-out"][0], port)
        check_same(layers["rings"][0].difference(layers["rings"][1]), tag)
        for mark, point in zip(layers["datum"], seen.datum, strict=True):
            round_mark = Point(point.x_mm, point.y_mm).buffer((point.hole_mm or 1) / 2, 200)
            check_same(mark, round_mark)


def test_a_disc_has_the_area_of_the_true_circle() -> None:
    """Against 900 pi / 4 mm², and nowhere farther off the circle than its steps are."""
    for found in (
        svg_layer(draw_handover_svg(board(DISC)), "cut")[0],
        dxf_layer(draw_handover_dxf(board(DISC)), "CUT")[0],
    ):
        assert found.area == pytest.approx(math.pi * 225, rel=1e-4)
        assert found.hausdorff_distance(Point(25, 30).buffer(15, 2000)) <= FLATTENING_MM
        check_same(found, to_polygon(DISC))


@settings(max_examples=25, deadline=None)
@given(st.integers(20_000, 80_000), st.integers(20_000, 40_000), st.integers(0, 359_999))
def test_our_own_readers_give_back_the_very_regions(x_um: int, y_um: int, mdeg: int) -> None:
    """Every corner to the micrometre, wherever the piece lies."""
    piece = place(built_in_shape("teardrop", width_mm=18), Placement(x_um, y_um, mdeg))

    assert piece in read_svg(draw_handover_svg(board(piece)))
    assert read_dxf(draw_handover_dxf(board(piece)), layers=["CUT"]) == (piece,)
    assert read_dxf(draw_handover_dxf(board(piece)), layers=["BOARD"]) == (BOARD,)


def test_seen_from_the_back_twice_is_the_front() -> None:
    """Turned over, x is mirrored within the board's box and y stays."""
    back = seen_from(board(TAG), "back")

    assert seen_from(back, "back") == board(TAG)
    assert back.pieces[0].region.area_um2 == TAG.area_um2
    assert back.datum[1] == DatumPoint("hole 2", 5, 5, 3.2)
    assert back.keep_outs[0].region.bounds_um == (44_000, 52_000, 56_000, 60_000)
    with pytest.raises(BadValue, match="front or back"):
        seen_from(board(TAG), "left")  # type: ignore[arg-type]


def test_the_library_finds_no_fault_in_the_drawing() -> None:
    """Its audit is clean, the unit is mm, and code and datum stand in the file."""
    data = draw_handover_dxf(board(TAG), show_code=True)

    document, audit = ezdxf.recover.read(io.BytesIO(data))

    assert not audit.has_errors
    assert not audit.has_fixes
    assert document.units == 4
    assert document.header.custom_vars.get("board") == "BA100X"
    assert [t.dxf.text for t in document.modelspace().query("TEXT")] == ["BA100X"]
    assert b"hole 2: x 95.000, y 5.000, hole 3.2" in data


def test_the_code_is_in_the_svg_and_shown_only_if_asked_for() -> None:
    """Some programs engrave whatever text they are shown."""
    assert b"<title>BA100X back</title>" in draw_handover_svg(board(), side="back")
    assert b"<text" not in draw_handover_svg(board())
    assert b">BA100X</text>" in draw_handover_svg(board(), show_code=True)


def test_names_are_data() -> None:
    """A name with marks of the drawing's own language is written as such."""
    odd = Handover("B<&>", BOARD, THREE, (PlacedPiece('"fern" & <kite>', DISC),))

    drawing = svgelements.SVG.parse(io.BytesIO(draw_handover_svg(odd)))

    labels = [e.values.get("data-label") for e in drawing.elements() if hasattr(e, "values")]
    assert '"fern" & <kite>' in labels


def test_the_same_board_gives_the_same_bytes_on_another_day() -> None:
    """A second process, with another seed for its sets, writes the same file."""
    code = (
        "from hashlib import sha256\n"
        "from salvage.geometry.handover import DatumPoint, Handover\n"
        "from salvage.geometry.handover_dxf import draw_handover_dxf\n"
        "from salvage.geometry.handover_svg import draw_handover_svg\n"
        "from salvage.geometry.outline import rectangle\n"
        "datum = DatumPoint('a', 5, 5, 3), DatumPoint('b', 95, 5)\n"
        "board = Handover('BA100X', rectangle(100, 60), datum)\n"
        "print(sha256(draw_handover_dxf(board) + draw_handover_svg(board)).hexdigest())\n"
    )

    prints = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": "."},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2", "3")
    }

    assert len(prints) == 1


@pytest.mark.parametrize(
    ("words", "datum", "code"),
    [
        ("1 datum points do not hold", THREE[:1], "B"),
        ("do not hold", (THREE[0], DatumPoint("near", 6, 5)), "B"),
        ("no sound place", (THREE[0], DatumPoint("far", math.nan, 5)), "B"),
        ("cannot be drawn", THREE, "B\n"),
        ("no label code", THREE, ""),
    ],
)
def test_a_board_that_cannot_be_found_again_is_not_drawn(
    words: str, datum: tuple[DatumPoint, ...], code: str
) -> None:
    """Without two points apart and a code the drawing is no use at the machine."""
    with pytest.raises(BadValue, match=words):
        Handover(code, BOARD, datum)


def test_three_points_off_one_line_hold_a_board_well() -> None:
    """Two do, but the drawing says that a third place must be checked."""
    two = Handover("B", BOARD, THREE[:2])

    assert board().is_well_held
    assert not two.is_well_held
    assert breadth_mm(THREE[:2]) == 0
    assert any("check a third place" in note for note in notes_of(two, "front"))
    assert not any("check a third place" in note for note in notes_of(board(), "front"))
