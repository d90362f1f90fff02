"""``salvage fits``: which boards can yield a shape, and where on one board."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Annotated

import typer

from salvage.cli.command import CommandSet
from salvage.cli.options import ShapeHeight, ShapeWidth, completer
from salvage.cli.session import Session, session_of

if TYPE_CHECKING:
    from salvage.work.wishes import TypedWish
    from salvage.work.workshop import Workshop

commands = CommandSet()

# Options that choose among boards, with their names in the function.
_FILTERS = {
    "--cleared": "cleared",
    "--donor": "donor",
    "--dropoff": "dropoff",
    "--type": "kind",
    "--colour": "colour",
    "--thickness": "thickness",
}


@commands.command("fits", example="salvage fits tern --type motherboard")
def fits(
    context: typer.Context,
    shape: Annotated[str, typer.Argument(metavar="SHAPE", help="See 'salvage shape list'.")],
    board: Annotated[
        str,
        typer.Option(metavar="BOARD", help="Only this board.", autocompletion=completer("B")),
    ] = "",
    together: Annotated[
        bool, typer.Option("--together", help="With --board: places that go side by side.")
    ] = False,
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
    finest: Annotated[
        bool, typer.Option("--finest", help="Where the traces run densest comes first.")
    ] = False,
    tool: Annotated[
        str, typer.Option(metavar="TOOL", help="router; or shears, for straight cuts.")
    ] = "router",
    anyway: Annotated[
        bool, typer.Option("--anyway", help="Even if the bit cannot cut the shape as drawn.")
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
    _fits(session_of(context), context.params)


def _fits(session: Session, given: Mapping[str, object]) -> None:
    from salvage.work.wishes import TypedWish

    _check_together(given)
    shape, width, height = (str(given[name]) for name in ("shape", "width", "height"))
    kerf, clearance, angles = (str(given[name]) for name in ("kerf", "clearance", "angles"))
    _check_lengths(kerf, clearance)
    typed = TypedWish(
        shape,
        width,
        height,
        kerf,
        clearance,
        angles,
        bool(given["either_face"]),
        finest=bool(given["finest"]),
        tool=str(given["tool"]),
        anyway=bool(given["anyway"]),
    )
    with session.open() as shop:
        answer = _answer_board if given["board"] else _answer_shelf
        answer(session, shop, typed, given)


def _check_together(given: Mapping[str, object]) -> None:
    """
    Raise where one option makes another one mean nothing.

    Raises:
        Misuse: Naming them.
    """
    from salvage.cli.failures import Misuse

    if given["together"] and not given["board"]:
        raise Misuse("--together asks about one board; name it with --board")
    chosen = [flag for flag, name in _FILTERS.items() if given[name]]
    if given["board"] and chosen:
        raise Misuse(f"--board names the board; leave {', '.join(chosen)} out")


def _check_lengths(kerf: str, clearance: str) -> None:
    """
    Raise unless both may be taken; 0 is a length here.

    Raises:
        SalvageError: The one mistake, or both.
    """
    from salvage.cli.gather import Gatherer
    from salvage.units import parse_from_zero_mm

    gather = Gatherer()
    for field, text, most_mm in (("--kerf", kerf, 20), ("--clearance", clearance, 50)):
        if text:
            gather.take(partial(parse_from_zero_mm, text, field=field, most_mm=most_mm), 0.0)
    gather.finish()


def _answer_shelf(
    session: Session, shop: Workshop, typed: TypedWish, given: Mapping[str, object]
) -> None:
    from salvage.cli.fits_view import show_shelf
    from salvage.work.fitting import find_boards
    from salvage.work.wishes import TypedFilter, parse_filter, parse_wish

    donor, dropoff, kind, colour, thickness = (
        str(given[name]) for name in list(_FILTERS.values())[1:]
    )
    asked = TypedFilter(bool(given["cleared"]), donor, dropoff, kind, colour, thickness)
    found = find_boards(
        shop,
        wish=parse_wish(shop, typed),
        filters=parse_filter(shop, asked),
        most=int(str(given["most"])),
        progress=_progress(session),
    )
    show_shelf(session, found, typed)


def _answer_board(
    session: Session, shop: Workshop, typed: TypedWish, given: Mapping[str, object]
) -> None:
    from salvage.cli.fits_view import show_board
    from salvage.work.fitting import fits_here
    from salvage.work.reading import read_code
    from salvage.work.wishes import parse_wish

    wish, most = parse_wish(shop, typed), int(str(given["most"]))
    code = read_code(shop, text=str(given["board"]), kinds="B", field="--board")
    fit = fits_here(shop, board=code, wish=wish, most=most)
    show_board(session, fit, typed, together=bool(given["together"]))
    if fit.verdict == "no":
        raise typer.Exit(1)


def _progress(session: Session) -> Callable[[int, int], None] | None:
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
