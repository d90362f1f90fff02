"""Plans as people and programs read them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from salvage.cli.count import count_of
from salvage.cli.records import record_of
from salvage.cli.session import Session
from salvage.cli.show import clean_line, command_line, note, paint, say, say_wrapped
from salvage.units import format_mm

if TYPE_CHECKING:
    from salvage.records.things import Reservation
    from salvage.work.plan_search import Missing
    from salvage.work.planning import PlannedOrder
    from salvage.work.plans import LineState, PlanView
    from salvage.work.workshop import Workshop


# Columns of a board's map; of several boards each is smaller, so that two are seen at once.
_ONE_BOARD, _OF_SEVERAL = 76, 52


def planned_record(planned: PlannedOrder) -> dict[str, Any]:
    """What planning found, as JSON."""
    return {
        "plan": planned.plan.code if planned.plan else None,
        "for": planned.for_whom,
        "holds_until": planned.plan.holds_until if planned.plan else None,
        "tool": planned.plan.tool if planned.plan else None,
        "reservations": [record_of(held) for held in planned.reservations],
        "kept": [record_of(held) for held in planned.kept],
        "expired": [record_of(freed) for freed in planned.expired],
        "unmet": [
            {"shape": line.name, "quantity": line.quantity, "reason": line.reason}
            for line in planned.unmet
        ],
        "fresh_boards": planned.fresh_boards,
        "boards_touched": planned.boards_touched,
    }


def planned_lines(planned: PlannedOrder) -> list[str]:
    """What planning found, as people read it."""
    lines = []
    if planned.expired:
        plans = ", ".join(dict.fromkeys(place.plan for place in planned.expired))
        freed = count_of(len(planned.expired), "place")
        lines.append(f"expired: {plans}; {freed} let go first")
    if planned.plan is None:
        lines.append(f"no place was found for {planned.for_whom}; nothing is held")
    else:
        held = count_of(len(planned.reservations), "place")
        boards = count_of(planned.boards_touched, "board")
        kept = f", {len(planned.kept)} kept as they were" if planned.kept else ""
        lines.append(
            f"{planned.plan.code}  {held} held for {planned.for_whom} on {boards}"
            f" ({planned.fresh_boards} fresh){kept}, until {planned.plan.holds_until}"
        )
    for board in dict.fromkeys(held.board for held in planned.reservations):
        there = [one for one in planned.reservations if one.board == board]
        lines.append(f"{board}  {count_shapes(there)}")
        lines += [f"  {place_words(one)}" for one in there]
    return lines + [missing_words(line) for line in planned.unmet]


def missing_words(line: Missing) -> str:
    """What of an order is not met, and why."""
    return f"not met: {line.quantity} x {line.name}, {line.reason}"


def count_shapes(places: Sequence[Reservation]) -> str:
    """Places by shape, such as ``3 x tern, 1 x kite``."""
    names = dict.fromkeys(one.shape for one in places)
    return ", ".join(f"{sum(one.shape == name for one in places)} x {name}" for name in names)


def place_words(held: Reservation) -> str:
    """A place with its code, in one line."""
    turned = f", turned {held.angle_mdeg / 1000:g}°" if held.angle_mdeg else ""
    back = ", picture on the back" if held.mirrored else ""
    where = f"{held.x_um / 1000:g}, {held.y_um / 1000:g} mm"
    return f"{held.code}  {held.shape} at {where}{turned}{back}"


def plan_row(view: PlanView) -> dict[str, Any]:
    """A plan as one record of a list."""
    return {
        **record_of(view.plan),
        "state": view.state,
        "lines": [line_record(state) for state in view.lines],
        "held": len(view.held),
        "cut": sum(state.cut for state in view.lines),
        "open": sum(state.open for state in view.lines),
        "boards": list(view.boards),
    }


def line_record(state: LineState) -> dict[str, Any]:
    """A line of a plan: asked, placed, cut, open."""
    line = state.line
    return {
        "name": line.name,
        "shape": line.shape,
        "quantity": line.quantity,
        "placed": state.placed,
        "held": state.held,
        "cut": state.cut,
        "scrap": state.scrap,
        "open": state.open,
        "reason": line.reason if state.open else "",
    }


def plan_record(shop: Workshop, view: PlanView) -> dict[str, Any]:
    """A plan with its places and boards, as JSON."""
    from salvage.store.lookup import load_board
    from salvage.work.verdict import find_obstacles

    boards = []
    for code in view.boards:
        board = load_board(shop.conn, code)
        obstacles = [o.words for o in find_obstacles(shop.conn, board) if o.forbids_cutting]
        boards.append(
            {
                "board": code,
                "title": board.title,
                "place": board.place,
                "go": not obstacles,
                "obstacles": obstacles,
            }
        )
    return {
        **plan_row(view),
        "boards": boards,
        "places": [record_of(place) for place in view.places],
        "shears": [record_of(cut) for cut in view.shears],
    }


def show_plan(session: Session, shop: Workshop, view: PlanView) -> None:
    """
    Print a plan for people: lines, boards to pull, and each board's map with its places.

    Args:
        session: The run.
        shop: The open workshop.
        view: The plan.
    """
    plan = view.plan
    tool = f"{plan.tool}, kerf {format_mm(plan.kerf_um / 1000)}"
    head = paint(session, plan.code, "strong")
    say(session, f"{head}  for {clean_line(plan.for_whom)}, {_until(shop, view)}; {tool}")
    _show_lines(session, view)
    for code in view.boards:
        _show_board(session, shop, view, code)
    if view.state == "expired":
        note(session, f"next: {command_line(session, f'plan release {plan.code}')}")
        note(session, f"  or: {command_line(session, f'plan extend {plan.code} --days 14')}")
    elif view.held:
        boards = dict.fromkeys(place.board for place in view.held)
        note(session, f"next: {command_line(session, f'handover {next(iter(boards))}')}")
        note(session, f"then: {command_line(session, f'plan cut {plan.code}')}")


def _until(shop: Workshop, view: PlanView) -> str:
    from datetime import date

    plan, state = view.plan, view.state
    if state == "released":
        return f"released{f': {plan.reason}' if plan.reason else ''}"
    if state == "held":
        days = (date.fromisoformat(plan.holds_until) - shop.today).days
        return f"held until {plan.holds_until} ({count_of(days, 'day')} left)"
    if state == "expired":
        return f"EXPIRED: it held until {plan.holds_until}; its places stay until it is released"
    return "cut: nothing is held any more" if state == "cut" else "nothing is held"


def _show_lines(session: Session, view: PlanView) -> None:
    wide = max((len(state.line.name) for state in view.lines), default=4)
    say(session, f"  {'shape'.ljust(wide)}  asked  placed   cut  open")
    for state in view.lines:
        counts = f"{state.line.quantity:5d}  {state.placed:6d}  {state.cut:4d}  {state.open:4d}"
        scrap = f"  ({state.scrap} scrap)" if state.scrap else ""
        say(session, f"  {state.line.name.ljust(wide)}  {counts}{scrap}")
        if state.open and state.line.reason:
            say_wrapped(session, f"    why: {clean_line(state.line.reason)}", indent=9)


def _show_board(session: Session, shop: Workshop, view: PlanView, code: str) -> None:
    from salvage.ids import Code
    from salvage.store.lookup import load_board
    from salvage.work.plan_pictures import chart_plan_board
    from salvage.work.verdict import find_obstacles

    board = load_board(shop.conn, Code(code))
    obstacles = [o for o in find_obstacles(shop.conn, board) if o.forbids_cutting]
    lies = clean_line(board.place) if board.place else "no place noted"
    go = paint(session, "GO", "good") if not obstacles else paint(session, "NO-GO", "bad")
    say(session)
    say(session, f"{go} {paint(session, code, 'strong')}  {clean_line(board.title)}; {lies}")
    if obstacles:
        more = f" and {len(obstacles) - 1} more" if len(obstacles) > 1 else ""
        say(session, f"  - {clean_line(obstacles[0].words)}{more}")
        say(session, f"    do: {clean_line(obstacles[0].mend)}")
    most = _ONE_BOARD if len(view.boards) == 1 else _OF_SEVERAL
    columns = max(20, min(session.world.width - 4, most))
    plain = not session.world.has_blocks
    chart = chart_plan_board(shop, view, Code(code), columns=columns, ascii_only=plain)
    for mark, place in chart.places.items():
        state = "" if place.state == "held" else f" ({place.state})"
        say(session, f"  {mark}  {clean_line(place_words(place))}{state}")
    for number, cut in enumerate((cut for cut in view.shears if cut.board == code), 1):
        start = f"{cut.from_x_um / 1000:g},{cut.from_y_um / 1000:g}"
        end = f"{cut.to_x_um / 1000:g},{cut.to_y_um / 1000:g}"
        say(session, f"  cut {number}: straight from {start} to {end} mm")
    say(session)
    for row in chart.rows:
        say(session, f"  {row}".rstrip())
    say(session, f"  {chart.legend}")
