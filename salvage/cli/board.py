"""``salvage board``: record boards, measure them, find them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from salvage.cli.command import CommandSet
from salvage.cli.count import MOST_CODES, lines_of_codes
from salvage.cli.records import board_record, record_of
from salvage.cli.session import session_of
from salvage.cli.show import Column, note, show_change, show_list, show_record
from salvage.units import format_area, format_mass, format_mm

if TYPE_CHECKING:
    import typer

    from salvage.cli.options import (
        BoardCode,
        Drawing,
        DropOffCode,
        Force,
        FormName,
        NoHoles,
        Out,
        Size,
    )
    from salvage.records.things import Board, KeepOut

commands = CommandSet(
    "board",
    "Boards: record, measure, clear of hazards, find.",
    "salvage board add DC0005X --type motherboard --form atx",
)


@commands.command(
    "add",
    example="salvage board add DC0005X --type motherboard --form atx --count 3 --thickness 1.6",
    changes=True,
)
def add(
    context: typer.Context,
    code: DropOffCode,
    type_: Annotated[
        str, typer.Option("--type", metavar="TYPE", help="Such as motherboard or network card.")
    ],
    form: FormName = "",
    size: Size = "",
    svg: Drawing = "",
    no_holes: NoHoles = False,
    count: Annotated[int, typer.Option(help="So many alike, each with its own code.")] = 1,
    maker: Annotated[str, typer.Option(metavar="TEXT", help="As printed on it.")] = "",
    model: Annotated[str, typer.Option(metavar="TEXT", help="As printed on it.")] = "",
    date_code: Annotated[str, typer.Option(metavar="TEXT", help="As printed, such as 9842.")] = "",
    colour: Annotated[str, typer.Option(metavar="TEXT", help="Of the solder mask.")] = "",
    thickness: Annotated[
        str, typer.Option("--thickness", "--thickness-mm", metavar="MM", help="By caliper.")
    ] = "",
    weight: Annotated[str, typer.Option(metavar="MASS", help="Such as 410g.")] = "",
    lead: Annotated[
        str, typer.Option(metavar="STATUS", help="Unknown, assumed-leaded, marked-…, tested.")
    ] = "unknown",
    lead_evidence: Annotated[
        str, typer.Option(metavar="TEXT", help="The mark, or instrument and verdict.")
    ] = "",
    place: Annotated[str, typer.Option(metavar="TEXT", help="Shelf or box.")] = "",
    keepout: Annotated[
        list[str] | None,
        typer.Option(metavar='"X,Y X,Y WHY"', help="Region not to cut; may be given again."),
    ] = None,
    notes: Annotated[str, typer.Option(metavar="TEXT", help="For the workshop only.")] = "",
) -> None:
    """
    Record one board, or several alike, of a drop-off.

    A board is held until each hazard that its type may carry is settled. A keep-out is two corners
    of a rectangle, a point with r6 for a circle, or three and more corners, then the reason; all in
    mm from the lower left.
    """
    _add(context, count)


def _add(context: typer.Context, count: int) -> None:
    from salvage.cli import new_board
    from salvage.cli.board_words import outline_source
    from salvage.work.record import record_boards

    session = session_of(context)
    given = {key: value for key, value in context.params.items() if value and key != "count"}
    typed = new_board.Typed(**given | {"keepout": tuple(given.get("keepout", ()))})
    with session.open() as shop:
        new = new_board.parse_typed(session, shop, typed)
        boards = record_boards(shop, new=new, count=count, dry_run=session.dry_run)
    codes = [board.code for board in boards]
    show_change(
        session,
        [board_record(board) for board in boards],
        lines=lines_of_codes(
            [(board.code, f"{board.title} recorded, {board_state(board)}") for board in boards]
        ),
        codes=codes,
        next_step=f"board clear {' '.join(codes)}" if len(codes) <= MOST_CODES else "label --new",
    )
    if not session.form and (source := outline_source(new.outline_from)):
        note(session, f"{new.outline_from}, a first guess: {source}")


def board_state(board: Board) -> str:
    """Clearance and usable area in words."""
    parts = [f"retired: {board.retired}" if board.retired else board.clearance]
    if board.recalled:
        parts.append("recalled")
    if board.outline:
        parts.append(f"usable {format_area(board.usable_um2 / 1e6)}")
    else:
        parts.append("no outline yet")
    return ", ".join(parts)


_COLUMNS = (
    Column("code", "code"),
    Column("what", "title"),
    Column("state", "state"),
    Column("usable", "usable_mm2", format_area),
    Column("cuts", "cut_count"),
    Column("place", "place"),
    Column("from", "drop_off"),
)


@commands.command("list", example="salvage board list --state remnant")
def list_(
    context: typer.Context,
    state: Annotated[
        str,
        typer.Option(metavar="STATE", help="held, cleared, remnant, recalled, retired or all."),
    ] = "",
    dropoff: Annotated[str, typer.Option(metavar="DROPOFF", help="Only from this one.")] = "",
    find: Annotated[
        str, typer.Option(metavar="WORDS", help="Only those whose record holds all these words.")
    ] = "",
    most: Annotated[int, typer.Option(min=1, help="At most so many, the newest.")] = 100,
) -> None:
    """List boards, newest first; retired ones only when asked for."""
    from salvage.records.choices import parse_choice
    from salvage.work.reading import read_code
    from salvage.work.record import BOARD_STATES, list_boards
    from salvage.work.shelf_search import ShelfQuery, search_shelf

    session = session_of(context)
    if state:
        state = parse_choice(state, tuple(BOARD_STATES), field="--state")
    with session.open() as shop:
        from_one = read_code(shop, text=dropoff, kinds="D", field="--dropoff") if dropoff else ""
        if find:
            query = ShelfQuery(f"{find} {from_one}", state, most=most)
            boards = search_shelf(shop, query=query).boards
        else:
            boards = list_boards(shop, state=state, drop_off=from_one, most=most)
    records = [board_record(board, state=board_word(board)) for board in boards]
    is_narrowed = bool(state or dropoff or find)
    empty = "no such boards; 'salvage board list' lists all" if is_narrowed else _NO_BOARD
    show_list(session, records, _COLUMNS, empty=empty)


_NO_BOARD = "no board is on the shelf; 'salvage' alone tells what comes next"


def board_word(board: Board) -> str:
    """One word for how a board stands, the gravest first."""
    if board.recalled:
        return "recalled"
    return "retired" if board.retired else board.clearance


@commands.command("show", example="salvage board show BC0002J")
def show(context: typer.Context, code: BoardCode) -> None:
    """Show one board with its keep-outs, reserved places, checks and photos."""
    from salvage.cli.board_words import (
        check_lines,
        check_records,
        date_words,
        override_lines,
        override_records,
        reading_record,
    )
    from salvage.cli.held_places import held_lines, read_held
    from salvage.cli.richness_hint import richness_line
    from salvage.store.lookup import load_board
    from salvage.work.clear import read_checklist
    from salvage.work.overrides import overrides_of
    from salvage.work.photos import list_photos
    from salvage.work.reading import read_code
    from salvage.work.record import list_keep_outs

    session = session_of(context)
    with session.open() as shop:
        board = load_board(shop.conn, read_code(shop, text=code, kinds="B"))
        keep_outs = list_keep_outs(shop, board.code)
        checklist = read_checklist(shop, board.code).lines
        overrides = overrides_of(shop.conn, board.code)
        photos = list_photos(shop, board.code)
        held = read_held(shop, board.code)
        rich = "" if session.form else richness_line(shop, board.code)
    record = board_record(
        board,
        state=board_word(board),
        keep_outs=[record_of(keep_out) for keep_out in keep_outs],
        reservations=[record_of(reservation) for reservation in held],
        checks=check_records(checklist),
        date_reading=reading_record(board, session.today),
        overrides=override_records(overrides),
        photos=[record_of(photo) for photo in photos],
    )
    lines = [f"{board.code}  {board.title}, {board_state(board)}", *_facts(board)]
    lines += [*date_words(board, session.today), *override_lines(overrides)]
    lines += [f"  keep-out {k.n}: {_keep_out(k)}" for k in keep_outs]
    lines += [rich] if rich else []
    lines += held_lines(held)
    lines += check_lines(checklist)
    lines += [
        f"  photo {photo.n}: {', '.join(filter(None, (photo.side, photo.caption)))}"
        for photo in photos
    ]
    show_record(session, record, lines=lines, plain=[column.key for column in _COLUMNS])


def _keep_out(keep_out: KeepOut) -> str:
    return f"{keep_out.reason} (lifted)" if keep_out.lifted else keep_out.reason


def _facts(board: Board) -> list[str]:
    from salvage.cli.board_words import outline_source

    source = outline_source(board.outline_from)
    thickness = format_mm(board.thickness_um / 1000) if board.thickness_um else ""
    weight = format_mass(board.weight_mg / 1000) if board.weight_mg else ""
    lead = board.lead_status + (f" ({board.lead_evidence})" if board.lead_evidence else "")
    told = {
        "from": board.drop_off,
        "date code": board.date_code,
        "colour": board.colour,
        "thickness": thickness,
        "weight": weight,
        "lead": lead,
        "place": board.place,
        "outline": ", source: ".join(filter(None, (board.outline_from, source))),
        "notes": board.notes,
    }
    return [f"  {name}: {text}" for name, text in told.items() if text]


@commands.command("map", example="salvage board map BC0002J --out board.png")
def map_(
    context: typer.Context,
    code: BoardCode,
    side: Annotated[
        str, typer.Option(metavar="SIDE", help="front, or back: as seen turned over like a page.")
    ] = "front",
    out: Out = "",
    force: Force = False,
) -> None:
    """Draw a board's map as a PNG, over its photo where the corners are known."""
    from salvage.cli.files import write_file
    from salvage.records.choices import SIDES, parse_choice
    from salvage.work.look import draw_board_map
    from salvage.work.reading import read_code

    session = session_of(context)
    seen = parse_choice(side, SIDES, field="--side")
    ending = "" if seen == "front" else f"-{seen}"
    with session.open() as shop:
        found = read_code(shop, text=code, kinds="B")
        path = write_file(
            session,
            out or f"map-{found}{ending}.png",
            lambda: draw_board_map(shop, board=found, side=seen),
            force=force,
        )
    record = {"code": found, "side": seen, "file": str(path)}
    show_record(session, record, lines=[f"{found}  map written: {path}"], plain=("file",))
