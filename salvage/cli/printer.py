"""``salvage printer``: printers, their label stock, and how far they are off."""

from __future__ import annotations

import shlex
from functools import partial
from typing import TYPE_CHECKING, Annotated, Any, TypeAlias

import typer

from salvage.cli.command import CommandSet
from salvage.cli.files import write_file
from salvage.cli.options import Force, Out
from salvage.cli.records import record_of
from salvage.cli.session import session_of
from salvage.cli.show import Column, command_line, show_change, show_list

if TYPE_CHECKING:
    from salvage.paper.correction import Frame
    from salvage.paper.stock import Stock
    from salvage.records.printer import Printer

commands = CommandSet(
    "printer", "Printers, label stock, and how far a printer is off.", "salvage printer list"
)

_Name: TypeAlias = Annotated[
    str, typer.Argument(metavar="NAME", help="What the workshop calls the printer.")
]
_Paper: TypeAlias = Annotated[
    str,
    typer.Option(metavar="NAME", help="a4, letter, or a label stock; what is loaded if left out."),
]


def printer_record(printer: Printer) -> dict[str, Any]:
    """A printer as JSON."""
    return record_of(
        printer,
        stretch_x_percent=round(printer.stretch_x_ppm / 1e4, 4),
        stretch_y_percent=round(printer.stretch_y_ppm / 1e4, 4),
    )


def stock_record(stock: Stock, *, is_own: bool) -> dict[str, Any]:
    """Label stock as JSON."""
    return {
        "name": stock.name,
        "page_mm": list(stock.page_mm),
        "columns": stock.columns,
        "rows": stock.rows,
        "label_mm": list(stock.label_mm),
        "margin_mm": list(stock.margin_mm),
        "pitch_mm": list(stock.pitch_mm),
        "dpi": stock.dpi,
        "fold": stock.fold,
        "tail_mm": stock.tail_mm,
        "is_own": is_own,
        "source": stock.confidence,
    }


@commands.command(
    "set", example="salvage printer set counter --dpi 203 --stock 57x32mm", changes=True
)
def set_printer(
    context: typer.Context,
    name: _Name,
    dpi: Annotated[int, typer.Option(help="203, 300, 600 or 1200.")] = 0,
    stock: Annotated[
        str, typer.Option(metavar="NAME", help="What it is loaded with: a label stock, or a size.")
    ] = "",
) -> None:
    """Note a printer and what it is loaded with; what was measured stays."""
    from salvage.errors import NotFound
    from salvage.work.printers import describe_printer, find_printer

    session = session_of(context)
    with session.open(create=True) as shop:
        try:
            known: Printer | None = find_printer(shop, name)
        except NotFound:
            known = None
        printer = describe_printer(
            shop,
            name=name,
            dpi=dpi or (known.dpi if known else 203 if stock else 600),
            stock=stock or (known.stock if known else ""),
            dry_run=session.dry_run,
        )
        is_usual = shop.settings.printer.lower() == printer.name.lower()
    loaded = f", loaded with {printer.stock}" if printer.stock else ""
    lines = [f"printer {printer.name}: {printer.dpi} dpi{loaded}"]
    if not is_usual:
        usual = command_line(session, f"setup {shlex.quote('printer=' + printer.name)}")
        lines.append(f"to print there unless another is named: {usual}")
    show_change(
        session,
        printer_record(printer),
        lines=lines,
        codes=[printer.name],
        next_step=f"printer test {shlex.quote(printer.name)}",
    )


@commands.command("test", example="salvage printer test counter --out test.pdf")
def print_test(
    context: typer.Context,
    name: _Name,
    paper: _Paper = "",
    corrected: Annotated[
        bool, typer.Option("--corrected", help="Put right by the readings, to see that they serve.")
    ] = False,
    outlines: Annotated[
        str,
        typer.Option(
            metavar="STOCK", help="Outlines of a label stock instead, to hold against a sheet."
        ),
    ] = "",
    out: Out = "printer-test.pdf",
    force: Force = False,
) -> None:
    """Print the page that shows how far a printer is off; measure its frame with a ruler."""
    from salvage.paper.correction import frame_of
    from salvage.work import printers

    session = session_of(context)
    with session.open() as shop:
        printer = printers.find_printer(shop, name)
        frame = frame_of(printers.page_of(shop, printer, paper))
        check = _check_words(printer.name, frame, paper)

        def make() -> bytes:
            if outlines:
                stock = printers.find_stock(shop, outlines, field="--outlines")
                return printers.print_outlines(shop, stock=stock, printer=printer)
            return printers.print_test_page(
                shop,
                printer=printer,
                paper=paper,
                next_words=f"salvage {check}",
                is_corrected=corrected,
            )

        path = write_file(session, out, make, force=force)
    lines = [f"test page of {printer.name} written: {path}", "print it at 100 %"]
    if outlines:
        lines[1] = "print it at 100 % on plain paper, and hold it against a sheet of labels"
    record = {"printer": printer.name, "file": str(path), "meant_mm": _frame_record(frame)}
    is_to_read = not (corrected or outlines)
    show_change(
        session, record, lines=lines, codes=[str(path)], next_step=check if is_to_read else ""
    )


def _check_words(name: str, frame: Frame, paper: str) -> str:
    """The command that takes the readings, filled in as if the printer were true."""
    chosen = f" --paper {shlex.quote(paper)}" if paper else ""
    return (
        f"printer check {shlex.quote(name)} --left {frame.left_mm:g} --top {frame.top_mm:g}"
        f" --width {frame.width_mm:g} --height {frame.height_mm:g}{chosen}"
    )


def _frame_record(frame: Frame) -> dict[str, float]:
    from dataclasses import asdict

    return {key.removesuffix("_mm"): value for key, value in asdict(frame).items()}


@commands.command(
    "check",
    example="salvage printer check counter --left 20.4 --top 19.7 --width 170.3 --height 257",
    changes=True,
)
def check(
    context: typer.Context,
    name: _Name,
    left: Annotated[str, typer.Option(metavar="MM", help="Paper's left edge to the frame.")],
    top: Annotated[str, typer.Option(metavar="MM", help="Paper's upper edge to the frame.")],
    width: Annotated[str, typer.Option(metavar="MM", help="Left line to right line.")],
    height: Annotated[str, typer.Option(metavar="MM", help="Upper line to lower line.")],
    paper: _Paper = "",
) -> None:
    """Keep what a ruler read on the test page; later labels for this printer are put right."""
    from salvage.cli.gather import Gatherer
    from salvage.paper.correction import Frame
    from salvage.units import parse_length_mm
    from salvage.work.printers import check_printer, find_printer

    session = session_of(context)
    gatherer = Gatherer()
    typed = {"--left": left, "--top": top, "--width": width, "--height": height}
    read = [
        gatherer.take(partial(parse_length_mm, text, field=field), 0.0)
        for field, text in typed.items()
    ]
    gatherer.finish()
    with session.open() as shop:
        printer = check_printer(
            shop,
            printer=find_printer(shop, name),
            paper=paper,
            read=Frame(*read),
            dry_run=session.dry_run,
        )
    show_change(
        session,
        printer_record(printer),
        lines=[_off_words(printer)],
        codes=[printer.name],
        next_step=f"printer test {shlex.quote(printer.name)} --corrected --out corrected.pdf",
    )


def _off_words(printer: Printer) -> str:
    across, down = printer.stretch_x_ppm / 1e4, printer.stretch_y_ppm / 1e4
    return (
        f"printer {printer.name} shifts {printer.shift_x_um / 1000:+.2f} mm to the right and"
        f" {printer.shift_y_um / 1000:+.2f} mm down, and stretches {across:+.2f} % across and"
        f" {down:+.2f} % down: labels are put right by that"
    )


@commands.command("list", example="salvage printer list")
def list_printers(context: typer.Context) -> None:
    """List the printers, what they are loaded with, and how far they are off."""
    from salvage.work import printers

    session = session_of(context)
    with session.open() as shop:
        found = printers.list_printers(shop)
        usual = shop.settings.printer.lower()
    records = [printer_record(p) | {"is_usual": p.name.lower() == usual} for p in found]
    show_list(
        session,
        records,
        (
            Column("printer", "name"),
            Column("dpi", "dpi"),
            Column("stock", "stock", lambda stock: stock or "-"),
            Column("right mm", "shift_x_mm", "{:+.2f}".format),
            Column("down mm", "shift_y_mm", "{:+.2f}".format),
            Column("across %", "stretch_x_percent", "{:+.2f}".format),
            Column("down %", "stretch_y_percent", "{:+.2f}".format),
            Column("measured", "checked_at", lambda at: at[:10] or "never"),
            Column("usual", "is_usual", lambda is_usual: "yes" if is_usual else "-"),
        ),
        empty="no printer is noted yet: salvage printer set NAME",
    )


@commands.command(
    "stock",
    example="salvage printer stock bins --page a4 --grid 3x8 --label 63.5x33.9 --gap 2.5x0",
    changes=True,
)
def stock(
    context: typer.Context,
    name: Annotated[str, typer.Argument(metavar="NAME", help="What you call it.")],
    label: Annotated[str, typer.Option(metavar="WxH", help="Size of one label, in mm.")],
    page: Annotated[
        str, typer.Option(metavar="WxH", help="a4, letter, or mm; the label's own for a roll.")
    ] = "",
    grid: Annotated[str, typer.Option(metavar="AxD", help="Labels across x down.")] = "1x1",
    pitch: Annotated[
        str, typer.Option(metavar="WxH", help="From edge to the next label's same edge, in mm.")
    ] = "",
    gap: Annotated[str, typer.Option(metavar="WxH", help="Between labels, instead.")] = "",
    margin: Annotated[
        str, typer.Option(metavar="LxT", help="Left and top margin, in mm; centred if left out.")
    ] = "",
    fold: Annotated[
        str, typer.Option(metavar="HOW", help="side or top, for tags that are folded.")
    ] = "",
    tail: Annotated[
        str, typer.Option(metavar="MM", help="Unprinted strip between the halves of a tag.")
    ] = "",
    dpi: Annotated[int, typer.Option(help="Of the printer that it goes through.")] = 203,
) -> None:
    """Keep a sheet or roll of labels under a name, by its measures in millimetres."""
    from salvage.paper.sheet import TypedSheet, parse_sheet
    from salvage.work.printers import describe_stock

    session = session_of(context)
    typed = TypedSheet(label, page, grid, pitch, gap, margin, fold, tail)
    described = parse_sheet(name, typed, dpi=dpi)
    with session.open(create=True) as shop:
        kept = describe_stock(shop, stock=described, dry_run=session.dry_run)
    (wide, high), (left, top) = kept.label_mm, kept.margin_mm
    told = (
        f"label stock {kept.name}: {kept.columns} x {kept.rows} labels of {wide:g} x {high:g} mm,"
        f" the first {left:g} mm from the left and {top:g} mm from the top"
    )
    show_change(
        session,
        stock_record(kept, is_own=True),
        lines=[told],
        codes=[kept.name],
        next_step=f"label --new --stock {shlex.quote(kept.name)}",
    )


@commands.command("stocks", example="salvage printer stocks")
def list_stocks(context: typer.Context) -> None:
    """List the label stock that has a name: the workshop's own, then what is always known."""
    from salvage.work.printers import list_stock, own_stock

    session = session_of(context)
    with session.open() as shop:
        own = own_stock(shop)
        records = [stock_record(each, is_own=each.name in own) for each in list_stock(shop)]
    show_list(
        session,
        records,
        (
            Column("stock", "name"),
            Column("page mm", "page_mm", _pair),
            Column("across", "columns"),
            Column("down", "rows"),
            Column("label mm", "label_mm", _pair),
            Column("margin mm", "margin_mm", _pair),
            Column("fold", "fold", lambda fold: fold or "-"),
            Column("from", "source"),
        ),
        empty="",
    )


def _pair(values: list[float]) -> str:
    return " x ".join(f"{value:g}" for value in values)
