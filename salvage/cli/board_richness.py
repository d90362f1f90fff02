"""``salvage board richness``: where a board's traces run densest, as a hint."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.board import commands
from salvage.cli.session import session_of
from salvage.cli.show import command_line, note, paint, show_record

if TYPE_CHECKING:
    from salvage.cli.options import BoardCode, Force, Out
    from salvage.work.richness import RichnessView

HINT = (
    "A hint, no measurement: edges in the photo were counted, and glare, paint and parts may"
    " mislead. Look at the board before you cut."
)
"""What is told with every place."""

BENEATH = "usually the finest pattern is beneath (common practice, no source)"
"""What is told of a large square part."""


@commands.command("richness", example="salvage board richness BC0002J --out rich.png")
def richness(
    context: typer.Context,
    code: BoardCode,
    side: Annotated[str, typer.Option(metavar="SIDE", help="front or back.")] = "front",
    out: Out = "",
    force: Force = False,
) -> None:
    """
    Tell where a piece would show most traces, and draw the map over the photo: a hint.

    Works on the newest photo of that side whose corners are known, as measuring leaves it. Places
    lie on what is still free, in mm from the front's lower left, for both sides.
    """
    from salvage.cli.files import write_file
    from salvage.records.choices import SIDES, parse_choice
    from salvage.work.reading import read_code
    from salvage.work.richness import draw_board_richness, look_for_richness

    session = session_of(context)
    asked = parse_choice(side, SIDES, field="--side")
    with session.open() as shop:
        found = read_code(shop, text=code, kinds="B")
        view = look_for_richness(shop, board=found, side=asked)
        path = None
        if out:
            path = write_file(
                session, out, lambda: draw_board_richness(shop, view=view), force=force
            )
    record = richness_record(view) | {"file": str(path) if path else None}
    lines = richness_lines(view)
    if path:
        lines.append(f"  picture written: {path}")
    show_record(session, record, lines=lines, plain=("board", "side"))
    if not session.form and view.richness.places:
        at = view.richness.places[0]
        step = f"reserve {found} --shape NAME --at {at.x_mm:g},{at.y_mm:g} --for WHOM"
        note(session, paint(session, f"next: {command_line(session, step)}", "quiet"))


def richness_record(view: RichnessView) -> dict[str, Any]:
    """The hint as JSON."""
    found = view.richness
    return {
        "board": view.board.code,
        "side": view.side,
        "photo": view.photo.n,
        "window_mm": found.window_mm,
        "places": [
            {
                "x_mm": place.x_mm,
                "y_mm": place.y_mm,
                "edges_mm_per_mm2": round(place.density, 3),
                "richer_than_percent": round(100 * place.richer_than, 1),
            }
            for place in found.places
        ],
        "square_parts": [
            {
                "x_mm": round(part.x_mm, 1),
                "y_mm": round(part.y_mm, 1),
                "width_mm": round(part.side_mm, 1),
                "note": BENEATH,
            }
            for part in found.parts
        ],
        "hint": HINT,
    }


def richness_lines(view: RichnessView) -> list[str]:
    """The hint for people."""
    found = view.richness
    head = f"{view.board.code}  {view.side}, photo {view.photo.n}"
    if not found.places:
        lines = [f"{head}: no traces were seen where a {found.window_mm:g} mm piece still fits"]
    else:
        lines = [f"{head}: where {found.window_mm:g} x {found.window_mm:g} mm show most traces"]
    for number, place in enumerate(found.places, 1):
        lines.append(
            f"  {number}  round {place.x_mm:g}, {place.y_mm:g} mm: richer than"
            f" {100 * place.richer_than:.0f} % of the free places"
            f" ({place.density:.1f} mm of edge in each mm²)"
        )
    for part in found.parts:
        lines.append(
            f"  ?  a square part of {part.side_mm:.0f} mm at {part.x_mm:.0f}, {part.y_mm:.0f} mm:"
            f" {BENEATH}"
        )
    return [*lines, f"  {HINT}"]
