"""``salvage photo``: originals kept byte for byte."""

from __future__ import annotations

from typing import Annotated

import typer

from salvage.cli.command import CommandSet
from salvage.cli.options import completer
from salvage.cli.records import record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import show_change

commands = CommandSet()


def keep_photo(
    session: Session, code: str, file: str, *, side: str, caption: str, corners: str = ""
) -> None:
    """
    Keep a photo and tell it.

    Args:
        session: The run.
        code: What it shows, as typed.
        file: Name of the file.
        side: Side as typed.
        caption: What it shows.
        corners: Picked corners as typed; empty for none.
    """
    from pathlib import Path

    from salvage.cli.files import naming, read_file
    from salvage.records.choices import PHOTO_SIDES, parse_choice
    from salvage.work.photos import NewPhoto, add_photo
    from salvage.work.reading import read_code
    from salvage.work.spots import parse_corners_px

    new = NewPhoto(
        data=read_file(session, file),
        name=Path(file).name,
        side=parse_choice(side, PHOTO_SIDES, field="--side"),
        caption=caption,
        corners_px=parse_corners_px(corners, field="--corners") if corners else None,
    )
    with session.open() as shop, naming(file):
        found = read_code(shop, text=code, kinds="BPD")
        kept = add_photo(shop, code=found, new=new, dry_run=session.dry_run)
    side_words = "" if kept.side == "other" else f", {kept.side}"
    size = f"{kept.width_px} x {kept.height_px} px"
    picked = ", corners picked" if kept.corners else ""
    show_change(
        session,
        record_of(kept),
        lines=[f"{found}  photo {kept.n} kept{side_words}, {size}{picked}"],
        codes=[found],
        next_step=f"scan {found}",
    )


@commands.command(
    "photo",
    example='salvage photo BC0002J front.jpg --side front --corners "90,2200 3100,2210 3090,160'
    ' 100,150"',
    changes=True,
)
def photo(
    context: typer.Context,
    code: Annotated[
        str,
        typer.Argument(metavar="CODE", help="What it shows.", autocompletion=completer("BPD")),
    ],
    file: Annotated[str, typer.Argument(metavar="FILE", help="The photo.")],
    side: Annotated[str, typer.Option(metavar="SIDE", help="Front, back or other.")] = "front",
    corners: Annotated[
        str,
        typer.Option(
            metavar='"X,Y X,Y X,Y X,Y"',
            help="The board's corners in pixels from the picture's upper left: lower left, lower"
            " right, upper right, upper left of the front. Maps then lie over the photo.",
        ),
    ] = "",
    caption: Annotated[str, typer.Option(metavar="TEXT", help="What it shows.")] = "",
) -> None:
    """Keep a photo of a board, piece or drop-off."""
    keep_photo(session_of(context), code, file, side=side, caption=caption, corners=corners)
