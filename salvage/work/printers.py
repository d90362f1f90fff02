"""Printers and label stock: what is loaded, how a printer is off, and the pages that show it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from salvage.errors import BadValue, NotFound
from salvage.records.printer import LabelStock, Printer
from salvage.store.change import Change
from salvage.store.rows import select, select_one
from salvage.units import to_um
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.paper.correction import Correction, Frame
    from salvage.paper.stock import Stock

_MOST_LETTERS = 40
_PPM = 1_000_000
_NO_PRINTER = "none"


def list_printers(shop: Workshop) -> tuple[Printer, ...]:
    """All printers, by name."""
    return select(shop.conn, Printer, "FROM printer ORDER BY name COLLATE NOCASE")


def find_printer(shop: Workshop, name: str) -> Printer:
    """
    The printer with a name, in any case.

    Raises:
        NotFound: If there is none; names those that there are.
    """
    found = select_one(
        shop.conn, Printer, "FROM printer WHERE name = ? COLLATE NOCASE", (_tidy(name),)
    )
    if found is None:
        known = ", ".join(printer.name for printer in list_printers(shop))
        hint = f"known: {known}" if known else "describe it first: salvage printer set NAME"
        raise NotFound(f"there is no printer '{name}'", hint=hint)
    return found


def chosen_printer(shop: Workshop, name: str = "") -> Printer | None:
    """
    The printer that was named, else the workshop's usual one, else none; ``none`` for no printer.

    Raises:
        NotFound: If it is not known.
    """
    wanted = name or shop.settings.printer
    if name.strip().lower() == _NO_PRINTER:
        return None
    return find_printer(shop, wanted) if wanted else None


def describe_printer(
    shop: Workshop, *, name: str, dpi: int, stock: str = "", dry_run: bool = False
) -> Printer:
    """
    Note a printer and what it is loaded with; its readings stay.

    Args:
        shop: The open workshop.
        name: What the workshop calls it.
        dpi: Its resolution.
        stock: Label stock that it is loaded with, as :func:`find_stock` reads it; empty for none.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If the name is empty or too long, or resolution or stock are not known.
    """
    from salvage.paper.stock import STOCKS, check_stock

    tidy = _check_name(name, "printer")
    check_stock(replace(next(iter(STOCKS.values())), dpi=dpi), field="--dpi")
    if stock:
        find_stock(shop, stock, field="--stock")

    def steps(change: Change) -> Printer:
        known = select_one(
            change.conn, Printer, "FROM printer WHERE name = ? COLLATE NOCASE", (tidy,)
        )
        own = known.name if known else tidy
        change.append(
            "printer.described", (), {"name": own, "dpi": dpi, "stock": " ".join(stock.split())}
        )
        return find_printer(shop, own)

    return shop.commit("describe printer", steps, dry_run=dry_run)


def check_printer(
    shop: Workshop, *, printer: Printer, paper: str = "", read: Frame, dry_run: bool = False
) -> Printer:
    """
    Keep what a ruler read on a printer's test page; later prints are put right by it.

    Args:
        shop: The open workshop.
        printer: Which one.
        paper: Paper of the test page, as :func:`page_of` reads it.
        read: The frame as it was measured.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If the readings are further off than any printer gets.
    """
    from salvage.paper.correction import correction_of, frame_of

    found = correction_of(frame_of(page_of(shop, printer, paper)), read)

    def steps(change: Change) -> Printer:
        change.append(
            "printer.checked",
            (),
            {
                "name": printer.name,
                "paper": paper_name(printer, paper),
                "left_um": to_um(read.left_mm),
                "top_um": to_um(read.top_mm),
                "width_um": to_um(read.width_mm),
                "height_um": to_um(read.height_mm),
                "shift_x_um": to_um(found.shift_mm[0]),
                "shift_y_um": to_um(found.shift_mm[1]),
                "stretch_x_ppm": round((found.stretch[0] - 1) * _PPM),
                "stretch_y_ppm": round((found.stretch[1] - 1) * _PPM),
            },
        )
        return find_printer(shop, printer.name)

    return shop.commit("check printer", steps, dry_run=dry_run)


def print_test_page(
    shop: Workshop,
    *,
    printer: Printer,
    paper: str = "",
    next_words: str = "",
    is_corrected: bool = False,
) -> bytes:
    """
    The page whose frame a ruler measures, as PDF.

    Args:
        shop: The open workshop.
        printer: Which one.
        paper: As :func:`page_of` reads it.
        next_words: The command that takes the readings.
        is_corrected: Put the frame right by the readings on record, to see whether they serve.
    """
    from salvage.paper.correction import TRUE
    from salvage.paper.printer_page import print_printer_page

    return print_printer_page(
        page_of(shop, printer, paper),
        printer=printer.name,
        next_words=next_words,
        made_on=shop.today,
        correction=correction_for(printer) if is_corrected else TRUE,
    )


def print_outlines(shop: Workshop, *, stock: Stock, printer: Printer | None = None) -> bytes:
    """The outlines of a stock's labels as PDF, to hold against a sheet of them."""
    from salvage.paper.label import print_outlines as typeset_outlines

    return typeset_outlines(stock, made_on=shop.today, correction=correction_for(printer))


def paper_name(printer: Printer, paper: str) -> str:
    """The paper of a printer's test page: the one named, else what is loaded, else A4."""
    return " ".join((paper or printer.stock or "a4").split())


def page_of(shop: Workshop, printer: Printer, paper: str = "") -> tuple[float, float]:
    """
    Width and height of a test page.

    Args:
        shop: The open workshop.
        printer: What it is loaded with serves where no paper is named.
        paper: ``a4``, ``letter`` or a label stock; empty for what is loaded, or A4.

    Raises:
        BadValue: If it is neither.
    """
    from salvage.paper.sheet import PAPERS

    name = paper_name(printer, paper)
    return PAPERS.get(name.lower()) or find_stock(shop, name, field="--paper").page_mm


def correction_for(printer: Printer | None) -> Correction:
    """How a printer is off, from its readings; not at all where there is none."""
    from salvage.paper.correction import TRUE, Correction

    if printer is None or not printer.checked_at:
        return TRUE
    return Correction(
        (printer.shift_x_um / 1000, printer.shift_y_um / 1000),
        (1 + printer.stretch_x_ppm / _PPM, 1 + printer.stretch_y_ppm / _PPM),
    )


def stock_for(stock: Stock, printer: Printer | None) -> Stock:
    """The stock with the resolution of the printer that it goes through."""
    return replace(stock, dpi=printer.dpi) if printer else stock


def own_stock(shop: Workshop) -> Mapping[str, Stock]:
    """Label stock that the workshop described, by name."""
    rows = select(shop.conn, LabelStock, "FROM label_stock ORDER BY name COLLATE NOCASE")
    return {row.name: _stock_of(row) for row in rows}


def list_stock(shop: Workshop) -> tuple[Stock, ...]:
    """All label stock that has a name: the workshop's own first."""
    from salvage.paper.stock import STOCKS

    own = own_stock(shop)
    return (*own.values(), *(stock for name, stock in STOCKS.items() if name not in own))


def find_stock(shop: Workshop, text: str, *, field: str = "") -> Stock:
    """
    Label stock by its name or its size; see :func:`salvage.paper.stock.parse_stock`.

    Raises:
        BadValue: If it is neither.
    """
    from salvage.paper.stock import parse_stock

    return parse_stock(text, field=field, known=own_stock(shop))


def describe_stock(shop: Workshop, *, stock: Stock, dry_run: bool = False) -> Stock:
    """
    Keep a sheet or roll of labels under a name; a name used before is described anew.

    Args:
        shop: The open workshop.
        stock: As :func:`salvage.paper.sheet.parse_sheet` gives it.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If the name is empty, too long, or one of those that are always known.
    """
    from salvage.paper.stock import STOCKS

    name = _check_name(stock.name, "label stock")
    if name.lower() in STOCKS:
        raise BadValue(f"'{name}' is a known stock already", hint="give yours another name")

    def steps(change: Change) -> Stock:
        same = [own for own in own_stock(shop) if own.lower() == name.lower()]
        kept = same[0] if same else name
        sizes = {
            "page_width_um": stock.page_mm[0],
            "page_height_um": stock.page_mm[1],
            "label_width_um": stock.label_mm[0],
            "label_height_um": stock.label_mm[1],
            "margin_left_um": stock.margin_mm[0],
            "margin_top_um": stock.margin_mm[1],
            "pitch_x_um": stock.pitch_mm[0],
            "pitch_y_um": stock.pitch_mm[1],
            "tail_um": stock.tail_mm,
        }
        change.append(
            "stock.described",
            (),
            {
                "name": kept,
                "columns": stock.columns,
                "rows": stock.rows,
                "dpi": stock.dpi,
                "fold": stock.fold,
                **{field: to_um(mm) for field, mm in sizes.items()},
            },
        )
        return own_stock(shop)[kept]

    return shop.commit("describe label stock", steps, dry_run=dry_run)


def _stock_of(row: LabelStock) -> Stock:
    from salvage.paper.stock import Stock

    return Stock(
        name=row.name,
        page_mm=(row.page_width_um / 1000, row.page_height_um / 1000),
        columns=row.columns,
        rows=row.rows,
        label_mm=(row.label_width_um / 1000, row.label_height_um / 1000),
        margin_mm=(row.margin_left_um / 1000, row.margin_top_um / 1000),
        pitch_mm=(row.pitch_x_um / 1000, row.pitch_y_um / 1000),
        dpi=row.dpi,
        confidence="given",
        fold=row.fold,
        tail_mm=row.tail_um / 1000,
    )


def _tidy(text: str) -> str:
    return " ".join(text.split())


def _check_name(text: str, what: str) -> str:
    tidy = _tidy(text)
    if not 1 <= len(tidy) <= _MOST_LETTERS or tidy.lower() == _NO_PRINTER:
        raise BadValue(
            f"'{tidy[:20]}' cannot be the name of a {what}", hint=f"1 to {_MOST_LETTERS} letters"
        )
    return tidy
