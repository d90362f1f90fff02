"""``salvage`` alone and ``salvage next``: what to do next, by the state of the workshop."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from salvage.cli.command import CommandSet
from salvage.cli.session import Session, session_of
from salvage.cli.show import (
    clean,
    command_line,
    note,
    paint,
    say,
    say_wrapped,
    show_json,
    show_plain,
)

if TYPE_CHECKING:
    import typer

    from salvage.work.next_step import NextStep

commands = CommandSet()

MOST = 6
"""So many steps are shown: more than anybody does before lunch."""

_STYLES = {"now": "bad", "next": "good", "later": "quiet"}


@commands.command("next", example="salvage next")
def next_(
    context: typer.Context,
    every: Annotated[bool, typer.Option("--all", help="Tell all of it, however much.")] = False,
) -> None:
    """
    Tell what to do next, the most pressing first, each with the command that does it.

    'salvage' alone tells the same. Words in capitals stand for what only you know.
    """
    tell_next(session_of(context), every=every)


def tell_next(session: Session, *, every: bool = False) -> None:
    """
    Tell what to do next.

    Args:
        session: The run.
        every: All steps, not the first few.
    """
    from salvage.work.what_next import BEFORE_ALL, what_next

    with session.open_if_there() as shop:
        found = what_next(shop) if shop else None
    steps = found.steps if found else (BEFORE_ALL,)
    shown = steps if every else steps[:MOST]
    if session.form == "plain":
        for step in steps:
            line = command_line(session, step.command)
            show_plain(session, [(step.urgency, step.topic, step.count, line, step.words)])
        return
    name = found.workshop if found else ""
    record = {
        "workshop": name or None,
        "folder": str(session.folder),
        "steps": [_record(session, step) for step in steps],
    }
    if session.form == "json":
        show_json(session, record)
        return
    _show(session, name, shown)
    _show_rest(session, len(steps) - len(shown), is_new=found is None)


def _record(session: Session, step: NextStep) -> dict[str, Any]:
    return {
        "topic": step.topic,
        "urgency": step.urgency,
        "words": step.words,
        "count": step.count,
        "codes": list(step.codes),
        "command": command_line(session, step.command),
    }


def _show(session: Session, name: str, steps: tuple[NextStep, ...]) -> None:
    say(session, paint(session, clean(name) or "salvage", "strong"))
    if not steps:
        say(session)
        say(session, "  Nothing waits. When the next box comes:")
        say(session, f"         {command_line(session, 'dropoff add')}")
    wide = max((len(step.urgency) for step in steps), default=0)
    for step in steps:
        say(session)
        word = paint(session, step.urgency, _STYLES[step.urgency])
        pad = " " * (wide - len(step.urgency))
        say_wrapped(session, f"  {word}{pad}  {clean(step.words)}", indent=wide + 4)
        say(session, f"  {' ' * wide}  {command_line(session, step.command)}")


def _show_rest(session: Session, more: int, *, is_new: bool) -> None:
    note(session, "")
    if more:
        note(session, paint(session, f"and {more} more: salvage next --all", "quiet"))
    if is_new:
        sample = "a sample workshop to look at first: salvage demo"
        note(session, paint(session, sample, "quiet"))
    note(session, paint(session, "all commands: salvage --help", "quiet"))
