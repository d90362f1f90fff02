"""``salvage recall``: from one cause to everything that it reaches, until each thing is settled."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.count import count_of
from salvage.cli.options import completer
from salvage.cli.recall_view import page_of, recall_record
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, show_change, show_list, show_record, warn

if TYPE_CHECKING:
    from salvage.work.recall import RecallView
    from salvage.work.recall_causes import RecallCause
    from salvage.work.workshop import Workshop

commands = CommandSet(
    "recall",
    "Call back everything that one cause reaches, and follow it to the end.",
    'salvage recall open DC0005X --reason "mercury switch found" --dry-run',
)

RecallCode = Annotated[
    str, typer.Argument(metavar="RECALL", help="The recall.", autocompletion=completer("H"))
]
Things = Annotated[
    list[str],
    typer.Argument(
        metavar="CODE...", help="Boards, pieces or batches.", autocompletion=completer("BPV")
    ),
]
Cause = Annotated[
    str,
    typer.Argument(
        metavar="[CODE]",
        help="Where the trouble starts: donor, drop-off, board, cut, piece or batch; or name one of"
        " the causes below.",
        autocompletion=completer("GDBKPV"),
    ),
]
Reason = Annotated[str, typer.Option(metavar="TEXT", help="What it is, as a notice will say it.")]
Learned = Annotated[
    str, typer.Option(metavar="DAY", help="Day, or 'DAY HH:MM', it became known; now if none.")
]
ToDo = Annotated[
    str, typer.Option(metavar="TEXT", help="What a buyer is to do; the usual if none.")
]
Hold = Annotated[bool, typer.Option("--hold/--no-hold", help="Hold everything at once.")]
DateCodes = Annotated[
    str, typer.Option(metavar="FROM-TO", help="Boards with a date code within, such as 9840-9952.")
]
Hazard = Annotated[str, typer.Option(metavar="NAME", help="Boards and pieces with a hazard.")]
States = Annotated[
    list[str] | None,
    typer.Option(metavar="STATE", help="Of the hazard: found, accepted, overridden; all if none."),
]
Worker = Annotated[
    str, typer.Option(metavar="NAME", help="Pieces that somebody cut or brought to a stage.")
]
Stages = Annotated[
    list[str] | None, typer.Option(metavar="STAGE", help="Of the worker; rough is the cut.")
]
Since = Annotated[str, typer.Option(metavar="DAY", help="First day of the worker or measuring.")]
Until = Annotated[str, typer.Option(metavar="DAY", help="Last day of it.")]
Mat = Annotated[str, typer.Option(metavar="SERIAL", help="Boards ever measured on this mat.")]
Measured = Annotated[
    str, typer.Option(metavar="TEXT", help="Boards ever measured so, such as calipers.")
]


@commands.command(
    "open",
    example='salvage recall open --date-codes 9840-9952 --reason "leaking cells" --dry-run',
    changes=True,
)
def open_(
    context: typer.Context,
    code: Cause = "",
    reason: Reason = "",
    date: Learned = "",
    date_codes: DateCodes = "",
    hazard: Hazard = "",
    state: States = None,
    worker: Worker = "",
    stage: Stages = None,
    since: Since = "",
    until: Until = "",
    mat: Mat = "",
    measured: Measured = "",
    to_do: ToDo = "",
    hold: Hold = True,
) -> None:
    """Call back and hold everything that one cause reaches; see it first with --dry-run."""
    from salvage.work.recall import NewRecall, begin_recall

    session = session_of(context)
    typed = _Typed(code, date_codes, hazard, worker, mat, measured, state, stage, since, until)
    with session.open() as shop:
        new = NewRecall(typed.cause(shop), reason, _learned(shop, date), to_do, hold)
        view = begin_recall(shop, new=new, dry_run=session.dry_run)
    _tell(session, view, page_of(view))
    warn(session, "Some places ask for a report within a day; ask your local authority now.")


class _Typed:
    """The causes as they were typed; exactly one of them is meant."""

    def __init__(self, *typed: Any) -> None:
        self._typed = typed

    def cause(self, shop: Workshop) -> RecallCause:
        """The one that is meant."""
        from salvage.errors import BadValue
        from salvage.units import parse_date
        from salvage.work import recall_causes as causes
        from salvage.work.reading import read_code

        code, codes, hazard, worker, mat, measured, states, stages, since, until = self._typed
        if sum(map(bool, (code, codes, hazard, worker, mat, measured))) != 1:
            raise BadValue(
                "name one cause",
                hint="a code, --date-codes, --hazard, --worker, --mat or --measured",
            )
        first, last = (
            parse_date(day, today=shop.today, field=field) if day else None
            for day, field in ((since, "--since"), (until, "--until"))
        )
        period = causes.Period(first, last)
        if codes:
            return causes.from_date_codes(codes)
        if hazard:
            return causes.from_hazard(shop.conn, hazard, marks=states or ())
        if worker:
            return causes.from_worker(shop.conn, worker, stages=stages or (), period=period)
        if mat:
            return causes.from_mat(mat)
        if measured:
            return causes.from_measurement(measured, period=period)
        return causes.from_thing(shop.conn, read_code(shop, text=code))


def _learned(shop: Workshop, typed: str) -> str:
    """The day, or the minute in UTC, at which it became known; empty where nothing is typed."""
    from datetime import datetime, time

    from salvage.errors import BadValue
    from salvage.units import format_instant, parse_date

    day, _, clock = typed.strip().replace("T", " ").partition(" ")
    found = parse_date(day, today=shop.today, field="--date") if day else shop.today
    if not day:
        return ""
    if not clock:
        return found.isoformat()
    try:
        at = time.fromisoformat(clock.strip())
    except ValueError as error:
        hint = "write such as 2026-05-03 14:30"
        raise BadValue(f"'{clock}' is no time of day", hint=hint, field="--date") from error
    return format_instant(datetime.combine(found, at).astimezone())


@commands.command("show", example="salvage recall show HC0008U")
def show(
    context: typer.Context,
    code: RecallCode,
    every: Annotated[bool, typer.Option("--all", help="List all, however many.")] = False,
) -> None:
    """Show a recall: where each thing is now, what is settled, and what is not ruled out."""
    from salvage.work.reading import read_code
    from salvage.work.recall import view_recall

    session = session_of(context)
    with session.open() as shop:
        view = view_recall(shop.conn, read_code(shop, text=code, kinds="H"))
    lines = page_of(view, most=0 if every else 20)
    plain = [column.key for column in _COLUMNS]
    show_record(session, recall_record(view), lines=lines, plain=plain)


@commands.command(
    "settle",
    example='salvage recall settle HC0008U destroyed PC0001D PC0002B --note "crushed"',
    changes=True,
)
def settle(
    context: typer.Context,
    code: RecallCode,
    outcome: Annotated[
        str,
        typer.Argument(
            metavar="OUTCOME",
            help="returned, repaired, not affected, destroyed, buyer told or not found.",
        ),
    ],
    things: Annotated[
        list[str],
        typer.Argument(
            metavar="CODE...", help="Its items, or all-open.", autocompletion=completer("BPV")
        ),
    ],
    note: Annotated[
        str, typer.Option(metavar="TEXT", help="What was done or seen; no private names.")
    ] = "",
) -> None:
    """Record what became of items of a recall, by whom and when."""
    from salvage.records.choices import parse_choice
    from salvage.records.recalls import OUTCOMES
    from salvage.work.reading import read_code
    from salvage.work.recall_settle import settle_items

    session = session_of(context)
    chosen = parse_choice(outcome, OUTCOMES, field="OUTCOME")
    whole = [word.strip().lower() for word in things] == ["all-open"]
    with session.open() as shop:
        view = settle_items(
            shop,
            recall=read_code(shop, text=code, kinds="H"),
            outcome=chosen,
            items=() if whole else [read_code(shop, text=one, kinds="BPV") for one in things],
            note=note,
            dry_run=session.dry_run,
        )
    left = count_of(len(view.open_items), "thing")
    _tell(session, view, [f"{view.recall.code}  settled as {chosen}; {left} left open"])


@commands.command(
    "add", example='salvage recall add HC0008U BC0010J --reason "no date code"', changes=True
)
def add(
    context: typer.Context,
    code: RecallCode,
    things: Things,
    why: Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why it joins.")] = "",
) -> None:
    """Take in what the cause did not reach, with all that came of it."""
    from salvage.work.reading import read_code
    from salvage.work.recall import add_to_recall

    session = session_of(context)
    with session.open() as shop:
        view = add_to_recall(
            shop,
            recall=read_code(shop, text=code, kinds="H"),
            things=[read_code(shop, text=one, kinds="BPV") for one in things],
            why=why,
            dry_run=session.dry_run,
        )
    _tell(session, view, [f"{view.recall.code}  now {count_of(len(view.items), 'thing')}"])


@commands.command("hold", example="salvage recall hold HC0008U", changes=True)
def hold(
    context: typer.Context,
    code: RecallCode,
    off: Annotated[bool, typer.Option("--off", help="Let everything go instead.")] = False,
) -> None:
    """Hold everything of a recall that was opened without."""
    from salvage.work.reading import read_code
    from salvage.work.recall import hold_recall

    session = session_of(context)
    with session.open() as shop:
        recall = read_code(shop, text=code, kinds="H")
        view = hold_recall(shop, recall=recall, hold=not off, dry_run=session.dry_run)
    words = "holds nothing now" if off else f"holds {count_of(len(view.items), 'thing')}"
    _tell(session, view, [f"{view.recall.code}  {words}"])


@commands.command(
    "close", example='salvage recall close HC0008U --outcome "all back, switches off"', changes=True
)
def close(
    context: typer.Context,
    code: RecallCode,
    outcome: Annotated[str, typer.Option(metavar="TEXT", help="How it ended.")] = "",
    anyway: Annotated[
        str, typer.Option(metavar="TEXT", help="Why it is closed although things are open.")
    ] = "",
) -> None:
    """Close a recall; refused with the list while things are open, unless it is said why."""
    from salvage.work.reading import read_code
    from salvage.work.recall import close_recall

    session = session_of(context)
    with session.open() as shop:
        view = close_recall(
            shop,
            recall=read_code(shop, text=code, kinds="H"),
            outcome=outcome,
            anyway=anyway,
            dry_run=session.dry_run,
        )
    _tell(session, view, [f"{view.recall.code}  closed: {view.recall.outcome}"])


def _tell(session: Session, view: RecallView, lines: list[str]) -> None:
    record, codes = recall_record(view), [view.recall.code]
    is_settled = view.recall.state == "open" and not view.open_items
    step = f"recall close {codes[0]} --outcome …" if is_settled else f"recall show {codes[0]}"
    show_change(session, record, lines=lines, codes=codes, next_step=step)


_COLUMNS = (
    Column("code", "code"),
    Column("of", "subject"),
    Column("known since", "learned_on"),
    Column("state", "state"),
    Column("reason", "reason"),
    Column("things", "item_count"),
    Column("outcome", "outcome"),
    Column("open", "open_count"),
)


@commands.command("list", example="salvage recall list")
def list_(context: typer.Context) -> None:
    """List all recalls, newest first."""
    from salvage.work.recall import list_recalls

    session = session_of(context)
    with session.open() as shop:
        records = [recall_record(view) for view in list_recalls(shop)]
    show_list(session, records, _COLUMNS, empty="there was never a recall")
