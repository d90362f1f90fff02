"""``salvage gate``: what stands between a piece and its sale, market by market."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.records import record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import show_change, show_record, warn
from salvage.work.gate import ADVICE, GateView, Point

if TYPE_CHECKING:
    from salvage.cli.options import PieceCode, PieceCodes

commands = CommandSet(
    "gate",
    "Before a sale: limits by market, evidence for each part, children, skin contact.",
    "salvage gate show PC0001D",
)


def point_record(point: Point) -> dict[str, Any]:
    """One point as a JSON object."""
    return {
        "point": point.name,
        "market": point.market,
        "verdict": point.verdict,
        "effect": point.effect,
        "words": point.words,
        "limit": point.limit.slug if point.limit else "",
        "source": point.source,
        "weak": point.limit.source.is_weak if point.limit else True,
        "may_accept": point.may_accept,
        "accepted": point.accepted,
    }


def gate_record(view: GateView) -> dict[str, Any]:
    """A piece at the gate as a JSON object."""
    return {
        "code": view.piece.code,
        "product": view.product,
        "audience": view.audience,
        "for_children": view.for_children,
        "may_sell": not view.stops,
        "markets": list(view.markets),
        "parts": [
            {"part": part.part, "of": part.of, "words": part.words, "assays": len(part.assays)}
            for part in view.parts
        ],
        "points": [point_record(point) for point in view.points],
        "accepted": [record_of(each) for each in view.accepted],
    }


_MARKS = {"stops": "STOPS", "warns": "warns", "clear": "clear"}


def gate_lines(view: GateView) -> list[str]:
    """A piece at the gate for people: each point with its effect, name and source."""
    if view.stops:
        go = "kept from sale"
    elif view.markets:
        go = "may be sold as far as our list goes"
    else:
        go = "held against no limit, which clears nothing"
    whom = "for children" if view.for_children else "not for children"
    markets = ", ".join(view.markets) or "no market chosen"
    lines = [f"{view.piece.code}  {view.product}, {whom}; {markets}: {go}"]
    for point in view.points:
        lines.append(f"  {_MARKS[point.effect]}  {point.name}: {point.words}")
        if point.accepted:
            lines.append(f"         accepted: {point.accepted}")
        if point.effect != "clear" and point.limit:
            lines.append(f"         source: {point.source}")
    standing = {point.name for point in view.points if point.accepted}
    lines += [
        f"  accepted earlier by {each.by}, {each.point}: {each.reason}"
        for each in view.accepted
        if each.point not in standing
    ]
    return lines


def standing_lines(view: GateView) -> list[str]:
    """How a piece stands at the gate, for its own page: in short, and what was answered for."""
    whom = "for children" if view.for_children else "not for children"
    stops = len(view.stops)
    go = f"kept from sale by {stops} point{'s' if stops > 1 else ''}" if stops else "nothing stops"
    return [
        f"  gate: {view.product}, {whom}; {go} ('salvage gate show {view.piece.code}' tells)",
        *(
            f"  accepted by {each.by} on {each.at[:10]}, {each.point}: {each.reason}"
            for each in view.accepted
        ),
    ]


def tell_notices(session: Session, view: GateView) -> None:
    """
    Say beside a sale what only warns, markets without known limits among it.

    Args:
        session: The run; a script is told by 'gate show'.
        view: The piece that was sold; nothing is said while no market is chosen.
    """
    warned = [point for point in view.points if point.effect == "warns"]
    if session.form or not view.markets or not warned:
        return
    for point in warned:
        warn(session, f"{point.name}: {point.accepted and 'accepted, '}{point.words}")


@commands.command("show", example="salvage gate show PC0001D")
def show(context: typer.Context, code: PieceCode) -> None:
    """Show what keeps a piece from being sold, and what is only to be known."""
    from salvage.work.gate import view_gate
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        view = view_gate(shop, piece=read_code(shop, text=code, kinds="P"))
    plain = ("code", "product", "audience", "may_sell")
    show_record(session, gate_record(view), lines=gate_lines(view), plain=plain)
    if not session.form:
        warn(session, ADVICE)


def _tell(session: Session, views: Sequence[GateView], next_step: str) -> None:
    show_change(
        session,
        [gate_record(view) for view in views],
        lines=[line for view in views for line in gate_lines(view)],
        codes=[view.piece.code for view in views],
        next_step=next_step,
    )
    if not session.form:
        warn(session, ADVICE)


Seen = "absent, present, not checked or cannot tell."
Solder = Annotated[str, typer.Option(metavar="SEEN", help=f"Joints: {Seen}")]
Components = Annotated[str, typer.Option(metavar="SEEN", help="Parts that are still on it.")]
Metal = Annotated[str, typer.Option(metavar="SEEN", help="Bare copper, gold or nickel.")]
Findings = Annotated[str, typer.Option(metavar="SEEN", help="Hooks, rings, clasps.")]
Coating = Annotated[str, typer.Option(metavar="SEEN", help="Varnish or resin.")]


@commands.command(
    "describe",
    example="salvage gate describe PC0001D PC0002B pendant --solder absent --components absent",
    changes=True,
)
def describe(
    context: typer.Context,
    codes: PieceCodes,
    product: Annotated[
        str,
        typer.Argument(
            metavar="KIND",
            help="earring, pendant, ring, bracelet, brooch, hair accessory, key ring, ornament.",
        ),
    ],
    solder: Solder = "not checked",
    components: Components = "not checked",
    metal: Metal = "not checked",
    findings: Findings = "not checked",
    coating: Coating = "not checked",
) -> None:
    """Say what pieces are to be, and which parts a buyer can touch; unsaid counts as there."""
    from salvage.cli.gather import Gatherer
    from salvage.knowledge.product_rules import PRODUCTS
    from salvage.records.choices import FINDINGS, parse_choice
    from salvage.work.gate_steps import NewProduct, describe_pieces
    from salvage.work.reading import read_code

    session, gather = session_of(context), Gatherer()

    def seen(text: str, name: str) -> str:
        return gather.take(lambda: parse_choice(text, FINDINGS, field=f"--{name}"), "")

    new = NewProduct(
        gather.take(lambda: parse_choice(product, PRODUCTS, field="KIND"), ""),
        solder=seen(solder, "solder"),
        component=seen(components, "components"),
        metal=seen(metal, "metal"),
        finding=seen(findings, "findings"),
        coating=seen(coating, "coating"),
    )
    gather.finish()
    with session.open() as shop:
        pieces = [read_code(shop, text=code, kinds="P") for code in codes]
        views = describe_pieces(shop, pieces=pieces, new=new, dry_run=session.dry_run)
    _tell(session, views, f"assay add {pieces[0]} …")


@commands.command(
    "audience", example='salvage gate audience PC0001D child --reason "report L-204"', changes=True
)
def audience(
    context: typer.Context,
    code: PieceCode,
    whom: Annotated[str, typer.Argument(metavar="WHOM", help="adult or child.")],
    reason: Annotated[str, typer.Option(metavar="TEXT", help="What it rests on.")] = "",
) -> None:
    """Mark a piece for children; refused without evidence for each part it has."""
    from salvage.knowledge.product_rules import AUDIENCES
    from salvage.records.choices import parse_choice
    from salvage.work.gate_steps import set_audience
    from salvage.work.reading import read_code

    session = session_of(context)
    chosen = parse_choice(whom, AUDIENCES, field="WHOM")
    with session.open() as shop:
        piece = read_code(shop, text=code, kinds="P")
        view = set_audience(
            shop, piece=piece, audience=chosen, reason=reason, dry_run=session.dry_run
        )
    _tell(session, [view], f"label {piece}")


@commands.command(
    "accept",
    example='salvage gate accept PC0001D eu-jewellery-lead --reason "bare laminate, no joints"',
    changes=True,
)
def accept(
    context: typer.Context,
    codes: PieceCodes,
    point: Annotated[
        str, typer.Argument(metavar="POINT", help="Its name, or the beginning of several.")
    ],
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why you answer for it.")] = "",
) -> None:
    """Answer for an open point with a reason, which is shown for ever."""
    from salvage.work.gate_steps import accept_point
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        pieces = [read_code(shop, text=code, kinds="P") for code in codes]
        views = accept_point(
            shop, pieces=pieces, point=point, reason=reason, dry_run=session.dry_run
        )
    _tell(session, views, f"piece stage {pieces[0]} ready")
