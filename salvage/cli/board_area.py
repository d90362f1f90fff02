"""``salvage board area``: what every square millimetre of a board is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.board import commands
from salvage.cli.session import session_of
from salvage.cli.show import show_record
from salvage.units import format_area

if TYPE_CHECKING:
    from salvage.cli.options import BoardCode
    from salvage.geometry.fragment import FragmentFacts
    from salvage.geometry.ledger import Fragment
    from salvage.work.area_view import AreaView


@commands.command("area", example="salvage board area BC0002J --side back")
def area(
    context: typer.Context,
    code: BoardCode,
    side: Annotated[str, typer.Option(metavar="SIDE", help="What lies up: front or back.")] = (
        "front"
    ),
) -> None:
    """
    Show what is cut, kept, held, usable and too small on a board, and that it adds up.

    Each usable stretch is told with its area, largest circle, largest upright rectangle and least
    width. Places are seen from the side that lies up.
    """
    from salvage.records.choices import SIDES, parse_choice
    from salvage.work.area_view import view_area
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        view = view_area(
            shop,
            board=read_code(shop, text=code, kinds="B"),
            side=parse_choice(side, SIDES, field="--side"),
        )
    record = area_record(view)
    plain = ("board", "side", "outline_mm2", "usable_mm2", "usable_percent", "difference_mm2")
    show_record(session, record, lines=_lines(record), plain=plain)


def area_record(view: AreaView) -> dict[str, Any]:
    """A board's ledger as JSON, in mm and mm²."""
    ledger = view.ledger
    return {
        "board": view.board.code,
        "side": view.side,
        "outline_mm2": round(ledger.outline_mm2, 3),
        "layers_mm2": {name: round(value, 3) for name, value in ledger.areas_mm2.items()},
        "usable_mm2": round(ledger.usable_mm2, 3),
        "usable_percent": round(ledger.usable_percent, 2),
        "difference_mm2": round(view.difference_mm2, 6) + 0.0,
        "fragments": [_fragment(view, *each) for each in view.fragments],
    }


def _fragment(view: AreaView, fragment: Fragment, facts: FragmentFacts) -> dict[str, Any]:
    left, bottom, right, top = facts.rectangle_mm
    x, y = fragment.inscribed_at_mm
    return {
        "area_mm2": round(fragment.area_mm2, 3),
        "circle_mm": round(fragment.inscribed_mm, 2),
        "circle_at_mm": [round(view.x_mm(x), 2), round(y, 2)],
        "rectangle_mm": [round(right - left, 2), round(top - bottom, 2)],
        "rectangle_at_mm": [round(view.x_mm((left + right) / 2), 2), round((bottom + top) / 2, 2)],
        "least_width_mm": facts.least_width_mm,
        "width_mm": round(fragment.width_mm, 2),
        "height_mm": round(fragment.height_mm, 2),
    }


def _lines(record: dict[str, Any]) -> list[str]:
    whole = record["outline_mm2"]
    lines = [f"{record['board']}  {format_area(whole)}, seen from the {record['side']}"]
    for name, value in record["layers_mm2"].items():
        if value:
            lines.append(f"  {name:<10} {value:10.1f} mm²  {100 * value / whole:5.1f} %")
    lines.append(f"  {'sum':<10} {whole:10.1f} mm²  off by {record['difference_mm2']:g} mm²")
    for number, part in enumerate(record["fragments"], 1):
        x, y = part["circle_at_mm"]
        wide, high = part["rectangle_mm"]
        at_x, at_y = part["rectangle_at_mm"]
        lines.append(
            f"  part {number}: {format_area(part['area_mm2'])}, circle {part['circle_mm']:.1f} mm"
            f" at {x:.0f},{y:.0f}, rectangle {wide:.1f} x {high:.1f} mm at {at_x:.0f},{at_y:.0f},"
            f" least width {part['least_width_mm']:.1f} mm"
        )
    return lines
