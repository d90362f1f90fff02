"""``salvage card``: the story card that goes with a piece."""

from __future__ import annotations

from typing import Annotated

import typer

from salvage.cli.command import CommandSet
from salvage.cli.options import Force, Out, PieceCode
from salvage.cli.session import session_of
from salvage.cli.show import show_change

commands = CommandSet()


@commands.command("card", example="salvage card PC0001D --large --out tern.pdf", changes=True)
def card(
    context: typer.Context,
    code: PieceCode,
    large: Annotated[bool, typer.Option("--large", help="Large print.")] = False,
    out: Out = "",
    force: Force = False,
) -> None:
    """Print a piece's story card as a PDF; the record keeps what it said."""
    from salvage.cli.files import write_file
    from salvage.work.papers import print_card
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        piece = read_code(shop, text=code, kinds="P")
        path = write_file(
            session,
            out or f"card-{piece}.pdf",
            lambda: print_card(shop, piece=piece, large=large, dry_run=session.dry_run),
            force=force,
        )
    show_change(
        session,
        {"code": piece, "file": str(path)},
        lines=[f"{piece}  story card {'would go to' if session.dry_run else 'written:'} {path}"],
        codes=[str(path)],
        next_step=f"piece sell {piece} --venue …",
    )
