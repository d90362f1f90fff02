"""``salvage fits``: which boards can yield a shape, and where on one board."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.options import ShapeHeight, ShapeWidth, completer
from salvage.cli.records import board_record
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, note, say, show_json, show_list, show_plain

if TYPE_CHECKING:
    from salvage.work.fitting import BoardFilter, BoardFit, Wish
    from salvage.work.workshop import Workshop

commands = CommandSet()

_VERDICTS = {
    "fit": "fits",
    "tight": "tight: within about half a millimetre",
    "no": "does not fit at any place or angle",
}


@commands.command("fits", example="salvage fits tern --type motherboard")
def fits(
    context: typer.Context,
    shape: Annotated[str, typer.Argument(metavar="SHAPE", help="See 'salvage shape list'.")],
    board: Annotated[
        str,
        typer.Option(metavar="BOARD", help="Only this board.", autocompletion=completer("B")),
    ] = "",
    width: ShapeWidth = "",
    height: ShapeHeight = "",
    kerf: Annotated[
        str, typer.Option("--kerf", "--kerf-mm", metavar="MM", help="Else the workshop's own.")
    ] = "",
    clearance: Annotated[
        str, typer.Option("--clearance", "--clearance-mm", metavar="MM", help="Room besides.")
    ] = "0",
    angles: Annotated[
        str, typer.Option(metavar="A,B,…", help="Only these angles, in degrees.")
    ] = "",
    either_face: Annotated[
        bool, typer.Option("--either-face", help="The picture may be on the back.")
    ] = False,
    cleared: Annotated[bool, typer.Option("--cleared", help="Only cleared boards.")] = False,
    donor: Annotated[str, typer.Option(metavar="CODE", help="Only this donor's boards.")] = "",
    dropoff: Annotated[str, typer.Option(metavar="CODE", help="Only from this drop-off.")] = "",
    kind: Annotated[str, typer.Option("--type", metavar="TYPE", help="Only this type.")] = "",
    colour: Annotated[str, typer.Option(metavar="TEXT", help="Only this colour.")] = "",
    thickness: Annotated[
        str, typer.Option("--thickness", metavar="MM", help="Only this thickness.")
    ] = "",
    most: Annotated[int, typer.Option(min=1, max=1000, help="At most so many.")] = 10,
) -> None:
    """
    Tell which boards can yield a shape, in the order to take them, or where it goes on one board.

    Cleared boards come before held ones, remnants before fresh boards, small remnants first. Every
    place given is checked exactly; "does not fit" is proved for all places and angles.
    """
    from salvage.work.wishes import TypedFilter, TypedWish, parse_filter, parse_wish

    session = session_of(context)
    typed = TypedWish(shape, width, height, kerf, clearance, angles, either_face)
    with session.open() as shop:
        wish = parse_wish(shop, typed)
        if board:
            _show_board(session, shop, wish, board, most)
        else:
            asked = TypedFilter(cleared, donor, dropoff, kind, colour, thickness)
            _show_shelf(session, shop, wish, parse_filter(shop, asked), most)


def _show_shelf(
    session: Session, shop: Workshop, wish: Wish, filters: BoardFilter, most: int
) -> None:
    from salvage.work import fitting

    found = fitting.find_boards(
        shop, wish=wish, filters=filters, most=most, progress=_progress(session)
    )
    show_list(
        session,
        [fit_record(fit) for fit in found],
        (
            Column("board", "board"),
            Column("what", "title"),
            Column("state", "state"),
            Column("answer", "verdict", lambda verdict: _VERDICTS[verdict]),
            Column("at x,y mm", "at"),
            Column("angle", "angle_deg", lambda angle: f"{angle:g}°"),
            Column("usable mm²", "usable_mm2", lambda area: f"{area:.0f}"),
        ),
        empty=f"no board on the shelf can yield {wish.shape.name}",
    )
    if found and not session.form:
        first = found[0].board.code
        note(session, f"next: salvage fits {wish.shape.name} --board {first}")


def _progress(session: Session) -> Any:
    """A line that counts boards while their indexes are made, on a terminal only."""
    if not session.world.stderr_is_terminal or session.form:
        return None
    stream = session.world.stderr

    def tell(done: int, all_of: int) -> None:
        if done % 20 == 0 or done == all_of:
            stream.write(f"\rlooking at the shelf: {done} of {all_of}")
            stream.write("\n" if done == all_of else "")
            stream.flush()

    return tell


def fit_record(fit: BoardFit) -> dict[str, Any]:
    """One board's answer as JSON."""
    board = fit.board
    spots = [
        {
            "x_mm": spot.placement.x_um / 1000,
            "y_mm": spot.placement.y_um / 1000,
            "angle_deg": spot.placement.angle_mdeg / 1000,
            "side": "back" if spot.placement.mirrored else "front",
        }
        for spot in fit.spots
    ]
    first = spots[0] if spots else None
    return {
        "board": board.code,
        "title": board.title,
        "state": board.clearance + (", remnant" if board.cut_count else ""),
        "verdict": fit.verdict,
        "reason": fit.reason,
        "at": f"{first['x_mm']:g},{first['y_mm']:g}" if first else "",
        "angle_deg": first["angle_deg"] if first else None,
        "usable_mm2": board.usable_um2 / 1e6,
        "spots": spots,
        "at_least": fit.at_most,
        "record": board_record(board),
    }


def _show_board(session: Session, shop: Workshop, wish: Wish, text: str, most: int) -> None:
    from salvage.work import fitting
    from salvage.work.reading import read_code

    code = read_code(shop, text=text, kinds="B")
    _show_one(session, fitting.fits_here(shop, board=code, wish=wish, most=most), wish)


def _show_one(session: Session, fit: BoardFit, wish: Wish) -> None:
    record = fit_record(fit)
    if session.form == "json":
        show_json(session, record)
    elif session.form == "plain":
        spots = record["spots"] or [{"x_mm": "", "y_mm": "", "angle_deg": "", "side": ""}]
        show_plain(session, ([record["board"], fit.verdict, *s.values()] for s in spots))
    else:
        code = fit.board.code
        say(session, f"{code}  {wish.shape.name} {_VERDICTS[fit.verdict]} ({fit.reason})")
        if fit.at_most:
            say(session, f"  at least {fit.at_most} go on it together")
        for spot in record["spots"]:
            where = f"--at {spot['x_mm']:g},{spot['y_mm']:g} --angle {spot['angle_deg']:g}"
            back = " --side back" if spot["side"] == "back" else ""
            say(session, f"  salvage cut {code} --shape {wish.shape.name} {where}{back}")
    if fit.verdict == "no":
        raise typer.Exit(1)
