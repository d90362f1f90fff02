"""What a command tells: JSON, plain lines, or text and tables for people."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from salvage.cli.table import table_lines

if TYPE_CHECKING:
    from salvage.cli.session import Session

Record = Mapping[str, Any]  # fields as JSON takes them: text, numbers, lists, objects
"""One thing as a JSON object."""


class Column(NamedTuple):
    """
    One column of a table.

    Args:
        title: Its heading.
        key: Field of the records.
        form: How a value reads; plain lines show the bare value.
    """

    title: str
    key: str
    form: Callable[[Any], str] = str


def clean(text: str) -> str:
    """
    Text on one line in which nothing steers the terminal.

    >>> clean("held\\n by \\x1b[31m tide")
    'held by �[31m tide'
    """
    tidy = " ".join(text.split())
    return tidy if tidy.isprintable() else "".join(c if c.isprintable() else "�" for c in tidy)


def clean_line(text: str) -> str:
    """Text as it stands, but nothing in it steers the terminal or breaks the line."""
    return "".join(c if c.isprintable() else " " if c.isspace() else "�" for c in text)


def say(session: Session, text: str = "") -> None:
    """Write one line of the answer."""
    session.world.stdout.write(text + "\n")
    session.rows_told += _rows(session, text)


_STYLING = re.compile("\x1b\\[[0-9;]*m")


def _rows(session: Session, text: str) -> int:
    """Rows of the terminal that a text takes."""
    lines = _STYLING.sub("", text).split("\n")
    return sum(max(1, -(-len(line) // session.world.width)) for line in lines)


def say_wrapped(session: Session, text: str, *, indent: int, always: bool = False) -> None:
    """
    Write one line of the answer, broken between words where a terminal is narrower.

    Args:
        session: The run; what is piped stays on one line.
        text: One line.
        indent: Blanks before the lines that follow.
        always: Break it in a pipe too, since it is prose that no program takes apart.
    """
    is_broken = always or session.world.stdout_is_terminal
    for line in wrap(session, text, indent=indent) if is_broken else [text]:
        say(session, line)


def wrap(session: Session, text: str, *, indent: int) -> list[str]:
    """
    A line broken between words where the terminal is narrower.

    Args:
        session: The run.
        text: One line; the blanks it begins with stay.
        indent: Blanks before the lines that follow.
    """
    import textwrap

    width = session.world.width
    if len(text) <= width:
        return [text]
    lead = len(text) - len(text.lstrip())
    return textwrap.wrap(
        text.lstrip(),
        max(40, width),
        initial_indent=" " * lead,
        subsequent_indent=" " * indent,
        break_on_hyphens=False,
    )


def command_line(session: Session, words: str) -> str:
    """
    A whole command line to type or paste next, for the workshop that this run works on.

    Args:
        session: The run.
        words: After ``salvage``.
    """
    import shlex

    shop = f" --shop {shlex.quote(session.shop)}" if session.shop else ""
    return f"salvage {words}{shop}"


def note(session: Session, text: str) -> None:
    """Write one line beside the answer: what to do next, cautions, progress."""
    session.world.stderr.write(text + "\n")
    session.rows_told += _rows(session, text)


def warn(session: Session, text: str) -> None:
    """Write a caution beside the answer, wrapped to the terminal."""
    import textwrap

    told = textwrap.fill(f"! {text}", min(session.world.width, 100), subsequent_indent="  ")
    note(session, paint(session, told, "quiet"))


_STYLES = {"good": "1;32", "bad": "1;37;41", "warn": "1;33", "strong": "1", "quiet": "2"}


def paint(session: Session, text: str, style: str) -> str:
    """
    Text in a style where the terminal has colours; the words must tell the same.

    Args:
        session: The run.
        text: The words.
        style: ``good``, ``bad``, ``warn``, ``strong`` or ``quiet``.
    """
    return f"\x1b[{_STYLES[style]}m{text}\x1b[0m" if session.has_color else text


def show_json(session: Session, value: object, *, one_line: bool = False) -> None:
    """
    Print one JSON value.

    Args:
        session: The run.
        value: An object or list.
        one_line: As one line of several answers.
    """
    import json

    is_wide = (session.world.stdout.encoding or "utf-8").lower().replace("-", "") == "utf8"
    say(session, json.dumps(value, indent=None if one_line else 2, ensure_ascii=not is_wide))


def show_plain(session: Session, rows: Iterable[Sequence[object]]) -> None:
    """Print one record a line, split by tabs; never wrapped."""
    for row in rows:
        say(session, "\t".join("" if cell is None else clean(str(cell)) for cell in row))


def show_list(
    session: Session, records: Sequence[Record], columns: Sequence[Column], *, empty: str
) -> None:
    """
    Print records in the form that was asked for.

    Args:
        session: The run.
        records: In order.
        columns: Of the table and of the plain lines.
        empty: What to tell people when there are none.
    """
    if session.form == "json":
        show_json(session, list(records))
    elif session.form == "plain":
        show_plain(session, ([record[column.key] for column in columns] for record in records))
    elif records:
        told = [(record[column.key], column.form) for record in records for column in columns]
        cells = ["" if value is None else clean(form(value)) for value, form in told]
        titles = [column.title for column in columns]
        wide = len(columns)
        rows = [cells[at : at + wide] for at in range(0, len(cells), wide)]
        for line in table_lines(
            titles, rows, width=session.world.width, has_color=session.has_color
        ):
            say(session, line)
    else:
        note(session, empty)


def show_record(
    session: Session, record: Record, *, lines: Iterable[str], plain: Sequence[str]
) -> None:
    """
    Print one record.

    Args:
        session: The run.
        record: As JSON.
        lines: As people read it.
        plain: Fields of the plain line, in order.
    """
    if session.form == "json":
        show_json(session, record)
    elif session.form == "plain":
        show_plain(session, [[record[key] for key in plain]])
    else:
        for line in lines:
            say_wrapped(session, clean_line(line), indent=4)


def show_change(
    session: Session,
    answer: Record | Sequence[Record],
    *,
    lines: Iterable[str],
    codes: Iterable[str] = (),
    next_step: str = "",
) -> None:
    """
    Tell what a change did, and the likely next command.

    Args:
        session: The run.
        answer: What changed, as JSON.
        lines: As people read it.
        codes: What the plain form prints, one a line.
        next_step: Words after ``salvage``; empty for none.
    """
    if session.form == "json":
        show_json(session, answer)
    elif session.form == "plain":
        show_plain(session, ([code] for code in codes))
    else:
        for line in lines:
            told = clean_line(f"dry run: {line}" if session.dry_run else line)
            say_wrapped(session, told, indent=4)
    if session.dry_run:
        note(session, "nothing was recorded, and no file was written (--dry-run)")
    elif next_step and not session.form:
        note(session, paint(session, f"next: {command_line(session, next_step)}", "quiet"))
