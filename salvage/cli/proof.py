"""``salvage proof``: signed checkpoints, and the short proof of one piece."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from salvage.cli.command import CommandSet
from salvage.cli.files import read_file, write_file
from salvage.cli.options import Force, Out, PieceCode
from salvage.cli.records import record_of
from salvage.cli.session import session_of
from salvage.cli.show import clean, paint, say, show_change, show_json, show_plain

commands = CommandSet(
    "proof", "Signed proof: of the whole journal, or of one piece.", "salvage proof sign"
)


@commands.command("sign", example="salvage proof sign --out /media/stick/june.json", changes=True)
def sign(context: typer.Context, out: Out = "", force: Force = False) -> None:
    """
    Sign how far the journal has come.

    The checkpoint is kept in the workshop's folder, where 'salvage check' holds it against the
    journal. Keep a copy elsewhere as well: whoever can write the folder can take it away.
    """
    from salvage.work.checkpoints import sign_checkpoint

    session = session_of(context)
    with session.open() as shop:
        if out:
            from salvage.cli.files import check_target

            check_target(session, out, force=force)
        made = sign_checkpoint(shop, dry_run=session.dry_run)
        path = write_file(session, out, lambda: made.data, force=force) if out else None
    record = record_of(made, short=made.short, file=str(path) if path else "")
    lines = [
        f"signed: {made.short}",
        f"key {made.public_key}",
        f"written: {path}" if path else "a copy elsewhere proves more: add --out FILE",
    ]
    show_change(session, record, lines=lines, codes=[made.short], next_step="check")


@commands.command("verify", example="salvage proof verify /media/stick/june.json")
def verify(
    context: typer.Context,
    files: Annotated[list[str], typer.Argument(metavar="FILE...", help="Checkpoints.")],
) -> None:
    """
    Hold checkpoints against the journal as it is.

    Tells a cut-off tail, a rewritten history and a forged file. Ends with exit code 1 when
    something does not hold.
    """
    from salvage.work.checkpoints import verify_checkpoint

    session = session_of(context)
    with session.open() as shop:
        found = [
            verify_checkpoint(shop, data=read_file(session, name), name=Path(name).name)
            for name in files
        ]
    if session.form == "json":
        show_json(session, [record_of(one, ok=one.ok) for one in found])
    elif session.form == "plain":
        show_plain(
            session,
            ([v.name, "ok" if v.ok else "fault", v.at, v.heads, *v.faults] for v in found),
        )
    else:
        for one in found:
            word = paint(session, "ok   ", "good") if one.ok else paint(session, "FAULT", "bad")
            told = f"{one.name}: signed on device {one.device} at {one.at}, {one.heads}"
            say(session, f"{word}  {clean(told)}")
            for fault in one.faults:
                say(session, f"       - {clean(fault)}")
    if not all(one.ok for one in found):
        raise typer.Exit(1)


@commands.command("piece", example="salvage proof piece PC0001D --out proof.json", changes=True)
def piece(context: typer.Context, code: PieceCode, out: Out = "", force: Force = False) -> None:
    """
    Write the proof of one piece, which anybody can verify without this program.

    It holds the events from donor to piece as the donor agreed to, and a signed checkpoint. The
    steps are in docs/howto/verify-a-story-card.md.
    """
    from salvage.work import proof as work
    from salvage.work.reading import read_code

    session = session_of(context)
    made: list[work.Proof] = []
    with session.open() as shop:
        wanted = read_code(shop, text=code, kinds="P")

        def make() -> bytes:
            made.append(work.prove_piece(shop, piece=wanted, dry_run=session.dry_run))
            return made[0].data

        path = write_file(session, out or f"proof-{wanted}.json", make, force=force)
    (done,) = made
    show_change(
        session,
        {
            "code": done.piece,
            "file": str(path),
            "shown": done.shown,
            "withheld": done.withheld,
            "heads": done.heads,
        },
        lines=[
            f"{done.piece}  proof {'would go to' if session.dry_run else 'written:'} {path}",
            f"events to read: {done.shown}; given by their hash alone: {done.withheld}",
            "who was at work stands in each event: look through it before you hand it on",
        ],
        codes=[str(path)],
    )
