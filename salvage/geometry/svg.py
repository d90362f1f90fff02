"""
Outlines from a drawing (SVG), true to size.

Filled paths become regions with holes by their own fill rule. Paths without fill are lines to cut
along: all of them together make regions, a line inside another being a hole; a line drawn twice
counts once. What is hidden does not count. Curves become straight steps within a tolerance.
y points up; the origin is the lower left corner of the sheet.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any
from xml.etree.ElementTree import ParseError

from salvage.errors import BadFile
from salvage.geometry.arcs import FLATTENING_MM, PointMm
from salvage.geometry.fill_rule import FillRule, fill_rings
from salvage.geometry.outline import only_region, snap_points, to_regions
from salvage.geometry.rings import MOST_MM, tidy_ring
from salvage.geometry.svg_gate import MM_PER_INCH, PIXELS_PER_INCH, Sheet, check_drawing
from salvage.geometry.svg_paths import count_points, rings_of_path
from salvage.records.region import Region

if TYPE_CHECKING:
    from shapely import MultiPolygon

# Smaller than any hole a tool makes: dust left by a drawing program.
LEAST_MM2 = 0.01

# Rings within rings take a time that grows with the square of their number.
MOST_RINGS = 2000

_FINEST_MM = 0.0005

# What the drawing library raises on attributes that make no sense, by trial.
_LIBRARY_TROUBLE = (
    ArithmeticError,
    AttributeError,
    LookupError,
    ParseError,
    TypeError,
    ValueError,
)


def read_svg(
    data: bytes, *, tolerance_mm: float = FLATTENING_MM, name: str = "", any_size: bool = False
) -> tuple[Region, ...]:
    """
    The outlines of a drawing, largest first.

    Args:
        data: The file's bytes, at most 5 MB.
        tolerance_mm: Largest distance of a straight step from its curve.
        name: The file's name, for messages.
        any_size: Take a drawing without a size on paper; the caller brings it to one.

    Raises:
        BadFile: If the drawing is damaged, has no physical size, holds text, pictures, clones or
            open lines, has more than 20 000 points, is larger than 2000 mm, or holds no outline.
    """
    sheet = check_drawing(data, name=name, any_size=any_size)
    try:
        regions = _read_regions(sheet, max(tolerance_mm, _FINEST_MM))
    except BadFile as error:
        raise BadFile(error.message, hint=error.hint, field=name) from None
    if not regions:
        raise BadFile(
            "the drawing holds no closed outline",
            hint="draw one closed path, visible and in no definition",
            field=name,
        )
    return regions


def one_outline(
    data: bytes, *, tolerance_mm: float = FLATTENING_MM, name: str = "", any_size: bool = False
) -> Region:
    """
    The only outline of a drawing, with its holes.

    Raises:
        BadFile: As :func:`read_svg`, and if there is more than one.
    """
    regions = read_svg(data, tolerance_mm=tolerance_mm, name=name, any_size=any_size)
    hint = "keep one; for a hole, cut it out of the outline or draw both without fill"
    return only_region(regions, name=name, hint=hint)


def _read_regions(sheet: Sheet, tolerance_mm: float) -> tuple[Region, ...]:
    filled, lines = _read_rings(sheet, tolerance_mm)
    if sum(len(rings) for rings, _ in filled) + len(lines) > MOST_RINGS:
        raise BadFile(
            f"the drawing has more than {MOST_RINGS} outlines and holes",
            hint="keep one shape in a file",
        )
    areas = [fill_rings(rings, rule) for rings, rule in filled]
    areas.append(_fill_lines(lines))
    regions = tuple(r for area in areas for r in to_regions(area, least_mm2=LEAST_MM2))
    for region in regions:
        if max(region.size_mm) > MOST_MM:
            raise BadFile(
                "the outline is {:g} x {:g} mm".format(*region.size_mm),
                hint=f"at most {MOST_MM:g} mm each way; check the unit",
            )
    return tuple(sorted(regions, key=lambda region: (-region.area_um2, region.outer)))


def _fill_lines(lines: list[list[PointMm]]) -> MultiPolygon:
    """The ground within lines that neither cross nor touch; a line inside a line is a hole."""
    import shapely

    rings = list(
        {tidy_ring(snap_points(line)): line for line in lines if len(set(line)) > 2}.values()
    )
    if not shapely.MultiLineString([[*ring, ring[0]] for ring in rings]).is_simple:
        raise BadFile(
            "lines of the drawing cross or touch, so what is inside is not clear",
            hint="unite the paths in the drawing program, or fill them",
        )
    return fill_rings(rings, "evenodd")


def _read_rings(
    sheet: Sheet, tolerance_mm: float
) -> tuple[list[tuple[list[list[PointMm]], FillRule]], list[list[PointMm]]]:
    """Rings of each filled path with its rule, and the rings of all paths without fill."""
    import svgelements

    try:
        drawing = svgelements.SVG.parse(io.BytesIO(sheet.data), ppi=PIXELS_PER_INCH, reify=True)
        shapes = [e for e in drawing.elements() if isinstance(e, svgelements.Shape)]
        # A path made from a turned rectangle or circle keeps its transform aside; apply it.
        paths = [(s, svgelements.Path(s).reify()) for s in shapes if _is_visible(s)]
    except _LIBRARY_TROUBLE as error:
        raise BadFile(f"the drawing cannot be read ({error})", hint="export it again") from None

    mm = MM_PER_INCH / PIXELS_PER_INCH

    def place(x: float, y: float) -> PointMm:
        return x * mm, sheet.height_mm - y * mm

    filled: list[tuple[list[list[PointMm]], FillRule]] = []
    lines: list[list[PointMm]] = []
    count = 0
    for shape, path in paths:
        rings = rings_of_path(path, place=place, tolerance=tolerance_mm / mm, before=count)
        count += count_points(rings)
        if _is_line(shape):
            lines += rings
        else:
            filled.append((rings, _rule(shape)))
    return filled, lines


def _is_visible(shape: Any) -> bool:
    values = shape.values
    return (
        values.get("visibility") not in ("hidden", "collapse") and values.get("display") != "none"
    )


def _is_line(shape: Any) -> bool:
    return shape.fill is None or shape.fill.value is None


def _rule(shape: Any) -> FillRule:
    return "evenodd" if shape.values.get("fill-rule") == "evenodd" else "nonzero"
