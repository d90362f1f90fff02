"""Kinds of events of articles that are assembled of several pieces."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

ARTICLES_KINDS: Mapping[str, Mapping[str, str]] = {
    "article.assembled": {
        "name": "text",
        "parts": "list",
        "shares": "list",
        "measured": "text",
        "custody": "text",
        "note": "text",
    },
    "article.taken_apart": {"reason": "text"},
}
