"""Shapes: the workshop's own, from drawings in millimetres, and the built-in ones."""

from __future__ import annotations

import hashlib

import pytest

from salvage.errors import BadFile, BadValue, NotFound
from salvage.work.history import undo
from salvage.work.library import (
    add_shape,
    choose_shape,
    list_shapes,
    shape_of_drawing,
    tidy_shape_name,
)
from salvage.work.workshop import Workshop
from tests.bench import dump


def drawing(width_mm: float, height_mm: float) -> bytes:
    """An SVG in millimetres with a kite of the given size."""
    points = f"{width_mm / 2},0 {width_mm},{height_mm / 3} {width_mm / 2},{height_mm}"
    points += f" 0,{height_mm / 3}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width_mm}mm" height="{height_mm}mm"'
        f' viewBox="0 0 {width_mm} {height_mm}"><polygon points="{points}"/></svg>'
    ).encode()


def test_a_drawing_becomes_a_shape(empty_shop: Workshop) -> None:
    """Its size is the drawing's, its centre at the origin, and the file is kept as it was."""
    data = drawing(24, 36)
    shape = add_shape(empty_shop, name="Tide Kite", data=data, file_name="kite.svg")
    chosen = choose_shape(empty_shop, name="tide kite")

    assert (shape.name, shape.width_um, shape.height_um) == ("tide-kite", 24_000, 36_000)
    assert shape.area_um2 == 432_000_000  # half of width times height
    assert shape.sha256 == hashlib.sha256(data).hexdigest() == chosen.sha256
    assert empty_shop.files.load(shape.sha256) == data
    assert chosen.region.bounds_um == (-12_000, -18_000, 12_000, 18_000)


def test_a_new_version_replaces_the_old(empty_shop: Workshop) -> None:
    """The name stands for the newest drawing; taking that back brings the older."""
    first = add_shape(empty_shop, name="kite-2", data=drawing(24, 36), file_name="a.svg")
    add_shape(empty_shop, name="kite-2", data=drawing(30, 30), file_name="b.svg")
    newest = list_shapes(empty_shop)
    undo(empty_shop)

    assert [shape.width_um for shape in newest] == [30_000]
    assert list_shapes(empty_shop) == (first,)


def test_a_shape_is_scaled_on_choosing(empty_shop: Workshop) -> None:
    """Asked for a width, the height follows."""
    add_shape(empty_shop, name="fin", data=drawing(24, 36), file_name="fin.svg")

    assert choose_shape(empty_shop, name="fin", width_mm=12).region.size_mm == (12, 18)
    assert choose_shape(empty_shop, name="fin", height_mm=18).region.size_mm == (12, 18)


def test_a_built_in_shape_needs_a_width(empty_shop: Workshop) -> None:
    """A circle of no size is a question."""
    with pytest.raises(BadValue, match=r"--width: .*needs a width"):
        choose_shape(empty_shop, name="circle")

    assert choose_shape(empty_shop, name="Circle", width_mm=30).region.size_mm == (30, 30)


def test_a_trial_keeps_neither_row_nor_file(empty_shop: Workshop) -> None:
    """A dry run leaves the library and the folder as they were."""
    before = dump(empty_shop)
    add_shape(empty_shop, name="fin", data=drawing(9, 9), file_name="fin.svg", dry_run=True)

    assert dump(empty_shop) == before
    assert list(empty_shop.files.kept()) == []


@pytest.mark.parametrize(
    ("name", "data", "error", "says"),
    [
        ("circle", drawing(9, 9), BadValue, "built-in shape"),
        ("***", drawing(9, 9), BadValue, "cannot be a shape's name"),
        ("x" * 41, drawing(9, 9), BadValue, "cannot be a shape's name"),
        ("fin", b"not a drawing", BadFile, "fin.svg"),
        ("fin", drawing(9, 9)[:-20], BadFile, "fin.svg"),
    ],
)
def test_what_is_no_shape_is_refused(
    empty_shop: Workshop, name: str, data: bytes, error: type[Exception], says: str
) -> None:
    """A name that cannot be typed or a file that is no drawing leaves no trace."""
    before = dump(empty_shop)
    with pytest.raises(error, match=says):
        add_shape(empty_shop, name=name, data=data, file_name="fin.svg")

    assert dump(empty_shop) == before
    assert list(empty_shop.files.kept()) == []


def test_an_unknown_shape_offers_the_nearest(empty_shop: Workshop) -> None:
    """A slip of the finger is answered with what it may have meant."""
    add_shape(empty_shop, name="lighthouse", data=drawing(9, 9), file_name="l.svg")
    with pytest.raises(NotFound) as caught:
        choose_shape(empty_shop, name="lighthose", width_mm=9)

    assert caught.value.nearest[0] == "lighthouse"


def test_a_drawing_may_be_used_once_without_the_library(empty_shop: Workshop) -> None:
    """A shape for a single piece takes its name from the file."""
    chosen = shape_of_drawing(drawing(24, 36), file_name="Fern Leaf.svg")

    assert (chosen.name, chosen.sha256) == ("fern-leaf", "")
    assert list_shapes(empty_shop) == ()


@pytest.mark.parametrize(
    ("typed", "tidy"), [("Tide Bell", "tide-bell"), ("  TERN--2 ", "tern-2"), ("a_b.c", "a-b-c")]
)
def test_names_are_tidied(typed: str, tidy: str) -> None:
    """Small letters, digits and hyphens, whatever was typed; tidying twice changes nothing."""
    assert tidy_shape_name(typed) == tidy
    assert tidy_shape_name(tidy) == tidy
