"""``salvage dropoff``: deliveries from the door to the receipt."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from salvage.cli.command import CommandSet
from salvage.cli.count import codes_in_words, count_of
from salvage.cli.records import board_record, record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, note, show_change, show_list, show_record, warn
from salvage.units import format_mass

if TYPE_CHECKING:
    import typer

    from salvage.cli.options import DropOffCode, Force, Out
    from salvage.work.receive import DropOffView

commands = CommandSet(
    "dropoff",
    "Deliveries: what came, from whom, and what became of the data-bearing parts.",
    'salvage dropoff add --donor "Skerry Point Planetarium" --contents "network cards" --boards 14',
)


def drop_off_record(view: DropOffView) -> dict[str, Any]:
    """A drop-off with its donor as the owner sees it, data-bearing parts and boards."""
    return record_of(
        view.drop_off,
        donor_name=view.donor.name,
        donor_public=view.donor.public,
        data_parts=[record_of(part) for part in view.data_parts],
        open_data_parts=len(view.open_data_parts),
        boards=[board.code for board in view.boards],
    )


@commands.command(
    "add",
    example='salvage dropoff add --donor "Skerry Point Planetarium" --contents "network cards"'
    ' --boards 14 --weight 6.2kg --naming described --described-as "a planetarium"',
    changes=True,
)
def add(
    context: typer.Context,
    donor: Annotated[str, typer.Option(metavar="NAME", help="Name or code of the donor.")] = "",
    contents: Annotated[str, typer.Option(metavar="TEXT", help="What arrived.")] = "",
    boards: Annotated[str, typer.Option(metavar="N", help="Boards counted.")] = "",
    weight: Annotated[str, typer.Option(metavar="MASS", help="Such as 6.2kg or 14 lb.")] = "",
    source: Annotated[str, typer.Option(metavar="KIND", help="Recycler, college, firm …")] = "",
    naming: Annotated[
        str, typer.Option(metavar="WISH", help="How cards may put it: named, described, anonymous.")
    ] = "",
    naming_how: Annotated[
        str, typer.Option(metavar="TEXT", help="How the wish was given, such as 'at the door'.")
    ] = "",
    described_as: Annotated[
        str, typer.Option(metavar="TEXT", help="Words for the card, such as 'a planetarium'.")
    ] = "",
    contact: Annotated[str, typer.Option(metavar="TEXT", help="Kept private, sealed.")] = "",
    data: Annotated[
        list[str] | None,
        typer.Option(metavar="PART:N", help="Part that holds data, such as 'hard disk:2'."),
    ] = None,
    date: Annotated[str, typer.Option(metavar="DAY", help="Day it came; today if left out.")] = "",
    channel: Annotated[
        str, typer.Option(metavar="HOW", help="By hand, post, collected or fair.")
    ] = "",
    origin: Annotated[str, typer.Option(metavar="TEXT", help="Coarse place, for the story.")] = "",
    origin_country: Annotated[str, typer.Option(metavar="XX", help="Country, two letters.")] = "",
    story: Annotated[str, typer.Option(metavar="TEXT", help="The donor's words, printable.")] = "",
    notes: Annotated[str, typer.Option(metavar="TEXT", help="For the workshop only.")] = "",
) -> None:
    """Log one delivery from one donor; typed alone on a terminal it asks."""
    from salvage.cli import new_drop_off
    from salvage.work.receive import log_drop_off

    session = session_of(context)
    given = {name: value for name, value in context.params.items() if value}
    typed = new_drop_off.Typed(**given | {"data": tuple(data or ())})
    is_asked = not given and session.may_ask
    if not is_asked:
        new_drop_off.check_complete(typed)
    with session.open(create=True) as shop:
        if is_asked:
            typed = new_drop_off.ask_all(session, shop)
        who, new = new_drop_off.parse_typed(shop, typed)
        view = log_drop_off(shop, donor=who, new=new, dry_run=session.dry_run)
    _tell(session, view)


def _tell(session: Session, view: DropOffView) -> None:
    code = view.drop_off.code
    lines = [f"{code}  drop-off logged: {_what(view)}", f"{view.donor.donor.code}  {_who(view)}"]
    lines += [
        f"  data-bearing part {part.n}: {part.count} x {part.part}, open"
        for part in view.open_data_parts
    ] or _not_searched(view)
    show_change(
        session,
        drop_off_record(view),
        lines=lines,
        codes=[code],
        next_step=f"board add {code} --type motherboard --form atx",
    )


def _what(view: DropOffView) -> str:
    found = view.drop_off
    parts = [found.contents]
    if found.board_count:
        parts.append(count_of(found.board_count, "board"))
    if found.weight_mg:
        parts.append(format_mass(found.weight_mg / 1000))
    return f"{', '.join(parts)}, received {found.received_on}"


def _who(view: DropOffView) -> str:
    donor = view.donor
    known = donor.name or "no name kept"
    return f"donor {known}; cards say: {donor.public}"


_COLUMNS = (
    Column("code", "code"),
    Column("received", "received_on"),
    Column("contents", "contents"),
    Column("weight", "weight_g", lambda grams: format_mass(grams)),
    Column("donor", "donor_name"),
    Column("on cards", "donor_public"),
    Column("open data parts", "open_data_parts"),
    Column("boards", "boards", lambda codes: str(len(codes))),
)


@commands.command("list", example="salvage dropoff list --most 10")
def list_(
    context: typer.Context,
    most: Annotated[int, typer.Option(min=1, help="At most so many, the newest.")] = 50,
) -> None:
    """List drop-offs, newest first."""
    from salvage.work.receive import list_drop_offs

    session = session_of(context)
    with session.open() as shop:
        views = list_drop_offs(shop, most=most)
    records = [drop_off_record(view) for view in views]
    if session.form == "plain":
        records = [record | {"boards": len(record["boards"])} for record in records]
    show_list(session, records, _COLUMNS, empty="no drop-offs yet; next: salvage dropoff add")


@commands.command("show", example="salvage dropoff show DC0005X")
def show(context: typer.Context, code: DropOffCode) -> None:
    """Show one drop-off with its donor, data-bearing parts and boards."""
    from salvage.work.custody import show_custody
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        custody = show_custody(shop, drop_off=read_code(shop, text=code, kinds="D"))
    view = custody.drop_off
    boards = [board_record(board) for board in view.boards]
    record = drop_off_record(view) | {"boards": boards, "standing": custody.standing}
    plain = ("code", "received_on", "contents", "weight_g", "donor", "open_data_parts")
    first, *rest = _page(view)
    show_record(session, record, lines=[first, f"  {custody.standing}", *rest], plain=plain)


def _not_searched(view: DropOffView) -> list[str]:
    """A line where nobody has looked for data-bearing parts; that is not the same as none."""
    return [] if view.data_parts else ["  nobody has looked for data-bearing parts yet"]


def _in_brackets(text: str) -> str:
    return f" ({text})" if text else ""


def _page(view: DropOffView) -> list[str]:
    found = view.drop_off
    lines = [f"{found.code}  {_what(view)}", f"  {view.donor.donor.code}  {_who(view)}"]
    told = (("came", found.channel), ("from", found.origin), ("story", found.story))
    lines += [f"  {name}: {text}" for name, text in (*told, ("notes", found.notes)) if text]
    lines += [
        f"  data part {part.n}: {part.count} x {part.part}, {part.state}{_in_brackets(part.how)}"
        for part in view.data_parts
    ] or _not_searched(view)
    lines += [f"  {board.code}  {board.title}, {board.clearance}" for board in view.boards]
    return lines


@commands.command(
    "import", example="salvage dropoff import deliveries.csv --keep-good", changes=True
)
def import_(
    context: typer.Context,
    file: Annotated[str, typer.Argument(metavar="FILE", help="A CSV table, UTF-8.")],
    keep_good: Annotated[
        bool, typer.Option("--keep-good", help="Log the good rows though others are bad.")
    ] = False,
) -> None:
    """
    Log the drop-offs of a CSV table: all rows, or none.

    Columns: received_on, donor and contents, and any of source_kind, naming, naming_how,
    described_as, contact, board_count, weight, channel, origin, origin_country, story, notes,
    data_parts.
    """
    from pathlib import Path

    from salvage.cli.files import read_file
    from salvage.work.import_drop_offs import import_drop_offs

    session = session_of(context)
    data = read_file(session, file)
    with session.open(create=True) as shop:
        result = import_drop_offs(
            shop, data=data, name=Path(file).name, keep_good=keep_good, dry_run=session.dry_run
        )
    codes = codes_in_words(result.logged) or "none"
    for mistake in result.mistakes:
        note(session, f"left out: {mistake}")
    show_change(
        session,
        {"logged": list(result.logged), "mistakes": [str(m) for m in result.mistakes]},
        lines=[f"{count_of(len(result.logged), 'drop-off')} logged: {codes}"],
        codes=result.logged,
        next_step="dropoff list",
    )


@commands.command(
    "search", example='salvage dropoff search DC0005X "hard disk:2; memory card"', changes=True
)
def search(
    context: typer.Context,
    code: DropOffCode,
    found: Annotated[
        str, typer.Argument(metavar="FOUND", help="Kinds and numbers, or 'none found'.")
    ],
) -> None:
    """Record that a drop-off was searched for data-bearing parts, and what was found."""
    from salvage.work.import_drop_offs import parse_data_parts
    from salvage.work.reading import read_code
    from salvage.work.receive import add_data_parts

    session = session_of(context)
    with session.open() as shop:
        view = add_data_parts(
            shop,
            drop_off=read_code(shop, text=code, kinds="D"),
            data_parts=parse_data_parts(found, field="FOUND"),
            dry_run=session.dry_run,
        )
    show_change(
        session,
        drop_off_record(view),
        lines=_page(view),
        codes=[view.drop_off.code],
        next_step=f"dropoff show {view.drop_off.code}",
    )


@commands.command(
    "data",
    example='salvage dropoff data DC0005X 1 destroyed --how "drilled, photo kept"',
    changes=True,
)
def data(
    context: typer.Context,
    code: DropOffCode,
    n: Annotated[int, typer.Argument(metavar="N", help="Number of the part, from the list.")],
    state: Annotated[
        str, typer.Argument(metavar="STATE", help="How it ended: returned, sanitised, destroyed.")
    ],
    how: Annotated[str, typer.Option(metavar="TEXT", help="Method, tool or receipt.")] = "",
) -> None:
    """Record how the custody of a data-bearing part ended."""
    from salvage.records.choices import DATA_OUTCOMES, parse_choice
    from salvage.work.reading import read_code
    from salvage.work.receive import settle_data_part

    session = session_of(context)
    with session.open() as shop:
        view = settle_data_part(
            shop,
            drop_off=read_code(shop, text=code, kinds="D"),
            n=n,
            state=parse_choice(state, DATA_OUTCOMES, field="STATE"),
            how=how,
            dry_run=session.dry_run,
        )
    part = next(part for part in view.data_parts if part.n == n)
    left = len(view.open_data_parts)
    show_change(
        session,
        drop_off_record(view),
        lines=[f"{view.drop_off.code}  {part.part} {part.state}: {part.how}; {left} still open"],
        codes=[view.drop_off.code],
        next_step=f"dropoff receipt {view.drop_off.code}",
    )
    if part.state == "destroyed" and not session.form:
        from salvage.knowledge.sanitising import DIE_RULE, find_technique

        how_to = f"salvage custody sanitise {view.drop_off.code} … keeps what a certificate needs"
        warn(session, f"{DIE_RULE} This is the short form; '{how_to}'.")
        note(session, f"source: {find_technique('cut').source}")


@commands.command(
    "receipt", example="salvage dropoff receipt DC0005X --out receipt.pdf", changes=True
)
def receipt(
    context: typer.Context,
    code: DropOffCode,
    with_name: Annotated[
        bool, typer.Option("--with-name", help="Print the donor's own name; for their copy.")
    ] = False,
    out: Out = "",
    force: Force = False,
) -> None:
    """Print the receipt of a drop-off as a PDF; the record keeps what it said."""
    from salvage.cli.files import write_file
    from salvage.work.reading import read_code
    from salvage.work.receipts import print_receipt

    session = session_of(context)
    with session.open() as shop:
        found = read_code(shop, text=code, kinds="D")
        path = write_file(
            session,
            out or f"receipt-{found}.pdf",
            lambda: print_receipt(
                shop, drop_off=found, with_name=with_name, dry_run=session.dry_run
            ),
            force=force,
        )
    show_change(
        session,
        {"code": found, "file": str(path)},
        lines=[f"{found}  receipt {'would go to' if session.dry_run else 'written:'} {path}"],
        codes=[str(path)],
    )


@commands.command("close", example="salvage dropoff close DC0005X", changes=True)
def close(
    context: typer.Context,
    code: DropOffCode,
    note: Annotated[str, typer.Option(metavar="TEXT", help="Anything to keep with it.")] = "",
) -> None:
    """Close a drop-off; refused while a part that can hold data is not dealt with."""
    from salvage.cli.custody import custody_page, custody_record
    from salvage.work.custody_steps import close_drop_off
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        found = read_code(shop, text=code, kinds="D")
        view = close_drop_off(shop, drop_off=found, note=note, dry_run=session.dry_run)
    show_change(
        session,
        custody_record(view),
        lines=custody_page(view)[:1],
        codes=[found],
        next_step=f"custody certificate {found}",
    )


@commands.command("photo", example="salvage dropoff photo DC0005X box.jpg", changes=True)
def photo(
    context: typer.Context,
    code: DropOffCode,
    file: Annotated[str, typer.Argument(metavar="FILE", help="The photo.")],
    caption: Annotated[str, typer.Option(metavar="TEXT", help="What it shows.")] = "",
) -> None:
    """Keep a photo of a delivery, as it stood at the door."""
    from salvage.cli.photo import keep_photo

    keep_photo(session_of(context), code, file, side="other", caption=caption)
