"""Arguments and options that several commands share, with completion of codes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, TypeAlias

import typer

from salvage.cli.session import session_of

if TYPE_CHECKING:
    from collections.abc import Callable


def completer(kinds: str) -> Callable[[typer.Context, str], list[str]]:
    """
    A function that completes codes of some kinds from the workshop's tables.

    Args:
        kinds: Kind letters.
    """

    def complete(ctx: typer.Context, incomplete: str) -> list[str]:
        from salvage.errors import SalvageError
        from salvage.ids import tidy_code
        from salvage.store.connection import connect
        from salvage.store.lookup import complete_code
        from salvage.work.workshop import DATABASE_NAME

        path = session_of(ctx).folder / DATABASE_NAME
        if not path.exists():
            return []
        try:
            conn = connect(path, busy_ms=200)
        except SalvageError:  # a shell's completion stays silent; the command itself will tell
            return []
        try:
            typed = tidy_code(incomplete)
            found = complete_code(conn, typed, kinds=kinds)
            return [incomplete + code[len(typed) :] for code in found]  # in the case as typed
        finally:
            conn.close()

    return complete


AnyCode: TypeAlias = Annotated[
    str,
    typer.Argument(
        metavar="CODE", help="Any code, as typed or scanned.", autocompletion=completer("BPDGKRCHV")
    ),
]
BoardCode: TypeAlias = Annotated[
    str, typer.Argument(metavar="BOARD", help="The board.", autocompletion=completer("B"))
]
BoardCodes: TypeAlias = Annotated[
    list[str],
    typer.Argument(metavar="BOARD...", help="One or more boards.", autocompletion=completer("B")),
]
PieceCode: TypeAlias = Annotated[
    str, typer.Argument(metavar="PIECE", help="The piece.", autocompletion=completer("P"))
]
PieceCodes: TypeAlias = Annotated[
    list[str],
    typer.Argument(metavar="PIECE...", help="One or more pieces.", autocompletion=completer("P")),
]
DropOffCode: TypeAlias = Annotated[
    str, typer.Argument(metavar="DROPOFF", help="The drop-off.", autocompletion=completer("D"))
]

Out: TypeAlias = Annotated[str, typer.Option("--out", metavar="FILE", help="Where to write it.")]
Force: TypeAlias = Annotated[bool, typer.Option("--force", help="Replace a file that is there.")]

PrinterName: TypeAlias = Annotated[
    str,
    typer.Option(
        "--printer",
        metavar="NAME",
        help="Its readings put the page right; the usual one if left out.",
    ),
]

ShapeName: TypeAlias = Annotated[
    str, typer.Option("--shape", metavar="NAME", help="A shape; see 'salvage shape list'.")
]
ShapeFile: TypeAlias = Annotated[
    str, typer.Option("--svg", metavar="FILE", help="A drawing, SVG or DXF, instead of --shape.")
]
ShapeWidth: TypeAlias = Annotated[
    str, typer.Option("--width", "--width-mm", metavar="MM", help="Width to draw the shape to.")
]
ShapeHeight: TypeAlias = Annotated[
    str, typer.Option("--height", "--height-mm", metavar="MM", help="Height to draw it to.")
]
At: TypeAlias = Annotated[
    str,
    typer.Option("--at", metavar="X,Y", help="Where its middle goes, in mm from the lower left."),
]
Angle: TypeAlias = Annotated[
    str, typer.Option("--angle", metavar="DEG", help="Turned counter-clockwise.")
]
Side: TypeAlias = Annotated[
    str, typer.Option("--side", metavar="SIDE", help="Face that the cutter sees: front or back.")
]

FormName: TypeAlias = Annotated[
    str, typer.Option("--form", metavar="NAME", help="A form factor; see 'salvage formats'.")
]
Size: TypeAlias = Annotated[
    str, typer.Option("--size", metavar="WxH", help="Measured width x height, in mm.")
]
Drawing: TypeAlias = Annotated[
    str, typer.Option("--svg", metavar="FILE", help="The outline as a drawing, SVG or DXF.")
]
NoHoles: TypeAlias = Annotated[
    bool,
    typer.Option(
        "--no-holes", help="Do not keep the form factor's mounting holes free (8 mm round each)."
    ),
]
