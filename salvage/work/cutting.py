"""Cutting and reserving: the place is checked exactly, and the board must be clear."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import BadOutline, BadValue, Held, NoRoom, Refused
from salvage.frozen import dataclass
from salvage.records.things import Board, Cut, Piece, Reservation
from salvage.store.lookup import load_board, load_cut, load_reservation
from salvage.store.rows import select
from salvage.units import from_um
from salvage.work.area import board_outline, read_taken, usable_with
from salvage.work.board_rules import check_reservable
from salvage.work.cut_spot import Spot, describe_spot, spot_of_reservation
from salvage.work.library import check_cuttable
from salvage.work.overrides import check_override_named
from salvage.work.parting import check_not_across, lines_as_taken, read_lines
from salvage.work.settings import read_settings
from salvage.work.tools import append_use
from salvage.work.verdict import find_obstacles

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Collection

    from salvage.ids import Code
    from salvage.records.region import Region
    from salvage.store.change import Change
    from salvage.work.workshop import Workshop

__all__ = [
    "ONE_BOARD",
    "CutView",
    "NewCut",
    "PlanSeat",
    "Spot",
    "append_cut",
    "append_release",
    "append_reservation",
    "check_clear",
    "check_room",
    "describe_spot",
    "record_cut",
    "release",
    "reserve",
    "spot_of_reservation",
    "usual_kerf_mm",
]

# ISO 22095:2020, 3.3.1: materials from a single source that keep their characteristics. A piece cut
# from one board is that; an assembled article may not be.
ONE_BOARD = "identity preserved"


@dataclass(frozen=True, slots=True)
class NewCut:
    """
    A cut that was made, or is about to be.

    Args:
        board: The board's code.
        spot: Where; taken from the reservation when one is named.
        outcome: ``piece`` or ``scrap``.
        tool: One of :data:`salvage.records.choices.TOOLS`.
        kerf_mm: Width that the tool removes; 0 for shears.
        reservation: Code of the reservation that is cut, or empty.
        reason: Why it became scrap, or a note.
        override_reason: Why a board with open hazards is cut all the same; stays on the record for
            ever. It does not override a recall, nor open a retired board.
        bit: Name of the bit of the router; the workshop's usual one where empty.
    """

    board: Code
    spot: Spot
    outcome: str = "piece"
    tool: str = "router"
    kerf_mm: float = 2.0
    reservation: Code | None = None
    reason: str = ""
    override_reason: str = ""
    bit: str = ""


@dataclass(frozen=True, slots=True)
class CutView:
    """
    A cut with what it left.

    Args:
        cut: The record.
        piece: The piece, unless it was scrap.
        board: The board as it is now.
    """

    cut: Cut
    piece: Piece | None
    board: Board


def check_room(
    conn: sqlite3.Connection,
    board: Board,
    region: Region,
    *,
    kerf_mm: float,
    ignore: Collection[str] = (),
) -> None:
    """
    Raise unless a region lies on the board and clear of everything taken.

    Args:
        conn: Open connection.
        board: The board.
        region: In board coordinates.
        kerf_mm: Width that the tool removes round it.
        ignore: Codes of reservations that do not count.

    Raises:
        BadOutline: If the board has no outline yet.
        NoRoom: Naming each overlap with its measured area.
    """
    from salvage.geometry.conflicts import find_conflicts, say

    outline = board_outline(board)
    if outline is None:
        raise BadOutline(
            f"{board.code} has no outline yet", hint=f"salvage board outline {board.code} …"
        )
    taken = read_taken(conn, board.code)
    conflicts = find_conflicts(region, kerf_mm=kerf_mm, outline=outline, taken=taken, ignore=ignore)
    if conflicts:
        width, height = outline.size_mm
        raise NoRoom(
            "the shape " + "; ".join(say(conflict) for conflict in conflicts),
            hint=f"move it; {board.code} reaches from 0,0 to {width:g},{height:g} mm",
        )
    check_not_across(conn, board.code, region, freed=ignore)


def record_cut(shop: Workshop, *, new: NewCut, dry_run: bool = False) -> CutView:
    """
    Record a region taken out of a board, as a piece or as scrap.

    Args:
        shop: The open workshop.
        new: The cut.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If the board or reservation is not known.
        Held: If the board is recalled or retired, or has open hazards and no override is given.
        NoRoom: If the shape overlaps something or leaves the board.
        BadValue: If scrap has no reason.
    """
    if new.outcome == "scrap" and not new.reason.strip():
        raise BadValue("say why it is scrap", hint="such as 'cracked'", field="--reason")

    return shop.commit(
        f"cut {new.outcome}", lambda change: append_cut(change, new), dry_run=dry_run
    )


def append_cut(change: Change, new: NewCut) -> CutView:
    """Journal a cut inside an open change; see :func:`record_cut` for what is refused."""
    board = load_board(change.conn, new.board)
    check_override_named(change, new.override_reason)
    check_clear(change.conn, board, new.override_reason)
    _check_reservation(change.conn, new)
    region = new.spot.region()
    ignore = (new.reservation,) if new.reservation else ()
    check_room(change.conn, board, region, kerf_mm=new.kerf_mm, ignore=ignore)
    cut_code = _append_cut(change, board, new, region)
    cut = load_cut(change.conn, cut_code)
    append_use(change, cut, new.bit)
    pieces = select(change.conn, Piece, "FROM piece WHERE cut = ?", (cut_code,))
    return CutView(cut, pieces[0] if pieces else None, load_board(change.conn, board.code))


def check_clear(conn: sqlite3.Connection, board: Board, override: str = "") -> None:
    """
    Raise unless a board may be cut.

    Args:
        conn: Open connection.
        board: The board.
        override: Why it is cut although hazards are open; empty for no override.

    Raises:
        Held: With what stands in the way.
    """
    obstacles = [o for o in find_obstacles(conn, board) if o.forbids_cutting]
    barred = any(not o.overridable for o in obstacles)
    if barred or (obstacles and not override.strip()):
        raise Held(
            f"{board.code} may not be cut: " + "; ".join(o.words for o in obstacles),
            hint=obstacles[0].mend,
        )


def _check_reservation(conn: sqlite3.Connection, new: NewCut) -> None:
    if new.reservation is None:
        return
    held = load_reservation(conn, new.reservation)
    if held.board != new.board or held.state != "held":
        raise Refused(f"{held.code} is {held.state} on {held.board}, not held on {new.board}")


def _append_cut(change: Change, board: Board, new: NewCut, region: Region) -> Code:
    code = change.new_code("K")
    is_piece = new.outcome == "piece"
    made = (code, change.new_code("P")) if is_piece else (code,)
    about = [code, board.code, *made[1:]]
    if new.reservation:
        about.append(new.reservation)
    change.append(
        "cut.made",
        about,
        {
            "outcome": new.outcome,
            "side": new.spot.side,
            "tool": new.tool,
            "shape": new.spot.shape.name,
            "shape_sha256": new.spot.shape.sha256,
            "x_um": new.spot.x_um,
            "y_um": new.spot.y_um,
            "angle_mdeg": new.spot.angle_mdeg,
            "mirrored": new.spot.side == "back",
            "kerf_um": round(new.kerf_mm * 1000),
            "region": region.to_rings(),
            "area_um2": region.area_um2,
            "usable_before_um2": board.usable_um2,
            "usable_after_um2": _usable_after(change.conn, board, new, region),
            "override_reason": new.override_reason,
            "reservation": new.reservation or "",
            "reason": new.reason,
            "custody": ONE_BOARD if is_piece else "",
        },
        made=made,
    )
    return code


def _usable_after(conn: sqlite3.Connection, board: Board, new: NewCut, region: Region) -> int:
    from salvage.geometry.ledger import Taken

    cut = Taken("cut", "this cut", region, round(new.kerf_mm * 1000))
    plan = load_reservation(conn, new.reservation).plan if new.reservation else ""
    lines = lines_as_taken(read_lines(conn, board.code, plan=plan)) if plan else ()
    return usable_with(conn, board, cut, *lines, without=new.reservation or "")


def usual_kerf_mm(shop: Workshop, tool: str) -> float:
    """
    Width that a tool usually removes, in millimetres.

    The workshop's own setting for the router; for shears and saw the table of kerfs.

    Args:
        shop: The open workshop.
        tool: One of :data:`salvage.records.choices.TOOLS`.
    """
    from salvage.knowledge.materials import kerfs_for

    if tool == "router":
        return shop.settings.kerf_mm
    return kerfs_for(tool)[0].usual_mm


def reserve(
    shop: Workshop,
    *,
    board: Code,
    spot: Spot,
    for_whom: str,
    anyway: bool = False,
    dry_run: bool = False,
) -> Reservation:
    """
    Hold a place on a board for somebody.

    Args:
        shop: The open workshop.
        board: The board's code; it may still be held, the cut may not.
        spot: Where.
        for_whom: Order or person, in words.
        anyway: Hold it although the bit cannot cut the shape as drawn.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such board.
        Held: If the board is recalled or retired.
        NoRoom: If the shape overlaps something or leaves the board.
        BadValue: If it is not said for whom.
        Refused: If the workshop's bit cannot cut the shape as it is drawn.
    """
    if not for_whom.strip():
        raise BadValue("say for whom", field="--for")
    if not anyway:
        check_cuttable(shop, spot.shape)

    return shop.commit(
        "reserve",
        lambda change: append_reservation(change, board, spot, for_whom),
        dry_run=dry_run,
    )


@dataclass(frozen=True, slots=True)
class PlanSeat:
    """
    What a place is held for when a plan holds it.

    Args:
        plan: The plan's code.
        line: Number of its line.
        kerf_mm: Width that the plan's tool removes.
    """

    plan: Code
    line: int
    kerf_mm: float


def append_reservation(
    change: Change, board: Code, spot: Spot, for_whom: str, *, seat: PlanSeat | None = None
) -> Reservation:
    """
    Journal a reservation inside an open change; see :func:`reserve` for what is refused.

    Args:
        change: The open change.
        board: The board's code.
        spot: Where.
        for_whom: Order or person, in words.
        seat: The plan that holds it; the workshop's usual kerf counts where there is none.
    """
    from salvage.geometry.ledger import Taken

    found = load_board(change.conn, board)
    check_reservable(change.conn, found)
    region = spot.region()
    kerf_mm = seat.kerf_mm if seat else from_um(read_settings(change.conn).kerf_um)
    check_room(change.conn, found, region, kerf_mm=kerf_mm)
    code = change.new_code("R")
    lines = lines_as_taken(read_lines(change.conn, board, plan=seat.plan)) if seat else ()
    usable = usable_with(change.conn, found, Taken("reservation", code, region, 0), *lines)
    change.append(
        "reservation.made",
        (code, board, seat.plan) if seat else (code, board),
        {
            "for_whom": for_whom,
            "shape": spot.shape.name,
            "region": region.to_rings(),
            "x_um": spot.x_um,
            "y_um": spot.y_um,
            "angle_mdeg": spot.angle_mdeg,
            "mirrored": spot.side == "back",
            "usable_um2": usable,
            "plan": seat.plan if seat else "",
            "line": seat.line if seat else 0,
        },
        made=(code,),
    )
    return load_reservation(change.conn, code)


def release(
    shop: Workshop, *, reservation: Code, reason: str = "", dry_run: bool = False
) -> Reservation:
    """
    Let a reserved place go.

    Raises:
        NotFound: If there is no such reservation.
        Refused: If it is not held any more.
    """

    return shop.commit(
        "release", lambda change: append_release(change, reservation, reason), dry_run=dry_run
    )


def append_release(change: Change, reservation: Code, reason: str) -> Reservation:
    """Journal a release inside an open change; see :func:`release` for what is refused."""
    held = load_reservation(change.conn, reservation)
    if held.state != "held":
        raise Refused(f"{reservation} is {held.state} already")
    board = load_board(change.conn, held.board)
    usable = usable_with(change.conn, board, without=reservation)
    change.append(
        "reservation.released",
        (reservation, held.board),
        {"reason": reason, "usable_um2": usable},
    )
    return load_reservation(change.conn, reservation)
