"""``salvage setup``: the workshop's name, units, devices and numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Annotated, TypeAlias

import typer

from salvage.cli.command import CommandSet
from salvage.cli.session import Session, session_of
from salvage.cli.show import show_change, show_record

if TYPE_CHECKING:
    from salvage.cli.new_workshop import LabelPrinter
    from salvage.work.workshop import Workshop

commands = CommandSet()

_Name: TypeAlias = Annotated[str, typer.Option(metavar="TEXT", help="On cards and receipts.")]
_Operator: TypeAlias = Annotated[str, typer.Option(metavar="NAME", help="Who works here.")]
_Currency: TypeAlias = Annotated[str, typer.Option(metavar="XXX", help="Three letters.")]
_Units: TypeAlias = Annotated[str, typer.Option(metavar="UNITS", help="Metric or inch.")]
_Paper: TypeAlias = Annotated[str, typer.Option(metavar="PAPER", help="A4 or letter.")]
_Backup: TypeAlias = Annotated[
    str, typer.Option(metavar="FOLDER", help="Where copies go, best on another disk.")
]
_Printer: TypeAlias = Annotated[
    str, typer.Option(metavar="NAME", help="Label printer, as the workshop calls it.")
]
_Stock: TypeAlias = Annotated[
    str, typer.Option(metavar="STOCK", help="What it is loaded with; see 'salvage printer stocks'.")
]
_Dpi: TypeAlias = Annotated[
    int, typer.Option(metavar="DPI", help="Its dots per inch; 203 if left out.", show_default=False)
]
_Device: TypeAlias = Annotated[
    str, typer.Option(metavar="LETTER", help="Of a first device, in all its codes.")
]
_Ask: TypeAlias = Annotated[bool, typer.Option("--ask", help="Ask again, question by question.")]

# Options that are settings under another name than their own.
_SETTINGS = {
    "name": "name",
    "operator": "operator",
    "currency": "currency",
    "units": "units",
    "paper": "paper",
    "backup": "backup-folder",
}


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
    name: _Name = "",
    operator: _Operator = "",
    currency: _Currency = "",
    units: _Units = "",
    paper: _Paper = "",
    backup: _Backup = "",
    printer: _Printer = "",
    stock: _Stock = "",
    dpi: _Dpi = 0,
    device: _Device = "",
    ask_: _Ask = False,
) -> None:
    """
    Set the workshop up, show its settings, or change some of them.

    A new workshop is asked for on a terminal, one question for each option. Settings: name,
    place, contact, web-address, currency, operator, kerf-mm, tool-mm, wall-mm, least-mm,
    hold-days, fonts-folder, printer, markets, hourly-rate, material-factor, selling-cost,
    price-step, card-fee, tax-rate, tax-note, bit, paper, units, date-format, backup-folder.
    """
    from salvage.cli.new_workshop import LabelPrinter, parse_device

    session = session_of(context)
    wanted = _read_pairs(typed or (), context.params)
    label_printer = _printer_of(printer, stock, dpi)
    letter = parse_device(device, field="--device")
    is_given = bool(wanted or printer or letter)
    if not session.may_ask and ask_:
        from salvage.cli.failures import Misuse

        raise Misuse("--ask asks on a terminal; give each answer by its option")
    is_asked = session.may_ask and not is_given and not session.form
    is_asked = is_asked and (ask_ or not _is_set_up(session))
    if not (is_given or is_asked):
        _show(session)
        return
    _change(session, wanted, label_printer or LabelPrinter(), letter, is_asked=is_asked)


def _printer_of(name: str, stock: str, dpi: int) -> LabelPrinter | None:
    from salvage.cli.failures import Misuse
    from salvage.cli.new_workshop import LabelPrinter

    if (stock or dpi) and not name:
        raise Misuse("--stock and --dpi tell about a printer; name it with --printer")
    return LabelPrinter(name, stock, dpi) if name else None


def _read_pairs(typed: Sequence[str], given: Mapping[str, object]) -> dict[str, str]:
    """Settings of both forms, ``name=value`` and ``--name value``."""
    from salvage.cli.failures import Misuse

    pairs = [text.partition("=") for text in typed]
    if wrong := [name for name, equals, _ in pairs if not equals]:
        raise Misuse(f"'{wrong[0]}' is no setting; write name=value")
    wanted = {name.strip().lower(): value for name, _, value in pairs}
    for option, name in _SETTINGS.items():
        if given[option] and name in wanted:
            raise Misuse(f"give {name}=… or --{option}, not both")
        if given[option]:
            wanted[name] = str(given[option])
    return wanted


def _is_set_up(session: Session) -> bool:
    """Whether the workshop is there and was given a name."""
    with session.open_if_there() as shop:
        return bool(shop and shop.is_named)


def _show(session: Session) -> None:
    from salvage.work.settings import show_settings

    with session.open() as shop:
        values = show_settings(shop.settings)
        folder, letter = str(shop.folder), shop.settings.device
    wide = max(map(len, values))
    lines = [f"{name.ljust(wide)}  {value or '-'}" for name, value in values.items()]
    lines += [f"{'device'.ljust(wide)}  {letter}", f"{'folder'.ljust(wide)}  {folder}"]
    record = values | {"device": letter, "folder": folder}
    show_record(session, record, lines=lines, plain=list(values))


def _change(
    session: Session, wanted: dict[str, str], printer: LabelPrinter, letter: str, *, is_asked: bool
) -> None:
    from salvage.cli import new_workshop
    from salvage.work.settings import parse_settings, show_settings
    from salvage.work.setup import change_settings
    from salvage.work.what_next import next_command

    if is_asked:
        wanted, printer, letter = _ask(session)
    if not session.is_begun:  # a mistake begins no workshop
        parse_settings(wanted)
        new_workshop.check_printer(printer)
    with session.open(create=True, device=letter) as shop:
        _check_letter(shop, letter)
        if printer.name:
            wanted |= new_workshop.keep_printer(shop, printer, dry_run=session.dry_run)
        settings = shop.settings
        if wanted:
            settings = change_settings(shop, typed=wanted, dry_run=session.dry_run)
        step = next_command(shop)
    values = show_settings(settings)
    lines = [f"{name} = {values[name]}" for name in wanted]
    lines += [f"device = {settings.device}"] if letter or is_asked else []
    show_change(session, values, lines=lines, codes=wanted, next_step=step)


def _ask(session: Session) -> tuple[dict[str, str], LabelPrinter, str]:
    """All answers, before anything is begun; Ctrl-C on the way leaves nothing behind."""
    from salvage.cli import new_workshop
    from salvage.work.printers import own_stock
    from salvage.work.settings import Settings

    with session.open_if_there() as shop:
        now = shop.settings if shop else Settings()
        own = own_stock(shop) if shop else {}
    wanted = new_workshop.ask_settings(session, now)
    printer = new_workshop.ask_printer(session, now.printer, own)
    return wanted, printer, now.device or new_workshop.ask_device(session)


def _check_letter(shop: Workshop, letter: str) -> None:
    from salvage.errors import Refused

    own = shop.settings.device
    if letter and letter != own:
        raise Refused(
            f"this device has the letter {own}; it is in every code that it gave",
            hint="a second device joins with its own: salvage device add",
        )
