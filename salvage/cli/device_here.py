"""``salvage device take-over``: which computer writes in the workshop's folder."""

from __future__ import annotations

from dataclasses import asdict

import typer

from salvage.cli.count import count_of
from salvage.cli.device import commands
from salvage.cli.session import session_of
from salvage.cli.show import show_change


@commands.command("take-over", example="salvage device take-over", changes=True)
def take_over(context: typer.Context) -> None:
    """
    Let this computer write in the folder, after it moved here or was set back on purpose.

    Use the folder on one computer only; a second one joins with 'salvage device add'. The record
    stays as it is.
    """
    from salvage.work import take_over as work

    session = session_of(context)
    with session.open(taking_over=True) as shop:
        taken = work.take_over(shop, dry_run=session.dry_run)
        folder = str(shop.folder)
    before = f"; before: {taken.was}" if taken.was else ""
    lines = [
        f"this computer {'would write' if session.dry_run else 'writes'} in {folder}{before}",
        f"the record as it stands: {count_of(taken.events, 'event')}, {', '.join(taken.heads)}",
    ]
    show_change(session, {"folder": folder} | asdict(taken), lines=lines, codes=[folder])
