"""``salvage mat``: printed photo mats and height strips, and pictures of mats."""

from __future__ import annotations

from typing import Annotated

import typer

from salvage.cli.command import CommandSet
from salvage.cli.files import write_file
from salvage.cli.options import Force, Out
from salvage.cli.records import record_of
from salvage.cli.session import session_of
from salvage.cli.show import Column, show_change, show_list
from salvage.errors import BadValue

commands = CommandSet("mat", "Printed photo mats: print, check, list.", "salvage mat print")

_Serial = Annotated[
    str, typer.Option("--mat", metavar="SERIAL", help="Which mat; the newest if left out.")
]
_Paper = Annotated[str, typer.Option(help="a4, a3, letter, legal, a2, or tiles for joined sheets.")]
_Colour = Annotated[str, typer.Option(help="A colour that the boards do not have.")]


@commands.command("print", example="salvage mat print --paper a3 --colour cyan", changes=True)
def print_mat(
    context: typer.Context,
    paper: _Paper = "a4",
    colour: _Colour = "magenta",
    out: Out = "",
    force: Force = False,
) -> None:
    """
    Print a photo mat as a PDF, true to size, with a serial of its own.

    The serial stands on it in words and as a code, so that photos tell which mat they show.
    """
    from salvage.work import mats as work

    session = session_of(context)
    printed: list[work.PrintedMatView] = []
    with session.open(create=True) as shop:

        def make() -> bytes:
            printed.append(
                work.print_mat(shop, paper=paper, colour=colour, dry_run=session.dry_run)
            )
            return printed[0].pdf

        path = write_file(session, out or f"mat-{paper}-{colour}.pdf", make, force=force)
    (view,) = printed
    serial = view.mat.serial
    show_change(
        session,
        record_of(view.mat, path=str(path)),
        lines=[
            f"mat {serial} for {paper} written: {path}",
            "print it at 100 %, then measure its two 200 mm bars with a steel rule",
        ],
        codes=[serial],
        next_step=f"mat check 200.0 200.0 --mat {serial}",
    )


@commands.command("check", example="salvage mat check 199.6 200.1", changes=True)
def check_mat(
    context: typer.Context,
    long_bar: Annotated[str, typer.Argument(metavar="LONG", help="The bar on the long side.")],
    short_bar: Annotated[str, typer.Argument(metavar="SHORT", help="The bar on the short side.")],
    mat: _Serial = "",
) -> None:
    """Record what a ruler reads on a printed mat's bars; every photo on it is corrected so."""
    from salvage.units import parse_length_mm
    from salvage.work import mats as work

    session = session_of(context)
    with session.open() as shop:
        checked = work.check_mat(
            shop,
            serial=mat,
            long_mm=parse_length_mm(long_bar, field="LONG"),
            short_mm=parse_length_mm(short_bar, field="SHORT"),
            dry_run=session.dry_run,
        )
    show_change(
        session,
        record_of(checked),
        lines=[f"mat {checked.serial}: bars {long_bar} and {short_bar}, kept for this mat"],
        codes=[checked.serial],
        next_step="measure BOARD PHOTO",
    )


@commands.command("list", example="salvage mat list")
def list_mats(context: typer.Context) -> None:
    """List the mats that were printed, newest first."""
    from salvage.work import mats as work

    session = session_of(context)
    with session.open() as shop:
        found = work.list_mats(shop)
    show_list(
        session,
        [record_of(mat) for mat in found],
        (
            Column("mat", "serial"),
            Column("paper", "paper"),
            Column("colour", "colour"),
            Column("long bar mm", "bar_x_mm", lambda mm: f"{mm:g}"),
            Column("short bar mm", "bar_y_mm", lambda mm: f"{mm:g}"),
            Column("printed", "printed_at", lambda at: at[:10]),
        ),
        empty="no mat was printed yet",
    )


@commands.command("strips", example="salvage mat strips --paper a4")
def strips(
    context: typer.Context,
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
    out: Out = "",
    force: Force = False,
) -> None:
    """
    Print height strips as a PDF, true to size: one laid on a board tells how high its face lies.

    Print them on the paper and with the printer of the mat, at 100 %. A second strip laid flat on
    the mat, beside the board, shows how true the strips are printed.
    """
    from salvage.work import mats as work

    session = session_of(context)
    made_on = session.world.clock().astimezone().date()
    path = write_file(
        session,
        out or f"height-strips-{paper}.pdf",
        lambda: work.print_strips(paper=paper, made_on=made_on),
        force=force,
    )
    show_change(
        session,
        {"path": str(path), "paper": paper},
        lines=[
            f"height strips for {paper} written: {path}",
            "print them at 100 % with the mat's own printer, measure the bar, and cut them out",
        ],
        codes=[str(path)],
        next_step="measure BOARD PHOTO",
    )


@commands.command(
    "picture", example="salvage mat picture --paper a4 --colour magenta --dpi 300 --out mat.png"
)
def picture(
    context: typer.Context,
    paper: _Paper = "a4",
    colour: _Colour = "magenta",
    dpi: Annotated[float, typer.Option(help="Dots per inch; the file says so too.")] = 300.0,
    out: Out = "",
    force: Force = False,
) -> None:
    """
    Draw a mat as a PNG, true to scale, to compose photos on; it has no serial and is not recorded.

    The record gives where the coloured field lies, in pixels from the upper left.
    """
    from salvage.work import mats as work

    session = session_of(context)
    name = out or f"mat-{paper}-{colour}.png"
    if not name.lower().endswith(".png"):
        raise BadValue(
            f"{name} would be a PNG under another name", hint="end it in .png", field="--out"
        )
    made: list[work.MatPicture] = []

    def make() -> bytes:
        made.append(work.draw_mat_picture(paper=paper, colour=colour, dpi=dpi))
        return made[0].png

    path = write_file(session, name, make, force=force)
    (drawn,) = made
    width, height = drawn.size_px
    show_change(
        session,
        {
            "path": str(path),
            "paper": paper,
            "colour": colour,
            "dpi": dpi,
            "px_per_mm": drawn.px_per_mm,
            "width_px": width,
            "height_px": height,
            "field_px": list(drawn.field_px),
        },
        lines=[f"{path} written: {width} x {height} pixels, {dpi:g} dots per inch"],
        codes=[str(path)],
    )
