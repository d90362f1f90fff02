"""The part of the self-check that looks at the ledger of sales."""

from __future__ import annotations

from collections.abc import Iterator

from salvage.work.amounts import tax_within
from salvage.work.workshop import Workshop


def check_ledger(shop: Workshop) -> tuple[Iterator[str], str]:
    """Each slip's lines against one another, against its tax, and against the pieces' own sales."""
    slips = shop.conn.execute("SELECT count(*) FROM slip").fetchone()[0]

    def faults() -> Iterator[str]:
        rows = shop.conn.execute(
            "SELECT slip, n FROM slip_line JOIN slip ON number = slip"
            " WHERE kind = 'sale' AND list_minor - discount_minor <> paid_minor ORDER BY slip, n"
        )
        for slip, n in rows:
            yield f"line {n} of slip {slip} is not its price less its discount"
        rows = shop.conn.execute(
            "SELECT number, tax_ppm, sum(paid_minor), sum(tax_minor) FROM slip JOIN slip_line"
            " ON slip = number WHERE kind = 'sale' AND tax_ppm IS NOT NULL GROUP BY number"
        )
        for number, ppm, paid, tax in rows:
            if tax != tax_within(paid, ppm):
                yield f"the tax of slip {number} does not follow from its rate"
        rows = shop.conn.execute(
            "SELECT slip_line.piece, slip FROM slip_line JOIN slip ON number = slip"
            " JOIN sale ON sale.piece = slip_line.piece AND sale.n = sale_n"
            " WHERE kind = 'sale' AND slip_line.piece <> ''"
            " AND (price_minor <> paid_minor OR sale.currency <> slip.currency)"
        )
        for piece, slip in rows:
            yield f"{piece} was sold at another price than slip {slip} says"

    return faults(), f"{slips} slips"
