"""``salvage place``: shelves and boxes that have a label of their own."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from salvage.cli.command import CommandSet
from salvage.cli.records import record_of
from salvage.cli.session import session_of
from salvage.cli.show import Column, show_change, show_list

if TYPE_CHECKING:
    import typer

commands = CommandSet("place", "Shelves and boxes with a label to scan.", "salvage place list")


@commands.command("add", example='salvage place add "shelf A3" "box 7"', changes=True)
def add(
    context: typer.Context,
    names: Annotated[list[str], typer.Argument(metavar="NAME...", help="Shelves, boxes, drawers.")],
) -> None:
    """
    Give places a code; one that has a code keeps it.

    A place without a code goes on being a name that you type.
    """
    from salvage.work.places import name_places

    session = session_of(context)
    with session.open(create=True) as shop:
        found = name_places(shop, names=names, dry_run=session.dry_run)
    show_change(
        session,
        [record_of(place) for place in found],
        lines=[f"{place.code} {place.name}" for place in found],
        codes=[place.code for place in found],
        next_step=f"label {' '.join(place.code for place in found)}",
    )


@commands.command("list", example="salvage place list")
def list_all(context: typer.Context) -> None:
    """List the places that have a code, and how many boards lie there."""
    from salvage.work.places import list_places

    session = session_of(context)
    with session.open() as shop:
        found = list_places(shop)
    show_list(
        session,
        [
            record_of(view.place, boards=list(view.boards), board_count=len(view.boards))
            for view in found
        ],
        (
            Column("code", "code"),
            Column("place", "name"),
            Column("boards", "board_count"),
            Column("label", "label_printed", lambda printed: "printed" if printed else "-"),
        ),
        empty='no place has a code yet: salvage place add "shelf A3"',
    )
