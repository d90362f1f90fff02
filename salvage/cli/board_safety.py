"""``salvage board evidence`` and ``board free``: what shows that a board was safe to cut."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.board import commands
from salvage.cli.facts import source_fields
from salvage.cli.records import record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import note as tell_note
from salvage.cli.show import paint, say, say_wrapped, show_change, show_json, show_plain, warn

if TYPE_CHECKING:
    from collections.abc import Sequence

    from salvage.cli.options import BoardCode
    from salvage.work.evidence import NewEvidence
    from salvage.work.free_of import FreeAtCut, FreeLine, FreeOfView

PhotoOrNumber = Annotated[
    str, typer.Option(metavar="FILE", help="A photo, or the number of one of the board's.")
]


def read_evidence(session: Session, photo: str, note: str) -> NewEvidence | None:
    """
    Evidence from the options, or None where they tell nothing.

    Args:
        session: The run.
        photo: Name of a file, or the number of a photo of the board.
        note: What was seen.
    """
    from pathlib import Path

    from salvage.cli.files import read_file
    from salvage.work.evidence import NewEvidence
    from salvage.work.photos import NewPhoto

    if re.fullmatch("[0-9]{1,9}", photo):
        return NewEvidence(note, photo_n=int(photo))
    if photo:
        data = read_file(session, photo)
        new = NewPhoto(data, Path(photo).name, side="other", caption=note or "evidence of a check")
        return NewEvidence(note, new)
    return NewEvidence(note) if note else None


@commands.command(
    "evidence",
    example="salvage board evidence BC0002J coin-cell --photo empty-holder.jpg",
    changes=True,
)
def evidence(
    context: typer.Context,
    code: BoardCode,
    hazards: Annotated[list[str], typer.Argument(metavar="HAZARD...", help="What it shows.")],
    photo: PhotoOrNumber = "",
    note: Annotated[str, typer.Option(metavar="TEXT", help="What was seen.")] = "",
) -> None:
    """Keep a photo or note that shows that a hazard was looked for, or is off."""
    from salvage.work.evidence import NewEvidence, add_evidence
    from salvage.work.reading import read_code

    session = session_of(context)
    new = read_evidence(session, photo, note) or NewEvidence()
    with session.open() as shop:
        board = read_code(shop, text=code, kinds="B")
        kept = add_evidence(
            shop, board=board, hazards=hazards, evidence=new, dry_run=session.dry_run
        )
    show_change(
        session,
        [record_of(one) for one in kept],
        lines=[f"{board}  evidence kept, {len(kept)} in all"],
        codes=[board],
        next_step=f"board clear {board}",
    )


@commands.command("free", example="salvage board free BC0002J")
def free(context: typer.Context, code: BoardCode) -> None:
    """
    Show what the record proves: free of mercury, nickel-cadmium and lithium when it was cut.

    The order of events is the evidence: what was removed, or searched for and not found, before
    each cut. It certifies nothing.
    """
    from salvage.work.free_of import show_free_of
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        view = show_free_of(shop, board=read_code(shop, text=code, kinds="B"))
    if session.form == "json":
        show_json(session, _record(view))
    elif session.form == "plain":
        moments = [*((cut.cut, cut.lines) for cut in view.cuts), ("now", view.now)]
        show_plain(
            session,
            (
                [view.board, moment, line.item.slug, "proven" if line.proven else "not proven"]
                for moment, lines in moments
                for line in lines
            ),
        )
    else:
        _show(session, view)


def _record(view: FreeOfView) -> dict[str, Any]:
    return {
        "board": view.board,
        "type": view.board_type,
        "cuts": [
            {
                "cut": cut.cut,
                "at": cut.at,
                "entry": cut.entry,
                "override": cut.override,
                "proven": cut.proven,
                "lines": [_line_record(line) for line in cut.lines],
            }
            for cut in view.cuts
        ],
        "now": [_line_record(line) for line in view.now],
    }


def _line_record(line: FreeLine) -> dict[str, Any]:
    return {
        "free_of": line.item.slug,
        "name": line.item.words,
        "proven": line.proven,
        "words": list(line.words),
        "missing": list(line.missing),
        **source_fields(line.item.source),
    }


def _show(session: Session, view: FreeOfView) -> None:
    from salvage.knowledge.cautions import closing_line

    for cut in view.cuts:
        _show_cut(session, view, cut)
    if view.missing or not view.cuts:
        words = "NOT SHOWN to be free of all four" if view.missing else "free of all four"
        say(session, paint(session, f"{view.board}  as it is now: {words}", "strong"))
        _show_lines(session, view.now)
    for text in dict.fromkeys(line.item.source.marked_words for line in view.now):
        say_wrapped(session, f"source: {text}", indent=8, always=True)
    warn(session, closing_line().text)
    if view.missing:
        words = f"board clear {view.board} --absent {','.join(view.missing)} --how …"
        tell_note(session, paint(session, f"next, if that is so: salvage {words}", "quiet"))


def _show_cut(session: Session, view: FreeOfView, cut: FreeAtCut) -> None:
    when = f"{cut.at[:10]} {cut.at[11:16]}, entry {cut.entry}"
    words = "free of all four" if cut.proven else "NOT SHOWN to be free of all four"
    head = f"{view.board}  at {cut.cut}, {when}: {words}"
    say(session, paint(session, head, "strong"))
    if cut.override:
        say_wrapped(session, f"  OVERRIDE: {cut.override}", indent=4, always=True)
    _show_lines(session, cut.lines)


def _show_lines(session: Session, lines: Sequence[FreeLine]) -> None:
    for line in lines:
        say(session, f"  {'[x]' if line.proven else '[ ]'} {line.item.words}")
        for text in line.words:
            say_wrapped(session, f"      {text}", indent=8, always=True)
