"""
The handover drawing as DXF R2010 in millimetres: one layer per kind of line.

Holes of pieces have a layer of their own, as the tool runs inside them and outside the rest. The
same handover gives the same bytes: the drawing library's clock and random numbers are left out.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from salvage.geometry.handover import MARK_MM, Handover, Side, notes_of, seen_from
from salvage.records.region import Ring
from salvage.units import UM_PER_MM

BOARD, KEEP_OUT, CUT, CUT_HOLES, DATUM, CODE = (
    "BOARD",
    "KEEP-OUT",
    "CUT",
    "CUT-HOLES",
    "DATUM",
    "CODE",
)
# Layer colours by the index of the DXF reference (from memory): black or white, grey, blue, cyan,
# red, green. The names tell them apart without colour.
_COLOURS = {BOARD: 7, KEEP_OUT: 8, CUT: 5, CUT_HOLES: 4, DATUM: 1, CODE: 3}
_TEXT_MM = 4.0
_MILLIMETRES = 4


def draw_handover_dxf(
    handover: Handover, *, side: Side = "front", show_code: bool = False
) -> bytes:
    """
    The drawing of a board and what to cut from it.

    The code stands in the file's custom properties and in the description of its layers. Some
    programs engrave any text that is shown, so it is shown only if asked for, on layer CODE.

    Args:
        handover: The board seen from the front.
        side: The side that is up on the machine; the back is mirrored.
        show_code: Whether to draw the code as text above the lower left corner.
    """
    seen = seen_from(handover, side)
    with _without_clock():
        drawing = _new_drawing(seen, side)
        model = drawing.modelspace()
        for ring in (seen.outline.outer, *seen.outline.holes):
            _line(model, ring, BOARD)
        for item in seen.keep_outs:
            for ring in (item.region.outer, *item.region.holes):
                _line(model, ring, KEEP_OUT)
        for item in seen.pieces:
            _line(model, item.region.outer, CUT)
            for ring in item.region.holes:
                _line(model, ring, CUT_HOLES)
        for point in seen.datum:
            radius = (point.hole_mm or MARK_MM) / 2
            model.add_circle((point.x_mm, point.y_mm), radius, dxfattribs={"layer": DATUM})
        if show_code:
            _write(model, seen)
        # Left to itself, the library lists these in the order of a set, which changes by the run.
        for kind in sorted(drawing.entitydb.dxf_types_in_use()):
            drawing.classes.add_class(kind)
        text = io.StringIO()
        drawing.write(text)
    return text.getvalue().encode()


def _new_drawing(seen: Handover, side: Side) -> Any:
    from ezdxf.filemanagement import new

    drawing = new("R2010", units=_MILLIMETRES)
    for name, colour in _COLOURS.items():
        layer = drawing.layers.add(name, color=colour)
        layer.description = f"{seen.code} {side} {name.lower()}"
    drawing.header.custom_vars.append("board", seen.code)
    for number, note in enumerate(notes_of(seen, side), 1):
        drawing.header.custom_vars.append(f"note {number}", note)
    return drawing


def _line(model: Any, ring: Ring, layer: str) -> None:
    points = [(x / UM_PER_MM, y / UM_PER_MM) for x, y in ring]
    model.add_lwpolyline(points, close=True, dxfattribs={"layer": layer})


def _write(model: Any, seen: Handover) -> None:
    left, bottom, _, _ = seen.outline.bounds_um
    text = model.add_text(seen.code, height=_TEXT_MM, dxfattribs={"layer": CODE})
    text.set_placement((left / UM_PER_MM + 2, bottom / UM_PER_MM + 2))


@contextmanager
def _without_clock() -> Iterator[None]:
    """The drawing library's switch for writing neither time nor random numbers; then as before."""
    from ezdxf._options import options

    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before
