"""``salvage bench``: the bench driven by scans alone, live on a terminal or line by line."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.failures import Misuse
from salvage.cli.session import Session, session_of
from salvage.cli.show import clean, note, say, show_json, show_plain

if TYPE_CHECKING:
    from salvage.work.bench_sitting import Sitting
    from salvage.work.bench_words import Answer
    from salvage.work.workshop import Workshop

commands = CommandSet()

_WORDS = {"refused": "REFUSED: ", "asked": "yes or no? ", "done": "done: "}


@commands.command("bench", example="salvage bench", changes=True)
def bench(
    context: typer.Context,
    scans: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[SCAN]...",
            help="Codes, keys and words to play at once; left out, they are scanned.",
            show_default=False,
        ),
    ] = None,
    no_bell: Annotated[
        bool, typer.Option("--no-bell", help="No sound on a refusal (or SALVAGE_NO_BELL).")
    ] = False,
) -> None:
    """
    Work at the bench by scanning: see, cut, stage, sell, move, undo.

    Scan a board or a piece to see it. Scan a card of the action sheet, or type its letter and
    Enter, to begin: then each board or piece that is scanned is done. A cut, a withdrawal and an
    undo are asked first; only the card Yes or a typed y is a yes. Each deed is in the record at
    once, so the window may be closed at any time.
    """
    from salvage.work.bench_sitting import Sitting

    session = session_of(context)
    is_live = not scans and session.may_ask and session.world.stdout_is_terminal
    if is_live and not session.form:
        if session.yes:
            raise Misuse("a live bench asks; give --yes with scans on the command line")
        from salvage.cli.bench_live import run_live

        is_silent = no_bell or bool(session.world.variable("SALVAGE_NO_BELL"))
        with session.open() as shop:
            run_live(session, Sitting(shop, dry_run=session.dry_run), is_silent=is_silent)
        return
    with session.open() as shop:
        sitting = Sitting(shop, yes=session.yes, dry_run=session.dry_run)
        raise typer.Exit(_play(session, shop, sitting, scans))


def _play(session: Session, shop: Workshop, sitting: Sitting, scans: Sequence[str] | None) -> int:
    """Play lines one by one; a refusal is told and the next line is read."""
    code = 0
    lines = iter(scans) if scans else iter(session.world.stdin.readline, "")
    for line in lines:
        if sitting.is_over or not line.strip():
            continue
        for answer in sitting.play(line):
            tell(session, shop, sitting, answer)
            code = 1 if answer.kind == "refused" else code
        session.world.stdout.flush()
    if sitting.bench.question:
        note(session, "not done: nobody answered; give y, or --yes")
        code = 1
    if session.dry_run:
        note(session, "nothing was recorded (--dry-run)")
    return code


def tell(session: Session, shop: Workshop, sitting: Sitting, answer: Answer) -> None:
    """
    Tell one answer in the form that was asked for.

    Args:
        session: The run.
        shop: The open workshop.
        sitting: As it stands.
        answer: To tell.
    """
    if session.form == "json":
        show_json(session, answer_record(sitting, answer), one_line=True)
    elif session.form == "plain":
        code = getattr(answer.seen, "code", "")
        show_plain(session, [(code, answer.kind, sitting.bench.mode, answer.words)])
    elif answer.words == "help":
        _tell_help(session)
    else:
        say(session, f"{_WORDS.get(answer.kind, '')}{clean(answer.words)}")
        _tell_board(session, shop, answer)
        if answer.hint:
            say(session, f"  {clean(answer.hint)}")


def answer_record(sitting: Sitting, answer: Answer) -> dict[str, Any]:
    """One answer of the bench as JSON."""
    return {
        "kind": answer.kind,
        "words": answer.words,
        "hint": answer.hint,
        "code": getattr(answer.seen, "code", ""),
        "mode": sitting.bench.mode,
        "argument": sitting.bench.argument,
        "question": [deed.words for deed in sitting.bench.question],
    }


def _tell_help(session: Session) -> None:
    from salvage.work.bench_words import KEYS

    for key, verb in KEYS.items():
        say(session, f"  {key}  {verb.replace('-', ' ')}")


def _tell_board(session: Session, shop: Workshop, answer: Answer) -> None:
    from salvage.cli.cutting_view import show_cautions, show_look
    from salvage.cli.held_places import read_held
    from salvage.work.bench_words import BoardSeen

    if isinstance(answer.seen, BoardSeen) and answer.seen.look and answer.kind == "shown":
        show_cautions(session)
        show_look(session, answer.seen.look, read_held(shop, answer.seen.code))
