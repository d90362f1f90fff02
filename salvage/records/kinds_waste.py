"""Kinds of events of waste: containers, consignments with their items, and boards weighed again."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

WASTE_KINDS: Mapping[str, Mapping[str, str]] = {
    "waste.opened": {
        "kind": "text",
        "words": "text",
        "opened_on": "text",
        "limit_days": "int?",
        "rule": "text",
        "place": "text",
        "notes": "text",
    },
    "waste.put": {
        "n": "int",
        "what": "text",
        "source": "text",
        "hazard": "text",
        "matter": "text",
        "weight_mg": "int?",
        "weighed": "flag",
        "whole": "flag",
        "put_on": "text",
    },
    "waste.closed": {"closed_on": "text"},
    "consignment.handed_over": {
        "receiver": "text",
        "contents": "text",
        "weight_mg": "int",
        "sent_on": "text",
        "document": "text",
        "permit": "text",
        "items": "list",
    },
    "consignment.confirmed": {
        "confirmed_on": "text",
        "confirmed_mg": "int?",
        "confirmation": "text",
    },
    "board.weighed": {"weight_mg": "int", "weighed_on": "text"},
    "board.copper_set": {"layers": "int", "copper_moz": "int"},
}
"""An item of a consignment has ``what``, ``code``, ``words``, ``weight_mg``, ``weighed`` and
``drop_off``."""
