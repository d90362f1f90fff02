"""``salvage board clear``: the checklist of a board, and what was found."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Annotated

import typer

from salvage.cli.board import commands
from salvage.cli.count import count_of, lines_of_codes
from salvage.cli.failures import INTERRUPTED, Misuse
from salvage.cli.hazard_words import check_words, evidence_words, hazard_lines
from salvage.cli.records import board_record, record_of, source_words
from salvage.cli.session import Session, session_of
from salvage.cli.show import (
    note,
    paint,
    say,
    say_wrapped,
    show_change,
    show_json,
    show_plain,
    warn,
    wrap,
)
from salvage.frozen import dataclass

if TYPE_CHECKING:
    from collections.abc import Sequence

    from salvage.cli.options import BoardCodes
    from salvage.ids import Code
    from salvage.work.clear import Checklist, HazardLine, NewCheck
    from salvage.work.workshop import Workshop

ALL_OPEN = "all-open"
"""Stands for every hazard that is open on the boards."""


@dataclass(frozen=True)
class _Findings:
    """What the options tell; lists of hazards, and the words that go with them."""

    seen: Sequence[str]
    absent: Sequence[str]
    removed: Sequence[str]
    accepted: Sequence[str]
    unsure: Sequence[str]
    how: str
    goes_to: str
    reason: str


_Hazards = list[str] | None


@commands.command(
    "clear",
    example='salvage board clear BC0002J --removed coin-cell --how "lifted out"'
    ' --goes-to "battery box" --absent all-open',
    changes=True,
)
def clear(
    context: typer.Context,
    codes: BoardCodes,
    absent: Annotated[
        _Hazards, typer.Option(metavar="HAZARDS", help="Looked for, not there; or 'all-open'.")
    ] = None,
    removed: Annotated[_Hazards, typer.Option(metavar="HAZARDS", help="Taken off.")] = None,
    seen: Annotated[
        _Hazards, typer.Option(metavar="HAZARDS", help="There, and not dealt with yet.")
    ] = None,
    accepted: Annotated[
        _Hazards, typer.Option(metavar="HAZARDS", help="There, and may stay; needs --reason.")
    ] = None,
    unsure: Annotated[_Hazards, typer.Option(metavar="HAZARDS", help="Cannot tell.")] = None,
    how: Annotated[str, typer.Option(metavar="TEXT", help="How it came off, or was sought.")] = "",
    goes_to: Annotated[str, typer.Option(metavar="TEXT", help="Where the part goes.")] = "",
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why it may stay.")] = "",
    photo: Annotated[
        str, typer.Option(metavar="FILE", help="Evidence: a photo, or the number of one kept.")
    ] = "",
    note: Annotated[str, typer.Option(metavar="TEXT", help="Evidence in words.")] = "",
    walk: Annotated[bool, typer.Option("--walk", help="Ask for each open hazard in turn.")] = False,
) -> None:
    """
    Show a board's hazards, or record what was found; several boards alike at once.

    Without findings the checklist is shown: how to spot each hazard, how it comes off, where it
    goes, and on what source that rests. Hazards are named one by one or with commas.
    """
    typed = {name: _split(context.params[name]) for name in _LISTS}
    findings = _Findings(**typed, how=how, goes_to=goes_to, reason=reason)
    _clear(session_of(context), codes, findings, walk=walk, shown=(photo, note))


_LISTS = ("seen", "absent", "removed", "accepted", "unsure")


def _clear(
    session: Session,
    codes: Sequence[str],
    findings: _Findings,
    *,
    walk: bool,
    shown: tuple[str, str],
) -> None:
    """Show the checklists, or record the findings with the photo and note that show them."""
    from salvage.cli.board_safety import read_evidence
    from salvage.work.clear import read_checklist, record_checks
    from salvage.work.reading import read_code

    evidence = read_evidence(session, *shown)
    was_stopped = False
    with session.open() as shop:
        boards = [read_code(shop, text=code, kinds="B") for code in codes]
        if walk:
            checks, was_stopped = _walk(session, shop, boards)
        else:
            checks = _checks(shop, boards, findings)
        if not checks and evidence:
            raise Misuse("say which findings it shows, or see 'salvage board evidence'")
        if not checks:
            _show_lists(session, [read_checklist(shop, board) for board in boards])
            return
        settled = record_checks(
            shop, boards=boards, checks=checks, evidence=evidence, dry_run=session.dry_run
        )
    _tell(session, settled)
    if was_stopped:
        raise typer.Exit(INTERRUPTED)


def _split(typed: _Hazards) -> list[str]:
    return [word.strip() for text in typed or () for word in text.split(",") if word.strip()]


def _checks(shop: Workshop, boards: Sequence[Code], findings: _Findings) -> list[NewCheck]:
    from salvage.cli.gather import Gatherer
    from salvage.work.clear import NewCheck, open_hazards
    from salvage.work.own_facts import find_known_hazard

    gather = Gatherer()

    def slugs(typed: Sequence[str], flag: str) -> list[str]:
        found = (
            gather.take(partial(find_known_hazard, shop.conn, word, field=flag), None)
            for word in typed
        )
        return [hazard.slug for hazard in found if hazard]

    named = {
        "seen": slugs(findings.seen, "--seen"),
        "removed": slugs(findings.removed, "--removed"),
        "accepted": slugs(findings.accepted, "--accepted"),
        "unsure": slugs(findings.unsure, "--unsure"),
    }
    told = {slug for found in named.values() for slug in found}
    absent = [word for word in findings.absent if word != ALL_OPEN]
    absent_slugs = slugs(absent, "--absent")
    gather.finish()
    if ALL_OPEN in findings.absent:
        absent_slugs += [slug for slug in open_hazards(shop, boards) if slug not in told]
    how, goes_to, reason = findings.how, findings.goes_to, findings.reason
    sought = "" if named["removed"] else how  # with --removed, it tells how that came off
    return [
        *(NewCheck(slug, "present", "removed", how, goes_to) for slug in named["removed"]),
        *(NewCheck(slug, "present", "accepted", reason=reason) for slug in named["accepted"]),
        *(NewCheck(slug, "present") for slug in named["seen"]),
        *(NewCheck(slug, "cannot tell", how=sought) for slug in named["unsure"]),
        *(NewCheck(slug, "absent", how=sought) for slug in dict.fromkeys(absent_slugs)),
    ]


def _walk(session: Session, shop: Workshop, boards: Sequence[Code]) -> tuple[list[NewCheck], bool]:
    """
    Ask for each hazard that is open on the boards; what is skipped stays open.

    Gives the answers, and whether somebody stopped half way: what was answered till then counts.
    """
    from salvage.work.clear import open_hazards, read_checklist

    if not session.may_ask:
        raise Misuse("--walk asks on a terminal; name the findings with --absent, --removed …")
    slugs = open_hazards(shop, boards)
    lines = [line for line in read_checklist(shop, boards[0]).lines if line.hazard.slug in slugs]
    _caution(session)
    checks: list[NewCheck] = []
    try:
        for place, line in enumerate(lines, 1):
            head = wrap(session, f"{place} of {len(lines)}: {line.hazard.name}", indent=2)
            note(session, paint(session, "\n" + "\n".join(head), "strong"))
            for text in hazard_lines(line.hazard):
                note(session, "\n".join(wrap(session, text, indent=13)))
            check = _ask_one(session, line)
            if check:
                checks.append(check)
    except (KeyboardInterrupt, EOFError):
        if not checks:
            raise
        kept = count_of(len(checks), "answer")
        note(session, f"\nstopped; {kept} kept, the rest stays open")
        return checks, True
    return checks, False


def _ask_one(session: Session, line: HazardLine) -> NewCheck | None:
    from salvage.cli.ask import ask
    from salvage.records.choices import parse_choice
    from salvage.work.clear import NewCheck

    slug = line.hazard.slug
    answers = ("absent", "removed", "accepted", "cannot tell", "skip")
    question = f"Found ({', '.join(answers)})"
    answer = ask(session, question, lambda text: parse_choice(text, answers), default="skip")
    if answer == "removed":
        how = ask(session, "How was it removed", _needed)
        goes_to = ask(session, "Where does it go", _needed, default=line.hazard.goes_to)
        return NewCheck(slug, "present", "removed", how, goes_to)
    if answer == "accepted":
        return NewCheck(
            slug, "present", "accepted", reason=ask(session, "Why may it stay", _needed)
        )
    if answer == "skip":
        return None
    return NewCheck(slug, answer, how=ask(session, "How did you look", str))


def _needed(text: str) -> str:
    from salvage.errors import BadValue

    if not text:
        raise BadValue("an answer is needed here")
    return text


def _caution(session: Session) -> None:
    """The usual cautions, and that local codes and licensed practice come first."""
    from salvage.knowledge.cautions import cautions_for

    for caution in cautions_for("clearing"):
        warn(session, caution.sourced_text)


def _list_record(checklist: Checklist) -> dict[str, object]:
    return {
        "board": board_record(checklist.board),
        "open": len(checklist.open_lines),
        "checks": [
            record_of(
                line.check,
                is_settled=line.check.is_settled,
                name=line.hazard.name,
                where=line.hazard.where,
                how_to_spot=line.hazard.how_to_spot,
                how_removed=line.hazard.how_removed,
                usually_goes_to=line.hazard.goes_to,
                protection=line.hazard.protection,
                source=source_words(line.hazard.source),
                practice=source_words(line.hazard.practice),
                source_is_weak=line.hazard.weakest_source.is_weak,
                is_own=line.hazard.source.is_own,
                because=list(line.because),
                evidence=[record_of(one) for one in line.evidence],
            )
            for line in checklist.lines
        ],
    }


def _show_lists(session: Session, lists: Sequence[Checklist]) -> None:
    if session.form == "json":
        show_json(session, [_list_record(checklist) for checklist in lists])
        return
    if session.form == "plain":
        checks = [line.check for checklist in lists for line in checklist.lines]
        show_plain(session, ((c.board, c.hazard, c.finding, c.outcome) for c in checks))
        return
    for checklist in lists:
        _show_list(session, checklist)
    _caution(session)
    if any(checklist.open_lines for checklist in lists):
        codes = " ".join(checklist.board.code for checklist in lists)
        note(session, paint(session, f"next: salvage board clear {codes} --walk", "quiet"))


def _show_list(session: Session, checklist: Checklist) -> None:
    board, count = checklist.board, len(checklist.open_lines)
    words = f"{count} of {len(checklist.lines)} hazards open" if count else "all hazards settled"
    say(session, f"{board.code}  {board.title}, {board.clearance}: {words}")
    for line in checklist.lines:
        check = line.check
        mark = "[x]" if check.is_settled else "[ ]"
        say(session)
        head = f"{mark} {check.hazard}: {check_words(check)}"
        say(session, paint(session, head, "quiet" if check.is_settled else "strong"))
        for text in evidence_words(line.evidence):
            say_wrapped(session, f"  evidence:  {text}", indent=13, always=True)
        if not check.is_settled:
            for text in (*_because(line), *hazard_lines(line.hazard)):
                say_wrapped(session, text, indent=13, always=True)
    say(session)


def _because(line: HazardLine) -> list[str]:
    return [f"  because:   {text}" for text in line.because]


def _tell(session: Session, lists: Sequence[Checklist]) -> None:
    told = []
    for checklist in lists:
        left = [line.check.hazard for line in checklist.open_lines]
        words = f"still held: {', '.join(left)}" if left else "cleared, may be cut"
        if checklist.revised:
            words += f" ({'; '.join(checklist.revised)})"
        told.append((str(checklist.board.code), words))
    codes = [checklist.board.code for checklist in lists]
    held = [checklist.board.code for checklist in lists if checklist.open_lines]
    show_change(
        session,
        [_list_record(checklist) for checklist in lists],
        lines=lines_of_codes(told),
        codes=codes,
        next_step=f"board clear {' '.join(held)}" if held else f"scan {codes[0]}",
    )
