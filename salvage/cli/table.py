"""Tables for people: columns side by side, folded where the terminal is narrower."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

_GAP = 2
_FIRST_ODD_WIDTH = "\u0300"
"""From here on characters may take no column, or two."""


def table_lines(
    titles: Sequence[str], rows: Sequence[Sequence[str]], *, width: int, has_color: bool
) -> list[str]:
    """
    The lines of a table.

    What fits is set here, since loading the library that folds takes longer than most look-ups.

    Args:
        titles: Of the columns.
        rows: Cells of text, on one line each.
        width: Columns of the terminal.
        has_color: Whether the titles may stand in bold.
    """
    wide = [max(map(len, column)) for column in zip(titles, *rows, strict=True)]
    is_plain = all(max(cell, default="") < _FIRST_ODD_WIDTH for row in rows for cell in row)
    if not is_plain or sum(wide) + _GAP * (len(wide) - 1) > width:
        return _folded(titles, rows, width=width, has_color=has_color)
    lines = [
        (" " * _GAP).join(cell.ljust(size) for cell, size in zip(row, wide, strict=True)).rstrip()
        for row in (titles, *rows)
    ]
    if has_color:
        between = _bold(" ") * _GAP
        padded = zip(titles, wide, strict=True)
        lines[0] = between.join(_bold(title.ljust(size)) for title, size in padded)
    return lines


def _bold(text: str) -> str:
    return f"\x1b[1m{text}\x1b[0m"


def _folded(
    titles: Sequence[str], rows: Sequence[Sequence[str]], *, width: int, has_color: bool
) -> list[str]:
    from io import StringIO

    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, header_style="bold" if has_color else "")
    for place, title in enumerate(titles):
        table.add_column(Text(title), no_wrap=place == 0, overflow="fold")
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    page = StringIO()
    console = Console(
        file=page,
        width=width,
        force_terminal=has_color,
        color_system="standard" if has_color else None,
        legacy_windows=False,
        _environ={},
    )
    console.print(table)
    return [line.rstrip() for line in page.getvalue().splitlines()]
