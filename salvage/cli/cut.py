"""``salvage cut``: a region taken out of a board, as a piece or as scrap."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.options import (
    Angle,
    At,
    BoardCode,
    ShapeFile,
    ShapeHeight,
    ShapeName,
    ShapeWidth,
    completer,
)
from salvage.cli.options import Side as SideOption
from salvage.cli.records import board_record, record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import note, show_change, warn
from salvage.units import format_area, format_mm

if TYPE_CHECKING:
    from salvage.cli.spot import TypedSpot
    from salvage.work.cutting import CutView, NewCut, Spot
    from salvage.work.workshop import Workshop

commands = CommandSet()


@commands.command(
    "cut", example="salvage cut BC0002J --shape tern --at 60,50 --angle 30 --dry-run", changes=True
)
def cut(
    context: typer.Context,
    code: BoardCode,
    shape: ShapeName = "",
    svg: ShapeFile = "",
    at: At = "",
    angle: Angle = "0",
    side: SideOption = "front",
    width: ShapeWidth = "",
    height: ShapeHeight = "",
    reservation: Annotated[
        str,
        typer.Option(metavar="CODE", help="Cut what is reserved.", autocompletion=completer("R")),
    ] = "",
    tool: Annotated[str, typer.Option(metavar="TOOL", help="router, shears or saw.")] = "router",
    kerf: Annotated[
        str,
        typer.Option(
            "--kerf", "--kerf-mm", metavar="MM", help="Width it removes; by tool if left out."
        ),
    ] = "",
    scrap: Annotated[bool, typer.Option("--scrap", help="It came out as scrap.")] = False,
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why scrap, or a note.")] = "",
    bit: Annotated[
        str, typer.Option(metavar="NAME", help="Bit of the router; the usual one if left out.")
    ] = "",
    override: Annotated[
        str, typer.Option(metavar="TEXT", help="Why a held board is cut all the same; stays.")
    ] = "",
) -> None:
    """
    Record a cut; with --dry-run, show where it would go.

    The place is checked exactly: outline, earlier cuts with kerf and wall, keep-outs, reservations.
    A held board is refused. Angles turn counter-clockwise; from the back the shape is mirrored, so
    that it comes out as drawn. A shape that the bit cannot cut as drawn is cut with a warning.
    """
    from salvage.cli.spot import TypedSpot

    typed = TypedSpot(shape, svg, width, height, at, angle, side)
    _record(session_of(context), context.params, typed)


def _record(session: Session, given: dict[str, Any], typed: TypedSpot) -> None:
    """Record the cut, and tell it with what to know of the shape and the tools."""
    from salvage.work.cutting import record_cut
    from salvage.work.shape_check import cutting_caution
    from salvage.work.tools import tool_warnings

    with session.open() as shop:
        new = _read(session, shop, given, typed)
        chosen = new.spot.shape
        caution = cutting_caution(shop.settings, chosen.name, chosen.region, new.tool)
        view = record_cut(shop, new=new, dry_run=session.dry_run)
        if session.dry_run and not session.form:
            _preview(session, shop, new)
        worn = tool_warnings(shop.conn)
    for words in (caution, *worn):
        if words:
            warn(session, words)
    _tell(session, view, new.spot)


def _read(session: Session, shop: Workshop, given: dict[str, Any], typed: TypedSpot) -> NewCut:
    """The cut that the options tell; *given* holds texts and switches by their option's name."""
    from salvage.cli.gather import Gatherer
    from salvage.knowledge.materials import kerfs_for
    from salvage.records.choices import TOOLS, parse_choice
    from salvage.units import parse_from_zero_mm
    from salvage.work.cutting import NewCut, usual_kerf_mm
    from salvage.work.reading import read_code

    gather = Gatherer()
    board = read_code(shop, text=given["code"], kinds="B")
    reserved = given["reservation"]
    held = read_code(shop, text=reserved, kinds="R", field="--reservation") if reserved else None
    tool = gather.take(lambda: parse_choice(given["tool"], TOOLS, field="--tool"), "router")
    kerf_mm = usual_kerf_mm(shop, tool)
    if not given["kerf"] and tool != "router" and not session.form:
        usual = kerfs_for(tool)[0]
        note(session, f"kerf {format_mm(kerf_mm)} for {usual.words}: {usual.source.marked_words}")
    if given["kerf"]:
        typed_kerf = given["kerf"]
        kerf_mm = gather.take(
            lambda: parse_from_zero_mm(typed_kerf, field="--kerf", most_mm=50), kerf_mm
        )
    gather.finish()
    return NewCut(
        board=board,
        spot=_spot(session, shop, typed, held),
        outcome="scrap" if given["scrap"] else "piece",
        tool=tool,
        kerf_mm=kerf_mm,
        reservation=held,
        reason=given["reason"],
        override_reason=given["override"],
        bit=given["bit"],
    )


def _spot(session: Session, shop: Workshop, typed: TypedSpot, held: Any) -> Spot:
    from salvage.cli.failures import Misuse
    from salvage.cli.spot import read_spot
    from salvage.store.lookup import load_reservation
    from salvage.work.cutting import spot_of_reservation

    if held is None:
        return read_spot(session, shop, typed)
    if typed.shape or typed.svg or typed.at:
        raise Misuse("a reservation has its shape and place; leave --shape, --svg and --at out")
    return spot_of_reservation(load_reservation(shop.conn, held))


def _preview(session: Session, shop: Workshop, new: NewCut) -> None:
    from salvage.cli.cutting_view import show_cautions, show_chart
    from salvage.work.look import look_at
    from salvage.work.trial import try_spot

    show_cautions(session)
    ignore = (new.reservation,) if new.reservation else ()
    trial = try_spot(shop, board=new.board, spot=new.spot, kerf_mm=new.kerf_mm, ignore=ignore)
    note(session, f"room: {format_mm(round(trial.room.mm, 2))} to {trial.room.beside}")
    look = look_at(shop, board=new.board)
    show_chart(session, look, highlight=new.spot.region())


def _tell(session: Session, view: CutView, spot: Spot) -> None:
    from salvage.work.cutting import describe_spot

    found, piece, board = view.cut, view.piece, view.board
    before, after = found.usable_before_um2 / 1e6, found.usable_after_um2 / 1e6
    what = f"piece {piece.code}" if piece else f"scrap ({found.reason})"
    made = piece.code if piece else found.code
    tool = f"{found.tool}, kerf {format_mm(found.kerf_um / 1000)}"
    lines = [
        f"{made}  {describe_spot(spot)}: {what} from {board.code}, {tool}",
        f"{board.code}  usable {format_area(before)} -> {format_area(after)}",
    ]
    if found.override_reason:
        lines.append(f"{board.code}  cut although held: {found.override_reason}")
    show_change(
        session,
        {
            "cut": record_of(found),
            "piece": record_of(piece) if piece else None,
            "board": board_record(board),
        },
        lines=lines,
        codes=[made],
        next_step=f"card {piece.code}" if piece else f"scan {board.code}",
    )
