"""
The first page of the help, written without the parser's library.

It holds what the library would write from the same words; a test compares the two.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.cli.command import FORMS, SHARED
from salvage.cli.contents import ENTRIES

if TYPE_CHECKING:
    from collections.abc import Iterable

HELP_WIDTH = 100
"""Columns used of a wider terminal for help."""

EXAMPLE = "Example: salvage demo\n\n"

ABOUT = """\
From a donated circuit board to a sold piece that can prove where it came from.

Alone it tells what to do next. Salvage keeps the record: it informs and certifies nothing.
Local codes and licensed practice come first. Each command tells more with --help; most take
--json, --plain and --dry-run."""

VERSION_WORDS = "Show the version and stop."

# The words of the library's own options, as it writes them.
_LIBRARY = (
    ("--install-completion", "Install completion for the current shell."),
    (
        "--show-completion",
        "Show completion for the current shell, to copy it or customize the installation.",
    ),
)
_HELP = ("-h, --help", "Show this message and exit.")

_WIDEST_NAME = 30


def front_page(width: int) -> str:
    """
    What ``salvage --help`` shows.

    Args:
        width: Columns of the terminal.
    """
    columns = min(width, HELP_WIDTH)
    usage = _fill("[OPTIONS] COMMAND [ARGS]...", columns, "Usage: salvage ", " " * 15)
    about = [_fill(part.replace("\n", " "), columns, "  ", "  ") for part in ABOUT.split("\n\n")]
    wide = max(len(entry.name) for entry in ENTRIES)
    page = [EXAMPLE + usage + "\n", "\n\n".join(about) + "\n"]
    for section in dict.fromkeys(entry.section for entry in ENTRIES):
        rows = [(e.name.ljust(wide), e.words) for e in ENTRIES if e.section == section]
        page.append(f"{section}:\n{_rows(rows, columns)}")
    shared = [(f"{', '.join(flags)} {more}".rstrip(), words) for _f, flags, more, words in SHARED]
    forms = [(flag, words) for _form, flag, words in FORMS]
    options = [("--version", VERSION_WORDS), *_LIBRARY, *forms, *shared, _HELP]
    return "\n".join([*page, f"Options:\n{_rows(options, columns)}"])


def _rows(rows: Iterable[tuple[str, str]], columns: int) -> str:
    """Names on the left, and on the right what they are for."""
    told = [*rows]
    first = min(max(len(name) for name, _words in told), _WIDEST_NAME) + 2
    text = ""
    for name, words in told:
        lines = _fill(words, max(columns - first - 2, 10), "", "").split("\n")
        text += f"  {name.ljust(first)}" + ("\n" + " " * (first + 2)).join(lines) + "\n"
    return text


def _fill(text: str, width: int, lead: str, indent: str) -> str:
    if len(lead) + len(text) <= width:
        return lead + text
    import textwrap

    return textwrap.fill(
        text, width, initial_indent=lead, subsequent_indent=indent, replace_whitespace=False
    )
