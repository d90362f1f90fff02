"""``salvage setup``: the workshop's name, units and numbers."""

from __future__ import annotations

from typing import Annotated

import typer

from salvage.cli.command import CommandSet
from salvage.cli.session import session_of
from salvage.cli.show import show_change, show_record

commands = CommandSet()


@commands.command(
    "setup",
    example='salvage setup name="Tidewrack Workshop" kerf-mm=1.5 currency=EUR',
    changes=True,
)
def setup(
    context: typer.Context,
    typed: Annotated[
        list[str] | None,
        typer.Argument(metavar="[NAME=VALUE]...", help="Settings to change.", show_default=False),
    ] = None,
) -> None:
    """
    Show the settings, or change some of them.

    Settings: name, place, contact, web-address, currency, operator, kerf-mm, tool-mm,
    wall-mm, least-mm, hold-days, fonts-folder, printer, markets, hourly-rate, material-factor,
    selling-cost, price-step, card-fee, tax-rate, tax-note, bit, paper,
    units, date-format.
    """
    from salvage.cli.failures import Misuse
    from salvage.work.settings import show_settings
    from salvage.work.setup import change_settings

    session = session_of(context)
    pairs = [text.partition("=") for text in typed or ()]
    if wrong := [name for name, equals, _ in pairs if not equals]:
        raise Misuse(f"'{wrong[0]}' is no setting; write name=value")
    wanted = {name.strip().lower(): value for name, _, value in pairs}
    with session.open(create=True) as shop:
        if wanted:
            settings = change_settings(shop, typed=wanted, dry_run=session.dry_run)
        else:
            settings = shop.settings
        folder = str(shop.folder)
    values = show_settings(settings)
    if wanted:
        lines = [f"{name} = {values[name]}" for name in wanted]
        show_change(session, values, lines=lines, codes=wanted, next_step="dropoff add")
        return
    wide = max(map(len, values))
    lines = [f"{name.ljust(wide)}  {value or '-'}" for name, value in values.items()]
    lines += [f"{'folder'.ljust(wide)}  {folder}"]
    show_record(session, values | {"folder": folder}, lines=lines, plain=list(values))
