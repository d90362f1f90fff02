"""``salvage history``, ``journal`` and ``undo``: what happened, and taking it back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

from salvage.cli.command import CommandSet
from salvage.cli.count import MOST_CODES, codes_in_words
from salvage.cli.session import Session, session_of
from salvage.cli.show import clean, note, say_wrapped, show_change, show_json, show_plain, wrap

if TYPE_CHECKING:
    import typer

    from salvage.cli.options import AnyCode
    from salvage.ids import Code
    from salvage.work.history import HistoryLine, Undone

telling = CommandSet()
listing = CommandSet()
undoing = CommandSet()


def history_record(line: HistoryLine) -> dict[str, Any]:
    """One event as JSON, its data with it."""
    event = line.event
    return {
        "seq": event.seq,
        "at": event.at,
        "by": event.by,
        "device": event.device,
        "act": event.act,
        "kind": event.kind,
        "operation": event.operation,
        "about": list(event.about),
        "words": line.words,
        "undone": line.undone,
        "data": dict(event.data),
    }


def _show(session: Session, lines: Sequence[HistoryLine], *, of_workshop: bool) -> None:
    if session.form == "json":
        show_json(session, [history_record(line) for line in lines])
        return
    if session.form == "plain":
        fields = ("at", "by", "act", "operation", "undone", "words")
        show_plain(
            session,
            (
                (*(history_record(line)[name] for name in fields), " ".join(line.event.about))
                for line in lines
            ),
        )
        return
    for line in lines:
        _show_line(session, line, of_workshop=of_workshop)


def _show_line(session: Session, line: HistoryLine, *, of_workshop: bool) -> None:
    """One event; in the workshop's journal with its operation's short id and its code."""
    from salvage.work.history import short_id

    event = line.event
    when = f"{event.at[:10]} {event.at[11:16]}"
    if of_workshop:
        when += f"  {short_id(event.operation)}"
    about = f"{event.about[0]}  " if of_workshop and event.about else ""
    undone = " (undone)" if line.undone else ""
    text = f"{when}  {about}{clean(line.words)}{undone}  [{clean(event.by)}]"
    say_wrapped(session, text, indent=len(when) + 2)


@telling.command("history", example="salvage history BC0002J")
def history(context: typer.Context, code: AnyCode) -> None:
    """Show everything that happened to one thing, oldest first; times are UTC."""
    from salvage.work.history import read_history
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        lines = read_history(shop, read_code(shop, text=code))
    _show(session, lines, of_workshop=False)


@listing.command("journal", example="salvage journal --most 50")
def journal(
    context: typer.Context,
    most: Annotated[int, typer.Option(min=1, help="At most so many events.")] = 20,
) -> None:
    """
    Show the newest events of the whole workshop, newest last; times are UTC.

    Behind the time stands the short id of the operation, by which 'salvage undo' takes it back.
    """
    from salvage.work.history import read_journal

    session = session_of(context)
    with session.open() as shop:
        lines = read_journal(shop, most=most)
    _show(session, lines, of_workshop=True)


@undoing.command("undo", example='salvage undo --reason "wrong board"', changes=True)
def undo(
    context: typer.Context,
    operation: Annotated[
        str,
        typer.Argument(
            metavar="[OPERATION]",
            help="Its short id, from 'salvage journal', or the whole; the last if left out.",
            show_default=False,
        ),
    ] = "",
    why: Annotated[
        str, typer.Option("--reason", metavar="TEXT", help="Reason for the record.")
    ] = "",
) -> None:
    """Take an operation back by a correcting event; both stay in the history."""
    from salvage.cli.ask import confirm
    from salvage.work.history import undo

    session = session_of(context)
    with session.open() as shop:
        if not session.yes and not session.dry_run:
            seen = undo(shop, operation=operation, why=why, dry_run=True)
            for line in _steps(seen):
                note(session, "\n".join(wrap(session, line, indent=4)))
            about = codes_in_words(seen.codes)
            confirm(session, f"Undo '{seen.act}'{f' ({about})' if about else ''}?")
            operation = seen.operation
        seen = undo(shop, operation=operation, why=why, dry_run=session.dry_run)
    about = codes_in_words(seen.codes)
    show_change(
        session,
        {
            "operation": seen.operation,
            "act": seen.act,
            "words": list(seen.words),
            "about": [list(codes) for codes in seen.about],
        },
        lines=[f"undone: {seen.act}{f', {about}' if about else ''}", *_steps(seen)],
        codes=[seen.operation],
        next_step="journal",
    )


def _steps(seen: Undone) -> list[str]:
    """What is taken back, each line with its codes, after the settings that are not."""
    passed = [
        f"  passed over: {words} ('salvage setup' sets an old value again)"
        for words in seen.passed_over
    ]
    steps = list(zip(seen.about, seen.words, strict=True))
    if len(steps) > MOST_CODES:
        steps = _alike_together(steps)
    return passed + [
        f"  {f'{codes_in_words(codes)}  ' if codes else ''}{clean(words)}" for codes, words in steps
    ]


def _alike_together(
    steps: Sequence[tuple[tuple[Code, ...], str]],
) -> list[tuple[tuple[Code, ...], str]]:
    """Steps that read alike as one, with the codes of all."""
    alike: dict[str, list[Code]] = {}
    for codes, words in steps:
        alike.setdefault(words, []).extend(codes)
    return [(tuple(codes), words) for words, codes in alike.items()]
