"""The ledger of sales: every slip line by line, and totals that add up to the last cent."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.frozen import dataclass
from salvage.work.slips import SlipView, view_slip

if TYPE_CHECKING:
    import sqlite3
    from datetime import date

    from salvage.work.workshop import Workshop

# Sales and returns of the time before slips were kept stand in the ledger too: such a return gave
# the whole price back, since nothing else was noted.
_LEDGER = """
WITH ledger AS (
    SELECT day, number AS slip, kind, n, piece, words, list_minor, discount_minor, paid_minor,
           tax_minor, fee_minor, is_gift, currency, tax_ppm, tax_note, paid_by, outing, venue,
           customer_order, notes, at
    FROM slip JOIN slip_line ON slip = number
    UNION ALL
    SELECT sold_on, '', 'sale', n, sale.piece, shape, sale.price_minor, 0, sale.price_minor,
           0, 0, 0, sale.currency, NULL, '', '', '', venue, '', '', sold_on
    FROM sale JOIN piece ON piece.code = sale.piece
    WHERE NOT EXISTS (
        SELECT 1 FROM slip_line AS line JOIN slip ON number = slip WHERE kind = 'sale'
        AND line.piece <> '' AND line.piece = sale.piece AND line.sale_n = sale.n)
    UNION ALL
    SELECT returned_on, '', 'refund', n, sale.piece, shape, sale.price_minor, 0, sale.price_minor,
           0, 0, 0, sale.currency, NULL, '', '', '', venue, '', reason, returned_on
    FROM sale JOIN piece ON piece.code = sale.piece
    WHERE returned_on <> ''
      AND NOT EXISTS (
        SELECT 1 FROM slip_line AS line JOIN slip ON number = slip WHERE kind = 'refund'
        AND line.piece <> '' AND line.piece = sale.piece AND line.sale_n = sale.n)
)
"""

GROUPS = {
    "all": "''",
    "day": "day",
    "month": "substr(day, 1, 7)",
    "year": "substr(day, 1, 4)",
    "outing": "outing",
    "venue": "venue",
    "shape": "words",
    "paid": "paid_by",
    "tax": "tax_ppm",
}
"""What totals may be taken by, with the expression for it."""


@dataclass(frozen=True, slots=True)
class LedgerLine:
    """
    One piece on one slip; amounts of refunds are below zero.

    Args:
        day: On which.
        slip: The slip's number; empty for sales of the time before slips were kept.
        kind: ``sale`` or ``refund``.
        n: Its line on the slip.
        piece: Its code; empty where the label was lost.
        words: What it is.
        list_minor: The price before a discount.
        discount_minor: What was taken off.
        paid_minor: What was paid.
        tax_minor: Tax that this holds.
        fee_minor: What the bank keeps of it.
        is_gift: 1 where it was given away.
        currency: Of all amounts.
        tax_ppm: Rate of the tax in millionths; None where none was noted.
        tax_note: What was noted about tax.
        paid_by: How it was paid; empty where nobody noted it.
        outing: Code of the outing, or empty.
        venue: Where, in words.
        customer_order: Code of the order that it hands over, or empty.
        notes: Why it came back, or another note.
    """

    day: str
    slip: str
    kind: str
    n: int
    piece: str
    words: str
    list_minor: int
    discount_minor: int
    paid_minor: int
    tax_minor: int
    fee_minor: int
    is_gift: int
    currency: str
    tax_ppm: int | None
    tax_note: str
    paid_by: str
    outing: str
    venue: str
    customer_order: str
    notes: str


@dataclass(frozen=True, slots=True)
class Total:
    """
    Sums over a part of the ledger, in one currency.

    Args:
        key: What the part has in common.
        currency: Of all amounts.
        sold: Pieces sold, gifts left out.
        given: Pieces given away.
        returned: Pieces that came back.
        list_minor: Prices of the sold ones before discounts.
        discount_minor: What was taken off, gifts left out.
        paid_minor: What was paid.
        refunded_minor: What was given back.
        tax_minor: Tax that the rest holds.
        fee_minor: What banks keep.
    """

    key: str
    currency: str
    sold: int
    given: int
    returned: int
    list_minor: int
    discount_minor: int
    paid_minor: int
    refunded_minor: int
    tax_minor: int
    fee_minor: int

    @property
    def net_minor(self) -> int:
        """What was paid, less what was given back."""
        return self.paid_minor - self.refunded_minor


@dataclass(frozen=True, slots=True)
class Period:
    """
    Days of the ledger that are wanted.

    Args:
        first: From this day on.
        last: Up to and with this day.
        outing: Only of this outing.
    """

    first: date | None = None
    last: date | None = None
    outing: str = ""

    def where(self) -> tuple[str, list[object]]:
        """The condition and its parameters."""
        parts, values = [], list[object]()
        for clause, value in (("day >= ?", self.first), ("day <= ?", self.last)):
            if value:
                parts.append(clause)
                values.append(value.isoformat())
        if self.outing:
            parts.append("outing = ?")
            values.append(self.outing)
        return " AND ".join(parts) or "1", values


EVER = Period()
"""The whole ledger."""


def list_sales(shop: Workshop, *, period: Period = EVER, most: int = -1) -> tuple[LedgerLine, ...]:
    """
    Lines of the ledger, oldest first.

    Args:
        shop: The open workshop.
        period: Which.
        most: At most so many, the newest; -1 for all.
    """
    where, values = period.where()
    if most > 0:  # as many lines stand on slips from this day on: what is older is not shown
        newest = shop.conn.execute(
            f"SELECT day FROM slip CROSS JOIN slip_line ON slip = number WHERE {where}"
            " ORDER BY day DESC LIMIT 1 OFFSET ?",
            (*values, most - 1),
        ).fetchone()
        if newest:
            where, values = f"({where}) AND day >= ?", [*values, *newest]
    signed = ("list_minor", "discount_minor", "paid_minor", "tax_minor", "fee_minor")
    columns = ", ".join(
        f"CASE kind WHEN 'sale' THEN {name} ELSE -{name} END" if name in signed else name
        for name in LedgerLine.__slots__
    )
    rows = shop.conn.execute(
        f"{_LEDGER} SELECT {columns} FROM ledger WHERE {where}"
        " ORDER BY day DESC, at DESC, slip DESC, n DESC LIMIT ?",
        (*values, most),
    ).fetchall()
    return tuple(LedgerLine(*row) for row in reversed(rows))


def total_sales(shop: Workshop, *, by: str = "all", period: Period = EVER) -> tuple[Total, ...]:
    """
    Totals of the ledger, in the order of their keys.

    Args:
        shop: The open workshop.
        by: Key of :data:`GROUPS`.
        period: Which part.

    Raises:
        BadValue: If totals cannot be taken by that.
    """
    if by not in GROUPS:
        raise BadValue(
            f"no totals by '{by}'", hint=f"use one of: {', '.join(GROUPS)}", field="--per"
        )
    return read_totals(shop.conn, GROUPS[by], period)


def read_totals(conn: sqlite3.Connection, key: str, period: Period) -> tuple[Total, ...]:
    """Totals by an expression of :data:`GROUPS`."""
    where, values = period.where()
    sign = "CASE kind WHEN 'sale' THEN 1 ELSE -1 END"
    rows = conn.execute(
        f"{_LEDGER} SELECT coalesce({key}, ''), currency,"
        " sum(kind = 'sale' AND NOT is_gift), sum(kind = 'sale' AND is_gift),"
        " sum(kind = 'refund'),"
        " sum((kind = 'sale' AND NOT is_gift) * list_minor),"
        " sum((kind = 'sale' AND NOT is_gift) * discount_minor),"
        " sum((kind = 'sale') * paid_minor), sum((kind = 'refund') * paid_minor),"
        f" sum({sign} * tax_minor), sum({sign} * fee_minor)"
        f" FROM ledger WHERE {where} GROUP BY 1, 2 ORDER BY 1, 2",
        values,
    )
    return tuple(Total(str(row[0]), *row[1:]) for row in rows)


def show_slip(shop: Workshop, *, number: str) -> SlipView:
    """
    A slip by its number, or the newest one of a piece.

    Args:
        shop: The open workshop.
        number: As printed or typed; the code of a piece serves too.

    Raises:
        NotFound: If there is no such slip.
    """
    tidy = number.strip().upper().replace("-", "")
    row = shop.conn.execute(
        "SELECT slip FROM slip_line JOIN slip ON number = slip WHERE piece = ? AND piece <> ''"
        " ORDER BY at DESC, number DESC",
        (tidy,),
    ).fetchone()
    return view_slip(shop.conn, row[0] if row else tidy)
