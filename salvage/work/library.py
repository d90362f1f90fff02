"""The workshop's shapes: its own outlines from SVG files, and the built-in plain ones."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from salvage.errors import BadValue, NotFound
from salvage.frozen import dataclass
from salvage.records.region import Region, region_of_text
from salvage.records.things import Shape
from salvage.store.rows import select, select_one

if TYPE_CHECKING:
    from salvage.store.change import Change
    from salvage.work.shape_check import ShapeReport
    from salvage.work.workshop import Workshop

_NAME = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


@dataclass(frozen=True, slots=True)
class ChosenShape:
    """
    A shape at the size it will be cut.

    Args:
        name: Its name on records and cards.
        region: Outline, the centre of its bounding box at the origin.
        sha256: Hash of the file it was drawn in; empty for a built-in shape.
        finest: Whether it deserves the finest areas of a board.
    """

    name: str
    region: Region
    sha256: str = ""
    finest: bool = False


@dataclass(frozen=True, slots=True)
class ShapeIntake:
    """
    How a shape is taken from its drawing.

    Args:
        width_mm, height_mm: Size to bring it to; its own if both are left out, in proportion if
            one is.
        tolerance_mm: How far straight steps may lie off a curve, at the size that is kept; as
            finely as the program draws if left out.
        finest: Whether it deserves the finest areas of a board.
    """

    width_mm: float | None = None
    height_mm: float | None = None
    tolerance_mm: float | None = None
    finest: bool = False


AS_DRAWN = ShapeIntake()
"""A shape at its own size, with no further wishes."""


def tidy_shape_name(text: str) -> str:
    """
    A name for the library: small letters, digits and hyphens.

    Raises:
        BadValue: If nothing is left or the name is too long.

    >>> tidy_shape_name("Tide Bell")
    'tide-bell'
    """
    tidy = "-".join(re.findall(r"[a-z0-9]+", text.lower()))
    if not _NAME.fullmatch(tidy) or len(tidy) > 40:
        raise BadValue(f"'{text}' cannot be a shape's name", hint="such as tide-bell")
    return tidy


def add_shape(
    shop: Workshop,
    *,
    name: str,
    data: bytes,
    file_name: str,
    intake: ShapeIntake = AS_DRAWN,
    dry_run: bool = False,
) -> Shape:
    """
    Add an outline to the library, or a new version of one.

    Args:
        shop: The open workshop.
        name: Its name; see :func:`tidy_shape_name`.
        data: Bytes of an SVG or DXF file with real units and one closed outline.
        file_name: The file's name, for error texts.
        intake: Its size and what it deserves.
        dry_run: Do everything, then roll back.

    Raises:
        BadFile: If the file is no such drawing.
        BadValue: If the name cannot be used or belongs to a built-in shape.
    """
    from salvage.canonical import sha256_hex
    from salvage.geometry.shapes import BUILT_IN_SHAPES

    tidy = tidy_shape_name(name)
    if tidy in BUILT_IN_SHAPES:
        raise BadValue(f"'{tidy}' is a built-in shape", hint="give yours another name")
    region = take_outline(data, file_name=file_name, intake=intake)
    sha256 = sha256_hex(data) if dry_run else shop.files.save(data)

    def steps(change: Change) -> Shape:
        change.append(
            "shape.added",
            (),
            {
                "name": tidy,
                "region": region.to_rings(),
                "sha256": sha256,
                "byte_count": len(data),
                "file_name": file_name,
                "finest": intake.finest,
            },
        )
        (found,) = select(change.conn, Shape, "FROM shape WHERE name = ?", (tidy,))
        return found

    return shop.commit("add shape", steps, dry_run=dry_run)


def take_outline(data: bytes, *, file_name: str, intake: ShapeIntake) -> Region:
    """
    The outline of a drawing at the size wanted, the centre of its bounding box at the origin.

    Raises:
        BadFile: If the file is no such drawing.
        BadValue: If the tolerance or the size is out of range.
    """
    from salvage.geometry.outline import FLATTENING_MM, centre, scale_to

    tolerance = FLATTENING_MM if intake.tolerance_mm is None else intake.tolerance_mm
    if not LEAST_TOLERANCE_MM <= tolerance <= MOST_TOLERANCE_MM:
        raise BadValue(
            f"a tolerance of {tolerance:g} mm is out of range",
            hint=f"from {LEAST_TOLERANCE_MM:g} to {MOST_TOLERANCE_MM:g} mm",
            field="--tolerance",
        )
    is_sized = intake.width_mm is not None or intake.height_mm is not None
    region = outline_of_drawing(
        data, file_name=file_name, tolerance_mm=tolerance, any_size=is_sized
    )
    size = {"width_mm": intake.width_mm, "height_mm": intake.height_mm}
    if not is_sized:
        return centre(region)
    scaled = scale_to(region, **size)
    grown = max(new / old for new, old in zip(scaled.size_mm, region.size_mm, strict=True))
    if grown > 1:  # the steps of its curves grow with it
        finer = max(LEAST_TOLERANCE_MM / 10, tolerance / grown)
        fine = outline_of_drawing(data, file_name=file_name, tolerance_mm=finer, any_size=True)
        scaled = scale_to(fine, **size)
    return centre(scaled)


LEAST_TOLERANCE_MM = 0.001
"""Finest step of curves: the grid on which outlines lie."""

MOST_TOLERANCE_MM = 1.0
"""Coarsest step of curves: what a maker would see across a table."""


def outline_of_drawing(
    data: bytes, *, file_name: str, tolerance_mm: float | None = None, any_size: bool = False
) -> Region:
    """
    The one closed outline of a drawing, in millimetres: SVG, or DXF by the file's ending.

    Args:
        data: Bytes of the drawing.
        file_name: Its name.
        tolerance_mm: How far straight steps may lie off a curve.
        any_size: Take one that says no size or unit, since it is brought to a size anyway.

    Raises:
        BadFile: If the file is no such drawing.
    """
    from salvage.geometry.outline import FLATTENING_MM

    fine = FLATTENING_MM if tolerance_mm is None else tolerance_mm
    if file_name.lower().endswith(".dxf"):
        from salvage.geometry import dxf

        return dxf.one_outline(data, tolerance_mm=fine, name=file_name, any_size=any_size)
    from salvage.geometry import svg

    return svg.one_outline(data, tolerance_mm=fine, name=file_name, any_size=any_size)


def list_shapes(shop: Workshop) -> tuple[Shape, ...]:
    """The workshop's own shapes by name."""
    return select(shop.conn, Shape, "FROM shape ORDER BY name")


def choose_shape(
    shop: Workshop, *, name: str, width_mm: float | None = None, height_mm: float | None = None
) -> ChosenShape:
    """
    A shape of the library or a built-in one, at the size wanted.

    Args:
        shop: The open workshop.
        name: Name of the shape.
        width_mm: Width; a shape of the library keeps its own size when neither is given.
        height_mm: Height; follows from the width when not given.

    Raises:
        NotFound: If there is no such shape; names the nearest.
        BadValue: If a built-in shape is given no width.
    """
    from salvage.geometry.outline import centre, scale_to
    from salvage.geometry.shapes import BUILT_IN_SHAPES, built_in_shape

    own = {shape.name: shape for shape in list_shapes(shop)}
    tidy = tidy_shape_name(name)
    if tidy in own:
        region = region_of_text(own[tidy].region)
        if width_mm is not None or height_mm is not None:
            region = centre(scale_to(region, width_mm=width_mm, height_mm=height_mm))
        return ChosenShape(tidy, region, own[tidy].sha256, bool(own[tidy].finest))
    if tidy not in BUILT_IN_SHAPES:
        raise _unknown_shape(tidy, (*own, *BUILT_IN_SHAPES))
    if width_mm is None:
        raise BadValue(
            f"the built-in shape '{tidy}' needs a width", hint="such as 40 mm", field="--width"
        )
    return ChosenShape(tidy, built_in_shape(tidy, width_mm=width_mm, height_mm=height_mm))


def check_cuttable(shop: Workshop, shape: ChosenShape) -> None:
    """
    Raise if the workshop's bit cannot cut a shape as it is drawn.

    Raises:
        Refused: With what is lost, and the mend.
    """
    from salvage.work.shape_check import check_region_cuttable

    check_region_cuttable(shop.settings, shape.name, shape.region)


@dataclass(frozen=True, slots=True)
class ShapeView:
    """
    A shape with what the workshop's bit makes of it.

    Args:
        shape: At the size that was asked for.
        own: The record of the library; None for a built-in shape.
        report: Its facts.
    """

    shape: ChosenShape
    own: Shape | None
    report: ShapeReport


def show_shape(
    shop: Workshop, *, name: str, width_mm: float | None = None, height_mm: float | None = None
) -> ShapeView:
    """
    A shape of the library or a built-in one, with its facts for the workshop's bit and wall.

    Raises:
        NotFound: If there is no such shape.
        BadValue: If a built-in shape is given no width.
    """
    from salvage.work.shape_check import report_shape

    chosen = choose_shape(shop, name=name, width_mm=width_mm, height_mm=height_mm)
    own = select_one(shop.conn, Shape, "FROM shape WHERE name = ?", (chosen.name,))
    return ShapeView(chosen, own, report_shape(shop.settings, chosen.region))


def shape_of_drawing(data: bytes, *, file_name: str) -> ChosenShape:
    """
    The only outline of an SVG drawing as a shape that is not kept in the library.

    Args:
        data: Bytes of the drawing.
        file_name: Its name; without the ending it becomes the shape's name.

    Raises:
        BadFile: If it is no such drawing.
        BadValue: If its name cannot be a shape's name.
    """
    from salvage.geometry.outline import centre

    name = tidy_shape_name(file_name.rpartition(".")[0] or file_name)
    return ChosenShape(name, centre(outline_of_drawing(data, file_name=file_name)))


def _unknown_shape(name: str, known: tuple[str, ...]) -> NotFound:
    import difflib

    return NotFound(
        f"there is no shape '{name}'",
        nearest=difflib.get_close_matches(name, known, n=3, cutoff=0.5),
    )
