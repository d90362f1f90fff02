"""``salvage export sales``: the ledger for the accountant."""

from __future__ import annotations

import typer

from salvage.cli.export import commands
from salvage.cli.files import write_file
from salvage.cli.options import Force, Out
from salvage.cli.sales import From, OfOuting, Until, read_period
from salvage.cli.session import session_of
from salvage.cli.show import show_change


@commands.command("sales", example="salvage export sales --from 2026-01-01 --out sales.csv")
def sales(
    context: typer.Context,
    first: From = "",
    last: Until = "",
    outing: OfOuting = "",
    out: Out = "",
    force: Force = False,
) -> None:
    """
    Write the ledger of sales as one CSV file for the accountant.

    Days are year-month-day, amounts exact decimals; what was given back is below zero.
    """
    from salvage.work.export_sales import export_sales

    session = session_of(context)
    with session.open() as shop:
        data = export_sales(shop, period=read_period(shop, first, last, outing))
    path = write_file(session, out or "sales.csv", lambda: data, force=force)
    rows = data.count(b"\r\n") - 1
    verb = "would go to" if session.dry_run else "written:"
    record = {"file": str(path), "rows": rows}
    show_change(session, record, lines=[f"{verb} {path}", f"{rows} lines"], codes=[str(path)])
