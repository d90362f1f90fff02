"""``salvage plan``: an order over the whole shelf, and the places that are held."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.count import count_of
from salvage.cli.records import record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, show_change, show_list

if TYPE_CHECKING:
    from salvage.records.things import Reservation
    from salvage.work.planning import PlannedOrder

commands = CommandSet(
    "plan",
    "Plan an order over the shelf, and see or release what is held.",
    'salvage plan order tern:4 kite:6 --for "order 12"',
)

_ForWhom = Annotated[str, typer.Option("--for", metavar="TEXT", help="Order or person.")]


@commands.command(
    "order", example='salvage plan order tern:4 circle@40:6 --for "order 12"', changes=True
)
def order(
    context: typer.Context,
    lines: Annotated[
        list[str],
        typer.Argument(metavar="SHAPE:QUANTITY...", help="A width may be given: circle@40:6."),
    ],
    for_whom: _ForWhom = "",
    seconds: Annotated[
        float, typer.Option(min=0, max=600, help="How long to look for a better plan.")
    ] = 5.0,
    cleared: Annotated[bool, typer.Option("--cleared", help="Only cleared boards.")] = False,
    donor: Annotated[str, typer.Option(metavar="CODE", help="Only this donor's boards.")] = "",
    dropoff: Annotated[str, typer.Option(metavar="CODE", help="Only from this drop-off.")] = "",
    kind: Annotated[str, typer.Option("--type", metavar="TYPE", help="Only this type.")] = "",
    colour: Annotated[str, typer.Option(metavar="TEXT", help="Only this colour.")] = "",
    thickness: Annotated[
        str, typer.Option("--thickness", metavar="MM", help="Only this thickness.")
    ] = "",
) -> None:
    """
    Find boards and places for an order, and hold them: remnants first, few fresh boards.

    Every place was checked exactly. What cannot be met is told with the reason.
    """
    from salvage.work import planning, wishes
    from salvage.work.clock import stopwatch

    session = session_of(context)
    asked = wishes.TypedFilter(cleared, donor, dropoff, kind, colour, thickness)
    with session.open() as shop:
        plan = planning.plan_order(
            shop,
            demands=[wishes.parse_demand(shop, line) for line in lines],
            for_whom=for_whom,
            search=planning.Search(seconds, stopwatch, _progress(session)),
            filters=wishes.parse_filter(shop, asked),
            dry_run=session.dry_run,
        )
    show_change(
        session,
        plan_record(plan),
        lines=_plan_lines(plan),
        codes=[held.code for held in plan.reservations],
        next_step=f"handover {plan.reservations[0].board}" if plan.reservations else "",
    )


def _progress(session: Session) -> Any:
    """A line that tells of each better plan, on a terminal only."""
    if not session.world.stderr_is_terminal or session.form:
        return None
    stream = session.world.stderr

    def tell(placed: int, seconds: float) -> None:
        stream.write(f"\rplanning: {placed} pieces placed after {seconds:.1f} s ")
        stream.flush()

    return tell


def plan_record(plan: PlannedOrder) -> dict[str, Any]:
    """A plan as JSON."""
    return {
        "for": plan.for_whom,
        "reservations": [record_of(held) for held in plan.reservations],
        "unmet": [
            {"shape": line.name, "quantity": line.quantity, "reason": line.reason}
            for line in plan.unmet
        ],
        "fresh_boards": plan.fresh_boards,
        "boards_touched": plan.boards_touched,
    }


def _plan_lines(plan: PlannedOrder) -> list[str]:
    boards = list(dict.fromkeys(held.board for held in plan.reservations))
    held = count_of(len(plan.reservations), "place")
    where = f"on {count_of(plan.boards_touched, 'board')}, {plan.fresh_boards} of them fresh"
    lines = [f"{held} held for {plan.for_whom} {where}"]
    for board in boards:
        there = [one for one in plan.reservations if one.board == board]
        lines.append(f"{board}  {_count_shapes(there)}")
        lines += [f"  {_place(one)}" for one in there]
    lines += [f"not met: {line.quantity} x {line.name}, {line.reason}" for line in plan.unmet]
    return lines


def _count_shapes(held: list[Reservation]) -> str:
    names = dict.fromkeys(one.shape for one in held)
    return ", ".join(f"{sum(one.shape == name for one in held)} x {name}" for name in names)


def _place(held: Reservation) -> str:
    turned = f", turned {held.angle_mdeg / 1000:g}°" if held.angle_mdeg else ""
    return f"{held.code}  {held.shape} at {held.x_um / 1000:g}, {held.y_um / 1000:g} mm{turned}"


@commands.command(
    "release", example='salvage plan release --for "order 12" --reason withdrawn', changes=True
)
def release(
    context: typer.Context,
    for_whom: _ForWhom = "",
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why.")] = "",
) -> None:
    """Let all places go that are held for an order or person."""
    from salvage.work import planning

    session = session_of(context)
    with session.open() as shop:
        freed = planning.release_order(
            shop, for_whom=for_whom, reason=reason, dry_run=session.dry_run
        )
    show_change(
        session,
        [record_of(one) for one in freed],
        lines=[f"{count_of(len(freed), 'place')} released, held until now for {for_whom}"],
        codes=[one.code for one in freed],
        next_step="plan list",
    )


@commands.command("list", example="salvage plan list")
def list_held(context: typer.Context) -> None:
    """List all places that are held, and for whom."""
    from salvage.work import planning

    session = session_of(context)
    with session.open() as shop:
        found = planning.list_reservations(shop)
    show_list(
        session,
        [record_of(one) for one in found],
        (
            Column("held", "code"),
            Column("for", "for_whom"),
            Column("board", "board"),
            Column("shape", "shape"),
            Column("x mm", "x_mm", lambda mm: f"{mm:g}"),
            Column("y mm", "y_mm", lambda mm: f"{mm:g}"),
            Column("turned", "angle_deg", lambda angle: f"{angle:g}°"),
        ),
        empty="nothing is held for anybody",
    )
