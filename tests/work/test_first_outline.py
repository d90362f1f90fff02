"""A board's first outline: form factor, size, drawing."""

from __future__ import annotations

import pytest

from salvage.errors import BadFile, BadValue, NotFound
from salvage.knowledge.form_factors import form_factors
from salvage.work.first_outline import outline_of_drawing, outline_of_form, outline_of_size

DRAWING = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">'
    b'<rect x="10" y="10" width="30" height="20" fill="black"/>%s</svg>'
)


@pytest.mark.parametrize("form", form_factors(), ids=lambda form: form.slug)
def test_every_form_factor_makes_an_outline(form: object) -> None:
    """Each size of the table can be a board, its bounding box at the origin."""
    slug = str(getattr(form, "slug", ""))
    found = outline_of_form(slug)

    assert found.region.size_mm == (getattr(form, "width_mm", 0), getattr(form, "height_mm", 0))
    assert found.region.bounds_um[:2] == (0, 0)
    assert len(found.keep_outs) == len(getattr(form, "holes", ()))


def test_holes_are_kept_free_only_when_wanted() -> None:
    """A board that was never drilled keeps its corners."""
    assert len(outline_of_form("atx").keep_outs) == 9
    assert outline_of_form("atx", holes=False).keep_outs == ()


def test_a_size_is_a_rectangle() -> None:
    """Measured width and height, to the record in those words."""
    found = outline_of_size("175x107")

    assert found.region.area_mm2 == 175 * 107
    assert found.outline_from == "measured width and height"


def test_a_drawing_is_moved_to_the_origin() -> None:
    """Wherever it was drawn on its sheet, the board starts at 0,0."""
    found = outline_of_drawing(DRAWING % b"", file_name="b.svg")

    assert found.region.bounds_um == (0, 0, 30_000, 20_000)
    assert found.outline_from == "drawing b.svg"


def test_what_makes_no_outline_is_refused() -> None:
    """An unknown name, a size of nothing, two outlines in a drawing."""
    with pytest.raises(NotFound):
        outline_of_form("atxx")
    with pytest.raises(BadValue):
        outline_of_size("0x4")
    with pytest.raises(BadFile):
        outline_of_drawing(
            DRAWING % b'<rect x="45" y="1" width="5" height="5" fill="black"/>', file_name="two.svg"
        )
