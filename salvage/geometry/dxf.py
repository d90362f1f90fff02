"""
Outlines from a drawing-exchange file (DXF), true to size.

All lines of the drawing that are shown make regions together, a line inside another being a hole;
a line drawn twice counts once. Loose lines and arcs are joined where their ends meet. Blocks are
unfolded. Hidden layers and the paper sheets do not count. Curves become straight steps within
a tolerance; x and y stay as drawn, y up.

Unit codes: header variable $INSUNITS of the DXF reference (from memory).
"""

from __future__ import annotations

import io
import logging
import struct
from collections.abc import Collection
from typing import TYPE_CHECKING, Any

from salvage.errors import BadFile, BadOutline
from salvage.geometry.arcs import FLATTENING_MM, PointMm
from salvage.geometry.dxf_lines import MOST_ENTITIES, MOST_POINTS, Stroke, Strokes
from salvage.geometry.fill_rule import fill_rings
from salvage.geometry.outline import only_region, snap_points, to_regions
from salvage.geometry.rings import MOST_MM, tidy_ring
from salvage.geometry.stroke_chain import chain_strokes
from salvage.geometry.svg import LEAST_MM2
from salvage.records.region import Region

if TYPE_CHECKING:
    from shapely import MultiPolygon

MOST_BYTES = 5_000_000
_FINEST_MM = 0.0005

# Millimetres of a drawing unit by $INSUNITS.
_MM_PER = {
    1: 25.4,
    2: 304.8,
    4: 1.0,
    5: 10.0,
    6: 1000.0,
    8: 25.4e-6,
    9: 0.0254,
    10: 914.4,
    13: 0.001,
    14: 100.0,
}
_UNITLESS = 0
_BINARY = b"AutoCAD Binary DXF\r\n\x1a\0"  # the DXF reference, binary files (from memory)
# Elements, their vertices, and the tables of layers, styles and blocks.
_MOST_PARTS = 3 * MOST_ENTITIES
_SILENCE = logging.NullHandler()

# What the drawing library raises on damaged files besides its own errors, by trial.
_LIBRARY_TROUBLE = (
    ArithmeticError,
    AssertionError,
    AttributeError,
    EOFError,
    LookupError,
    OSError,
    RecursionError,
    TypeError,
    ValueError,
    struct.error,
)


def read_dxf(
    data: bytes,
    *,
    tolerance_mm: float = FLATTENING_MM,
    name: str = "",
    layers: Collection[str] | None = None,
    unit_mm: float | None = None,
) -> tuple[Region, ...]:
    """
    The outlines of a drawing, largest first.

    Args:
        data: The file's bytes, text or binary, at most 5 MB.
        tolerance_mm: Largest distance of a straight step from its curve.
        name: The file's name, for messages.
        layers: The only layers to read, in any case; all that are shown if left out.
        unit_mm: Millimetres of a drawing unit, if the file does not say; files of 1992 never do.

    Raises:
        BadFile: If the drawing is damaged, has no unit, holds text, hatches, open or crossing
            lines, has more than 20 000 points, is larger than 2000 mm, or holds no outline.
    """
    try:
        return _read(data, max(tolerance_mm, _FINEST_MM), layers, unit_mm)
    except (BadFile, BadOutline) as error:
        raise BadFile(error.message, hint=error.hint, field=name) from None


def one_outline(
    data: bytes, *, tolerance_mm: float = FLATTENING_MM, name: str = "", any_size: bool = False
) -> Region:
    """
    The only outline of a drawing, with its holes.

    Raises:
        BadFile: As :func:`read_dxf`, and if there is more than one.
    """
    unit_mm = 1.0 if any_size else None
    regions = read_dxf(data, tolerance_mm=tolerance_mm, name=name, unit_mm=unit_mm)
    hint = "keep one, and move the others to a hidden layer"
    return only_region(regions, name=name, hint=hint)


def _read(
    data: bytes,
    tolerance_mm: float,
    layers: Collection[str] | None,
    unit_mm: float | None,
) -> tuple[Region, ...]:
    if len(data) > MOST_BYTES:
        raise BadFile(
            f"the drawing has {len(data) / 1e6:.1f} MB",
            hint=f"at most {MOST_BYTES / 1e6:.0f} MB; simplify it",
        )
    from ezdxf.lldxf.const import DXFError

    try:
        drawing = _parse(data)
        code = int(drawing.header.get("$INSUNITS", _UNITLESS))
        mm = _MM_PER.get(code, unit_mm)
        strokes = Strokes(drawing, mm=mm or 1.0, tolerance_mm=tolerance_mm, layers=layers).all()
    except (DXFError, *_LIBRARY_TROUBLE) as error:
        if isinstance(error, (BadFile, BadOutline)):
            raise
        raise BadFile(
            f"the file is no readable DXF ({_one_line(error)})", hint="export it again"
        ) from None
    if mm is None:
        raise BadFile(
            "the drawing does not say its unit",
            hint=_guess(strokes) + "set the drawing's unit to mm in the drawing program",
        )
    regions = to_regions(_fill(chain_strokes(strokes)), least_mm2=LEAST_MM2)
    _check(regions)
    return tuple(sorted(regions, key=lambda region: (-region.area_um2, region.outer)))


def _parse(data: bytes) -> Any:
    """The drawing library's document; damaged files are mended as far as it can."""
    from ezdxf import recover
    from ezdxf.audit import AuditError
    from ezdxf.document import Drawing
    from ezdxf.lldxf.tagger import binary_tags_loader

    # Without a listener of its own, what the library mends would be told on the user's screen.
    logging.getLogger("ezdxf").addHandler(_SILENCE)
    if not data.strip():
        raise BadFile("the file is empty", hint="export it again")
    if data.startswith(_BINARY):
        drawing = Drawing.load(binary_tags_loader(data))
        audit = drawing.audit()
    else:
        _check_amount(data)
        drawing, audit = recover.read(io.BytesIO(data))
    # Mending drops what it cannot mend; a lost block would be a lost outline.
    for fault in (*audit.errors, *audit.fixes):
        if fault.code == AuditError.UNDEFINED_BLOCK:
            raise BadFile(
                "the drawing inserts a block which it does not hold",
                hint="bind or explode the blocks in the drawing program",
            )
    return drawing


def _check_amount(data: bytes) -> None:
    """Refuse more entities than any drawing that is taken has, before the library holds them."""
    if sum(1 for code in data.split(b"\n")[0::2] if code.strip() == b"0") > _MOST_PARTS:
        raise BadFile(
            f"the drawing has more than {MOST_ENTITIES} elements",
            hint="simplify it in the drawing program",
        )


def _check(regions: tuple[Region, ...]) -> None:
    if not regions:
        raise BadFile(
            "the drawing holds no closed outline",
            hint="draw one closed line in model space, on a layer that is shown",
        )
    for region in regions:
        if max(region.size_mm) > MOST_MM:
            raise BadFile(
                "the outline is {:g} x {:g} mm".format(*region.size_mm),
                hint=f"at most {MOST_MM:g} mm each way; check the unit",
            )


def _fill(rings: list[list[PointMm]]) -> MultiPolygon:
    """The ground within lines that neither cross nor touch; a line inside a line is a hole."""
    import shapely

    if sum(map(len, rings)) > MOST_POINTS:
        raise BadFile(f"the drawing has more than {MOST_POINTS} points", hint="simplify its lines")
    distinct = {tidy_ring(snap_points(ring)): ring for ring in rings if len(set(ring)) > 2}
    kept = list(distinct.values())
    if not shapely.MultiLineString([[*ring, ring[0]] for ring in kept]).is_simple:
        raise BadFile(
            "lines of the drawing cross or touch, so what is inside is not clear",
            hint="join them into one closed line round each outline",
        )
    return fill_rings(kept, "evenodd")


def _guess(strokes: list[Stroke]) -> str:
    """The width in mm and in inches, as a question to the maker."""
    xs = [x for stroke in strokes for x, _ in stroke.points]
    if not xs:
        return ""
    width = max(xs) - min(xs)
    return (
        f"it would be {width:.1f} mm wide if drawn in mm, "
        f"{width * _MM_PER[1]:.1f} mm if drawn in inches; "
    )


def _one_line(error: BaseException) -> str:
    words = " ".join(str(error).split()) or type(error).__name__
    return words if len(words) <= 100 else words[:99] + "…"
