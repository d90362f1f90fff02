"""``salvage plan``: an order over the whole shelf, and the places that are held for it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, TypeAlias

import typer

from salvage.cli.command import CommandSet
from salvage.cli.count import count_of
from salvage.cli.options import completer
from salvage.cli.plan_options import (
    Angles,
    AnyAngle,
    Anyway,
    Cleared,
    Days,
    EitherFace,
    KeepOff,
    Only,
    Seconds,
    Tool,
    Until,
)
from salvage.cli.records import record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, note, show_change, show_list

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from salvage.work.planning import PlannedOrder
    from salvage.work.wishes import TypedFilter
    from salvage.work.workshop import Workshop

commands = CommandSet(
    "plan",
    "Plan an order over the shelf; see, change, cut or release what is held for it.",
    'salvage plan order tern:4 kite:6 --for "order 12"',
)

PlanCode: TypeAlias = Annotated[
    str, typer.Argument(metavar="PLAN", help="The plan.", autocompletion=completer("J"))
]
_ForWhom = Annotated[str, typer.Option("--for", metavar="TEXT", help="Order or person.")]
_Hold: TypeAlias = Annotated[
    list[str] | None,
    typer.Option(
        metavar="PLACE",
        help="This place stays as it is; may come again.",
        autocompletion=completer("R"),
    ),
]
_HoldAll: TypeAlias = Annotated[
    bool, typer.Option("--hold-all", help="All places stay; only what is open is sought.")
]


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
    until: Until = "",
    days: Days = "",
    seconds: Seconds = 5.0,
    tool: Tool = "router",
    anyway: Anyway = False,
    any_angle: AnyAngle = False,
    angles: Angles = "",
    either_face: EitherFace = False,
    only: Only = None,
    keep_off: KeepOff = None,
    cleared: Cleared = False,
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

    Every place was checked exactly. What cannot be met is told with the reason. Plans whose last
    day has passed let their places go first. Ctrl-C ends the search and keeps the best so far.
    """
    from salvage.cli.plan_search import search_of, searching
    from salvage.work import planning, wishes

    session = session_of(context)
    with session.open() as shop:
        demands = [wishes.parse_demand(shop, line) for line in lines]
        with searching(session, sum(demand.quantity for demand in demands)) as watch:
            planned = planning.plan_order(
                shop,
                demands=demands,
                for_whom=for_whom,
                search=search_of(watch, context.params),
                filters=wishes.parse_filter(shop, typed_filter(context.params)),
                until=read_last_day(shop, until, days),
                dry_run=session.dry_run,
            )
    _tell(session, planned, stopped=watch.stopped)


def typed_filter(given: Mapping[str, Any]) -> TypedFilter:
    """The filter of boards among a command's options; values are texts, switches and lists."""
    from salvage.work.wishes import TypedFilter

    words = {
        name: given.get(option, "")
        for name, option in (
            ("donor", "donor"),
            ("drop_off", "dropoff"),
            ("type", "kind"),
            ("colour", "colour"),
            ("thickness", "thickness"),
        )
    }
    return TypedFilter(
        cleared=given["cleared"],
        only=tuple(given["only"] or ()),
        keep_off=tuple(given["keep_off"] or ()),
        **words,
    )


def read_last_day(shop: Workshop, until: str, days: str) -> date:
    """
    The last day that was typed, or the workshop's own.

    Raises:
        BadValue: If it does not parse, has passed or is too far off.
    """
    from salvage.errors import BadValue
    from salvage.work.import_drop_offs import parse_count
    from salvage.work.plans import last_day, parse_day

    if until and days:
        raise BadValue("give a last day or a number of days, not both", field="--until")
    return last_day(
        shop,
        until=parse_day(until) if until else None,
        days=parse_count(days, field="--days") if days else None,
    )


def _tell(session: Session, planned: PlannedOrder, *, stopped: bool) -> None:
    from salvage.cli.plan_view import planned_lines, planned_record

    if stopped and not session.form:
        note(session, "stopped: this is the best plan so far")
    plan = planned.plan.code if planned.plan else ""
    places = [held.code for held in planned.reservations]
    show_change(
        session,
        planned_record(planned),
        lines=planned_lines(planned),
        codes=[plan, *places] if plan else [],
        next_step=f"plan show {plan}" if plan else "",
    )
    if not plan:
        raise typer.Exit(1)


@commands.command("again", example="salvage plan again JC0001R --hold RC0001X", changes=True)
def again(
    context: typer.Context,
    code: PlanCode,
    hold: _Hold = None,
    hold_all: _HoldAll = False,
    until: Until = "",
    days: Days = "",
    seconds: Seconds = 5.0,
    any_angle: AnyAngle = False,
    angles: Angles = "",
    either_face: EitherFace = False,
    only: Only = None,
    keep_off: KeepOff = None,
    cleared: Cleared = False,
) -> None:
    """
    Plan anew what a plan has not cut yet, while given places stay as they are.

    Where no place is found for the rest, the plan stays as it was.
    """
    from salvage.cli.failures import Misuse
    from salvage.cli.plan_search import search_of, searching
    from salvage.work import planning, plans, wishes
    from salvage.work.reading import read_code

    session = session_of(context)
    if hold and hold_all:
        raise Misuse("--hold-all holds every place; leave --hold out")
    with session.open() as shop:
        plan = read_code(shop, text=code, kinds="J")
        view = plans.view_plan(shop, plan=plan)
        held = wishes.read_places(shop, hold or (), field="--hold")
        wanted = sum(state.open + state.held for state in view.lines)
        with searching(session, wanted) as watch:
            planned = planning.replan_order(
                shop,
                plan=plan,
                hold=[place.code for place in view.held] if hold_all else held,
                search=search_of(watch, context.params),
                filters=wishes.parse_filter(shop, typed_filter(context.params)),
                until=read_last_day(shop, until, days),
                dry_run=session.dry_run,
            )
    _tell(session, planned, stopped=watch.stopped)


@commands.command("extend", example="salvage plan extend JC0001R --days 14", changes=True)
def extend(context: typer.Context, code: PlanCode, until: Until = "", days: Days = "") -> None:
    """Let a plan hold its places until another day; by the workshop's settings if none is given."""
    from salvage.cli.plan_view import plan_row
    from salvage.work import plans
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        plan = read_code(shop, text=code, kinds="J")
        day = read_last_day(shop, until, days)
        view = plans.extend_plan(shop, plan=plan, until=day, dry_run=session.dry_run)
    held = count_of(len(view.held), "place")
    show_change(
        session,
        plan_row(view),
        lines=[f"{plan}  {held} held for {view.plan.for_whom} until {day}"],
        codes=[plan],
        next_step=f"plan show {plan}",
    )


@commands.command(
    "release", example="salvage plan release JC0001R --reason withdrawn", changes=True
)
def release(
    context: typer.Context,
    codes: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[PLAN]...",
            help="Plans to let go.",
            show_default=False,
            autocompletion=completer("J"),
        ),
    ] = None,
    for_whom: _ForWhom = "",
    expired: Annotated[
        bool, typer.Option("--expired", help="All plans whose last day has passed.")
    ] = False,
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why.")] = "",
) -> None:
    """Let go all places of a plan, of all expired plans, or all that is held for somebody."""
    from salvage.cli.failures import Misuse
    from salvage.work import planning, plans
    from salvage.work.reading import read_code

    session = session_of(context)
    if bool(for_whom) == bool(codes or expired):
        raise Misuse("give plans, or --expired, or --for")
    with session.open() as shop:
        if for_whom:
            freed = planning.release_order(
                shop, for_whom=for_whom, reason=reason, dry_run=session.dry_run
            )
        else:
            named = [read_code(shop, text=code, kinds="J") for code in codes or ()]
            freed = plans.release_plans(
                shop, plans=named, expired=expired, reason=reason, dry_run=session.dry_run
            )
    whom = ", ".join(dict.fromkeys(one.for_whom for one in freed))
    show_change(
        session,
        [record_of(one) for one in freed],
        lines=[f"{count_of(len(freed), 'place')} released, held until now for {whom}"],
        codes=[one.code for one in freed],
        next_step="plan list",
    )


@commands.command("list", example="salvage plan list")
def list_held(
    context: typer.Context,
    every: Annotated[
        bool, typer.Option("--all", help="Plans that hold nothing any more, too.")
    ] = False,
    places: Annotated[
        bool, typer.Option("--places", help="Every place that is held, planned or not.")
    ] = False,
) -> None:
    """List the plans that hold places, the first to expire first; or the places themselves."""
    from salvage.cli.failures import Misuse
    from salvage.cli.plan_view import plan_row
    from salvage.work import planning, plans

    session = session_of(context)
    if every and places:
        raise Misuse("--all is about plans and --places about places; give one of them")
    with session.open() as shop:
        if places:
            _show_places(session, [record_of(one) for one in planning.list_reservations(shop)])
            return
        views = plans.list_plans(shop, every=every)
        told = plans.expired_words(shop.conn, shop.today)
        single = sum(not one.plan for one in planning.list_reservations(shop))
    show_list(session, [plan_row(view) for view in views], _COLUMNS, empty="no plan holds a place")
    if session.form:
        return
    if single:
        note(session, f"besides, {count_of(single, 'place')} held one by one: plan list --places")
    for words in told:
        note(session, f"! {words}; salvage plan release --expired, or plan extend")


def _say_lines(lines: list[dict[str, Any]]) -> str:
    return ", ".join(f"{line['quantity']} x {line['name']}" for line in lines)


_COLUMNS = (
    Column("plan", "code"),
    Column("for", "for_whom"),
    Column("until", "holds_until"),
    Column("state", "state"),
    Column("asked", "lines", lambda lines: _say_lines(lines)),
    Column("held", "held"),
    Column("cut", "cut"),
    Column("open", "open"),
    Column("boards", "boards", lambda boards: str(len(boards))),
)


def _show_places(session: Session, places: list[dict[str, Any]]) -> None:
    show_list(
        session,
        places,
        (
            Column("held", "code"),
            Column("for", "for_whom"),
            Column("plan", "plan"),
            Column("board", "board"),
            Column("shape", "shape"),
            Column("x mm", "x_mm", lambda mm: f"{mm:g}"),
            Column("y mm", "y_mm", lambda mm: f"{mm:g}"),
            Column("turned", "angle_deg", lambda angle: f"{angle:g}°"),
        ),
        empty="nothing is held for anybody",
    )
