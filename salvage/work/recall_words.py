"""One line of plain words for every kind of event of recalls."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

# The fields of an event are what its kind says, so Any is safe here.
Data = Mapping[str, Any]


def _begun(d: Data) -> str:
    held = "all held" if d["hold"] else "none held"
    unknown = f", {d['unknown']} not ruled out" if d["unknown"] else ""
    return (
        f"recall opened on {d['subject']}, {len(d['items'])} things, {held}{unknown}: {d['reason']}"
    )


def _settled(d: Data) -> str:
    return f"recall item settled: {d['outcome']}{', ' + d['note'] if d['note'] else ''}"


RECALL_WORDS: Mapping[str, Callable[[Data], str]] = {
    "recall.opened": lambda d: (
        f"recall opened on {d['subject']}, {len(d['items'])} things: {d['reason']}"
    ),
    "recall.begun": _begun,
    "recall.hold_set": lambda d: f"recall {'holds' if d['hold'] else 'no longer holds'} its things",
    "recall.joined": lambda d: f"{len(d['items'])} things joined the recall: {d['why']}",
    "recall.settled": _settled,
    "recall.left_open": lambda d: f"recall closed with {len(d['items'])} things open: {d['why']}",
    "recall.closed": lambda d: f"recall closed: {d['outcome']}",
}
"""By kind of event."""
