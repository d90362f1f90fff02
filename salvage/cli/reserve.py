"""``salvage reserve`` and ``release``: places held for orders."""

from __future__ import annotations

from typing import Annotated

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
    Side,
    completer,
)
from salvage.cli.records import record_of
from salvage.cli.session import session_of
from salvage.cli.show import show_change

reserving = CommandSet()
releasing = CommandSet()


@reserving.command(
    "reserve",
    example='salvage reserve BC0002J --shape kite --at 30,40 --for "order 12"',
    changes=True,
)
def reserve(
    context: typer.Context,
    code: BoardCode,
    shape: ShapeName = "",
    svg: ShapeFile = "",
    at: At = "",
    angle: Angle = "0",
    side: Side = "front",
    width: ShapeWidth = "",
    height: ShapeHeight = "",
    for_whom: Annotated[str, typer.Option("--for", metavar="TEXT", help="Order or person.")] = "",
    anyway: Annotated[
        bool, typer.Option("--anyway", help="Even if the bit cannot cut the shape as drawn.")
    ] = False,
) -> None:
    """Hold a place on a board; the board may still be held, the cut may not."""
    from salvage.cli.spot import TypedSpot, read_spot
    from salvage.work import cutting
    from salvage.work.reading import read_code

    session = session_of(context)
    typed = TypedSpot(shape, svg, width, height, at, angle, side)
    with session.open() as shop:
        found = read_code(shop, text=code, kinds="B")
        spot = read_spot(session, shop, typed)
        held = cutting.reserve(
            shop,
            board=found,
            spot=spot,
            for_whom=for_whom,
            anyway=anyway,
            dry_run=session.dry_run,
        )
    where = cutting.describe_spot(spot)
    show_change(
        session,
        record_of(held),
        lines=[f"{held.code}  {where} held on {held.board} for {held.for_whom}"],
        codes=[held.code],
        next_step=f"cut {held.board} --reservation {held.code}",
    )


@releasing.command(
    "release", example='salvage release RC0001X --reason "order withdrawn"', changes=True
)
def release(
    context: typer.Context,
    code: Annotated[
        str,
        typer.Argument(metavar="CODE", help="The reservation.", autocompletion=completer("R")),
    ],
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why.")] = "",
) -> None:
    """Let a reserved place go."""
    from salvage.work import cutting
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        found = read_code(shop, text=code, kinds="R")
        freed = cutting.release(shop, reservation=found, reason=reason, dry_run=session.dry_run)
    show_change(
        session,
        record_of(freed),
        lines=[f"{freed.code}  released; the place on {freed.board} is free"],
        codes=[freed.code],
        next_step=f"scan {freed.board}",
    )
