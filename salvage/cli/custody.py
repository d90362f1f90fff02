"""``salvage custody``: data-bearing parts from the door to sanitising, destruction or return."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.records import record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import show_change, show_record
from salvage.work.custody import CustodyView, MediumView
from salvage.work.photos import NewPhoto

if TYPE_CHECKING:
    from salvage.cli.options import DropOffCode, Force, Out

commands = CommandSet(
    "custody",
    "Parts that hold somebody's data: searched for, described, handed over, ended.",
    "salvage custody show DC0005X",
)

PartNumber = Annotated[int, typer.Argument(metavar="N", help="Number of the part, from the list.")]
Evidence = Annotated[str, typer.Option("--photo", metavar="FILE", help="Photo, as evidence.")]


def medium_record(view: MediumView) -> dict[str, Any]:
    """A medium with its custody, the sealed words opened for the owner."""
    medium = record_of(view.medium) if view.medium else {}
    return record_of(
        view.part,
        number=view.number,
        media_type=view.media_type,
        maker=medium.get("maker", ""),
        model=medium.get("model", ""),
        serial=view.serial,
        source=view.source,
        confidentiality=medium.get("confidentiality", ""),
        hand_overs=[record_of(handed.step, to=handed.to) for handed in view.hand_overs],
        attempts=[record_of(attempt) for attempt in view.attempts],
    )


def custody_record(view: CustodyView) -> dict[str, Any]:
    """A drop-off's custody as a JSON object."""
    return {
        "drop_off": view.drop_off.drop_off.code,
        "standing": view.standing,
        "is_closed": bool(view.closed) and not view.drop_off.open_data_parts,
        "media": [medium_record(medium) for medium in view.media],
        "searches": [record_of(search) for search in view.searches],
    }


def medium_lines(view: MediumView, custody: CustodyView | None = None) -> list[str]:
    """A medium for people, with its steps where the whole custody is given."""
    part, medium = view.part, view.medium
    named = " ".join(t for t in (medium.maker, medium.model) if t) if medium else "not described"
    serial = f", serial {view.serial}" if view.serial else ""
    lines = [f"{view.number}  {part.count} x {part.part}: {part.state}; {named}{serial}"]
    if custody:
        from salvage.work.certificate import custody_lines

        lines += [f"  {line}" for line in custody_lines(custody, view)]
    return lines


def custody_page(view: CustodyView) -> list[str]:
    """A drop-off's custody for people."""
    lines = [f"{view.drop_off.drop_off.code}  {view.standing}"]
    for search in view.searches:
        how = f", {search.how}" if search.how else ""
        told = f"{search.found}; looked at {search.scope}{how}"
        lines.append(f"  searched {search.at[:10]} by {search.by}: {told}")
    for medium in view.media:
        lines += [f"  {line}" for line in medium_lines(medium, view)]
    return lines


def evidence_photo(session: Session, file: str) -> NewPhoto | None:
    """A photo given as evidence; None without a file."""
    from pathlib import Path

    from salvage.cli.files import read_file

    if not file:
        return None
    data = read_file(session, file)
    return NewPhoto(data, Path(file).name, side="other", caption="evidence about data")


@commands.command("show", example="salvage custody show DC0005X")
def show(context: typer.Context, code: DropOffCode) -> None:
    """Show a drop-off's data-bearing parts, and in whose hands each was."""
    from salvage.work.custody import show_custody
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        view = show_custody(shop, drop_off=read_code(shop, text=code, kinds="D"))
    show_record(
        session, custody_record(view), lines=custody_page(view), plain=("drop_off", "standing")
    )


@commands.command(
    "search",
    example='salvage custody search DC0005X "none found" --scope "all 14 boards" --how lamp',
    changes=True,
)
def search(
    context: typer.Context,
    code: DropOffCode,
    found: Annotated[
        str, typer.Argument(metavar="FOUND", help="Kinds and numbers, or 'none found'.")
    ],
    scope: Annotated[str, typer.Option(metavar="TEXT", help="What was looked at.")] = "",
    how: Annotated[str, typer.Option(metavar="TEXT", help="With what.")] = "",
    photo: Evidence = "",
) -> None:
    """Record a search with its scope; that nothing was found is a record of its own."""
    from salvage.work.custody_steps import NewSearch, search_for_data
    from salvage.work.import_drop_offs import parse_data_parts
    from salvage.work.reading import read_code

    session = session_of(context)
    parts = parse_data_parts(found, field="FOUND")
    new = NewSearch(parts, scope, how, evidence_photo(session, photo))
    with session.open() as shop:
        drop_off = read_code(shop, text=code, kinds="D")
        view = search_for_data(shop, drop_off=drop_off, new=new, dry_run=session.dry_run)
    left = bool(view.drop_off.open_data_parts)
    step = f"custody describe {drop_off} N …" if left else f"dropoff close {drop_off}"
    show_change(
        session, custody_record(view), lines=custody_page(view), codes=[drop_off], next_step=step
    )


@commands.command(
    "describe",
    example="salvage custody describe DC0005X 1 --maker Orrery --model D40 --serial 7A-113",
    changes=True,
)
def describe(
    context: typer.Context,
    code: DropOffCode,
    n: PartNumber,
    maker: Annotated[str, typer.Option(metavar="TEXT", help="As printed on it.")] = "",
    model: Annotated[str, typer.Option(metavar="TEXT", help="As printed on it.")] = "",
    serial: Annotated[str, typer.Option(metavar="TEXT", help="Kept private, sealed.")] = "",
    media: Annotated[
        str, typer.Option(metavar="TYPE", help="Magnetic, flash, hybrid, optical or other.")
    ] = "",
    source: Annotated[str, typer.Option(metavar="TEXT", help="Device it came from; sealed.")] = "",
    confidentiality: Annotated[
        str, typer.Option(metavar="TEXT", help="Of its data, if the donor told.")
    ] = "",
) -> None:
    """Describe one medium; of several alike it becomes a part of its own."""
    from salvage.records.choices import parse_choice
    from salvage.records.custody import MEDIA_TYPES
    from salvage.work.custody_steps import NewMedium, describe_medium
    from salvage.work.reading import read_code

    session = session_of(context)
    kind = parse_choice(media, MEDIA_TYPES, field="--media") if media else ""
    new = NewMedium(maker, model, serial, kind, source, confidentiality)
    with session.open() as shop:
        drop_off = read_code(shop, text=code, kinds="D")
        view = describe_medium(shop, drop_off=drop_off, n=n, new=new, dry_run=session.dry_run)
    _tell(session, view, f"custody sanitise {drop_off} {view.part.n} --method …")


def _tell(session: Session, view: MediumView, next_step: str) -> None:
    show_change(
        session,
        medium_record(view),
        lines=medium_lines(view),
        codes=[view.number],
        next_step=next_step,
    )


@commands.command(
    "hand",
    example='salvage custody hand DC0005X 1 donor --to "Ilva Brandt" --place "at the counter"',
    changes=True,
)
def hand(
    context: typer.Context,
    code: DropOffCode,
    n: PartNumber,
    role: Annotated[
        str,
        typer.Argument(
            metavar="ROLE", help="workshop, carrier, sanitiser, recycler, donor or other."
        ),
    ],
    to: Annotated[str, typer.Option(metavar="NAME", help="Who took it; sealed.")] = "",
    date: Annotated[str, typer.Option(metavar="DAY", help="Day; today if left out.")] = "",
    place: Annotated[str, typer.Option(metavar="TEXT", help="Where.")] = "",
    document: Annotated[str, typer.Option(metavar="TEXT", help="Number of a paper.")] = "",
    note: Annotated[str, typer.Option(metavar="TEXT", help="Anything else.")] = "",
    photo: Evidence = "",
) -> None:
    """Record a hand-over; back to the donor it ends the custody."""
    from salvage.records.choices import parse_choice
    from salvage.records.custody import ROLES
    from salvage.units import parse_date
    from salvage.work.custody_steps import NewHandOver, hand_over_medium
    from salvage.work.reading import read_code

    session = session_of(context)
    chosen = parse_choice(role, ROLES, field="ROLE")
    evidence = evidence_photo(session, photo)
    with session.open() as shop:
        day = parse_date(date, today=shop.today, field="--date") if date else None
        new = NewHandOver(chosen, to, day, place, document, note, evidence)
        drop_off = read_code(shop, text=code, kinds="D")
        view = hand_over_medium(shop, drop_off=drop_off, n=n, new=new, dry_run=session.dry_run)
    _tell(session, view, f"custody show {drop_off}")


@commands.command("certificate", example="salvage custody certificate DC0005X --out data.pdf")
def certificate(
    context: typer.Context,
    code: DropOffCode,
    part: Annotated[int, typer.Option(metavar="N", help="Only this part; all if left out.")] = 0,
    out: Out = "",
    force: Force = False,
) -> None:
    """Print what became of a drop-off's data, for the donor, as a PDF to sign."""
    from salvage.cli.files import write_file
    from salvage.work.certificate import print_certificate
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        found = read_code(shop, text=code, kinds="D")
        path = write_file(
            session,
            out or f"data-certificate-{found}.pdf",
            lambda: print_certificate(shop, drop_off=found, part=part),
            force=force,
        )
    record = {"code": found, "file": str(path)}
    line = f"{found}  data certificate written, to be signed by hand: {path}"
    show_record(session, record, lines=[line], plain=("file",))
