"""The set-up of a workshop from options or from answers, asked one by one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from salvage.cli.ask import ask
from salvage.cli.session import Session
from salvage.work.settings import Settings, parse_setting, show_settings

if TYPE_CHECKING:
    from salvage.paper.stock import Stock
    from salvage.records.printer import Printer
    from salvage.work.workshop import Workshop

USUAL_STOCK, USUAL_DPI = "roll-57x32", 203
"""What a small label printer most often holds, and its dots (common practice, no source)."""


@dataclass(frozen=True)
class LabelPrinter:
    """
    A label printer as typed.

    Args:
        name: What the workshop calls it; empty for none.
        stock: What it is loaded with.
        dpi: Its resolution.
    """

    name: str = ""
    stock: str = ""
    dpi: int = 0


def parse_device(text: str, *, field: str = "") -> str:
    """
    The letter of this device.

    Args:
        text: As typed, in any case; empty to draw it by lot.
        field: Where it was typed.

    Raises:
        BadValue: If codes cannot bear it.
    """
    from salvage.errors import BadValue
    from salvage.ids import LETTERS

    letter = text.strip().upper()
    if letter and letter not in set(LETTERS):
        raise BadValue(
            f"'{text}' is no letter for a device",
            hint=f"one of {' '.join(LETTERS)}; none of them looks like a digit",
            field=field,
        )
    return letter


def ask_device(session: Session) -> str:
    """The letter of a first device, asked for; empty to draw it by lot."""
    return ask(session, "Letter of this device in all codes (empty: drawn by lot)", parse_device)


def ask_settings(session: Session, now: Settings) -> dict[str, str]:
    """
    Ask for what cards, receipts and copies need, and give the answers that change something.

    Args:
        session: The run, on a terminal.
        now: The settings as they stand; they are the defaults.
    """
    questions: tuple[tuple[str, str, str], ...] = (
        ("name", "Name of the workshop, for cards and receipts", now.name),
        ("operator", "Who works here, for the record", now.operator),
        ("currency", "Currency, three letters", now.currency),
        ("units", "Units on documents: metric or inch", now.units),
        ("paper", "Paper: a4 or letter", now.paper),
        (
            "backup-folder",
            "Folder for copies, best on another disk" + _optional(now.backup_folder),
            now.backup_folder,
        ),
    )
    shown = show_settings(now)
    answers = {
        name: ask(session, question, _as_typed(name), default=default)
        for name, question, default in questions
    }
    return {name: text for name, text in answers.items() if text != shown[name] or name == "name"}


def ask_printer(session: Session, usual: str, own: Mapping[str, Stock]) -> LabelPrinter:
    """
    Ask for a label printer; none is a good answer, since labels print on sheets too.

    Args:
        session: The run, on a terminal.
        usual: The printer that labels go to now; empty for none.
        own: Label stock that the workshop described itself.
    """
    from salvage.paper.stock import parse_stock

    name = ask(session, f"Label printer, by a name{_optional(usual)}", str, default=usual)
    if not name or name == usual:
        return LabelPrinter()

    def check_stock(text: str) -> str:
        parse_stock(text, known=own)
        return text

    question = "What it is loaded with, width x height or a name"
    stock = ask(session, question, check_stock, default=USUAL_STOCK)
    dots = ask(session, "Its dots per inch: 203, 300, 600", _parse_dpi, default=str(USUAL_DPI))
    return LabelPrinter(name, stock, dots)


def check_printer(typed: LabelPrinter) -> None:
    """
    Raise unless a new workshop could take the printer.

    Raises:
        BadValue: If the stock or resolution is not known.
    """
    from salvage.paper.stock import parse_stock

    if typed.stock:
        parse_stock(typed.stock, field="--stock")
    if typed.dpi:
        _parse_dpi(str(typed.dpi))


def keep_printer(shop: Workshop, typed: LabelPrinter, *, dry_run: bool) -> dict[str, str]:
    """
    Note the label printer, and the setting that makes it the usual one.

    Args:
        shop: The open workshop.
        typed: The printer; one that is known keeps what was not typed.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If the stock or resolution is not known.
    """
    from salvage.errors import NotFound
    from salvage.work.printers import describe_printer, find_printer

    try:
        known: Printer | None = find_printer(shop, typed.name)
    except NotFound:
        known = None
    if known is None or typed.stock or typed.dpi:
        describe_printer(
            shop,
            name=typed.name,
            dpi=typed.dpi or (known.dpi if known else USUAL_DPI),
            stock=typed.stock or (known.stock if known else USUAL_STOCK),
            dry_run=dry_run,
        )
    return {} if dry_run and known is None else {"printer": typed.name}


def _optional(now: str) -> str:
    return "" if now else " (empty: none)"


def _as_typed(name: str) -> Callable[[str], str]:
    def check(text: str) -> str:
        parse_setting(name, text)
        return text

    return check


def _parse_dpi(text: str) -> int:
    from salvage.errors import BadValue
    from salvage.paper.stock import STOCKS, check_stock

    if not text.isdecimal():
        raise BadValue(f"'{text}' is no number of dots", hint="such as 203")
    return check_stock(replace(next(iter(STOCKS.values())), dpi=int(text))).dpi
