"""``salvage recall sheet`` and ``salvage recall notice``: the papers of a recall."""

from __future__ import annotations

from typing import Annotated

import typer

from salvage.cli.files import check_target, write_file
from salvage.cli.options import Force, Out
from salvage.cli.recall import RecallCode, commands
from salvage.cli.session import session_of
from salvage.cli.show import show_change, warn


@commands.command("sheet", example="salvage recall sheet HC0008U --out recall.pdf")
def sheet(
    context: typer.Context, code: RecallCode, out: Out = "recall-list.pdf", force: Force = False
) -> None:
    """Print the list for the bench: what to find, where it is, boxes to tick."""
    from salvage.work.reading import read_code
    from salvage.work.recall_papers import print_recall_list

    session = session_of(context)
    path = check_target(session, out, force=force)
    with session.open() as shop:
        recall = read_code(shop, text=code, kinds="H")
        write_file(session, out, lambda: print_recall_list(shop, recall=recall), force=force)
    answer = {"code": recall, "file": str(path)}
    show_change(session, answer, lines=[f"{recall}  list written to {path}"], codes=[recall])


@commands.command(
    "notice", example='salvage recall notice HC0008U --venue "Quay Market" --out notice.pdf'
)
def notice(
    context: typer.Context,
    code: RecallCode,
    venue: Annotated[
        str, typer.Option(metavar="TEXT", help="Only what was sold there; all buyers if left out.")
    ] = "",
    out: Out = "recall-notice.pdf",
    force: Force = False,
) -> None:
    """Print the notice for buyers, or for a venue: what, why, what to do, whom to ask."""
    from salvage.store.lookup import load_recall
    from salvage.work.reading import read_code
    from salvage.work.recall_papers import print_recall_notice, soft_words

    session = session_of(context)
    path = check_target(session, out, force=force)
    with session.open() as shop:
        recall = read_code(shop, text=code, kinds="H")
        record = load_recall(shop.conn, recall)
        write_file(
            session,
            out,
            lambda: print_recall_notice(shop, recall=recall, venue=venue),
            force=force,
        )
    answer = {"code": recall, "file": str(path)}
    show_change(session, answer, lines=[f"{recall}  notice written to {path}"], codes=[recall])
    soft = soft_words(f"{record.reason} {record.to_do}")
    if soft:
        told = ", ".join(f"'{word}'" for word in soft)
        warn(session, f"{told} may make the danger look smaller; some places forbid that.")
    warn(session, "Your authority may want another form; its rules come first.")
