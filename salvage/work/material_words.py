"""One line of plain words for every kind of event of materials."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

# The fields of an event are what its kind says, so Any is safe here.
Data = Mapping[str, Any]


def _received(d: Data) -> str:
    maker = f" of {d['maker']}" if d["maker"] else ""
    lot = f", lot {d['lot']}" if d["lot"] else ""
    return f"batch of {d['material']} received {d['received_on']}: {d['name']}{maker}{lot}"


MATERIAL_WORDS: Mapping[str, Callable[[Data], str]] = {
    "batch.received": _received,
    "batch.paper_added": lambda d: f"paper {d['n']} kept: {d['title'] or d['name']}",
    "batch.used": lambda d: (
        f"batch used at stage {d['stage']} (use {d['n']}){': ' + d['note'] if d['note'] else ''}"
    ),
    "batch.use_voided": lambda d: f"use {d['n']} taken back: {d['why']}",
}
"""By kind of event."""
