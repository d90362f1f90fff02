"""``salvage handover``: a board with its reserved places, for the router's program."""

from __future__ import annotations

from typing import Annotated

import typer

from salvage.cli.command import CommandSet
from salvage.cli.options import BoardCode, Force, Out
from salvage.cli.session import session_of
from salvage.cli.show import show_change

commands = CommandSet()


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
    from salvage.cli.files import write_file
    from salvage.work import handing_over
    from salvage.work.reading import read_code

    session = session_of(context)
    up = handing_over.parse_side(side)
    with session.open() as shop:
        board = read_code(shop, text=code, kinds="B")

        def make() -> bytes:
            if form == "sheet":
                return handing_over.print_setup(shop, board=board, side=up)
            return handing_over.hand_over(
                shop, board=board, form=form, side=up, show_code=show_code
            )

        ending = "pdf" if form == "sheet" else form
        path = write_file(session, out or f"{board}-{up}.{ending}", make, force=force)
    show_change(
        session,
        {"board": board, "form": form, "side": up, "file": str(path)},
        lines=[f"{board}  {up} side as {form} written: {path}"],
        codes=[str(path)],
        next_step=f"scan {board}",
    )
