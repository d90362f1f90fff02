"""``salvage label``: labels with codes, true to size, and the sheet of action codes."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeAlias

import typer

from salvage.cli.command import CommandSet
from salvage.cli.count import count_of
from salvage.cli.files import check_target, write_file
from salvage.cli.options import Force, Out, PrinterName, completer
from salvage.cli.session import Session, session_of
from salvage.cli.show import note, show_change, warn

if TYPE_CHECKING:
    from salvage.ids import Code
    from salvage.paper.stock import Stock
    from salvage.work.labels import LabelLook
    from salvage.work.workshop import Workshop

commands = CommandSet()


_Codes: TypeAlias = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="[CODE]...",
        help="Boards, pieces, drop-offs, places.",
        autocompletion=completer("BPDF"),
        show_default=False,
    ),
]
_StockName: TypeAlias = Annotated[
    str,
    typer.Option(
        metavar="NAME",
        help="A label stock, or 40x30mm; what the printer is loaded with, or a4-3x8.",
    ),
]
_Places: TypeAlias = Annotated[
    list[str] | None,
    typer.Option(
        "--place", metavar="NAME", help="A shelf or box; gets a code. May be given again."
    ),
]
_USUAL_STOCK = "a4-3x8"


@dataclass(frozen=True, slots=True)
class _Job:
    """What to print, on what, and where it goes."""

    codes: Sequence[Code]
    stock: Stock
    start: int
    look: LabelLook


@commands.command(
    "label", example="salvage label --new --stock a4-3x8 --start 5 --out labels.pdf", changes=True
)
def label(
    context: typer.Context,
    codes: _Codes = None,
    new: Annotated[
        bool, typer.Option("--new", help="All boards, pieces and places that never had a label.")
    ] = False,
    place: _Places = None,
    actions: Annotated[
        bool, typer.Option("--actions", help="The sheet of action codes for the bench.")
    ] = False,
    design: Annotated[
        str, typer.Option(metavar="NAME", help="board, place, tag, or card for whoever buys it.")
    ] = "",
    symbol: Annotated[
        str, typer.Option(metavar="KIND", help="qr, data-matrix, or code128 for laser scanners.")
    ] = "",
    stock: _StockName = "",
    start: Annotated[
        str, typer.Option(metavar="PLACE", help="First free place on the sheet: 5, or row,column.")
    ] = "1",
    paper: Annotated[str, typer.Option(help="Of the action sheet: a4 or letter.")] = "a4",
    printer: PrinterName = "",
    out: Out = "",
    force: Force = False,
) -> None:
    """
    Print labels as a PDF; print it at 100 %, without fitting to the page.

    A name that ends in .png gives black and white bitmaps at the printer's own dots, one a page.
    """
    from salvage.cli.failures import Misuse

    session = session_of(context)
    if sum(map(bool, (codes, place, new, actions))) != 1 and not (codes and place and not new):
        raise Misuse("give codes, --place, --new for all that never had a label, or --actions")
    with session.open() as shop:
        if actions:
            _print_actions(session, shop, (paper, symbol, printer), out or "actions.pdf", force)
            return
        job = _job(session, shop, (design, symbol, printer, stock, start))
        for name in _targets(job, out or "labels.pdf", 1)[:1]:
            check_target(session, name, force=force)
        chosen = _choose(session, shop, codes or (), place or ())
        if not chosen:
            note(session, "everything has had its label")
            return
        job = _Job(chosen, job.stock, job.start, job.look)
        files, missing = _write(session, shop, job, out or "labels.pdf", force)
    _tell(session, job, missing, files)


def _job(session: Session, shop: Workshop, typed: tuple[str, str, str, str, str]) -> _Job:
    """The job without its codes, from design, symbol, printer, stock and start as typed."""
    from salvage.work.labels import LabelLook, check_look
    from salvage.work.printers import chosen_printer, find_stock

    del session
    design, symbol, named, stock, start = typed
    printer = chosen_printer(shop, named)
    wanted = stock or (printer.stock if printer else "") or _USUAL_STOCK
    sheet = find_stock(shop, wanted, field="--stock")
    look = check_look(LabelLook(design.strip().lower(), symbol.strip().lower(), printer))
    return _Job((), sheet, _read_start(start, sheet), look)


def _read_start(text: str, stock: Stock) -> int:
    """A place on the sheet from its number, or from its row and column."""
    from salvage.errors import BadValue

    parts = text.split(",")
    if all(re.fullmatch("[0-9]{1,6}", part.strip()) for part in parts) and len(parts) in (1, 2):
        numbers = [int(part) for part in parts]
        if len(numbers) == 1:
            return numbers[0]
        row, column = numbers
        if 1 <= row <= stock.rows and 1 <= column <= stock.columns:
            return (row - 1) * stock.columns + column
    raise BadValue(
        f"'{text}' is no place on a sheet {stock.name}",
        hint=f"use 1 to {stock.count}, or row,column up to {stock.rows},{stock.columns}",
        field="--start",
    )


def _choose(
    session: Session, shop: Workshop, codes: Sequence[str], places: Sequence[str]
) -> list[Code]:
    from salvage.work.labels import LABEL_KINDS, codes_without_label
    from salvage.work.places import name_places
    from salvage.work.reading import read_code

    named = [read_code(shop, text=code, kinds=LABEL_KINDS) for code in codes]
    if places:
        if session.dry_run:
            from salvage.work.places import find_place

            known = [find_place(shop.conn, place) for place in places]
            if fresh := [text for text, place in zip(places, known, strict=True) if not place]:
                note(session, f"would give a code to: {', '.join(fresh)}")
            named += [place.code for place in known if place]
        else:
            named += [place.code for place in name_places(shop, names=places)]
    return named if codes or places else list(codes_without_label(shop))


def _targets(job: _Job, out: str, count: int) -> list[str]:
    """The files that a job writes: one PDF, or one bitmap a page."""
    path = Path(out)
    if path.suffix.lower() != ".png" or count == 1:
        return [out]
    wide = len(str(count))
    return [str(path.with_stem(f"{path.stem}-{n:0{wide}d}")) for n in range(1, count + 1)]


def _write(
    session: Session, shop: Workshop, job: _Job, out: str, force: bool
) -> tuple[list[str], Sequence[str]]:
    from salvage.work.labels import draw_labels, print_labels

    missing: list[str] = []
    if Path(out).suffix.lower() != ".png":

        def make() -> bytes:
            printed = print_labels(
                shop,
                codes=job.codes,
                stock=job.stock,
                start=job.start,
                look=job.look,
                dry_run=session.dry_run,
            )
            missing.extend(printed.missing)
            return printed.pdf

        return [str(write_file(session, out, make, force=force))], missing
    pages = -(-(job.start - 1 + len(job.codes)) // job.stock.count)
    names = _targets(job, out, pages)
    for name in names:
        check_target(session, name, force=force)
    drawn = draw_labels(
        shop,
        codes=job.codes,
        stock=job.stock,
        start=job.start,
        look=job.look,
        dry_run=session.dry_run,
    )
    files = []
    for name, page in zip(names, drawn.pages, strict=True):
        files.append(str(write_file(session, name, partial(bytes, page), force=force)))
    return files, drawn.missing


def _print_actions(
    session: Session, shop: Workshop, typed: tuple[str, str, str], out: str, force: bool
) -> None:
    from salvage.work.action_sheet import print_actions
    from salvage.work.printers import chosen_printer

    paper, symbol, named = typed
    printer = chosen_printer(shop, named)
    path = write_file(
        session,
        out,
        lambda: print_actions(shop, paper=paper, symbol=symbol.strip().lower(), printer=printer),
        force=force,
    )
    show_change(
        session,
        {"file": str(path), "paper": paper, "printer": printer.name if printer else ""},
        lines=[f"action sheet written: {path}", "print it at 100 %, and hang it up at the bench"],
        codes=[str(path)],
        next_step="bench",
    )


def _tell(session: Session, job: _Job, missing: Sequence[str], files: Sequence[str]) -> None:
    if missing:
        warn(
            session,
            f"no font here has {' '.join(missing)}; □ stands for it on the labels. A folder with a"
            " font that has it: salvage setup fonts-folder=DIR",
        )
    printer = job.look.printer
    record = {
        "codes": list(job.codes),
        "stock": job.stock.name,
        "file": files[0],
        "files": list(files),
        "printer": printer.name if printer else "",
        "missing_characters": list(missing),
    }
    where = files[0] if len(files) == 1 else f"{files[0]} to {Path(files[-1]).name}"
    lines = [f"{count_of(len(job.codes), 'label')} for {job.stock.name} written: {where}"]
    if printer:
        how = "put right by its readings" if printer.checked_at else "it was never measured"
        lines.append(f"for the printer {printer.name}: {how}")
    show_change(session, record, lines=lines, codes=files, next_step=_next(job, printer is None))


def _next(job: _Job, is_unknown: bool) -> str:
    """After a first sheet, measuring the printer; else the scanner."""
    if not is_unknown and job.look.printer and not job.look.printer.checked_at:
        return f"printer test '{job.look.printer.name}'"
    return f"scan {job.codes[0]}"
