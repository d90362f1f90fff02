"""``salvage board``: measure a board, mark it, move it, close it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.board import board_state, board_word, commands
from salvage.cli.records import board_record
from salvage.cli.session import Session, session_of
from salvage.cli.show import show_change

if TYPE_CHECKING:
    from salvage.cli.options import BoardCode, Drawing, FormName, Size
    from salvage.records.things import Board


@commands.command(
    "outline", example="salvage board outline BC0002J --svg measured.svg", changes=True
)
def outline(
    context: typer.Context,
    code: BoardCode,
    form: FormName = "",
    size: Size = "",
    svg: Drawing = "",
    corners: Annotated[
        str, typer.Option(metavar='"X,Y X,Y X,Y"', help="Three corners or more, in mm, in order.")
    ] = "",
) -> None:
    """Give a board its outline, or a better one; not after the first cut."""
    from salvage.cli.failures import Misuse
    from salvage.cli.new_board import read_outline
    from salvage.work.first_outline import outline_of_corners
    from salvage.work.reading import read_code
    from salvage.work.record import set_outline

    session = session_of(context)
    if corners and (form or size or svg):
        raise Misuse("give one of --form, --size, --svg and --corners")
    found = read_outline(session, form=form, size=size, svg=svg)
    if corners:
        found = outline_of_corners(corners)
    if found is None:
        raise Misuse("give one of --form, --size, --svg and --corners")
    with session.open() as shop:
        board = set_outline(
            shop,
            board=read_code(shop, text=code, kinds="B"),
            outline=found.region,
            outline_from=found.outline_from,
            dry_run=session.dry_run,
        )
    _tell(session, board, f"outline set from {board.outline_from}, {board_state(board)}", "scan")


@commands.command(
    "keepout", example='salvage board keepout BC0002J "0,0 20,20 serial port"', changes=True
)
def keepout(
    context: typer.Context,
    code: BoardCode,
    regions: Annotated[
        list[str],
        typer.Argument(metavar='"X,Y X,Y WHY"...', help="Points in mm, then the reason."),
    ],
) -> None:
    """
    Mark regions of a board that must not be cut into a piece.

    Two points are opposite corners of a rectangle, one point with r6 is a circle of 6 mm, three and
    more are corners in order.
    """
    from salvage.cli.gather import Gatherer
    from salvage.cli.new_board import read_keep_outs
    from salvage.work.reading import read_code
    from salvage.work.record import add_keep_outs

    session, gather = session_of(context), Gatherer()
    keep_outs = read_keep_outs(gather, regions, field="keep-out")
    gather.finish()
    with session.open() as shop:
        found = read_code(shop, text=code, kinds="B")
        board = add_keep_outs(shop, board=found, keep_outs=keep_outs, dry_run=session.dry_run)
    words = ", ".join(keep_out.reason for keep_out in keep_outs)
    _tell(session, board, f"keep-out marked: {words}; {board_state(board)}", "scan")


@commands.command(
    "lift", example='salvage board lift BC0002J 2 --reason "connector is off"', changes=True
)
def lift(
    context: typer.Context,
    code: BoardCode,
    n: Annotated[int, typer.Argument(metavar="N", help="Number of the keep-out.")],
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why it may be cut now.")] = "",
) -> None:
    """Take a keep-out off."""
    from salvage.work.reading import read_code
    from salvage.work.record import lift_keep_out

    session = session_of(context)
    with session.open() as shop:
        found = read_code(shop, text=code, kinds="B")
        board = lift_keep_out(shop, board=found, n=n, reason=reason, dry_run=session.dry_run)
    _tell(session, board, f"keep-out {n} lifted, {board_state(board)}", "scan")


@commands.command(
    "redraw", example='salvage board redraw BC0002J 2 "0,0 20,25 serial port"', changes=True
)
def redraw(
    context: typer.Context,
    code: BoardCode,
    n: Annotated[int, typer.Argument(metavar="N", help="Number of the keep-out.")],
    region: Annotated[str, typer.Argument(metavar='"X,Y X,Y WHY"', help="As for 'board keepout'.")],
) -> None:
    """Give a keep-out another place or form; both stay on the record."""
    from salvage.work.reading import read_code
    from salvage.work.redraw import redraw_keep_out
    from salvage.work.spots import parse_keep_out

    session = session_of(context)
    new = parse_keep_out(region, field="keep-out")
    with session.open() as shop:
        found = read_code(shop, text=code, kinds="B")
        board = redraw_keep_out(shop, board=found, n=n, keep_out=new, dry_run=session.dry_run)
    _tell(session, board, f"keep-out {n} drawn anew: {new.reason}, {board_state(board)}", "scan")


@commands.command(
    "lead",
    example='salvage board lead BC0002J marked-lead-free --evidence "Pb-free logo on the back"',
    changes=True,
)
def lead(
    context: typer.Context,
    code: BoardCode,
    status: Annotated[
        str,
        typer.Argument(
            metavar="[STATUS]",
            help="unknown, assumed-leaded, marked-lead-free, tested; shown if left out.",
            show_default=False,
        ),
    ] = "",
    evidence: Annotated[
        str,
        typer.Option(
            "--evidence", "--lead-evidence", metavar="TEXT", help="What the status rests on."
        ),
    ] = "",
) -> None:
    """Record what is known about lead, or show what date and marks can tell; none certifies."""
    from salvage.cli.board_lead import show_lead
    from salvage.knowledge.lead import lead_caution, parse_lead_status
    from salvage.work.reading import read_code
    from salvage.work.record import set_lead

    session = session_of(context)
    if not status:
        show_lead(session, code)
        return
    with session.open() as shop:
        board = set_lead(
            shop,
            board=read_code(shop, text=code, kinds="B"),
            lead_status=parse_lead_status(status, field="STATUS"),
            lead_evidence=evidence,
            dry_run=session.dry_run,
        )
    caution = lead_caution(board.lead_status)
    words = f"lead: {board.lead_status}. {caution.text} ({caution.source.marked_words})"
    _tell(session, board, words, "scan")


@commands.command("move", example='salvage board move BC0002J "shelf 3"', changes=True)
def move(
    context: typer.Context,
    code: BoardCode,
    place: Annotated[str, typer.Argument(metavar="PLACE", help="Shelf or box.")],
) -> None:
    """Record where a board lies now."""
    from salvage.work.reading import read_code
    from salvage.work.record import move_board

    session = session_of(context)
    with session.open() as shop:
        found = read_code(shop, text=code, kinds="B")
        board = move_board(shop, board=found, place=place, dry_run=session.dry_run)
    _tell(session, board, f"lies at {board.place}", "scan")


@commands.command(
    "retire", example='salvage board retire BC0002J --reason "nothing usable left"', changes=True
)
def retire(
    context: typer.Context,
    code: BoardCode,
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why.")] = "",
) -> None:
    """Close a board that is used up, too damaged, or gone to the recycler."""
    from salvage.work.reading import read_code
    from salvage.work.record import retire_board

    session = session_of(context)
    with session.open() as shop:
        found = read_code(shop, text=code, kinds="B")
        board = retire_board(shop, board=found, reason=reason, dry_run=session.dry_run)
    _tell(session, board, f"retired: {board.retired}", "history")


def _tell(session: Session, board: Board, words: str, next_command: str) -> None:
    record: dict[str, Any] = board_record(board, state=board_word(board))
    step = f"{next_command} {board.code}"
    lines = [f"{board.code}  {words}"]
    show_change(session, record, lines=lines, codes=[board.code], next_step=step)
