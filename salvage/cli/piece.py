"""``salvage piece``: from the bench to the fair and back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from salvage.cli.command import CommandSet
from salvage.cli.count import lines_of_codes
from salvage.cli.records import record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, show_change, show_list, show_record
from salvage.units import format_area, format_mass, format_money

if TYPE_CHECKING:
    from collections.abc import Sequence

    import typer

    from salvage.cli.options import PieceCode, PieceCodes, completer
    from salvage.ids import Code
    from salvage.records.things import Sale
    from salvage.work.pieces import PieceView
    from salvage.work.workshop import Workshop

commands = CommandSet(
    "piece", "Pieces: stages, weight, price, sale, return.", "salvage piece stage PC0001D sanded"
)


def piece_record(view: PieceView) -> dict[str, Any]:
    """A piece as a JSON object, with its cut, board, sales and parts."""
    return record_of(
        view.piece,
        cut_record=record_of(view.cut),
        board_title=view.board.title,
        sales=[record_of(sale) for sale in view.sales],
        parts=[record_of(part) for part in view.parts],
        boards=[board.code for board in view.boards],
    )


_COLUMNS = (
    Column("code", "code"),
    Column("shape", "shape"),
    Column("stage", "stage"),
    Column("recalls", "recalled", lambda count: str(count or "")),
    Column("price", "price"),
    Column("weight", "weight_g", format_mass),
    Column("board", "board"),
    Column("cards", "cards_printed"),
)


@commands.command("list", example="salvage piece list --state ready")
def list_(
    context: typer.Context,
    state: Annotated[str, typer.Option(metavar="STATE", help="A stage, recalled, or all.")] = "",
    most: Annotated[int, typer.Option(min=1, help="At most so many, the newest.")] = 100,
) -> None:
    """List the pieces that are still in the workshop, newest first."""
    from salvage.records.choices import parse_choice
    from salvage.work.pieces import PIECE_STATES, list_pieces

    session = session_of(context)
    if state:
        state = parse_choice(state, tuple(PIECE_STATES), field="--state")
    with session.open() as shop:
        records = [record_of(piece) for piece in list_pieces(shop, state=state, most=most)]
    show_list(session, records, _COLUMNS, empty="no such pieces; next: salvage cut")


@commands.command("show", example="salvage piece show PC0001D")
def show(context: typer.Context, code: PieceCode) -> None:
    """Show one piece with its cut, board and sales."""
    from salvage.cli.gate import standing_lines
    from salvage.work.gate import view_gate
    from salvage.work.pieces import view_piece
    from salvage.work.reading import read_code
    from salvage.work.trace import where_now

    session = session_of(context)
    with session.open() as shop:
        view = view_piece(shop.conn, read_code(shop, text=code, kinds="P"))
        now = where_now(shop.conn, view.piece)
        gate = view_gate(shop, piece=view.piece.code)
    record = piece_record(view) | {
        "where_now": now,
        "product": gate.product,
        "for_children": gate.for_children,
        "may_sell": not gate.stops,
        "accepted": [record_of(each) for each in gate.accepted],
    }
    plain = [column.key for column in _COLUMNS]
    page = _page(view, now)
    sales = len(page) - len(view.sales)
    lines = [*page[:sales], *standing_lines(gate), *page[sales:]]
    show_record(session, record, lines=lines, plain=plain)


def _page(view: PieceView, now: str) -> list[str]:
    piece, cut = view.piece, view.cut
    at = f"{cut.x_um / 1000:g},{cut.y_um / 1000:g} mm"
    area = format_area(cut.area_um2 / 1e6)
    lines = [
        f"{piece.code}  {piece.shape}, {now}, {area}",
        f"  cut {cut.code} from {view.board.code} ({view.board.title}) at {at}",
        f"  by {cut.by} on {cut.at[:10]} with {cut.tool}",
    ]
    if view.parts:
        parts = " ".join(part.piece for part in view.parts)
        boards = ", ".join(f"{board.code} ({board.title})" for board in view.boards)
        verb = "was assembled" if view.parts[0].taken_out_at else "assembled"
        lines = [
            f"{piece.code}  {piece.shape}, {now}",
            f"  {verb} of {parts} on {piece.made_at[:10]}",
            f"  from {boards}",
        ]
    lines.append(f"  custody: {piece.custody}; cards printed: {piece.cards_printed}")
    if piece.price_minor is not None:
        lines.append(f"  price: {format_money(piece.price_minor, piece.currency)}")
    if piece.weight_mg:
        lines.append(f"  weight: {format_mass(piece.weight_mg / 1000)}")
    return lines + [
        f"  {_sold(sale)}{_came_back(sale, ', ') if sale.returned_on else ''}"
        for sale in view.sales
    ]


def _sold(sale: Sale) -> str:
    venue = f" at {sale.venue}" if sale.venue else ""
    return f"sold for {format_money(sale.price_minor, sale.currency)}{venue} on {sale.sold_on}"


def _came_back(sale: Sale, before: str = "") -> str:
    reason = f": {sale.reason}" if sale.reason else ""
    return f"{before}came back on {sale.returned_on}{reason}"


def _read(shop: Workshop, codes: Sequence[str]) -> list[Code]:
    from salvage.work.reading import read_code

    return [read_code(shop, text=code, kinds="P") for code in codes]


def _tell(session: Session, views: Sequence[PieceView], words: str, next_step: str) -> None:
    show_change(
        session,
        [piece_record(view) for view in views],
        lines=lines_of_codes([(view.piece.code, f"{view.piece.shape} {words}") for view in views]),
        codes=[view.piece.code for view in views],
        next_step=next_step,
    )


@commands.command(
    "stage",
    example='salvage piece stage PC0001D PC0002B sealed --note "two coats" --batch VC0004U',
    changes=True,
)
def stage(
    context: typer.Context,
    codes: PieceCodes,
    to: Annotated[
        str,
        typer.Argument(
            metavar="STAGE", help="rough, sanded, sealed, assembled, ready or withdrawn."
        ),
    ],
    note: Annotated[str, typer.Option(metavar="TEXT", help="What was done.")] = "",
    batch: Annotated[
        list[str] | None,
        typer.Option(
            metavar="BATCH",
            help="A sealant, finding … that went into each; may be repeated.",
            autocompletion=completer("V"),
        ),
    ] = None,
) -> None:
    """Move pieces to a stage, or withdraw them for good with a note why."""
    from salvage.records.choices import BENCH_STAGES, parse_choice
    from salvage.work.pieces import set_stage
    from salvage.work.reading import read_code

    session = session_of(context)
    chosen = parse_choice(to, (*BENCH_STAGES, "withdrawn"), field="STAGE")
    with session.open() as shop:
        pieces = _read(shop, codes)
        views = set_stage(
            shop,
            pieces=pieces,
            stage=chosen,
            note=note,
            batches=[read_code(shop, text=code, kinds="V") for code in batch or ()],
            dry_run=session.dry_run,
        )
    step = f"card {pieces[0]}" if chosen == "ready" else f"piece show {pieces[0]}"
    _tell(session, views, f"is {chosen}", step)


@commands.command("weigh", example="salvage piece weigh PC0001D 4.2g", changes=True)
def weigh(
    context: typer.Context,
    code: PieceCode,
    weight: Annotated[str, typer.Argument(metavar="MASS", help="Such as 4.2g.")],
) -> None:
    """Record a piece's weight."""
    from salvage.units import parse_mass_g
    from salvage.work.pieces import weigh_piece

    session = session_of(context)
    grams = parse_mass_g(weight, field="MASS")
    with session.open() as shop:
        (piece,) = _read(shop, [code])
        view = weigh_piece(shop, piece=piece, weight_g=grams, dry_run=session.dry_run)
    _tell(session, [view], f"weighs {format_mass(grams)}", f"piece price {piece} …")


@commands.command("price", example="salvage piece price PC0001D PC0002B 18.50", changes=True)
def price(
    context: typer.Context,
    codes: PieceCodes,
    amount: Annotated[str, typer.Argument(metavar="AMOUNT", help="In the workshop's currency.")],
) -> None:
    """Price one or more pieces."""
    from salvage.units import parse_money
    from salvage.work.pieces import set_price

    session = session_of(context)
    with session.open() as shop:
        pieces = _read(shop, codes)
        currency = shop.settings.currency
        minor = parse_money(amount, currency=currency, field="AMOUNT")
        views = set_price(shop, pieces=pieces, price_minor=minor, dry_run=session.dry_run)
    _tell(session, views, f"priced {format_money(minor, currency)}", f"card {pieces[0]}")


@commands.command(
    "sell", example='salvage piece sell PC0001D --price 20 --venue "Harbour fair"', changes=True
)
def sell(
    context: typer.Context,
    code: PieceCode,
    price: Annotated[
        str, typer.Option(metavar="AMOUNT", help="What was paid; the marked price if left out.")
    ] = "",
    venue: Annotated[str, typer.Option(metavar="TEXT", help="Where it was sold.")] = "",
    date: Annotated[str, typer.Option(metavar="DAY", help="Day; today if left out.")] = "",
) -> None:
    """Record a sale."""
    from salvage.cli.gate import tell_notices
    from salvage.cli.gather import Gatherer
    from salvage.units import parse_date, parse_money
    from salvage.work.gate import view_gate
    from salvage.work.pieces import sell

    session, gather = session_of(context), Gatherer()
    with session.open() as shop:
        (piece,) = _read(shop, [code])
        currency = shop.settings.currency
        paid = (
            gather.take(lambda: parse_money(price, currency=currency, field="--price"), 0)
            if price
            else None
        )
        day = gather.take(
            lambda: parse_date(date, today=shop.today, field="--date") if date else None, None
        )
        gather.finish()
        view = sell(
            shop, piece=piece, price_minor=paid, venue=venue, sold_on=day, dry_run=session.dry_run
        )
        gate = view_gate(shop, piece=piece)
    _tell(session, [view], _sold(view.sales[-1]), f"trace {piece}")
    tell_notices(session, gate)


@commands.command(
    "return", example='salvage piece return PC0001D --reason "pin came loose"', changes=True
)
def return_(
    context: typer.Context,
    code: PieceCode,
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why it came back.")] = "",
    date: Annotated[str, typer.Option(metavar="DAY", help="Day; today if left out.")] = "",
    refund: Annotated[
        str, typer.Option(metavar="AMOUNT", help="Given back; all that was paid if left out.")
    ] = "",
    paid: Annotated[
        str, typer.Option("--paid", metavar="HOW", help="Given back by cash, card or other.")
    ] = "",
) -> None:
    """Record that a buyer brought a piece back."""
    from salvage.records.choices import parse_choice
    from salvage.records.season import PAYMENTS
    from salvage.units import parse_date, parse_money
    from salvage.work.pieces import take_back

    session = session_of(context)
    with session.open() as shop:
        (piece,) = _read(shop, [code])
        day = parse_date(date, today=shop.today, field="--date") if date else None
        view = take_back(
            shop,
            piece=piece,
            reason=reason,
            returned_on=day,
            refund_minor=(
                parse_money(refund, currency=shop.settings.currency, field="--refund")
                if refund
                else None
            ),
            paid_by=parse_choice(paid, PAYMENTS, field="--paid") if paid else "",
            dry_run=session.dry_run,
        )
    _tell(session, [view], _came_back(view.sales[-1]), f"piece stage {piece} …")
