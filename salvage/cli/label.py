"""``salvage label``: labels with codes, true to size."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, TypeAlias

import typer

from salvage.cli.command import CommandSet
from salvage.cli.count import count_of
from salvage.cli.options import Force, Out, completer
from salvage.cli.session import Session, session_of
from salvage.cli.show import note, show_change, warn

if TYPE_CHECKING:
    from salvage.paper.label import PrintedLabels

commands = CommandSet()


_Codes: TypeAlias = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="[CODE]...",
        help="Boards, pieces, drop-offs.",
        autocompletion=completer("BPD"),
        show_default=False,
    ),
]
_StockName: TypeAlias = Annotated[
    str,
    typer.Option(metavar="NAME", help="a4-3x8, a4-3x7, letter-3x10, roll-57x32, or 40x30mm."),
]


@commands.command(
    "label", example="salvage label --new --stock a4-3x8 --start 5 --out labels.pdf", changes=True
)
def label(
    context: typer.Context,
    codes: _Codes = None,
    new: Annotated[
        bool, typer.Option("--new", help="All boards and pieces that never had a label.")
    ] = False,
    stock: _StockName = "a4-3x8",
    start: Annotated[int, typer.Option(min=1, help="First free place on the sheet.")] = 1,
    out: Out = "labels.pdf",
    force: Force = False,
) -> None:
    """Print labels as a PDF; print it at 100 %, without fitting to the page."""
    from salvage.cli.failures import Misuse
    from salvage.cli.files import write_file
    from salvage.paper.stock import parse_stock
    from salvage.work.labels import codes_without_label, print_labels
    from salvage.work.reading import read_code

    session = session_of(context)
    if bool(codes) == new:
        raise Misuse("give codes, or --new for all that never had a label")
    sheet = parse_stock(stock, field="--stock")
    with session.open() as shop:
        named = [read_code(shop, text=code, kinds="BPD") for code in codes or ()]
        chosen = named or list(codes_without_label(shop))
        if not chosen:
            note(session, "every board and piece has had its label")
            return
        made: list[PrintedLabels] = []

        def make() -> bytes:
            made.append(
                print_labels(shop, codes=chosen, stock=sheet, start=start, dry_run=session.dry_run)
            )
            return made[0].pdf

        path = write_file(session, out, make, force=force)
    _tell(session, chosen, sheet.name, made[0].missing, str(path))


def _tell(
    session: Session, codes: Sequence[str], stock: str, missing: Sequence[str], path: str
) -> None:
    if missing:
        warn(
            session,
            f"no font here has {' '.join(missing)}; □ stands for it on the labels. A folder with a"
            " font that has it: salvage setup fonts-folder=DIR",
        )
    record = {
        "codes": list(codes),
        "stock": stock,
        "file": path,
        "missing_characters": list(missing),
    }
    show_change(
        session,
        record,
        lines=[f"{count_of(len(codes), 'label')} for {stock} written: {path}"],
        codes=[path],
        next_step=f"scan {codes[0]}",
    )
