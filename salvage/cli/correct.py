"""``salvage correct``: mending what was typed wrong about a drop-off, a board or a donor."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, TypeAlias, TypeVar

import typer

from salvage.cli.command import CommandSet
from salvage.cli.gather import Gatherer
from salvage.cli.options import BoardCode, DropOffCode, completer
from salvage.cli.records import board_record, record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import show_change
from salvage.ids import Code
from salvage.work.workshop import Workshop

Parsed = TypeVar("Parsed")

commands = CommandSet(
    "correct",
    "Mend what was typed wrong; old and new stay on record.",
    'salvage correct dropoff DC0005X --weight 6.2kg --reason "misread the scales"',
)

Text: TypeAlias = Annotated[str | None, typer.Option(metavar="TEXT", help="The right words.")]
Why: TypeAlias = Annotated[
    str, typer.Option("--reason", metavar="TEXT", help="What went wrong; stays on record.")
]

NOT_KNOWN = "none"
"""What is typed for a number that nobody took after all."""


def _number(parse: Callable[[str], Parsed], nothing: Parsed) -> Callable[[str], Parsed]:
    """A parser that also reads "none", which is kept as *nothing*."""
    return lambda text: nothing if text.strip().lower() == NOT_KNOWN else parse(text)


def _given(gather: Gatherer, text: str | None, parse: Callable[[str], Parsed]) -> Parsed | None:
    """What an option says; None where it was left out or does not parse."""
    return None if text is None else gather.take(lambda: parse(text), None)


@commands.command(
    "dropoff",
    example='salvage correct dropoff DC0005X --weight 6.2kg --reason "misread the scales"',
    changes=True,
)
def drop_off(
    context: typer.Context,
    code: DropOffCode,
    contents: Text = None,
    boards: Annotated[
        str | None, typer.Option(metavar="N", help="Boards counted, or none.")
    ] = None,
    weight: Annotated[
        str | None, typer.Option(metavar="MASS", help="Such as 6.2kg, or none.")
    ] = None,
    date: Annotated[str | None, typer.Option(metavar="DAY", help="Day it came.")] = None,
    origin: Text = None,
    origin_country: Annotated[
        str | None, typer.Option(metavar="XX", help="Country, two letters.")
    ] = None,
    story: Text = None,
    notes: Text = None,
    why: Why = "",
) -> None:
    """Mend what was typed wrong about a drop-off; what is left out stays, '' empties a text."""
    from salvage.units import parse_date, parse_mass_g
    from salvage.work.correct import DropOffCorrection, correct_drop_off
    from salvage.work.import_drop_offs import parse_count
    from salvage.work.reading import read_code

    session, gather = session_of(context), Gatherer()
    with session.open() as shop:
        found = read_code(shop, text=code, kinds="D")
        count = _number(lambda t: parse_count(t, field="--boards"), 0)
        mass = _number(lambda t: parse_mass_g(t, field="--weight"), 0.0)
        new = DropOffCorrection(
            received_on=_given(
                gather, date, lambda t: parse_date(t, today=shop.today, field="--date")
            ),
            contents=contents,
            board_count=_given(gather, boards, count),
            weight_g=_given(gather, weight, mass),
            origin=origin,
            origin_country=None if origin_country is None else origin_country.upper(),
            story=story,
            notes=notes,
        )
        gather.finish()
        view = correct_drop_off(shop, drop_off=found, new=new, why=why, dry_run=session.dry_run)
        _tell(session, shop, found, record_of(view.drop_off))


@commands.command(
    "board",
    example='salvage correct board BC0002J --type network-board --reason "took it for sound"',
    changes=True,
)
def board(
    context: typer.Context,
    code: BoardCode,
    type_: Annotated[
        str | None,
        typer.Option("--type", metavar="TYPE", help="Its hazards come to the checklist as well."),
    ] = None,
    maker: Text = None,
    model: Text = None,
    date_code: Text = None,
    colour: Text = None,
    thickness: Annotated[
        str | None, typer.Option(metavar="MM", help="By caliper, or none.")
    ] = None,
    weight: Annotated[
        str | None, typer.Option(metavar="MASS", help="Such as 410g, or none.")
    ] = None,
    notes: Text = None,
    why: Why = "",
) -> None:
    """Mend what was typed wrong about a board; what is left out stays, '' empties a text."""
    from salvage.knowledge.board_types import parse_board_type
    from salvage.units import parse_length_mm, parse_mass_g
    from salvage.work.correct import BoardCorrection, correct_board
    from salvage.work.reading import read_code

    session, gather = session_of(context), Gatherer()
    length = _number(lambda t: parse_length_mm(t, field="--thickness", most_mm=20), 0.0)
    mass = _number(lambda t: parse_mass_g(t, field="--weight"), 0.0)
    new = BoardCorrection(
        type=_given(gather, type_, lambda t: parse_board_type(t, field="--type")),
        maker=maker,
        model=model,
        date_code=date_code,
        colour=colour,
        thickness_mm=_given(gather, thickness, length),
        weight_g=_given(gather, weight, mass),
        notes=notes,
    )
    gather.finish()
    with session.open() as shop:
        found = read_code(shop, text=code, kinds="B")
        mended = correct_board(shop, board=found, new=new, why=why, dry_run=session.dry_run)
        _tell(session, shop, found, board_record(mended))


@commands.command(
    "donor",
    example='salvage correct donor GC0003U --name "Skerry Point Planetarium" --reason misspelt',
    changes=True,
)
def donor(
    context: typer.Context,
    code: Annotated[
        str, typer.Argument(metavar="DONOR", help="The donor.", autocompletion=completer("G"))
    ],
    name: Annotated[
        str | None, typer.Option(metavar="NAME", help="Kept apart, sealed anew.")
    ] = None,
    contact: Annotated[
        str | None, typer.Option(metavar="TEXT", help="Kept apart, sealed anew.")
    ] = None,
    source: Annotated[
        str | None, typer.Option(metavar="KIND", help="Recycler, college, firm …")
    ] = None,
    why: Why = "",
) -> None:
    """Mend a donor's name, contact or kind; 'donor naming' is for a new wish."""
    from salvage.cli.donor import donor_record
    from salvage.records.choices import SOURCE_KINDS, parse_choice
    from salvage.work.correct import DonorCorrection, correct_donor
    from salvage.work.reading import read_code

    session, gather = session_of(context), Gatherer()
    new = DonorCorrection(
        name=None if name is None else " ".join(name.split()),
        contact=contact,
        source_kind=_given(
            gather, source, lambda t: parse_choice(t, SOURCE_KINDS, field="--source")
        ),
    )
    gather.finish()
    with session.open() as shop:
        found = read_code(shop, text=code, kinds="G")
        view = correct_donor(shop, donor=found, new=new, why=why, dry_run=session.dry_run)
        _tell(session, shop, found, donor_record(view))


def _tell(session: Session, shop: Workshop, code: Code, record: dict[str, object]) -> None:
    from salvage.work.history import read_history

    words = "would be corrected" if session.dry_run else read_history(shop, code)[-1].words
    show_change(
        session,
        record,
        lines=[f"{code}  {words}"],
        codes=[code],
        next_step=f"history {code}",
    )
