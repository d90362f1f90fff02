"""``salvage assay``: tests of what one part contains or releases."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.options import completer
from salvage.cli.records import record_of, source_words
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, show_change, show_list, warn
from salvage.work.assays import AssayView
from salvage.work.gate import ADVICE

commands = CommandSet(
    "assay",
    "Tests of one part (XRF, laboratory, wipe, release) against each market's limits.",
    'salvage assay add BC0002J --part laminate --analyte lead --value "120 ppm"'
    ' --uncertainty "20 ppm" --method xrf --instrument "handheld XRF 3"',
)

Tested = Annotated[
    str,
    typer.Argument(
        metavar="CODE", help="A board, piece or batch.", autocompletion=completer("BPV")
    ),
]


def assay_record(view: AssayView) -> dict[str, Any]:
    """An assay with its verdicts as a JSON object."""
    verdicts = [
        {
            "limit": rule.limit.slug,
            "jurisdiction": rule.limit.jurisdiction,
            "words": rule.limit.words,
            "verdict": judgement.word,
            "why": judgement.why,
            "source": source_words(rule.limit.source),
            "weak": rule.limit.source.is_weak,
        }
        for rule, judgement in view.verdicts
    ]
    found = record_of(view.assay, verdicts=verdicts)
    return found | {"is_below": bool(view.assay.is_below)}


def assay_lines(view: AssayView) -> list[str]:
    """An assay for people, each verdict with its limit and source."""
    assay = view.assay
    below = "below " if assay.is_below else ""
    spread = f" ± {assay.uncertainty}" if assay.uncertainty else ""
    who = f"laboratory {assay.lab}" if assay.lab else "own test"
    void = f"; VOIDED: {assay.voided}" if assay.voided else ""
    head = f"{assay.code}  assay {assay.n}, {assay.part}: {assay.analyte} ({assay.measure})"
    result = f"{below}{assay.figure} {assay.unit}{spread}"
    lines = [f"{head} {result}, {assay.method}, {who}, {assay.tested_on}{void}"]
    for rule, judgement in view.verdicts:
        why = f" ({judgement.why})" if judgement.why else ""
        lines.append(
            f"  {judgement.word}{why}: {rule.limit.slug}, {rule.limit.words};"
            f" {rule.limit.source.marked_words}"
        )
    if not view.verdicts:
        lines.append("  no limit in our list is for this; that does not mean that none is in force")
    return lines


Analyte = Annotated[
    str, typer.Option(metavar="WHAT", help="Lead, cadmium, nickel, mercury, chromium, other.")
]
Value = Annotated[str, typer.Option(metavar="AMOUNT", help="Such as '120 ppm' or '<10 mg/kg'.")]
Method = Annotated[
    str, typer.Option(metavar="HOW", help="XRF, digestion, release test, wipe, supplier …")
]
PartName = Annotated[
    str,
    typer.Option(metavar="PART", help="Laminate, bare metal, solder, component, coating, finding."),
]
Measure = Annotated[
    str, typer.Option(metavar="WORD", help="Content, release, soluble or wipe; the unit tells.")
]
Limit = Annotated[str, typer.Option(metavar="AMOUNT", help="Least that the method sees.")]
Spread = Annotated[str, typer.Option(metavar="AMOUNT", help="Of the result, as reported.")]
Instrument = Annotated[str, typer.Option(metavar="TEXT", help="What it was measured with.")]
Lab = Annotated[str, typer.Option(metavar="NAME", help="Outside laboratory; own test without.")]
TestDay = Annotated[str, typer.Option(metavar="DAY", help="Day; today if left out.")]
Paper = Annotated[str, typer.Option(metavar="TEXT", help="Number of the report.")]
Remark = Annotated[str, typer.Option(metavar="TEXT", help="Anything else.")]


@commands.command(
    "add",
    example='salvage assay add BC0002J --part laminate --analyte lead --value "120 ppm"'
    ' --uncertainty "20 ppm" --method xrf --instrument "handheld XRF 3"',
    changes=True,
)
def add(
    context: typer.Context,
    code: Tested,
    analyte: Analyte,
    value: Value,
    method: Method,
    part: PartName = "",
    measure: Measure = "",
    detection_limit: Limit = "",
    uncertainty: Spread = "",
    instrument: Instrument = "",
    lab: Lab = "",
    date: TestDay = "",
    document: Paper = "",
    note: Remark = "",
) -> None:
    """Record a result for one part, and hold it against the limits of your markets."""
    from salvage.cli.assay_typed import parse_assay
    from salvage.work.assays import record_assay
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        new = parse_assay(context.params, today=shop.today)
        found = read_code(shop, text=code, kinds="BPV")
        view = record_assay(shop, code=found, new=new, dry_run=session.dry_run)
    _tell(session, view)


def _tell(session: Session, view: AssayView) -> None:
    show_change(
        session,
        assay_record(view),
        lines=assay_lines(view),
        codes=[view.assay.code],
        next_step=f"assay list {view.assay.code}",
    )
    if not session.form:
        warn(session, ADVICE)


@commands.command(
    "void", example='salvage assay void BC0002J 1 --reason "wrong board on the table"', changes=True
)
def void(
    context: typer.Context,
    code: Tested,
    n: Annotated[int, typer.Argument(metavar="N", help="Number of the assay, from the list.")],
    why: Annotated[
        str, typer.Option("--reason", metavar="TEXT", help="Why it does not count.")
    ] = "",
) -> None:
    """Say that a result does not count; it stays on the record, with the reason."""
    from salvage.work.assays import void_assay
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        found = read_code(shop, text=code, kinds="BPV")
        view = void_assay(shop, code=found, n=n, why=why, dry_run=session.dry_run)
    _tell(session, view)


_COLUMNS = (
    Column("code", "code"),
    Column("n", "n"),
    Column("part", "part"),
    Column("analyte", "analyte"),
    Column("measure", "measure"),
    Column("figure", "figure"),
    Column("unit", "unit"),
    Column("method", "method"),
    Column("tested", "tested_on"),
    Column("voided", "voided"),
)


@commands.command("list", example="salvage assay list BC0002J")
def list_(
    context: typer.Context,
    code: Annotated[
        str, typer.Argument(metavar="[CODE]", help="A board, piece or batch; all.")
    ] = "",
) -> None:
    """List results with what each says about the limits of your markets."""
    from salvage.cli.show import say_wrapped
    from salvage.work.assays import list_assays
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        found = read_code(shop, text=code, kinds="BPV") if code else None
        views = list_assays(shop, code=found)
    if session.form or not views:
        records = [assay_record(view) for view in views]
        show_list(session, records, _COLUMNS, empty="no assays yet; next: salvage assay add …")
        return
    for view in views:
        for line in assay_lines(view):
            say_wrapped(session, line, indent=4)
    warn(session, ADVICE)
