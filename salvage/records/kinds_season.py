"""Kinds of events of the selling season: orders, outings, sales and the time that work took."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

SEASON_KINDS: Mapping[str, Mapping[str, str]] = {
    "order.taken": {
        "name_seal": "text?",
        "contact_seal": "text?",
        "taken_on": "text",
        "due_on": "text",
        "donor": "text",
        "drop_off": "text",
        "notes": "text",
        "lines": "list",
    },
    "order.corrected": {"was": "map", "now": "map", "why": "text"},
    "order.relined": {"lines": "list", "why": "text"},
    "order.quoted": {
        "n": "int",
        "total_minor": "int",
        "currency": "text",
        "valid_until": "text",
        "made_on": "text",
        "notes": "text",
        "lines": "list",
    },
    "order.answered": {"answer": "text", "reason": "text"},
    "order.planned": {"plan": "text"},
    "order.cancelled": {"reason": "text"},
    "order.forgotten": {"seals": "list", "reason": "text"},
    "piece.set_aside": {"order": "text", "line": "int"},
    "piece.freed": {"reason": "text"},
    "outing.planned": {
        "name": "text",
        "place": "text",
        "begins_on": "text",
        "ends_on": "text",
        "stall_fee_minor": "int",
        "currency": "text",
        "notes": "text",
    },
    "outing.corrected": {"was": "map", "now": "map", "why": "text"},
    "piece.packed": {"outing": "text", "key": "text"},
    "piece.unpacked": {"outing": "text", "reason": "text"},
    "piece.came_home": {"outing": "text", "key": "text"},
    "outing.opened": {"float_minor": "int", "currency": "text"},
    "outing.cash_moved": {"amount_minor": "int", "currency": "text", "reason": "text"},
    "outing.closed": {
        "expected_minor": "int",
        "counted_minor": "int",
        "currency": "text",
        "missing": "list",
        "stock_take": "text",
        "reason": "text",
    },
    "sale.made": {
        "day": "text",
        "paid_by": "text",
        "currency": "text",
        "venue": "text",
        "outing": "text",
        "order": "text",
        "tax_ppm": "int?",
        "tax_note": "text",
        "notes": "text",
        "lines": "list",
    },
    "sale.refunded": {
        "day": "text",
        "paid_by": "text",
        "currency": "text",
        "venue": "text",
        "outing": "text",
        "order": "text",
        "tax_ppm": "int?",
        "tax_note": "text",
        "notes": "text",
        "lines": "list",
    },
    "time.noted": {"step": "text", "spent": "list", "note": "text"},
    "time.rated": {"shape": "text", "step": "text", "tool": "text", "seconds": "int?"},
}
"""
Each sale also leaves ``piece.sold`` for each of its pieces, and each refund ``piece.returned``.

A line of a sale or refund is a map of ``piece`` (empty where the label was lost), ``sale_n`` (the
piece's number of sale), ``words``, ``list_minor``, ``discount_minor``, ``paid_minor``,
``tax_minor``, ``fee_minor`` and
``is_gift``. What was spent is a list of maps of ``piece`` and ``seconds``.
"""

SEASON_CORRECTABLE: Mapping[str, Mapping[str, str]] = {
    "order.corrected": {
        "name_seal": "text?",
        "contact_seal": "text?",
        "due_on": "text",
        "donor": "text",
        "drop_off": "text",
        "notes": "text",
    },
    "outing.corrected": {
        "name": "text",
        "place": "text",
        "begins_on": "text",
        "ends_on": "text",
        "stall_fee_minor": "int",
        "notes": "text",
    },
}
"""Fields that a correction of an order or an outing may name."""
