"""Options of every command that looks over the shelf for places and holds them."""

from __future__ import annotations

from typing import Annotated, TypeAlias

import typer

Until: TypeAlias = Annotated[
    str, typer.Option("--until", metavar="DATE", help="Last day on which the places are held.")
]
Days: TypeAlias = Annotated[
    str, typer.Option("--days", metavar="N", help="That day counted from today.")
]
Seconds: TypeAlias = Annotated[
    float, typer.Option(min=0, max=600, help="How long to look for a better plan.")
]
Only: TypeAlias = Annotated[
    list[str] | None,
    typer.Option("--only", metavar="BOARD", help="Only this board; may come again."),
]
KeepOff: TypeAlias = Annotated[
    list[str] | None,
    typer.Option("--keep-off", metavar="BOARD", help="Not this board; may come again."),
]
Tool: TypeAlias = Annotated[
    str, typer.Option(metavar="TOOL", help="router; or shears, for straight cuts.")
]
Anyway: TypeAlias = Annotated[
    bool, typer.Option("--anyway", help="Plan shapes, too, that the bit cannot cut as drawn.")
]
AnyAngle: TypeAlias = Annotated[
    bool, typer.Option("--any-angle", help="Turn pieces by steps of 15 degrees, not 90.")
]
Angles: TypeAlias = Annotated[
    str, typer.Option("--angles", metavar="A,B,…", help="Only these angles, in degrees.")
]
EitherFace: TypeAlias = Annotated[
    bool, typer.Option("--either-face", help="The picture may be on the back.")
]
Cleared: TypeAlias = Annotated[bool, typer.Option("--cleared", help="Only cleared boards.")]
