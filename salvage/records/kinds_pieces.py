"""Kinds of events of pieces, their papers, consignments and recalls."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

PIECES_KINDS: Mapping[str, Mapping[str, str]] = {
    "piece.staged": {"stage": "text", "note": "text"},
    "piece.priced": {"price_minor": "int", "currency": "text"},
    "piece.weighed": {"weight_mg": "int"},
    "piece.sold": {
        "n": "int",
        "price_minor": "int",
        "currency": "text",
        "venue": "text",
        "sold_on": "text",
    },
    "piece.returned": {"n": "int", "returned_on": "text", "reason": "text"},
    "card.printed": {"text_sha256": "text", "naming": "text"},
    "label.printed": {"stock": "text"},
    "consignment.sent": {
        "receiver": "text",
        "contents": "text",
        "weight_mg": "int",
        "sent_on": "text",
        "document": "text",
        "drop_off": "text?",
    },
    "recall.opened": {"subject": "text", "reason": "text", "learned_on": "text", "items": "list"},
    "recall.closed": {"outcome": "text"},
}
