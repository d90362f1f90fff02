"""``salvage mass``: where the weight went, of the workshop, a year, a drop-off or a board."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.options import completer
from salvage.cli.records import source_words
from salvage.cli.session import Session, session_of
from salvage.cli.show import clean, say_wrapped, show_record
from salvage.units import format_mass

if TYPE_CHECKING:
    from salvage.work.balance import Amount
    from salvage.work.mass_lines import MassReport

weighing = CommandSet()


@weighing.command("mass", example="salvage mass DC0005X")
def mass(
    context: typer.Context,
    code: Annotated[
        str,
        typer.Argument(
            metavar="[CODE]",
            help="A board or drop-off; the whole workshop if left out.",
            autocompletion=completer("BD"),
            show_default=False,
        ),
    ] = "",
    year: Annotated[str, typer.Option(metavar="YEAR", help="Only what one year changed.")] = "",
) -> None:
    """
    Show what came in by weight, and what it became; the rest is shown, not hidden.

    What was not weighed is estimated from area, thickness and copper, with bounds and sources.
    """
    from salvage.cli.failures import Misuse
    from salvage.work.mass import account_mass
    from salvage.work.mass_lines import report_board, report_drop_off, report_year
    from salvage.work.reading import read_code
    from salvage.work.year_mass import parse_year

    session = session_of(context)
    if code and year:
        raise Misuse("give a code or --year, not both")
    with session.open() as shop:
        if year:
            _show_report(session, report_year(shop, year=parse_year(year, today=shop.today)))
        elif code:
            found = read_code(shop, text=code, kinds="BD")
            one = report_board if found[0] == "B" else report_drop_off
            _show_report(session, one(shop, code=found))
        else:
            _show_account(session, account_mass(shop))


def _show_account(session: Session, account: Any) -> None:
    record = asdict(account) | {"unexplained_g": account.unexplained_g}
    told = {
        "received (weighed)": account.received_g,
        "sent to recyclers": account.sent_g,
        "in waste containers here": account.containers_g,
        "pieces (weighed or estimated)": account.pieces_g,
        "boards left (weighed or estimated)": account.boards_g,
        "dust (estimated), of which "
        f"{format_mass(account.dust_collected_g)} in containers": account.dust_g,
        "unexplained: housings, screws, mistakes": account.unexplained_g,
    }
    lines = [f"{_signed(grams):>12}  {words}" for words, grams in told.items()]
    if account.unweighed:
        noun = "drop-off" if account.unweighed == 1 else "drop-offs"
        lines.append(f"{account.unweighed:>12}  {noun} without a weight, not in the above")
    plain = [
        *("received_g", "sent_g", "pieces_g", "boards_g", "dust_g", "unweighed", "unexplained_g"),
        *("containers_g", "dust_collected_g"),
    ]
    show_record(session, record, lines=lines, plain=plain)


def _signed(grams: float) -> str:
    return f"-{format_mass(-grams)}" if grams < -0.05 else format_mass(abs(grams))


def _bounds(amount: Amount) -> str:
    if not amount.estimated:
        return ""
    low, high = format_mass(amount.least_mg / 1000), format_mass(amount.most_mg / 1000)
    return f"  (estimate; {low} to {high})"


def report_record(report: MassReport) -> dict[str, Any]:
    """A balance as JSON."""
    return {
        "subject": report.subject,
        "lines": [
            {
                "name": line.name,
                "words": line.words,
                "mg": line.amount.mg,
                "g": line.amount.mg / 1000,
                "least_g": line.amount.least_mg / 1000,
                "most_g": line.amount.most_mg / 1000,
                "estimated": line.amount.estimated,
            }
            for line in report.lines
        ],
        "unexplained_mg": report.unexplained_mg,
        "unexplained_g": report.unexplained_mg / 1000,
        "notes": list(report.notes),
        "sources": [
            {"words": words, "source": source_words(source)} for words, source in report.sources
        ],
    }


def _show_report(session: Session, report: MassReport) -> None:
    record = report_record(report)
    if session.form == "plain":
        for line in report.lines:
            cells = (line.name, line.amount.mg, line.amount.least_mg, line.amount.most_mg)
            session.world.stdout.write("\t".join(str(cell) for cell in cells) + "\n")
        session.world.stdout.write(f"unexplained\t{report.unexplained_mg}\t\t\n")
        return
    lines = [f"{clean(report.subject)}"]
    for line in report.lines:
        mass = f"{_signed(line.amount.mg / 1000):>12}"
        lines.append(f"{mass}  {line.words}{_bounds(line.amount)}")
    lines.append(f"{_signed(report.unexplained_mg / 1000):>12}  unexplained")
    lines += [f"  ! {note}" for note in report.notes]
    show_record(session, record, lines=lines, plain=())
    if not session.form and report.sources:
        say_wrapped(session, "Estimates rest on:", indent=0)
        for words, source in report.sources:
            told = f"  {words} [{source_words(source)}]"
            say_wrapped(session, told, indent=4)
