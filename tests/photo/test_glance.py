from __future__ import annotations

from io import BytesIO

import pytest
from PIL import Image

from salvage.errors import BadFile, BadValue
from salvage.photo.glance import Cell, draw_cells


def _png(image: Image.Image) -> bytes:
    out = BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def test_upper_and_lower_halves_are_two_rows_of_pixels() -> None:
    """Each character cell shows two pixels, one above the other."""
    image = Image.new("RGB", (2, 4))
    colours = [(10, 0, 0), (20, 0, 0), (30, 0, 0), (40, 0, 0), (50, 0, 0), (60, 0, 0)]
    colours += [(70, 0, 0), (80, 0, 0)]
    image.putdata(colours)

    cells = draw_cells(_png(image), columns=2)

    assert cells == (
        (Cell((10, 0, 0), (30, 0, 0)), Cell((20, 0, 0), (40, 0, 0))),
        (Cell((50, 0, 0), (70, 0, 0)), Cell((60, 0, 0), (80, 0, 0))),
    )


@pytest.mark.parametrize(
    ("size", "columns", "rows"),
    [((200, 100), 40, 10), ((100, 200), 40, 40), ((1000, 3), 80, 1), ((3, 9000), 10, 400)],
)
def test_the_shape_of_the_picture_is_kept(size: tuple[int, int], columns: int, rows: int) -> None:
    """A cell is twice as high as wide, so a board twice as wide as high keeps its shape."""
    cells = draw_cells(_png(Image.new("RGB", size)), columns=columns)

    assert len(cells) == rows
    assert {len(row) for row in cells} == {columns}


@pytest.mark.parametrize("columns", [0, -1, 401])
def test_a_senseless_width_is_refused(columns: int) -> None:
    """No terminal is that wide."""
    with pytest.raises(BadValue, match="columns"):
        draw_cells(_png(Image.new("RGB", (4, 4))), columns=columns)


def test_what_is_no_picture_is_refused() -> None:
    """A damaged copy shows up as such."""
    with pytest.raises(BadFile):
        draw_cells(b"no picture", columns=10)
