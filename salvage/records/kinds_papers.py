"""Kinds of events of documents: their wording, and that one was printed."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

PAPER_KINDS: Mapping[str, Mapping[str, str]] = {
    "wording.set": {"document": "text", "words": "map"},
    "paper.printed": {
        "document": "text",
        "wording_sha256": "text",
        "text_sha256": "text",
        "naming": "text",
    },
}
"""The wording's hash is over all words that were used, the workshop's own and ours."""
