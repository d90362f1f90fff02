"""``salvage article``: several pieces assembled into one, and taken apart again."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from salvage.cli.command import CommandSet
from salvage.cli.piece import piece_record
from salvage.cli.session import session_of
from salvage.cli.show import Column, show_change, show_list

if TYPE_CHECKING:
    import typer

    from salvage.cli.options import PieceCode, PieceCodes

commands = CommandSet(
    "article",
    "Several pieces assembled into one article.",
    'salvage article make PC0001D PC0002B --name "tern earrings"',
)


@commands.command(
    "make", example='salvage article make PC0001D PC0002B --name "tern earrings"', changes=True
)
def make(
    context: typer.Context,
    codes: PieceCodes,
    name: Annotated[str, typer.Option(metavar="TEXT", help="What it is.")] = "",
    note: Annotated[str, typer.Option(metavar="TEXT", help="What was done, for yourself.")] = "",
) -> None:
    """
    Make one article of several pieces, such as a pair of earrings.

    The article has a code of its own and is priced, labelled and sold like a piece. Its parts keep
    their codes and cannot be sold singly while they are in it. The first part's place is the one
    that the card shows.
    """
    from salvage.work.articles import assemble
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        parts = [read_code(shop, text=code, kinds="P") for code in codes]
        view = assemble(shop, parts=parts, name=name, note=note, dry_run=session.dry_run)
    code = view.piece.code
    boards = len(view.boards)
    of = f"of {len(view.parts)} pieces from {boards} {'board' if boards == 1 else 'boards'}"
    show_change(
        session,
        piece_record(view),
        lines=[f"{code}  {view.piece.shape}, {of}, custody: {view.piece.custody}"],
        codes=[code],
        next_step=f"piece price {code} …",
    )


@commands.command(
    "apart", example='salvage article apart PC0010B --reason "hook broke"', changes=True
)
def apart(
    context: typer.Context,
    code: PieceCode,
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why.")] = "",
) -> None:
    """Take an article apart: its pieces are single again, each at the stage it was at before."""
    from salvage.work.articles import take_apart
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        article = read_code(shop, text=code, kinds="P")
        views = take_apart(shop, article=article, reason=reason, dry_run=session.dry_run)
    show_change(
        session,
        [piece_record(view) for view in views],
        lines=[f"{view.piece.code}  {view.piece.shape} is {view.piece.stage}" for view in views],
        codes=[view.piece.code for view in views],
        next_step=f"history {article}",
    )


_COLUMNS = (
    Column("code", "code"),
    Column("name", "shape"),
    Column("stage", "stage"),
    Column("parts", "parts_listed"),
    Column("boards", "boards_listed"),
    Column("custody", "custody"),
)


@commands.command("list", example="salvage article list")
def list_(
    context: typer.Context,
    most: Annotated[int, typer.Option(min=1, help="At most so many, the newest.")] = 100,
) -> None:
    """List assembled articles with their parts and boards, newest first."""
    from salvage.work.articles import list_articles

    session = session_of(context)
    with session.open() as shop:
        records = [
            piece_record(view)
            | {
                "parts_listed": " ".join(part.piece for part in view.parts),
                "boards_listed": " ".join(board.code for board in view.boards),
            }
            for view in list_articles(shop, most=most)
        ]
    show_list(session, records, _COLUMNS, empty="no articles yet; next: salvage article make")
