"""Mats: where everything is printed, and that the print is what the record says."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from io import BytesIO
from itertools import combinations

import pytest
from PIL import Image

from salvage.errors import BadValue
from salvage.photo.measure.mat import (
    PAPERS,
    STRIP_IDS,
    mat_of_markers,
    print_scale_of_bars,
    standard_mat,
    strip_markers,
)
from salvage.photo.measure.mat_drawing import (
    draw_mat_png,
    marker_cells,
    mat_page,
    mat_svg,
    strips_svg,
)

SVG = "{http://www.w3.org/2000/svg}"


def test_every_mat_has_markers_of_its_own() -> None:
    """A photo tells which mat it shows, and a height strip is never taken for a border."""
    numbers = [{marker.number for marker in standard_mat(paper).markers} for paper in PAPERS]

    assert all(not one & other for one, other in combinations(numbers, 2))
    assert not set.union(*numbers) & set(STRIP_IDS)
    assert max(set.union(*numbers) | set(STRIP_IDS)) < 587


@pytest.mark.parametrize("paper", PAPERS)
def test_markers_keep_clear_of_field_and_of_one_another(paper: str) -> None:
    """A marker needs one cell of white all round, or no phone will find it."""
    mat = standard_mat(paper)
    boxes = [(m.corners[3], m.corners[1]) for m in mat.markers]
    boxes.append((mat.field[:2], mat.field[2:]))

    for (a, b), (c, d) in combinations(boxes, 2):
        cell = (boxes[0][1][0] - boxes[0][0][0]) / 8
        gap = max(c[0] - b[0], a[0] - d[0], c[1] - b[1], a[1] - d[1])
        assert gap >= cell


@pytest.mark.parametrize(("paper", "width", "height"), [("a4", 235, 155), ("a2", 340, 310)])
def test_fields_hold_the_boards_they_are_meant_for(paper: str, width: int, height: int) -> None:
    """A controller board fits on A4, and a large computer board on the large sheet."""
    _, _, right, top = standard_mat(paper).field

    assert right >= width + 8
    assert top >= height + 8


def test_joined_sheets_hold_a_large_board() -> None:
    """A maker without a large printer joins four sheets for a board of 340 x 310 mm."""
    mat = standard_mat("tiles")
    _, _, right, top = mat.field

    assert right >= 348
    assert top >= 318
    assert mat.tiles == 4
    for marker in mat.markers:
        left, bottom, trim_right, trim_top = mat.sheets[marker.tile].trim
        for x, y in marker.corners:
            assert left < x < trim_right
            assert bottom < y < trim_top


def test_bars_are_200_mm_and_on_the_paper() -> None:
    """A steel rule laid on the printed bar reads exactly 200 mm when the print is true."""
    for paper in PAPERS:
        mat = standard_mat(paper)
        for bar in mat.bars:
            (x0, y0), (x1, y1) = bar.start, bar.end
            assert ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5 == pytest.approx(200)
            left, bottom, right, top = mat.sheets[0].page
            assert left + 4 < x0 <= x1 < right - 4
            assert bottom + 4 < y0 <= y1 < top - 4


def test_readings_make_a_print_scale() -> None:
    """A printer that shrinks one way is told from one that shrinks both."""
    scale = print_scale_of_bars(199.0, 200.4)

    assert scale.x == pytest.approx(0.995)
    assert scale.y == pytest.approx(1.002)


@pytest.mark.parametrize("readings", [(193.9, 200), (200, 206.1), (0, 200), (float("nan"), 200)])
def test_a_scale_that_no_printer_makes_is_refused(readings: tuple[float, float]) -> None:
    """A page fitted to the paper, or a ruler misread, is refused beyond 3 %."""
    with pytest.raises(BadValue, match="print at 100 %"):
        print_scale_of_bars(*readings)


def test_unknown_papers_and_colours_are_refused() -> None:
    """A misspelt size is answered with the sizes there are."""
    with pytest.raises(BadValue, match="a4"):
        standard_mat("a44")
    with pytest.raises(BadValue, match="magenta"):
        standard_mat("a4", colour="beige")
    with pytest.raises(BadValue, match="strip"):
        strip_markers(43)


def test_the_mat_is_the_one_most_markers_belong_to() -> None:
    """One stray marker of an old sheet does not hide which mat lies there."""
    a4, a3 = standard_mat("a4"), standard_mat("a3")

    assert mat_of_markers({0, 1, 2, 70}, (a3, a4)) == a4
    assert mat_of_markers({500}, (a3, a4)) is None


def test_the_picture_is_true_to_scale() -> None:
    """A black corner of a marker is drawn exactly where the record says."""
    mat = standard_mat("a4")
    with Image.open(BytesIO(draw_mat_png(mat, px_per_mm=4))) as picture:
        pixels = picture.convert("RGB")
    left, _, _, top = mat_page(mat)
    x, y = mat.markers[0].corners[0]
    column, row = round((x - left) * 4), round((top - y) * 4)

    assert pixels.size == (297 * 4, 210 * 4)
    assert pixels.getpixel((column, row)) == (0, 0, 0)
    assert pixels.getpixel((column - 1, row)) == (255, 255, 255)
    assert pixels.getpixel((pixels.width // 2, pixels.height // 2)) == (255, 0, 200)


def test_the_drawing_is_in_exact_millimetres() -> None:
    """The printed page is the paper's own size, and the field lies where markers say."""
    mat = standard_mat("a4", serial="2026-1 <b>")
    root = ElementTree.fromstring(mat_svg(mat))
    field = next(r for r in root.iter(f"{SVG}rect") if r.get("fill") == "#ff00c8")
    words = " ".join(text.text or "" for text in root.iter(f"{SVG}text"))

    assert (root.get("width"), root.get("height")) == ("297.000mm", "210.000mm")
    assert root.get("viewBox") == "0 0 297.000 210.000"
    assert float(field.get("width", 0)) == pytest.approx(244)
    assert float(field.get("x", 0)) == pytest.approx((297 - 244) / 2)
    assert "mat 1 a4 2026-1 <b>" in words


def test_joined_sheets_together_draw_every_marker_once() -> None:
    """Four printed sheets make one border: no marker is cut in two or printed twice."""
    mat = standard_mat("tiles")
    black = [
        sum(
            1
            for r in ElementTree.fromstring(mat_svg(mat, sheet=k)).iter(f"{SVG}rect")
            if r.get("fill") == "#000000" and r.get("width") == r.get("height") == "15.000"
        )
        for k in range(4)
    ]

    assert black == [22, 22, 22, 22]
    with pytest.raises(BadValue, match="no sheet 4"):
        mat_svg(mat, sheet=4)


def test_strips_are_drawn_with_both_markers() -> None:
    """A sheet of strips to cut out holds each strip's two markers, its number, and a bar."""
    root = ElementTree.fromstring(strips_svg())
    black = [r for r in root.iter(f"{SVG}rect") if r.get("fill") == "#000000"]
    markers = [r for r in black if r.get("width") == r.get("height") == "10.000"]
    words = [text.text or "" for text in root.iter(f"{SVG}text")]
    named = [text for text in words if text.startswith("height strip ")]

    assert len(markers) == 2 * len(named) >= 60
    assert "height strip 0" in named
    assert any(r.get("width") == "150.000" for r in black)
    assert any("this bar is 150 mm" in text for text in words)


def test_markers_have_a_black_frame() -> None:
    """The frame of one black cell is what a detector looks for first."""
    cells = marker_cells(7)

    assert cells.shape == (8, 8)
    assert not cells[0].any()
    assert not cells[:, -1].any()
    assert cells[1:-1, 1:-1].any()
