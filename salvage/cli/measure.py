"""``salvage mat`` and ``measure``: printed photo mats, and outlines from photos on them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.count import count_of
from salvage.cli.files import check_target, read_file, write_file
from salvage.cli.options import BoardCode, Force, Out
from salvage.cli.records import board_record, record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, note, show_change, show_list

if TYPE_CHECKING:
    from salvage.photo.measure.result import Measurement
    from salvage.work.measuring import BoardMeasured

mats = CommandSet("mat", "Printed photo mats: print, check, list.", "salvage mat print")
measuring = CommandSet()

_Serial = Annotated[
    str, typer.Option("--mat", metavar="SERIAL", help="Which mat; the newest if left out.")
]


@mats.command("print", example="salvage mat print --paper a3 --colour cyan", changes=True)
def print_mat(
    context: typer.Context,
    paper: Annotated[
        str, typer.Option(help="a4, a3, letter, legal, a2, or tiles for joined sheets.")
    ] = "a4",
    colour: Annotated[str, typer.Option(help="A colour that the boards do not have.")] = "magenta",
    out: Out = "",
    force: Force = False,
) -> None:
    """Print a photo mat as a PDF, true to size, with a serial of its own."""
    from salvage.work import measuring as work

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


@mats.command("check", example="salvage mat check 199.6 200.1", changes=True)
def check_mat(
    context: typer.Context,
    long_bar: Annotated[str, typer.Argument(metavar="LONG", help="The bar on the long side.")],
    short_bar: Annotated[str, typer.Argument(metavar="SHORT", help="The bar on the short side.")],
    mat: _Serial = "",
) -> None:
    """Record what a ruler reads on a printed mat's bars; every photo on it is corrected so."""
    from salvage.units import parse_length_mm
    from salvage.work import measuring as work

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


@mats.command("list", example="salvage mat list")
def list_mats(context: typer.Context) -> None:
    """List the mats that were printed, newest first."""
    from salvage.work import measuring as work

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
            Column("printed", "printed_at"),
        ),
        empty="no mat was printed yet",
    )


@measuring.command(
    "measure", example="salvage measure BC0002J board.jpg --overlay look.jpg", changes=True
)
def measure(
    context: typer.Context,
    code: BoardCode,
    photo: Annotated[str, typer.Argument(metavar="PHOTO", help="The board on the mat.")],
    second: Annotated[
        str, typer.Option(metavar="PHOTO", help="From another side: measures the height.")
    ] = "",
    mat: _Serial = "",
    overlay: Annotated[
        str, typer.Option(metavar="FILE", help="Write the photo with the outline on it.")
    ] = "",
    replace: Annotated[
        bool, typer.Option("--replace", help="Take it though the board has another size on record.")
    ] = False,
    force: Force = False,
) -> None:
    """
    Take a board's outline, holes and area from a photo on a printed mat.

    Look at the overlay before you cut: a thing that lies over the board's edge looks like board.
    """
    from salvage.work import measuring as work
    from salvage.work.photos import NewPhoto
    from salvage.work.reading import read_code

    session = session_of(context)
    photos = tuple(
        NewPhoto(read_file(session, name), Path(name).name, caption="on mat")
        for name in filter(None, (photo, second))
    )
    if overlay:
        check_target(session, overlay, force=force)
    with session.open() as shop:
        view = work.measure_board(
            shop,
            board=read_code(shop, text=code, kinds="B"),
            photos=photos,
            serial=mat,
            replace=replace,
            dry_run=session.dry_run,
        )
    if overlay:
        _write_overlay(session, view, overlay, force=force)
    show_change(
        session,
        measured_record(view),
        lines=_measured_lines(view),
        codes=[view.board.code],
        next_step=f"scan {view.board.code}",
    )


def _write_overlay(session: Session, view: BoardMeasured, name: str, *, force: bool) -> None:
    picture = view.measurement.pictures.overlay_jpeg
    path = write_file(session, name, lambda: picture, force=force)
    if not session.dry_run:
        note(session, f"overlay written: {path}")


def measured_record(view: BoardMeasured) -> dict[str, Any]:
    """A measured board as JSON: outline and holes in millimetres, intervals, how it was taken."""
    found = view.measurement
    rings = [[[x / 1000, y / 1000] for x, y in ring] for ring in _rings(found)]
    return {
        "board": board_record(view.board),
        "mat": view.mat.serial,
        "outline_mm": rings[0],
        "holes_mm": rings[1:],
        "holes": [
            {
                "centre_mm": [round(value, 3) for value in hole.centre_mm],
                "diameter_mm": round(hole.diameter_mm, 3),
                "kind": hole.kind,
            }
            for hole in found.holes
        ],
        "area_mm2": round(found.area_mm2, 2),
        "area_interval_mm2": [round(value, 2) for value in found.area_interval_mm2],
        "interval_mm": round(found.interval_mm, 3),
        "px_per_mm": round(found.px_per_mm, 2),
        "method": found.method,
        "height_mm": round(found.height.upper_mm, 2),
        "height_source": found.height.source,
        "warnings": list(found.warnings),
    }


def _rings(found: Measurement) -> list[Any]:
    return [found.outline.outer, *found.outline.holes]


def _measured_lines(view: BoardMeasured) -> list[str]:
    found = view.measurement
    width, height = found.outline.size_mm
    low, high = found.area_interval_mm2
    size = f"{width:.2f} x {height:.2f} mm, edges within {found.interval_mm:.2f} mm (95 %)"
    area = f"area {found.area_mm2:.0f} mm², between {low:.0f} and {high:.0f} (95 %)"
    return [
        f"{view.board.code}  {size}",
        f"  {area}; {count_of(len(found.holes), 'hole')}",
        *(f"  note: {warning}" for warning in found.warnings),
    ]
