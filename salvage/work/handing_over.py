"""Handing a board over to whatever drives the router: a drawing, and a sheet for the bench."""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

from salvage.errors import BadOutline, BadValue, Held
from salvage.ids import Code
from salvage.records.region import Region, region_of_text
from salvage.records.things import Board, KeepOut, Reservation
from salvage.store.journal import read_head
from salvage.store.lookup import load_board
from salvage.store.rows import select
from salvage.units import format_mm, from_um
from salvage.work.area import board_outline
from salvage.work.dust import sourced_cautions
from salvage.work.look import draw_board_map
from salvage.work.papers import fonts_of, symbol_svg
from salvage.work.verdict import find_obstacles
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.geometry.handover import DatumPoint, Handover

Side = Literal["front", "back"]

# A hole up to this size is a mounting hole that a pin finds again; larger ones are windows.
_LARGEST_HOLE_MM = 8.0
_LEAST_ROUND = 0.9


def parse_side(text: str) -> Side:
    """
    The side that lies up on the machine.

    Raises:
        BadValue: If it is neither.
    """
    if text == "front":
        return "front"
    if text == "back":
        return "back"
    raise BadValue(f"'{text}' is no side of a board", hint="front or back", field="--side")


def hand_over(
    shop: Workshop, *, board: Code, form: str = "svg", side: Side = "front", show_code: bool = False
) -> bytes:
    """
    A drawing of a board with its reserved places, in true millimetres, for the router's program.

    No tool is moved by it: speeds, depths and the side of the line are set by who stands there.

    Args:
        shop: The open workshop.
        board: The board's code.
        form: ``svg`` or ``dxf``.
        side: What lies up; the back is mirrored.
        show_code: Draw the code as text; some programs engrave any text that is shown.

    Raises:
        NotFound: If there is no such board.
        Held: If the board may not be cut.
        BadOutline: If it has no outline yet.
        BadValue: If nothing is reserved on it, or the form is not known.
    """
    from salvage.geometry.handover_dxf import draw_handover_dxf
    from salvage.geometry.handover_svg import draw_handover_svg

    if form not in ("svg", "dxf"):
        raise BadValue(f"'{form}' is no form of drawing", hint="svg or dxf", field="--form")
    drawing = compose_handover(shop.conn, board)
    draw = draw_handover_svg if form == "svg" else draw_handover_dxf
    return draw(drawing, side=side, show_code=show_code)


def compose_handover(conn: sqlite3.Connection, board: Code) -> Handover:
    """Everything that the drawing shows; see :func:`hand_over` for what is refused."""
    from salvage.geometry.handover import Handover, PlacedPiece

    found, outline = _ready_board(conn, board)
    held = _held(conn, board)
    if not held:
        raise BadValue(f"nothing is reserved on {board}", hint=f"salvage reserve {board} --shape …")
    keep_outs = _keep_outs(conn, board)
    return Handover(
        found.code,
        outline,
        choose_datum(outline),
        tuple(PlacedPiece(f"{r.code} {r.shape}", region_of_text(r.region)) for r in held),
        tuple(PlacedPiece(k.reason, region_of_text(k.region)) for k in keep_outs),
    )


def _ready_board(conn: sqlite3.Connection, code: Code) -> tuple[Board, Region]:
    board = load_board(conn, code)
    outline = board_outline(board)
    if outline is None:
        raise BadOutline(f"{code} has no outline yet", hint=f"salvage board outline {code} …")
    obstacles = [o for o in find_obstacles(conn, board) if o.forbids_cutting]
    if obstacles:
        words = "; ".join(obstacle.words for obstacle in obstacles)
        raise Held(f"{code} may not be cut: {words}", hint=obstacles[0].mend)
    return board, outline


def _held(conn: sqlite3.Connection, board: Code) -> tuple[Reservation, ...]:
    rest = "FROM reservation WHERE board = ? AND state = 'held' ORDER BY code"
    return select(conn, Reservation, rest, (board,))


def _keep_outs(conn: sqlite3.Connection, board: Code) -> tuple[KeepOut, ...]:
    rest = "FROM keep_out WHERE board = ? AND lifted = 0 ORDER BY n"
    return select(conn, KeepOut, rest, (board,))


def choose_datum(outline: Region) -> tuple[DatumPoint, ...]:
    """
    Points to find the board on the machine by: three round holes far apart, or three corners.

    Args:
        outline: The board's edge with its holes.

    >>> from salvage.geometry.outline import rectangle
    >>> [(point.x_mm, point.y_mm) for point in choose_datum(rectangle(120, 80))]
    [(0.0, 0.0), (120.0, 0.0), (0.0, 80.0)]
    """
    from salvage.geometry.handover import DatumPoint, breadth_mm

    holes = [hole for hole in map(_round_hole, outline.holes) if hole]
    triples = [(a, b, c) for a in holes for b in holes for c in holes]
    best = max(triples, key=breadth_mm, default=())
    if best and breadth_mm(best) >= 0.2 * min(outline.size_mm):
        return tuple(
            DatumPoint(f"hole {n}", p.x_mm, p.y_mm, p.hole_mm) for n, p in enumerate(best, 1)
        )
    width, height = outline.size_mm
    return (
        DatumPoint("lower left edge", 0.0, 0.0),
        DatumPoint("lower right edge", width, 0.0),
        DatumPoint("upper left edge", 0.0, height),
    )


def _round_hole(ring: Sequence[tuple[int, int]]) -> DatumPoint | None:
    """A small round hole as a datum, or None."""
    from salvage.geometry.handover import DatumPoint
    from salvage.geometry.outline import to_polygon

    polygon = to_polygon(Region(tuple(reversed(tuple(ring)))))
    diameter = math.sqrt(4 * polygon.area / math.pi)
    roundness = 4 * math.pi * polygon.area / polygon.length**2
    if diameter > _LARGEST_HOLE_MM or roundness < _LEAST_ROUND:
        return None
    middle = polygon.centroid
    return DatumPoint("hole", round(middle.x, 3), round(middle.y, 3), round(diameter, 2))


def print_setup(shop: Workshop, *, board: Code, side: Side = "front") -> bytes:
    """
    The setup sheet of a board with its reserved places, as PDF.

    Args:
        shop: The open workshop.
        board: The board's code.
        side: What lies up.

    Raises:
        NotFound: If there is no such board.
        Held: If the board may not be cut.
        BadOutline: If it has no outline yet.
        BadValue: If nothing is reserved on it.
    """
    from salvage.geometry.handover import seen_from
    from salvage.paper.setup_sheet import SetupSheet, print_setup_sheet

    seen = seen_from(compose_handover(shop.conn, board), side)
    found, head = load_board(shop.conn, board), read_head(shop.conn, shop.settings.device)
    regions = [piece.region for piece in seen.pieces]
    told = sourced_cautions(shop, board=board, regions=regions, kerf_mm=shop.settings.kerf_mm)
    sheet = SetupSheet(
        code=board,
        what=found.title,
        workshop=shop.settings.name,
        side=side.capitalize(),
        size=_size_words(found, seen.outline),
        symbol_svg=symbol_svg(board),
        map_png=draw_board_map(shop, board=board, side=side),
        pieces=tuple(_piece_row(r, seen) for r in _held(shop.conn, board)),
        datum=tuple(
            (p.name, f"{p.x_mm:.2f}", f"{p.y_mm:.2f}", f"{p.hole_mm:g} mm" if p.hole_mm else "")
            for p in seen.datum
        ),
        keep_outs=tuple(_keep_out_row(item.label, item.region) for item in seen.keep_outs),
        hints=_hints(found, side),
        cautions=told.cautions,
        dust=told.dust,
        limits=told.limits,
        sources=told.sources,
        journal_count=head.count,
        journal_hash=head.hash,
    )
    return print_setup_sheet(sheet, made_on=shop.today, extra_fonts=fonts_of(shop))


def _size_words(board: Board, outline: Region) -> str:
    width, height = outline.size_mm
    size = f"{width:g} × {height:g} mm"
    if not board.thickness_um:
        return f"{size}; thickness not measured."
    return f"{size}, {format_mm(from_um(board.thickness_um))} thick."


def _piece_row(reservation: Reservation, seen: Handover) -> tuple[str, ...]:
    """A reserved place as the machine sees it: its own region's middle, on the side that is up."""
    (region,) = (p.region for p in seen.pieces if p.label.startswith(reservation.code))
    left, bottom, right, top = region.bounds_um
    middle = f"{(left + right) / 2000:.2f}, {(bottom + top) / 2000:.2f}"
    turned = f"{reservation.angle_mdeg / 1000:g}°"
    return reservation.code, reservation.shape, reservation.for_whom, middle, turned


def _keep_out_row(reason: str, region: Region) -> tuple[str, ...]:
    left, bottom, right, top = (value / 1000 for value in region.bounds_um)
    return reason, f"{left:g}, {bottom:g}", f"{right:g}, {top:g}"


def _hints(board: Board, side: Side) -> tuple[str, ...]:
    # Common practice, no source.
    hold = (
        "Hold the board flat over its whole face; screw or tape outside the places to cut.",
        "Take out every screw, rivet and steel part near the tool's path.",
    )
    turned = ("The board lies face down: the map shows its front.",) if side == "back" else ()
    scan = (f"Scan {board.code} once more: the screen says GO or NO-GO as it is now.",)
    return (*scan, *turned, *hold)
