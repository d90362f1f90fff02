"""``salvage board weigh`` and ``copper``: what a board's balance of mass rests on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from salvage.cli.board import commands
from salvage.cli.records import board_record
from salvage.cli.session import session_of
from salvage.cli.show import show_change
from salvage.units import format_mass

if TYPE_CHECKING:
    from salvage.cli.options import BoardCode


@commands.command("weigh", example="salvage board weigh BC0002J 81.5g", changes=True)
def weigh(
    context: typer.Context,
    code: BoardCode,
    weight: Annotated[str, typer.Argument(metavar="MASS", help="On the scales now.")],
    date: Annotated[
        str, typer.Option("--date", metavar="DAY", help="Day; today if left out.")
    ] = "",
) -> None:
    """
    Record what a board weighs now, after parts and pieces were taken off it.

    The weight at the door is kept as it was; the balance compares both.
    """
    from salvage.units import parse_date, parse_mass_g
    from salvage.work.reading import read_code
    from salvage.work.waste import weigh_board

    session = session_of(context)
    grams = parse_mass_g(weight, field="MASS")
    with session.open() as shop:
        day = parse_date(date, today=shop.today, field="--date") if date else None
        board = read_code(shop, text=code, kinds="B")
        found = weigh_board(
            shop, board=board, weight_g=grams, weighed_on=day, dry_run=session.dry_run
        )
    show_change(
        session,
        board_record(found),
        lines=[f"{board}  weighs {format_mass(grams)} now"],
        codes=[board],
        next_step=f"mass {board}",
    )


@commands.command("copper", example="salvage board copper BC0002J --layers 4 --oz 1", changes=True)
def copper(
    context: typer.Context,
    code: BoardCode,
    layers: Annotated[int, typer.Option(metavar="N", help="Copper layers, counted.")] = 2,
    oz: Annotated[float, typer.Option(metavar="OZ", help="Ounces per square foot on each.")] = 1.0,
) -> None:
    """Record how much copper a board has, for the estimate of its mass."""
    from salvage.work.reading import read_code
    from salvage.work.waste import set_copper

    session = session_of(context)
    with session.open() as shop:
        board = read_code(shop, text=code, kinds="B")
        found = set_copper(shop, board=board, layers=layers, copper_oz=oz, dry_run=session.dry_run)
    show_change(
        session,
        board_record(found),
        lines=[f"{board}  {layers} copper layers of {oz:g} oz each"],
        codes=[board],
        next_step=f"mass {board}",
    )
