"""``salvage handover``: a board with its reserved places, for the router's program."""

from __future__ import annotations

from typing import Annotated

import typer

from salvage.cli.command import CommandSet
from salvage.cli.options import BoardCode, Force, Out
from salvage.cli.session import session_of
from salvage.cli.show import show_change

commands = CommandSet()

_WORDS = {"svg": "SVG drawing", "dxf": "DXF drawing", "sheet": "setup sheet"}


@commands.command("handover", example="salvage handover BC0002J --form dxf --side back")
def handover(
    context: typer.Context,
    code: BoardCode,
    form: Annotated[
        str, typer.Option(metavar="FORM", help="svg or dxf, in mm; sheet for the setup sheet.")
    ] = "svg",
    side: Annotated[
        str, typer.Option(metavar="SIDE", help="What lies up: front or back.")
    ] = "front",
    show_code: Annotated[
        bool, typer.Option("--show-code", help="Draw the code as text; it may be engraved.")
    ] = False,
    out: Out = "",
    force: Force = False,
) -> None:
    """
    Draw a board with its reserved places in true size, or print its setup sheet.

    Outline, keep-outs, places and datum are on layers of their own. No machine is moved by it.
    """
    from salvage.cli.failures import Misuse
    from salvage.cli.files import write_file
    from salvage.cli.held_places import read_held
    from salvage.records.choices import SIDES, parse_choice
    from salvage.work.handing_over import hand_over, parse_side, print_setup
    from salvage.work.reading import read_code

    session = session_of(context)
    up = parse_side(parse_choice(side, SIDES, field="--side"))
    chosen = parse_choice(form, tuple(_WORDS), field="--form")
    if show_code and chosen == "sheet":
        raise Misuse("a setup sheet shows the code anyhow; leave --show-code out")
    with session.open() as shop:
        board = read_code(shop, text=code, kinds="B")

        def make() -> bytes:
            if chosen == "sheet":
                return print_setup(shop, board=board, side=up)
            return hand_over(shop, board=board, form=chosen, side=up, show_code=show_code)

        ending = "pdf" if chosen == "sheet" else chosen
        path = write_file(session, out or f"{board}-{up}.{ending}", make, force=force)
        (first, *_) = read_held(shop, board)  # without any, nothing was handed over
    show_change(
        session,
        {"board": board, "form": chosen, "side": up, "file": str(path)},
        lines=[f"{board}  {_WORDS[chosen]} with the {up} up written: {path}"],
        codes=[str(path)],
        next_step=f"cut {board} --reservation {first.code}",
    )
