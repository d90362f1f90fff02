"""
Pages of the reference that are worked out from the program.

``python -m tests.docs.pages`` writes them; a test compares them on every run.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from salvage.cli.app import run
from salvage.cli.world import World
from salvage.records.events import KINDS, VERSION
from tests.bench import SteppingClock, seeded_entropy
from tests.docs.python_page import python_page

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


_COMMANDS_HEAD = """\
# Commands

Written by `python -m tests.docs.pages`; do not edit.
Every command shows this with `--help`, and after it the options of all commands: `--shop`, `--by`, `--no-color`, `--no-input`, `--yes`.

Exit codes: 0 done, 1 refused, 2 misused, 70 a bug, 130 interrupted.
What is refused changes nothing, and is told in one line on standard error with its mend.

Files: the record is `workshop.db`, `files/` and `backups/` in the workshop's folder.
That is the folder of `--shop`, else of the variable `SALVAGE_SHOP`, else `salvage` in the user's data folder.
`FILE` and `FOLDER` start where the command is typed.

"""


def command_page() -> str:
    """The help of every command."""
    from salvage.cli.root import root_command

    root = root_command()
    context = root.make_context("salvage", ["--no-input"], resilient_parsing=True)
    lines = [_COMMANDS_HEAD.rstrip(), ""]
    for words in _command_lines(root, context, ()):
        lines += [f"## salvage {' '.join(words)}", "", "```text", _help_of(words), "```", ""]
    return "\n".join(lines)


def _command_lines(group: Any, context: Any, words: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    # Commands and contexts are Any: the library keeps their types under a private name.
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        if hasattr(command, "list_commands"):
            yield from _command_lines(command, context, (*words, name))
        else:
            yield (*words, name)


def _help_of(words: tuple[str, ...]) -> str:
    stream = io.StringIO()
    world = World(
        clock=SteppingClock(),
        entropy=seeded_entropy(),
        environment={},
        folder=Path(),
        stdin=io.StringIO(),
        stdout=stream,
        stderr=stream,
        width=100,
    )
    run([*words, "--help"], world)
    text = stream.getvalue().split("\nEverywhere:")[0]
    return "\n".join(line.rstrip() for line in text.strip().splitlines())


PAGES: dict[str, Callable[[], str]] = {
    "reference/commands.md": command_page,
    "reference/events.md": event_page,
    "reference/python.md": python_page,
}
"""Pages below docs/ with what writes them."""


def main() -> None:
    """Write all pages."""
    for name, page in PAGES.items():
        (DOCS / name).write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
