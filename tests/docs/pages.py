"""
Pages of the reference that are worked out from the program.

``python -m tests.docs.pages`` writes them; a test compares them on every run.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from salvage.records.events import KINDS, VERSION

DOCS = Path(__file__).parents[2] / "docs"


_EVENTS_HEAD = f"""\
# Kinds of events

Written by `python -m tests.docs.pages`; do not edit.

All kinds are in version {VERSION}.
Lengths end in `_um` (micrometres), areas in `_um2`, masses in `_mg` (milligrams).
Money ends in `_minor` (cents) and angles in `_mdeg` (thousandths of a degree).
A region is a list of rings, each a list of `[x, y]` in micrometres.
The first ring is the edge, the others are holes.
A type with `?` may be null.

Every event carries, beside its kind's own `data`:

* `id`, a UUID version 7,
* `device` and `n`, the running number on that device,
* `at` (UTC) and `by`,
* `kind` and `version`,
* `act` and `operation`: what it was part of,
* `about`: codes that it concerns, the main one first,
* `made`: codes that it brings into being.

"""


def event_page() -> str:
    """The kinds of events and their fields."""
    lines = []
    for kind, fields in KINDS.items():
        lines += [f"## {kind}", "", "| field | type |", "|---|---|"]
        lines += [f"| {name} | {kind_of_field} |" for name, kind_of_field in fields.items()]
        lines.append("")
    return _EVENTS_HEAD + "\n".join(lines)


PAGES: dict[str, Callable[[], str]] = {"reference/events.md": event_page}
"""Pages below docs/ with what writes them."""


def main() -> None:
    """Write all pages."""
    for name, page in PAGES.items():
        (DOCS / name).write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
