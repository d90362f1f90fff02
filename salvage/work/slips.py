"""Slips of the ledger: what was sold or given back at one time, and how it was paid."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from salvage.errors import BadValue, NotFound, Refused
from salvage.frozen import dataclass, replace
from salvage.ids import Code
from salvage.records.season import Outing, Slip, SlipLine
from salvage.records.things import Piece, Sale
from salvage.store.lookup import load_outing, load_piece
from salvage.store.rows import select, select_one
from salvage.units import format_money
from salvage.work.amounts import part_of, share_out, tax_within
from salvage.work.day_order import check_order
from salvage.work.gate import check_gate
from salvage.work.sellable import check_sale_day, check_sellable, standing_sale
from salvage.work.settings import read_settings

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Sequence

    from salvage.canonical import Json
    from salvage.store.change import Change

NO_CODE = Code("")
"""Stands for no piece, order or outing."""


@dataclass(frozen=True, slots=True)
class SaleItem:
    """
    One piece to be sold.

    Args:
        piece: Its code; empty where its label was lost.
        words, is_gift: What it is, where the label was lost; whether it is given away.
        price_minor: What is asked for it; the marked price if left out.
    """

    piece: Code = NO_CODE
    words: str = ""
    price_minor: int | None = None
    is_gift: bool = False


@dataclass(frozen=True, slots=True)
class Terms:
    """
    How a sale or refund is made.

    Args:
        day: On which.
        paid_by: One of :data:`salvage.records.season.PAYMENTS`, or empty where nobody noted it.
        venue: Where, in words; the name of the outing if left out.
        outing: Which it belongs to; without it and a venue, the one that is open on this device.
        order: The order that it hands over.
        notes: Why it came back, or what else is worth keeping.
    """

    day: date
    paid_by: str = ""
    venue: str = ""
    outing: str = ""
    order: str = ""
    notes: str = ""


@dataclass(frozen=True, slots=True)
class Discount:
    """
    Something off a whole sale: an amount, or a part of it.

    Args:
        minor: Minor units.
        ppm: Millionths of the sum of the asked prices, gifts left out.
    """

    minor: int = 0
    ppm: int = 0


NO_DISCOUNT = Discount()
"""Nothing off."""


@dataclass(frozen=True, slots=True)
class SlipView:
    """
    A slip with its lines.

    Args:
        slip, lines: The record, and its lines in order.
    """

    slip: Slip
    lines: tuple[SlipLine, ...]

    @property
    def total_minor(self) -> int:
        """What was paid, or given back."""
        return sum(line.paid_minor for line in self.lines)


def view_slip(conn: sqlite3.Connection, number: str) -> SlipView:
    """
    The slip with this number.

    Raises:
        NotFound: If there is none.
    """
    slip = select_one(conn, Slip, "FROM slip WHERE number = ?", (number,))
    if slip is None:
        raise NotFound(f"there is no slip {number}", hint="salvage sales list")
    return SlipView(
        slip, select(conn, SlipLine, "FROM slip_line WHERE slip = ? ORDER BY n", (number,))
    )


def outing_here(conn: sqlite3.Connection, device: str) -> Outing | None:
    """The outing that is open on a device, the newest if several are."""
    rest = "FROM outing WHERE state = 'open' AND opened_device = ? ORDER BY opened_at DESC LIMIT 1"
    return select_one(conn, Outing, rest, (device,))


def settle_terms(change: Change, terms: Terms) -> Terms:
    """
    Terms with the outing and venue that they mean.

    Raises:
        NotFound: If there is no such outing.
        Refused: If it is not open.
    """
    if terms.outing:
        found = load_outing(change.conn, Code(terms.outing))
        if found.state != "open":
            raise Refused(
                f"{found.code} ({found.name}) is {found.state}, not open",
                hint=f"salvage outing open {found.code}"
                if found.state == "planned"
                else "its closing can be undone: salvage history " + found.code,
            )
        return replace(terms, venue=terms.venue or found.name)
    if terms.venue or terms.order:
        return terms
    here = outing_here(change.conn, change.author.device)
    if here is None:
        return terms
    paid_by = terms.paid_by or "cash"
    return replace(terms, outing=here.code, venue=here.name, paid_by=paid_by)


def append_sale(
    change: Change,
    items: Sequence[SaleItem],
    terms: Terms,
    *,
    discount: Discount,
    refunded: int = 0,
) -> SlipView:
    """
    Journal a sale inside an open change: the pieces' own events, then the slip.

    Args:
        change: The open change.
        items: What is sold.
        terms: How, after :func:`settle_terms`.
        discount: Off the whole sale.
        refunded: What is given back at the same time, in minor units.

    Raises:
        NotFound: If a piece is not known.
        Refused: If a piece may not be sold.
        BadValue: If a price is missing or the discount is more than the whole.
    """
    settings = read_settings(change.conn)
    asked = [_ask(change.conn, item, settings.currency) for item in items]
    lines, currency = price_lines(asked, discount), _one_currency(change, asked, terms)
    keeps = settings.card_fee_ppm if terms.paid_by == "card" else 0
    fee = part_of(max(0, sum(line.paid_minor for line in lines) - refunded), keeps)
    data: dict[str, Json] = {
        "currency": currency,
        "tax_ppm": settings.tax_ppm,
        "tax_note": settings.tax_note,
        "lines": _sell_lines(change, lines, terms, fee=fee, tax_ppm=settings.tax_ppm or 0),
    }
    pieces = [line.item.piece for line in lines if line.item.piece]
    return _append_slip(change, "sale.made", pieces, terms, data)


def _sell_lines(
    change: Change, lines: Sequence[PricedLine], terms: Terms, *, fee: int, tax_ppm: int
) -> list[Json]:
    """Journal each piece's own sale and give the slip's lines; tax and fee are shared by price."""
    paid = [line.paid_minor for line in lines]
    taxes, fees = share_out(tax_within(sum(paid), tax_ppm), paid), share_out(fee, paid)
    told: list[Json] = []
    for line, tax_minor, fee_minor in zip(lines, taxes, fees, strict=True):
        n = _sell_piece(change, line, terms) if line.item.piece else 0
        told.append(
            {
                "piece": line.item.piece,
                "sale_n": n,
                "words": line.words,
                "list_minor": line.list_minor,
                "discount_minor": line.list_minor - line.paid_minor,
                "paid_minor": line.paid_minor,
                "tax_minor": tax_minor,
                "fee_minor": fee_minor,
                "is_gift": line.item.is_gift,
            }
        )
    return told


@dataclass(frozen=True, slots=True)
class PricedLine:
    """
    A piece with what is asked and what is paid for it.

    Args:
        item: What is sold.
        words: What it is.
        currency: Of its price.
        list_minor: The price before any discount.
        paid_minor: The price after it.
    """

    item: SaleItem
    words: str
    currency: str
    list_minor: int
    paid_minor: int


def price_lines(asked: Sequence[PricedLine], discount: Discount) -> tuple[PricedLine, ...]:
    """
    Lines with a discount shared over them by price, to the last minor unit.

    Args:
        asked: Lines at their asked prices.
        discount: Off the whole; gifts take no share of it.

    Raises:
        BadValue: If the discount is more than the whole, or both an amount and a part.
    """
    whole = sum(line.paid_minor for line in asked)
    if discount.minor and discount.ppm:
        raise BadValue("give an amount or a part off, not both", field="--discount")
    off = discount.minor or part_of(whole, discount.ppm)
    if off > whole:
        raise BadValue("the discount is more than the whole price", field="--discount")
    shares = share_out(off, [line.paid_minor for line in asked])
    return tuple(
        replace(line, paid_minor=line.paid_minor - share)
        for line, share in zip(asked, shares, strict=True)
    )


def _ask(conn: sqlite3.Connection, item: SaleItem, currency: str) -> PricedLine:
    """What is asked for one piece; a marked price keeps its currency."""
    if not item.piece:
        if not item.words.strip() or item.price_minor is None:
            raise BadValue("a piece without a label needs words and a price", hint="?kite=12.50")
        return PricedLine(item, item.words.strip(), currency, item.price_minor, item.price_minor)
    piece = load_piece(conn, item.piece)
    is_marked = item.price_minor is None and piece.price_minor is not None
    price = piece.price_minor if is_marked else item.price_minor
    if price is None and not item.is_gift:
        mend = f"salvage piece price {piece.code} AMOUNT; or in the sale: --price, {piece.code}=12"
        raise BadValue(f"{piece.code} has no price", hint=mend)
    listed, paid = price or 0, 0 if item.is_gift else price or 0
    return PricedLine(item, piece.shape, piece.currency if is_marked else currency, listed, paid)


def _one_currency(change: Change, lines: Sequence[PricedLine], terms: Terms) -> str:
    """
    The currency of a sale.

    Raises:
        BadValue: If its prices are in several, or not in that of the outing.
    """
    found = {line.currency for line in lines}
    if terms.outing:
        found.add(load_outing(change.conn, Code(terms.outing)).currency)
    if len(found) > 1:
        raise BadValue(
            f"prices in {' and '.join(sorted(found))} cannot stand on one slip",
            hint="sell them one by one, or price them anew",
        )
    return found.pop()


def _sell_piece(change: Change, line: PricedLine, terms: Terms) -> int:
    piece = load_piece(change.conn, line.item.piece)
    check_sellable(change.conn, piece, order=terms.order)
    today = change.author.at.astimezone().date()
    check_gate(change.conn, piece, read_settings(change.conn).markets, today)
    check_sale_day(piece, sales_of(change.conn, piece), terms.day)
    n = change.next_numbers("sale", "piece", piece.code)[0]
    data: dict[str, Json] = {
        "n": n,
        "price_minor": line.paid_minor,
        "currency": line.currency,
        "venue": terms.venue,
        "sold_on": terms.day.isoformat(),
    }
    change.append("piece.sold", (piece.code,), data)
    return n


def sales_of(conn: sqlite3.Connection, piece: Piece) -> tuple[Sale, ...]:
    """All sales of a piece, oldest first."""
    return select(conn, Sale, "FROM sale WHERE piece = ? ORDER BY n", (piece.code,))


def _append_slip(
    change: Change, kind: str, pieces: Sequence[Code], terms: Terms, data: dict[str, Json]
) -> SlipView:
    named = [Code(code) for code in (terms.outing, terms.order) if code]
    event = change.append(
        kind,
        (*pieces, *named),
        data
        | {
            "day": terms.day.isoformat(),
            "paid_by": terms.paid_by,
            "venue": terms.venue,
            "outing": terms.outing,
            "order": terms.order,
            "notes": terms.notes,
        },
    )
    return view_slip(change.conn, f"{event.device}{event.n}")


def append_refund(
    change: Change, code: Code, terms: Terms, *, refund_minor: int | None = None
) -> SlipView:
    """
    Journal inside an open change that a piece came back and what was given back for it.

    Args:
        change: The open change.
        code: The piece.
        terms: How, after :func:`settle_terms`; its notes say why.
        refund_minor: What is given back; all that was paid if left out.

    Raises:
        NotFound: If the piece is not known.
        Refused: If it is not sold.
        BadValue: If the day is before the sale, or more is given back than was paid.
    """
    piece = load_piece(change.conn, code)
    sale = standing_sale(code, piece.stage, sales_of(change.conn, piece))
    check_order(date.fromisoformat(sale.sold_on), terms.day, words=f"{code} was sold")
    back = sale.price_minor if refund_minor is None else refund_minor
    if back > sale.price_minor:
        paid = format_money(sale.price_minor, sale.currency)
        raise BadValue(f"only {paid} was paid for {code}", field="--refund")
    ppm, note, tax = _tax_of(change.conn, sale, back)
    change.append(
        "piece.returned",
        (code,),
        {"n": sale.n, "returned_on": terms.day.isoformat(), "reason": terms.notes},
    )
    line: dict[str, Json] = {
        "piece": code,
        "sale_n": sale.n,
        "words": piece.shape,
        "list_minor": sale.price_minor,
        "discount_minor": 0,
        "paid_minor": back,
        "tax_minor": tax,
        "fee_minor": 0,
        "is_gift": False,
    }
    data: dict[str, Json] = {
        "currency": sale.currency,
        "tax_ppm": ppm,
        "tax_note": note,
        "lines": [line],
    }
    return _append_slip(change, "sale.refunded", (code,), terms, data)


def _tax_of(conn: sqlite3.Connection, sale: Sale, back: int) -> tuple[int | None, str, int]:
    """Rate, note and amount of tax that come back with a refund, by the slip of the sale."""
    row = conn.execute(
        "SELECT tax_ppm, tax_note, tax_minor FROM slip_line JOIN slip ON number = slip"
        " WHERE piece = ? AND sale_n = ? AND kind = 'sale' AND piece <> ''",
        (sale.piece, sale.n),
    ).fetchone()
    if row is None:  # sold before slips were kept
        return None, "", 0
    ppm, note, tax = row
    return ppm, str(note), int(tax) if back == sale.price_minor else tax_within(back, ppm or 0)
