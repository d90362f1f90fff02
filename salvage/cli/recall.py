"""``salvage recall``: from one cause to everything that came of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.count import count_of
from salvage.cli.options import completer
from salvage.cli.records import record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, show_change, show_list, warn

if TYPE_CHECKING:
    from salvage.work.recall import RecallView

commands = CommandSet(
    "recall",
    "Call back everything that came of one cause.",
    'salvage recall open DC0005X --reason "mercury switch found"',
)


def _record(view: RecallView) -> dict[str, Any]:
    items = [record_of(item) for item in view.items]
    return record_of(view.recall, items=items, item_count=len(items))


@commands.command(
    "open", example='salvage recall open DC0005X --reason "mercury switch found"', changes=True
)
def open_(
    context: typer.Context,
    code: Annotated[
        str,
        typer.Argument(
            metavar="CODE",
            help="Where the trouble starts: donor, drop-off, board, cut or piece.",
            autocompletion=completer("GDBKP"),
        ),
    ],
    reason: Annotated[str, typer.Option(metavar="TEXT", help="What it is.")] = "",
    date: Annotated[
        str, typer.Option(metavar="DAY", help="Day it became known; today if left out.")
    ] = "",
) -> None:
    """Hold all boards and pieces that came of one cause, and list where each is."""
    from salvage.units import parse_date
    from salvage.work.reading import read_code
    from salvage.work.recall import open_recall

    session = session_of(context)
    with session.open() as shop:
        view = open_recall(
            shop,
            subject=read_code(shop, text=code),
            reason=reason,
            learned_on=parse_date(date, today=shop.today, field="--date") if date else None,
            dry_run=session.dry_run,
        )
    things = count_of(len(view.items), "thing")
    head = f"{view.recall.code}  recall of {view.recall.subject}, {things} held"
    _tell(session, view, [head, *(f"{item.code}  {item.where_at}" for item in view.items)])
    warn(session, "Some places ask for a report within a day; ask your local authority now.")


@commands.command(
    "close", example='salvage recall close HC0008U --outcome "all back, switches off"', changes=True
)
def close(
    context: typer.Context,
    code: Annotated[
        str, typer.Argument(metavar="RECALL", help="The recall.", autocompletion=completer("H"))
    ],
    outcome: Annotated[str, typer.Option(metavar="TEXT", help="How it ended.")] = "",
) -> None:
    """Close a recall; its boards and pieces are free unless another holds them."""
    from salvage.work.reading import read_code
    from salvage.work.recall import close_recall

    session = session_of(context)
    with session.open() as shop:
        view = close_recall(
            shop,
            recall=read_code(shop, text=code, kinds="H"),
            outcome=outcome,
            dry_run=session.dry_run,
        )
    _tell(session, view, [f"{view.recall.code}  closed: {view.recall.outcome}"])


def _tell(session: Session, view: RecallView, lines: list[str]) -> None:
    codes = [view.recall.code]
    show_change(session, _record(view), lines=lines, codes=codes, next_step="recall list")


_COLUMNS = (
    Column("code", "code"),
    Column("of", "subject"),
    Column("known since", "learned_on"),
    Column("state", "state"),
    Column("reason", "reason"),
    Column("things", "item_count"),
    Column("outcome", "outcome"),
)


@commands.command("list", example="salvage recall list")
def list_(context: typer.Context) -> None:
    """List all recalls, newest first."""
    from salvage.work.recall import list_recalls

    session = session_of(context)
    with session.open() as shop:
        records = [_record(view) for view in list_recalls(shop)]
    show_list(session, records, _COLUMNS, empty="there was never a recall")
