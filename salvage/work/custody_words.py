"""Words for the events of data-bearing parts."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

Data = Mapping[str, Any]


def _told(*texts: str) -> str:
    return "".join(f", {text}" for text in texts if text)


def _described(d: Data) -> str:
    named = " ".join(text for text in (d["maker"], d["model"]) if text) or "no maker's name"
    taken = f", taken out of part {d['taken_from']}" if d["taken_from"] is not None else ""
    return f"data-bearing part {d['n']} described: {named}, {d['media_type']}{taken}"


def _sanitised(d: Data) -> str:
    die = "" if d["die"] == "has none" else f", memory die {d['die']}"
    return (
        f"data-bearing part {d['n']}: {d['method']} by {d['technique']} with {d['tool']}{die};"
        f" verified {d['verification']} by {d['verified_by']}: {d['validation']}"
    )


CUSTODY_WORDS: Mapping[str, Callable[[Data], str]] = {
    "custody.searched": lambda d: f"searched for data: {d['found']}{_told(d['scope'], d['how'])}",
    "custody.described": _described,
    "custody.handed": lambda d: (
        f"data-bearing part {d['n']} handed to the {d['role']} on {d['on_day']}"
        f"{_told(d['place'], d['document'], d['note'])}"
    ),
    "custody.sanitised": _sanitised,
    "dropoff.closed": lambda d: f"drop-off closed{': ' + d['note'] if d['note'] else ''}",
}
"""One line of plain words for every kind."""
