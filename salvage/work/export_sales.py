"""
The ledger of sales as CSV for the accountant (RFC 4180, UTF-8).

Days are ISO 8601, amounts exact decimals with a point; what was given back is below zero. The net
amount is what was paid less the tax that it holds. No name of a buyer or worker is in it.
"""

from __future__ import annotations

import csv
import io
from decimal import Decimal

from salvage.units import minor_digits
from salvage.work.export_csv import safe_cell
from salvage.work.ledger import EVER, LedgerLine, Period, list_sales
from salvage.work.sealed_words import private_words
from salvage.work.workshop import Workshop

COLUMNS = (
    "day",
    "slip",
    "line",
    "kind",
    "piece",
    "description",
    "list_price",
    "discount",
    "paid",
    "tax_rate_percent",
    "tax",
    "net",
    "currency",
    "paid_by",
    "card_fee",
    "gift",
    "outing",
    "venue",
    "order",
    "tax_note",
    "note",
)
"""Names of the columns, in order."""


def export_sales(shop: Workshop, *, period: Period = EVER) -> bytes:
    """
    The ledger as a CSV file, one line for each piece on each slip.

    Args:
        shop: The open workshop.
        period: Which part of it.
    """
    names = private_words(shop.conn)
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for line in list_sales(shop, period=period):
        writer.writerow([safe_cell(cell, names) for cell in _row(line)])
    return out.getvalue().encode()


def _row(line: LedgerLine) -> list[object]:
    digits = minor_digits(line.currency)

    def money(minor: int) -> Decimal:
        return Decimal(minor).scaleb(-digits).quantize(Decimal(1).scaleb(-digits))

    rate = "" if line.tax_ppm is None else Decimal(line.tax_ppm) / 10_000
    return [
        line.day,
        line.slip,
        line.n,
        line.kind,
        line.piece,
        line.words,
        money(line.list_minor),
        money(line.discount_minor),
        money(line.paid_minor),
        rate if rate == "" else f"{rate:f}",
        money(line.tax_minor),
        money(line.paid_minor - line.tax_minor),
        line.currency,
        line.paid_by,
        money(line.fee_minor),
        "yes" if line.is_gift else "",
        line.outing,
        line.venue,
        line.customer_order,
        line.tax_note,
        line.notes,
    ]
