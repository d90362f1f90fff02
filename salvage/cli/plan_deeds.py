"""``salvage plan show`` and ``cut``: a plan as it stands, and its places cut in one step."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, TypeAlias

import typer

from salvage.cli.count import count_of
from salvage.cli.options import completer
from salvage.cli.plan import PlanCode, commands
from salvage.cli.records import record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import clean_line, note, paint, show_change, show_json, show_plain

if TYPE_CHECKING:
    from salvage.cli.options import Force
    from salvage.ids import Code
    from salvage.work.plan_cutting import PlanCut, WhatCameOut
    from salvage.work.workshop import Workshop


@commands.command("show", example="salvage plan show JC0001R --picture order.png")
def show(
    context: typer.Context,
    code: PlanCode,
    picture: Annotated[
        str, typer.Option("--picture", metavar="FILE", help="Draw the boards, as SVG or PNG.")
    ] = "",
    before: Annotated[
        bool, typer.Option("--before", help="With --picture: the boards without the plan.")
    ] = False,
    force: Force = False,
) -> None:
    """
    Show a plan: asked, placed, cut and open, which boards to pull, and where on them to cut.

    The map of each board shows every place with the sign under which it is listed.
    """
    from salvage.cli.failures import Misuse
    from salvage.cli.plan_view import plan_record, show_plan
    from salvage.work.plans import view_plan
    from salvage.work.reading import read_code

    session = session_of(context)
    if before and not picture:
        raise Misuse("--before is about a picture; name it with --picture")
    with session.open() as shop:
        plan = read_code(shop, text=code, kinds="J")
        view = view_plan(shop, plan=plan)
        if picture:
            _write_picture(session, shop, plan, picture, before=before, force=force)
        elif session.form == "json":
            show_json(session, plan_record(shop, view))
        elif session.form == "plain":
            rows = ([p.code, p.board, p.shape, p.x_um / 1000, p.y_um / 1000] for p in view.places)
            states = (place.state for place in view.places)
            show_plain(session, ([*row, state] for row, state in zip(rows, states, strict=True)))
        else:
            show_plan(session, shop, view)


def _write_picture(
    session: Session, shop: Workshop, plan: Code, name: str, *, before: bool, force: bool
) -> None:
    from salvage.cli.files import write_file
    from salvage.work.plan_pictures import draw_plan

    form = picture_form(name)
    path = write_file(
        session, name, lambda: draw_plan(shop, plan=plan, before=before, form=form), force=force
    )
    show_change(
        session,
        {"plan": plan, "file": str(path)},
        lines=[f"{plan}  drawn{' without its places' if before else ''}: {path}"],
        codes=[str(path)],
    )


def picture_form(name: str) -> str:
    """
    The form of picture that a file's name asks for.

    Raises:
        BadValue: If it ends in neither .svg nor .png.

    >>> picture_form("order.PNG")
    'png'
    """
    from salvage.errors import BadValue

    ending = name.rpartition(".")[2].lower()
    if ending not in ("svg", "png"):
        raise BadValue(f"'{name}' is no name of a picture", hint="end it in .svg or .png")
    return ending


_Leave: TypeAlias = Annotated[
    list[str] | None,
    typer.Option(
        "--except",
        metavar="PLACE",
        help="Not cut; it stays held. May come again.",
        autocompletion=completer("R"),
    ),
]


@commands.command(
    "cut", example="salvage plan cut JC0001R --board BC0002J --except RC0001X", changes=True
)
def cut(
    context: typer.Context,
    code: PlanCode,
    boards: Annotated[
        list[str] | None,
        typer.Option(
            "--board",
            metavar="BOARD",
            help="Only what is on this board; may come again.",
            autocompletion=completer("B"),
        ),
    ] = None,
    leave: _Leave = None,
    scrap: Annotated[
        list[str] | None,
        typer.Option(
            "--scrap",
            metavar="PLACE",
            help="Came out as scrap. May come again.",
            autocompletion=completer("R"),
        ),
    ] = None,
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why scrap.")] = "",
) -> None:
    """
    Record that a plan's places were cut: pieces in one step, after one question.

    Every board is checked first; one that may not be cut stops the whole step.
    """
    from salvage.work import plan_cutting, wishes
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        plan = read_code(shop, text=code, kinds="J")
        came = plan_cutting.WhatCameOut(
            wishes.read_boards(shop, boards or (), field="--board"),
            wishes.read_places(shop, leave or (), field="--except"),
            wishes.read_places(shop, scrap or (), field="--scrap"),
            reason,
        )
        if not session.dry_run and not session.yes:
            _ask(session, shop, plan, came)
        done = plan_cutting.cut_plan(shop, plan=plan, came=came, dry_run=session.dry_run)
    _tell_cut(session, done)


def _ask(session: Session, shop: Workshop, plan: Code, came: WhatCameOut) -> None:
    """Try it, show what will be written, and ask once."""
    from salvage.cli.ask import confirm
    from salvage.cli.cutting_view import show_cautions
    from salvage.store.lookup import load_board
    from salvage.work.plan_cutting import cut_plan
    from salvage.work.verdict import find_warnings

    tried = cut_plan(shop, plan=plan, came=came, dry_run=True)
    codes = dict.fromkeys(one.cut.board for one in tried.cuts)
    if not session.form:
        show_cautions(session)
        for code in codes:
            board = load_board(shop.conn, code)
            here = sum(one.cut.board == code for one in tried.cuts)
            go = paint(session, "GO", "good")
            note(session, f"{go} {code}  {clean_line(board.title)}: {count_of(here, 'cut')}")
            for warning in find_warnings(shop.conn, board):
                note(session, f"  ! {clean_line(warning)}")
    many = count_of(len(tried.cuts), "cut")
    confirm(session, f"Record {many} on {count_of(len(codes), 'board')} from {plan}?")


def _tell_cut(session: Session, done: PlanCut) -> None:
    lines = []
    for one in done.cuts:
        made = f"piece {one.piece.code}" if one.piece else f"scrap ({one.cut.reason})"
        lines.append(f"{one.cut.board}  {one.cut.reservation} {one.cut.shape}: {made}")
    if done.left:
        left = ", ".join(place.code for place in done.left)
        lines.append(f"{done.plan.code}  still held: {left}")
    if done.plan.tool == "shears":
        lines.append(
            "straight cuts leave panels: what is left of each board is in parts now, so look"
            " before you plan on it again"
        )
    pieces = [one.piece.code for one in done.cuts if one.piece]
    show_change(
        session,
        {
            "plan": done.plan.code,
            "cuts": [
                {"cut": record_of(one.cut), "piece": record_of(one.piece) if one.piece else None}
                for one in done.cuts
            ],
            "left": [record_of(place) for place in done.left],
        },
        lines=lines,
        codes=[one.piece.code if one.piece else one.cut.code for one in done.cuts],
        next_step="label --new" if pieces else f"plan show {done.plan.code}",
    )
