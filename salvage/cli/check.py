"""``salvage check`` and ``rebuild``: keeping the record sound."""

from __future__ import annotations

import typer

from salvage.cli.command import CommandSet
from salvage.cli.copy_words import words_of
from salvage.cli.count import count_of
from salvage.cli.session import session_of
from salvage.cli.show import clean, note, paint, say, show_json, show_plain, show_record

checking = CommandSet()
rebuilding = CommandSet()


@checking.command("check", example="salvage check")
def check(context: typer.Context) -> None:
    """
    Check every promise of the record; nothing is changed.

    Ends with exit code 1 when something is wrong. It shows that the record is whole, not that a
    piece is safe.
    """
    from salvage.store.keeper import share_words
    from salvage.work.check import run_checks
    from salvage.work.last_copy import last_copy

    session = session_of(context)
    is_watched = session.world.stderr_is_terminal and not session.form

    def progress(name: str) -> None:
        if is_watched:
            note(session, paint(session, f"… {name}", "quiet"))

    with session.open() as shop:
        lines = run_checks(shop, progress=progress)
        last = last_copy(shop)
        share = shop.keeper.share if shop.keeper else ""
    if session.form == "json":
        show_json(
            session,
            [{"name": c.name, "ok": c.ok, "note": c.note, "faults": [*c.faults]} for c in lines],
        )
    elif session.form == "plain":
        show_plain(session, ((c.name, "ok" if c.ok else "fault", c.note, *c.faults) for c in lines))
    else:
        for line in lines:
            word = paint(session, "ok   ", "good") if line.ok else paint(session, "FAULT", "bad")
            say(session, f"{word}  {line.name}{f' ({clean(line.note)})' if line.note else ''}")
            for fault in line.faults:
                say(session, f"       - {clean(fault)}")
        note(session, words_of(last))
        if share:
            note(session, share_words(share))
    if not all(line.ok for line in lines):
        raise typer.Exit(1)


@rebuilding.command("rebuild", example="salvage rebuild")
def rebuild(context: typer.Context) -> None:
    """Empty the tables and replay the whole journal into them; the journal stays as it is."""
    from salvage.work.check import rebuild_tables

    session = session_of(context)
    with session.open() as shop:
        count = rebuild_tables(shop)
    line = f"{count_of(count, 'event')} replayed into the tables"
    show_record(session, {"events": count}, lines=[line], plain=("events",))
