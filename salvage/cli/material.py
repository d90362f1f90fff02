"""``salvage material``: sealants, findings and the like by batch, and where each batch went."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.count import count_of
from salvage.cli.options import completer
from salvage.cli.records import record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, show_change, show_list, show_record
from salvage.units import format_money, format_thousandths

if TYPE_CHECKING:
    from salvage.work.materials import BatchView, NewPaper

commands = CommandSet(
    "material",
    "Sealants, findings and the like by batch, and which pieces each went into.",
    "salvage material use VC0004U --piece PC0001D",
)

BatchCode = Annotated[
    str, typer.Argument(metavar="BATCH", help="The batch.", autocompletion=completer("V"))
]

Material = Annotated[
    str,
    typer.Argument(
        metavar="KIND",
        help="sealant, resin, coating, finding, adhesive, cord or chain, filter, other.",
    ),
]
Maker = Annotated[str, typer.Option(metavar="TEXT", help="Who made or sold it.")]
Pack = Annotated[
    str, typer.Option(metavar="AMOUNT", help="What it holds, such as 250ml or 100 pcs.")
]
Cost = Annotated[
    str, typer.Option(metavar="AMOUNT", help="What it cost, in the workshop's currency.")
]
Papers = Annotated[
    list[str] | None,
    typer.Option(metavar="FILE", help="A declaration or data sheet to keep; may be repeated."),
]


def _record(view: BatchView) -> dict[str, Any]:
    batch = view.batch
    pack = f"{format_thousandths(batch.pack_milli)} {batch.unit}" if batch.pack_milli else None
    known = batch.cost_minor is not None
    return record_of(
        batch,
        title=batch.title,
        pack=pack,
        cost=format_money(batch.cost_minor or 0, batch.currency) if known else None,
        papers=[record_of(paper) for paper in view.papers],
        uses=[record_of(use) for use in view.uses],
        piece_count=len(view.pieces),
        used=format_thousandths(view.used_milli) + f" {batch.unit}" if view.used_milli else None,
        warning=view.warning,
    )


_COLUMNS = (
    Column("code", "code"),
    Column("material", "material"),
    Column("name", "name"),
    Column("maker", "maker"),
    Column("lot", "lot"),
    Column("received", "received_on"),
    Column("pack", "pack"),
    Column("cost", "cost"),
    Column("pieces", "piece_count"),
    Column("recalls", "recalled", lambda count: str(count or "")),
)


@commands.command(
    "add",
    example='salvage material add sealant "clear varnish" --maker "Harbour Coatings" --lot 24-117',
    changes=True,
)
def add(
    context: typer.Context,
    material: Material,
    name: Annotated[str, typer.Argument(metavar="NAME", help="What it is.")],
    maker: Maker = "",
    lot: Annotated[str, typer.Option(metavar="TEXT", help="The maker's lot number.")] = "",
    pack: Pack = "",
    cost: Cost = "",
    paper: Papers = None,
    notes: Annotated[str, typer.Option(metavar="TEXT", help="For the workshop only.")] = "",
    date: Annotated[str, typer.Option(metavar="DAY", help="Day it came; today if left out.")] = "",
) -> None:
    """Record a batch of a material that came in, with its papers."""
    from salvage.cli.gather import Gatherer
    from salvage.records.choices import parse_choice
    from salvage.records.materials import MATERIALS
    from salvage.units import parse_date, parse_money, parse_thousandths
    from salvage.work.materials import NewBatch, add_batch

    session, gather = session_of(context), Gatherer()
    with session.open() as shop:
        kind = gather.take(lambda: parse_choice(material, MATERIALS, field="KIND"), "")
        holds = gather.take(lambda: parse_thousandths(pack, field="--pack"), (0, ""))
        currency = shop.settings.currency
        paid = gather.take(
            lambda: parse_money(cost, currency=currency, field="--cost") if cost else None, None
        )
        day = gather.take(
            lambda: parse_date(date, today=shop.today, field="--date") if date else None, None
        )
        gather.finish()
        new = NewBatch(
            kind,
            name,
            maker=maker,
            lot=lot,
            received_on=day,
            pack_milli=holds[0] or None,
            unit=holds[1],
            cost_minor=paid,
            notes=notes,
        )
        papers = [_paper(session, f) for f in paper or ()]
        view = add_batch(shop, new=new, papers=papers, dry_run=session.dry_run)
    _tell(session, [view], f"material use {view.batch.code} --piece …")


def _paper(session: Session, file: str, title: str = "") -> NewPaper:
    from pathlib import Path

    from salvage.cli.files import read_file
    from salvage.work.materials import NewPaper

    return NewPaper(read_file(session, file), Path(file).name, title)


def _beyond(view: BatchView) -> list[str]:
    return [f"  ! {view.warning}"] if view.warning else []


def _tell(session: Session, views: Sequence[BatchView], next_step: str) -> None:
    pieces = [count_of(len(view.pieces), "piece") for view in views]
    show_change(
        session,
        [_record(view) for view in views],
        lines=[
            line
            for view, told in zip(views, pieces, strict=True)
            for line in (f"{view.batch.code}  {view.batch.title}, in {told}", *_beyond(view))
        ],
        codes=[view.batch.code for view in views],
        next_step=next_step,
    )


@commands.command(
    "paper",
    example='salvage material paper VC0004U declaration.pdf --title "nickel release, EN 1811"',
    changes=True,
)
def paper(
    context: typer.Context,
    code: BatchCode,
    file: Annotated[str, typer.Argument(metavar="FILE", help="The paper, such as a PDF.")],
    title: Annotated[str, typer.Option(metavar="TEXT", help="What it is.")] = "",
) -> None:
    """Keep a paper of the supplier with a batch."""
    from salvage.work.materials import add_batch_paper
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        batch = read_code(shop, text=code, kinds="V")
        kept = _paper(session, file, title)
        view = add_batch_paper(shop, batch=batch, paper=kept, dry_run=session.dry_run)
    _tell(session, [view], f"material show {batch}")


@commands.command(
    "use",
    example='salvage material use VC0004U --piece PC0001D --piece PC0002B --note "two coats"',
    changes=True,
)
def use(
    context: typer.Context,
    codes: Annotated[
        list[str],
        typer.Argument(
            metavar="BATCH...", help="One or more batches.", autocompletion=completer("V")
        ),
    ],
    piece: Annotated[
        list[str] | None,
        typer.Option(
            metavar="PIECE",
            help="A piece that it went into; may be repeated.",
            autocompletion=completer("P"),
        ),
    ] = None,
    stage: Annotated[
        str, typer.Option(metavar="STAGE", help="At which stage; the material's own if left out.")
    ] = "",
    each: Annotated[
        str, typer.Option(metavar="AMOUNT", help="Into each piece, in the batch's unit.")
    ] = "",
    note: Annotated[str, typer.Option(metavar="TEXT", help="Such as two coats.")] = "",
) -> None:
    """Record which batches went into which pieces."""
    from salvage.records.choices import BENCH_STAGES, parse_choice
    from salvage.units import parse_thousandths
    from salvage.work.materials import Use, use_batches
    from salvage.work.reading import read_code

    session = session_of(context)
    at = parse_choice(stage, BENCH_STAGES, field="--stage") if stage else ""
    amount = parse_thousandths(each, field="--each")[0] or None
    with session.open() as shop:
        views = use_batches(
            shop,
            batches=[read_code(shop, text=code, kinds="V") for code in codes],
            pieces=[read_code(shop, text=code, kinds="P") for code in piece or ()],
            use=Use(at, amount, note),
            dry_run=session.dry_run,
        )
    _tell(session, views, f"material show {views[0].batch.code}")


@commands.command(
    "void",
    example='salvage material void VC0004U 1 --reason "took the lot beside it"',
    changes=True,
)
def void(
    context: typer.Context,
    code: BatchCode,
    number: Annotated[int, typer.Argument(metavar="USE", help="The use's number.")],
    why: Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why it was wrong.")] = "",
) -> None:
    """Take back a use that was noted by mistake; it stays on record."""
    from salvage.work.materials import void_use
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        batch = read_code(shop, text=code, kinds="V")
        view = void_use(shop, batch=batch, n=number, why=why, dry_run=session.dry_run)
    _tell(session, [view], f"material show {batch}")


@commands.command("list", example="salvage material list --kind finding")
def list_(
    context: typer.Context,
    kind: Annotated[str, typer.Option(metavar="KIND", help="Only this kind.")] = "",
    most: Annotated[int, typer.Option(min=1, help="At most so many, the newest.")] = 100,
) -> None:
    """List batches, the newest first."""
    from salvage.records.choices import parse_choice
    from salvage.records.materials import MATERIALS
    from salvage.work.materials import list_batches

    session = session_of(context)
    only = parse_choice(kind, MATERIALS, field="--kind") if kind else ""
    with session.open() as shop:
        records = [_record(view) for view in list_batches(shop, material=only, most=most)]
    show_list(session, records, _COLUMNS, empty="no batches; next: salvage material add")


@commands.command("show", example="salvage material show VC0004U")
def show(context: typer.Context, code: BatchCode) -> None:
    """Show one batch with its papers and the pieces that it went into."""
    from salvage.work.materials import view_batch
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        view = view_batch(shop.conn, read_code(shop, text=code, kinds="V"))
    record = _record(view)
    plain = [column.key for column in _COLUMNS]
    show_record(session, record, lines=_page(view, record), plain=plain)


def _page(view: BatchView, record: dict[str, Any]) -> list[str]:
    batch = view.batch
    told = (f"received {batch.received_on}", record["pack"], record["cost"], batch.notes)
    lines = [
        f"{batch.code}  {batch.material}: {batch.title}{', recalled' if batch.recalled else ''}",
        f"  {', '.join(part for part in told if part)}",
    ]
    lines += [f"  paper {p.n}: {p.title} ({p.sha256[:12]}…)" for p in view.papers]
    for use in view.uses:
        amount = f", {format_thousandths(use.each_milli)} {batch.unit}" if use.each_milli else ""
        note = f", {use.note}" if use.note else ""
        voided = f"; taken back: {use.voided}" if use.voided else ""
        lines.append(
            f"  use {use.n}: {use.code} at {use.stage or 'no stage'}{amount}{note},"
            f" by {use.by} on {use.at[:10]}{voided}"
        )
    return lines
