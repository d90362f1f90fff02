"""Clearing boards: every hazard expected on a board is settled before the board may be cut."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import BadValue, Refused
from salvage.frozen import dataclass, replace
from salvage.records.things import Board, HazardCheck
from salvage.store.lookup import load_board
from salvage.store.rows import select
from salvage.work.evidence import (
    CheckEvidence,
    NewEvidence,
    append_evidence,
    evidence_of,
    take_in_evidence,
)
from salvage.work.expecting import why_expected
from salvage.work.own_facts import find_known_hazard

if TYPE_CHECKING:
    from collections.abc import Sequence

    from salvage.ids import Code
    from salvage.knowledge.hazards import Hazard
    from salvage.store.change import Change
    from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class NewCheck:
    """
    What was found and done about one hazard.

    Args:
        hazard: The hazard's slug.
        finding: One of :data:`salvage.records.choices.FINDINGS`.
        outcome: ``removed``, ``accepted`` or empty.
        how: How it was removed, or how it was looked for.
        goes_to: Where the removed part goes.
        reason: Why it may stay, where it was accepted.
    """

    hazard: str
    finding: str
    outcome: str = ""
    how: str = ""
    goes_to: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class HazardLine:
    """
    One line of a board's checklist.

    Args:
        check: The record.
        hazard: What is known about it, with its source.
        because: Why it is looked for on this board, one reason each, with what it rests on.
        evidence: What shows that it was looked for, or is off.
    """

    check: HazardCheck
    hazard: Hazard
    because: tuple[str, ...] = ()
    evidence: tuple[CheckEvidence, ...] = ()


@dataclass(frozen=True, slots=True)
class Checklist:
    """
    A board with all hazards to be settled.

    Args:
        board: The board.
        lines: Expected hazards, open ones first.
        revised: What was settled otherwise until this record, in words; such as "coin-cell was
            absent, is now present".
    """

    board: Board
    lines: tuple[HazardLine, ...]
    revised: tuple[str, ...] = ()

    @property
    def open_lines(self) -> tuple[HazardLine, ...]:
        """Lines that still hold the board."""
        return tuple(line for line in self.lines if not line.check.is_settled)


def read_checklist(shop: Workshop, board: Code) -> Checklist:
    """The board's hazards, open ones first; NotFound if there is no such board."""
    conn, found = shop.conn, load_board(shop.conn, board)
    checks = select(
        conn, HazardCheck, "FROM hazard_check WHERE board = ? ORDER BY hazard", (board,)
    )
    reasons = why_expected(shop, found)
    shown = evidence_of(conn, board)
    lines = [
        HazardLine(
            check,
            find_known_hazard(conn, check.hazard),
            reasons.get(check.hazard, ("somebody looked for it, or saw it",)),
            tuple(one for one in shown if one.hazard == check.hazard),
        )
        for check in checks
    ]
    lines.sort(key=lambda line: line.check.is_settled)
    return Checklist(found, tuple(lines))


def open_hazards(shop: Workshop, boards: Sequence[Code]) -> tuple[str, ...]:
    """
    Slugs of the hazards that are open, the same on each of *boards*.

    Raises:
        NotFound: If a board is not known.
        Refused: If the boards differ, since one finding would not be true of all.
    """
    found = {
        board: tuple(sorted(line.check.hazard for line in read_checklist(shop, board).open_lines))
        for board in boards
    }
    if len(set(found.values())) > 1:
        told = "; ".join(f"{board}: {', '.join(slugs) or 'none'}" for board, slugs in found.items())
        raise Refused(
            f"the boards have different open hazards ({told})",
            hint="clear them one by one, or name the hazards",
        )
    return next(iter(found.values()), ())


def check_new_check(new: NewCheck) -> None:
    """
    Raise unless finding, outcome and their words fit together.

    Raises:
        BadValue: Naming what is missing.
    """
    if new.outcome == "removed":
        if new.finding != "present":
            raise BadValue(f"{new.hazard}: only what is present can be removed")
        for text, field, words in (
            (new.how, "--how", "say how it was removed"),
            (new.goes_to, "--goes-to", "say where it goes"),
        ):
            if not text.strip():
                raise BadValue(f"{new.hazard}: {words}", field=field)
    if new.outcome == "accepted":
        if new.finding == "absent":
            raise BadValue(f"{new.hazard}: what is absent needs no acceptance")
        if not new.reason.strip():
            raise BadValue(f"{new.hazard}: say why it may stay", field="--reason")


def _tidy_checks(shop: Workshop, checks: Sequence[NewCheck]) -> tuple[NewCheck, ...]:
    """The checks, each once, by the hazards' slugs; raises where one is told in two ways."""
    told: dict[str, NewCheck] = {}
    for typed in checks:
        slug = find_known_hazard(shop.conn, typed.hazard).slug
        new = replace(typed, hazard=slug)
        check_new_check(new)
        first = told.setdefault(slug, new)
        if first != new:
            ways = " and as ".join(each.outcome or each.finding for each in (first, new))
            raise BadValue(f"{slug} is told twice, as {ways}", hint="name each hazard once")
    return tuple(told.values())


def _revisions(before: Checklist, checks: Sequence[NewCheck]) -> tuple[str, ...]:
    """What new checks say otherwise of hazards that were settled."""
    settled = {line.check.hazard: line.check for line in before.lines if line.check.is_settled}
    found = []
    for new in checks:
        was = settled.get(new.hazard)
        if was and (was.finding, was.outcome) != (new.finding, new.outcome):
            old, now = (one.outcome or one.finding for one in (was, new))
            found.append(f"{new.hazard} was {old}, is now {now}")
    return tuple(found)


def record_checks(
    shop: Workshop,
    *,
    boards: Sequence[Code],
    checks: Sequence[NewCheck],
    evidence: NewEvidence | None = None,
    dry_run: bool = False,
) -> tuple[Checklist, ...]:
    """
    Record what was found and done about hazards, on one board or several alike.

    Args:
        shop: The open workshop.
        boards: The boards' codes.
        checks: The same for each board; one for each hazard.
        evidence: What shows it; kept with each of the checks.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If a board or hazard is not known.
        BadValue: If finding, outcome and their words do not fit together, or two checks of one
            hazard say different things.
    """
    checks = _tidy_checks(shop, checks)
    taken = take_in_evidence(shop, evidence, dry_run=dry_run) if evidence else None

    def steps(change: Change) -> tuple[Checklist, ...]:
        revised = {}
        for board in boards:
            load_board(change.conn, board)
            revised[board] = _revisions(read_checklist(shop, board), checks)
            for new in checks:
                _append_check(change, board, new)
            if taken:
                append_evidence(change, board, [new.hazard for new in checks], taken)
        return tuple(
            replace(read_checklist(shop, board), revised=revised[board]) for board in boards
        )

    return shop.commit("clear board", steps, dry_run=dry_run)


def _append_check(change: Change, board: Code, new: NewCheck) -> None:
    change.append(
        "hazard.checked",
        (board,),
        {
            "hazard": new.hazard,
            "finding": new.finding,
            "outcome": new.outcome,
            "how": new.how,
            "goes_to": new.goes_to,
            "reason": new.reason,
        },
    )
