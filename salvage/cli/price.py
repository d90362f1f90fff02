"""``salvage price``: time, cost, the price that follows, and what an hour brings."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Annotated, Any

from salvage.cli.command import CommandSet
from salvage.cli.count import count_of
from salvage.cli.records import record_of
from salvage.cli.session import session_of
from salvage.cli.show import Column, show_change, show_list, show_record
from salvage.units import format_money

if TYPE_CHECKING:
    import typer

    from salvage.work.prices import Cost
    from salvage.work.tool_comparison import ToolResult

commands = CommandSet(
    "price",
    "Working time, what a piece costs, and a price by your own rule.",
    "salvage price show PC0001D",
)


def _minutes(seconds: Decimal | int) -> str:
    from salvage.work.season_words import format_minutes

    return format_minutes(round(seconds))


@commands.command("time", example="salvage price time finishing 25 PC0001D PC0002B", changes=True)
def time(
    context: typer.Context,
    step: Annotated[
        str,
        typer.Argument(
            metavar="STEP", help="preparation, cutting, finishing, assembling or packing."
        ),
    ],
    minutes: Annotated[
        str, typer.Argument(metavar="MINUTES", help="For all of them: 12.5, 1h20, 45s.")
    ],
    pieces: Annotated[list[str], typer.Argument(metavar="PIECE...", help="One or a batch.")],
    note: Annotated[str, typer.Option(metavar="TEXT", help="What was done.")] = "",
) -> None:
    """Note the time that a step took; a batch shares it equally."""
    from salvage.records.choices import parse_choice
    from salvage.records.season import STEPS
    from salvage.work.reading import read_code
    from salvage.work.times import note_time, parse_minutes

    session = session_of(context)
    chosen, seconds = parse_choice(step, STEPS, field="STEP"), parse_minutes(minutes)
    with session.open() as shop:
        codes = [read_code(shop, text=piece, kinds="P") for piece in pieces]
        noted = note_time(
            shop, pieces=codes, step=chosen, seconds=seconds, note=note, dry_run=session.dry_run
        )
    shares = [{"piece": code, "seconds": share} for code, share in noted.shares]
    show_change(
        session,
        {"step": noted.step, "seconds": noted.seconds, "shares": shares},
        lines=[f"{_minutes(seconds)} of {chosen} on {count_of(len(shares), 'piece')}"],
        codes=[code for code, _ in noted.shares],
        next_step=f"price show {codes[0]}",
    )


@commands.command("rate", example="salvage price rate cutting 6 --shape tern", changes=True)
def rate(
    context: typer.Context,
    step: Annotated[str, typer.Argument(metavar="STEP", help="A step, as for 'price time'.")],
    minutes: Annotated[
        str, typer.Argument(metavar="MINUTES", help="For one piece; none takes the rate away.")
    ],
    shape: Annotated[
        str, typer.Option(metavar="NAME", help="Only this shape; every other one if left out.")
    ] = "",
    tool: Annotated[
        str, typer.Option(metavar="TOOL", help="Only by router or shears; by any if left out.")
    ] = "",
) -> None:
    """Set the time that is reckoned with where nothing was measured."""
    from salvage.records.choices import parse_choice
    from salvage.records.season import STEPS
    from salvage.work.times import parse_minutes, rate_step

    session = session_of(context)
    chosen = parse_choice(step, STEPS, field="STEP")
    seconds = None if minutes.strip().lower() == "none" else parse_minutes(minutes)
    with session.open() as shop:
        rate_step(
            shop, step=chosen, seconds=seconds, shape=shape, tool=tool, dry_run=session.dry_run
        )
    told = "no rate" if seconds is None else _minutes(seconds)
    by = f" by {tool}" if tool else ""
    show_change(
        session,
        {"shape": shape, "step": chosen, "tool": tool, "seconds": seconds},
        lines=[f"{chosen}{by} of {shape or 'every other shape'}: {told}"],
        codes=[chosen],
        next_step="price rates",
    )


@commands.command("rates", example="salvage price rates")
def rates(context: typer.Context) -> None:
    """List the rates that are reckoned with where nothing was measured."""
    from salvage.work.times import list_rates

    session = session_of(context)
    with session.open() as shop:
        records = [record_of(one) for one in list_rates(shop)]
    columns = (
        Column("shape", "shape", lambda shape: shape or "every other"),
        Column("step", "step"),
        Column("tool", "tool", lambda tool: tool or "any"),
        Column("time", "seconds", _minutes),
    )
    show_list(session, records, columns, empty="no rates yet; next: salvage price rate")


@commands.command("show", example="salvage price show tern --tool shears")
def show(
    context: typer.Context,
    thing: Annotated[str, typer.Argument(metavar="THING", help="A piece, or a shape's name.")],
    tool: Annotated[
        str, typer.Option(metavar="TOOL", help="Of a shape: router or shears.")
    ] = "router",
) -> None:
    """
    Show what a piece or a shape costs, part by part, and the price that follows.

    The rule is yours: hourly-rate, material-factor, selling-cost, tax-rate and price-step of
    'salvage setup'. Halves are rounded up.
    """
    from salvage.errors import BadCode
    from salvage.ids import parse_code
    from salvage.work.prices import cost_of_piece, cost_of_shape
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        try:
            parse_code(thing)
        except BadCode:
            cost = cost_of_shape(shop, shape=thing, tool=tool)
        else:
            cost = cost_of_piece(shop, piece=read_code(shop, text=thing, kinds="P"))
    plain = [
        "about",
        "tool",
        "seconds",
        "cost_minor",
        "suggested_minor",
        "marked_minor",
        "currency",
    ]
    show_record(session, _cost_record(cost), lines=_cost_lines(cost), plain=plain)


def _cost_record(cost: Cost) -> dict[str, Any]:
    return {
        "about": cost.about,
        "tool": cost.tool,
        "steps": [
            {
                "step": step.time.step,
                "seconds": round(step.time.seconds),
                "source": step.time.source,
                "count": step.time.count,
                "cost_minor": step.minor,
            }
            for step in cost.steps
        ],
        "seconds": round(cost.seconds),
        "labour_minor": cost.labour_minor,
        "material_minor": cost.material_minor,
        "material_priced_minor": cost.material_priced_minor,
        "selling_minor": cost.selling_minor,
        "cost_minor": cost.cost_minor,
        "tax_minor": cost.tax_minor,
        "suggested_minor": cost.suggested_minor,
        "suggested": format_money(cost.suggested_minor, cost.currency),
        "marked_minor": cost.marked_minor,
        "currency": cost.currency,
    }


def _cost_lines(cost: Cost) -> list[str]:
    def money(minor: int) -> str:
        return f"{format_money(minor, cost.currency):>12}"

    lines = [f"{cost.about}  by {cost.tool}"]
    for step in cost.steps:
        source = "by rate"
        if step.time.source == "measured":
            source = f"measured on {count_of(step.time.count, 'piece')}"
        lines.append(
            f"  {step.time.step:14} {money(step.minor)}  {_minutes(step.time.seconds)}, {source}"
        )
    if not cost.steps:
        lines.append("  no time is known: salvage price time …, or salvage price rate …")
    for words, minor in (
        ("consumables", cost.material_priced_minor),
        ("selling", cost.selling_minor),
        ("tax", cost.tax_minor),
    ):
        if minor:
            lines.append(f"  {words:14} {money(minor)}")
    lines.append(f"  {'suggested':14} {money(cost.suggested_minor)}")
    if cost.marked_minor is not None:
        lines.append(f"  {'marked':14} {money(cost.marked_minor)}")
    return lines


@commands.command("compare", example="salvage price compare tern")
def compare(
    context: typer.Context,
    shape: Annotated[
        str, typer.Argument(metavar="[SHAPE]", help="Only this one; all if left out.")
    ] = "",
) -> None:
    """Compare work by hand and by router, shape by shape: time, waste, and what an hour brings."""
    from salvage.work.tool_comparison import compare_tools

    session = session_of(context)
    with session.open() as shop:
        records = [_result_record(one) for one in compare_tools(shop, shape=shape)]
    columns = (
        Column("shape", "shape"),
        Column("tool", "tool"),
        Column("made", "made"),
        Column("spoilt", "spoilt_percent", lambda share: f"{share:.0f} %"),
        Column("cutting", "cutting_seconds", _minutes),
        Column("in all", "seconds", _minutes),
        Column("known", "measured", lambda measured: "measured" if measured else "by rate"),
        Column("sold", "sold"),
        Column("an hour brings", "hourly"),
    )
    show_list(session, records, columns, empty="nothing was cut yet")


def _result_record(one: ToolResult) -> dict[str, Any]:
    hourly = one.hourly_minor
    return {
        "shape": one.shape,
        "tool": one.tool,
        "made": one.made,
        "spoilt": one.spoilt,
        "spoilt_percent": round(one.spoilt_percent, 1),
        "seconds": round(one.seconds),
        "cutting_seconds": round(one.cutting_seconds),
        "measured": one.measured,
        "sold": one.sold,
        "earned_minor": one.earned_minor,
        "hourly_minor": hourly,
        "hourly": None if hourly is None else format_money(hourly, one.currency),
        "currency": one.currency,
    }
