"""A drawing-exchange file comes out true to size, or is refused in one line that says why."""

from __future__ import annotations

import io
import math
from collections.abc import Callable
from typing import Any

import ezdxf.filemanagement
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from salvage.errors import BadFile
from salvage.geometry.dxf import MOST_BYTES, one_outline, read_dxf
from salvage.geometry.outline import to_polygon

Draw = Callable[[Any], object]
SQUARE = [(0, 0), (40, 0), (40, 30), (0, 30)]


def drawing(draw: Draw, *, unit: int = 4, version: str = "R2010") -> bytes:
    """A file whose model space *draw* fills; in millimetres unless said otherwise."""
    document = ezdxf.filemanagement.new(version, units=unit)
    draw(document.modelspace())
    text = io.StringIO()
    document.write(text)
    return text.getvalue().encode()


def loose_square(model: Any) -> None:
    """Four sides drawn in any order and direction."""
    for start, stop in (((0, 0), (40, 0)), ((40, 30), (40, 0)), ((0, 30), (0, 0))):
        model.add_line(start, stop)
    model.add_line((40, 30), (0.004, 30.004))


def half_round(model: Any) -> None:
    """A half disc of a line and an arc."""
    model.add_arc((0, 0), 20, 0, 180)
    model.add_line((-20, 0), (20, 0))


def turned_block(model: Any) -> None:
    """A block drawn twice as large, turned and mirrored."""
    block = model.doc.blocks.new("kite")
    block.add_lwpolyline(SQUARE, close=True)
    model.add_blockref("kite", (90, 5), {"xscale": -2, "yscale": 2, "rotation": 33})


def nested_block(model: Any) -> None:
    """A block in a block."""
    model.doc.blocks.new("inner").add_circle((3, 0), 5)
    model.doc.blocks.new("outer").add_blockref("inner", (7, 7), {"xscale": 3, "yscale": 3})
    model.add_blockref("outer", (0, 0), {"xscale": -1})


@pytest.mark.parametrize(
    ("draw", "area_mm2"),
    [
        (lambda m: m.add_lwpolyline(SQUARE, close=True), 1200.0),
        (lambda m: m.add_lwpolyline([*SQUARE, (0, 0)]), 1200.0),
        (lambda m: m.add_polyline2d(SQUARE, close=True), 1200.0),
        # A bulge of 1 is a half circle, of tan(pi / 8) a quarter circle (DXF reference).
        (
            lambda m: m.add_lwpolyline([(0, 0, 1), (0, 20, 1)], format="xyb", close=True),
            math.pi * 100,
        ),
        (
            lambda m: m.add_lwpolyline(
                [(0, 0, 0), (20, 0, -math.tan(math.pi / 8)), (0, 20, 0)], format="xyb", close=True
            ),
            400 - math.pi * 100,
        ),
        (lambda m: m.add_circle((9, 9), 20), math.pi * 400),
        (lambda m: m.add_circle((9, 9), 1.25), math.pi * 1.25**2),
        (lambda m: m.add_ellipse((5, 5), (30, 0), 2 / 3), math.pi * 600),
        (loose_square, 1200.0),
        (half_round, math.pi * 200),
        (turned_block, 4800.0),
        (nested_block, 9 * math.pi * 25),
    ],
)
def test_a_drawn_shape_has_its_analytic_area(draw: Draw, area_mm2: float) -> None:
    """Every kind of line, loose or in a block, is true to a twentieth of a per cent."""
    assert one_outline(drawing(draw)).area_mm2 == pytest.approx(area_mm2, rel=5e-4)


def test_a_closed_spline_is_followed() -> None:
    """A periodic spline of four corners, against the uniform cubic's blending by hand."""
    corners = [(0.0, 0.0), (30.0, 0.0), (40.0, 20.0), (10.0, 30.0)]

    def blend(i: int, t: float) -> tuple[float, float]:
        # Uniform cubic B-spline (textbook matrix, from memory).
        weights = ((1 - t) ** 3, 3 * t**3 - 6 * t**2 + 4, -3 * t**3 + 3 * t**2 + 3 * t + 1, t**3)
        four = [corners[(i + k) % 4] for k in range(4)]
        x, y = (sum(w * p[axis] for w, p in zip(weights, four, strict=True)) for axis in (0, 1))
        return x / 6, y / 6

    truth = Polygon([blend(i, t / 50) for i in range(4) for t in range(50)])

    def draw(model: Any) -> None:
        model.add_spline().set_closed([(x, y, 0) for x, y in corners])

    region = one_outline(drawing(draw))

    assert region.area_mm2 == pytest.approx(truth.area, rel=2e-3)
    assert to_polygon(region).hausdorff_distance(truth) <= 0.03


def test_a_line_within_a_line_is_a_hole_and_a_line_drawn_twice_counts_once() -> None:
    """A tag with its hanging hole, exported twice over itself."""

    def draw(model: Any) -> None:
        for _ in range(2):
            model.add_lwpolyline(SQUARE, close=True)
            model.add_lwpolyline([(10, 10), (20, 10), (20, 20), (10, 20)], close=True)

    region = one_outline(drawing(draw))

    assert region.area_mm2 == 1100.0
    assert len(region.holes) == 1


@pytest.mark.parametrize(("unit", "factor"), [(1, 25.4), (4, 1), (5, 10), (9, 0.0254), (13, 0.001)])
def test_the_unit_of_the_file_is_kept(unit: int, factor: float) -> None:
    """Inches, millimetres, centimetres, mils and micrometres each come out as large as meant."""
    sides = [(x / factor, y / factor) for x, y in SQUARE]

    region = one_outline(drawing(lambda m: m.add_lwpolyline(sides, close=True), unit=unit))

    assert region.size_mm == (40.0, 30.0)


def test_a_drawing_without_unit_is_refused_with_the_width_it_would_have() -> None:
    """The maker sees at once which of the two it is."""
    data = drawing(lambda m: m.add_lwpolyline(SQUARE, close=True), unit=0)

    with pytest.raises(BadFile, match=r"its unit.*40\.0 mm wide if drawn in mm, 1016\.0 mm if"):
        read_dxf(data)


@pytest.mark.parametrize(
    ("words", "draw"),
    [
        ("holds a 'TEXT'; turn the text into lines", lambda m: m.add_text("fern")),
        ("holds a 'MTEXT'", lambda m: m.add_mtext("fern")),
        ("holds a 'HATCH'", lambda m: m.add_hatch()),
        ("holds a 'XLINE'", lambda m: m.add_xline((0, 0), (1, 0))),
        ("holds a '3DFACE'", lambda m: m.add_3dface([(0, 0), (1, 0), (1, 1), (0, 1)])),
        ("open line that ends at x 0 mm, y 0 mm", lambda m: m.add_line((0, 0), (9, 0))),
        ("no closed outline", lambda m: m.add_point((0, 0))),
        ("not flat", lambda m: m.add_polyline3d([(0, 0, 0), (9, 0, 5), (9, 9, 0)], close=True)),
        (
            "cross or touch",
            lambda m: m.add_lwpolyline([(0, 0), (9, 9), (9, 0), (0, 9)], close=True),
        ),
        ("at most 2000 mm each way", lambda m: m.add_circle((0, 0), 1500)),
        ("out of range", lambda m: m.add_circle((0, 0), 1e12)),
        ("more than 20000 points", lambda m: m.add_circle((0, 0), 9e7)),
        ("which it does not hold", lambda m: m.add_blockref("lost", (0, 0))),
    ],
)
def test_what_is_no_outline_is_refused(words: str, draw: Draw) -> None:
    """One line says what was found and how to mend it."""
    with pytest.raises(BadFile) as refusal:
        read_dxf(drawing(draw), name="fern.dxf")

    assert words in str(refusal.value)
    assert str(refusal.value).startswith("fern.dxf: ")
    assert "\n" not in str(refusal.value)


def test_three_lines_in_one_place_are_refused() -> None:
    """Nobody can tell which way the outline goes."""

    def draw(model: Any) -> None:
        loose_square(model)
        model.add_line((40, 0), (55, 5))

    with pytest.raises(BadFile, match="3 lines of the drawing meet at x 40 mm, y 0 mm"):
        read_dxf(drawing(draw))


def test_two_outlines_are_told_when_one_is_wanted() -> None:
    """Their sizes are named."""

    def draw(model: Any) -> None:
        model.add_lwpolyline(SQUARE, close=True)
        model.add_circle((90, 90), 10)

    with pytest.raises(BadFile, match="holds 2 outlines"):
        one_outline(drawing(draw))


def test_hidden_layers_do_not_count() -> None:
    """What is switched off, frozen, never printed or not asked for stays out, text included."""

    def draw(model: Any) -> None:
        layers = model.doc.layers
        layers.add("OFF").off()
        layers.add("ICE").freeze()
        for layer in ("OFF", "ICE", "Defpoints"):
            model.add_text("fern", dxfattribs={"layer": layer})
        model.add_circle((90, 0), 5, dxfattribs={"layer": "other"})
        model.add_lwpolyline(SQUARE, close=True, dxfattribs={"layer": "Cut"})

    assert len(read_dxf(drawing(draw))) == 2
    assert read_dxf(drawing(draw), layers=["CUT"])[0].area_mm2 == 1200.0


def test_blocks_without_end_are_refused_quickly() -> None:
    """A few lines of file that would unfold into millions of lines."""

    def draw(model: Any) -> None:
        model.doc.blocks.new("b0").add_circle((0, 0), 1)
        for level in range(1, 15):
            block = model.doc.blocks.new(f"b{level}")
            for _ in range(10):
                block.add_blockref(f"b{level - 1}", (0, 0))
        model.add_blockref("b14", (0, 0))

    def rows(model: Any) -> None:
        model.doc.blocks.new("b").add_circle((0, 0), 1)
        grid = {"row_count": 30000, "row_spacing": 3, "column_count": 9, "column_spacing": 3}
        model.add_blockref("b", (0, 0), grid)

    for bomb in (draw, rows):
        with pytest.raises(BadFile, match="more than 20000"):
            read_dxf(drawing(bomb))


def test_a_block_in_rows_is_drawn_in_rows() -> None:
    """Two by three discs from one insertion."""

    def draw(model: Any) -> None:
        model.doc.blocks.new("disc").add_circle((0, 0), 4)
        grid = {"row_count": 2, "column_count": 3, "row_spacing": 10, "column_spacing": 10}
        model.add_blockref("disc", (0, 0), grid)

    assert len(read_dxf(drawing(draw))) == 6


@pytest.mark.parametrize("version", ["R12", "R2000", "R2018"])
def test_old_and_new_versions_are_read(version: str) -> None:
    """A file of 1992 and one of today."""
    unit = 0 if version == "R12" else 4

    data = drawing(lambda m: m.add_polyline2d(SQUARE, close=True), version=version, unit=unit)

    assert read_dxf(data, unit_mm=1.0)[0].area_mm2 == 1200.0


@pytest.mark.parametrize("data", [b"", b"kite", b"\0" * 99, b"  0\nSECTION\n  2\nENTITIES\n"])
def test_what_is_no_drawing_is_refused_in_one_line(data: bytes) -> None:
    """Empty, text, zeros, and cut off."""
    with pytest.raises(BadFile) as refusal:
        read_dxf(data)

    assert "\n" not in str(refusal.value)


def test_a_huge_file_is_refused() -> None:
    """Before it is read at all."""
    with pytest.raises(BadFile, match=r"5\.0 MB; at most 5 MB"):
        read_dxf(b"0" * (MOST_BYTES + 1))


WHOLE = drawing(half_round)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_damaged_file_gives_regions_or_a_refusal(data: st.DataObject) -> None:
    """Bytes overwritten or cut off never end in anything but outlines or one line of refusal."""
    damaged = bytearray(WHOLE)
    for _ in range(data.draw(st.integers(0, 6))):
        at = data.draw(st.integers(0, len(damaged) - 1))
        damaged[at] = data.draw(st.integers(0, 255))
    cut = data.draw(st.integers(0, len(damaged)))

    try:
        regions = read_dxf(bytes(damaged if cut % 2 else damaged[:cut]))
    except BadFile as refusal:
        assert "\n" not in str(refusal)  # noqa: PT017
    else:
        assert regions
