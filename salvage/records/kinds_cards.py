"""Kinds of events of tags and stall cards; story cards are with the pieces."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

CARDS_KINDS: Mapping[str, Mapping[str, str]] = {
    "tag.printed": {
        "design": "text",
        "text_sha256": "text",
        "price_minor": "int?",
        "currency": "text",
    },
}
