"""Cutting from a plan: the places of one board or of all become pieces in one step."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from salvage.errors import BadValue, Held, ManyMistakes, NotFound, SalvageError
from salvage.ids import Code
from salvage.records.things import Plan, Reservation
from salvage.store.change import Change
from salvage.store.lookup import load_board, load_plan
from salvage.work.cutting import CutView, NewCut, append_cut, check_clear
from salvage.work.place_cutting import cut_of_place
from salvage.work.plans import check_holding, held_by
from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class PlanCut:
    """
    What was cut from a plan.

    Args:
        plan: The plan.
        cuts: The cuts, board by board.
        left: Its places that are still held.
    """

    plan: Plan
    cuts: tuple[CutView, ...]
    left: tuple[Reservation, ...]


@dataclass(frozen=True, slots=True)
class WhatCameOut:
    """
    Which of a plan's places were cut, and how they came out.

    Args:
        boards: Only places on these boards; all of the plan's if empty.
        leave: Places that were not cut and stay held.
        scrap: Places that came out as scrap.
        reason: Why they did.
    """

    boards: tuple[Code, ...] = ()
    leave: tuple[Code, ...] = ()
    scrap: tuple[Code, ...] = ()
    reason: str = ""


EVERYTHING = WhatCameOut()
"""Every place was cut and came out well."""


def cut_plan(
    shop: Workshop, *, plan: Code, came: WhatCameOut = EVERYTHING, dry_run: bool = False
) -> PlanCut:
    """
    Record that a plan's places were cut, each as a piece or as scrap, in one step.

    Every board is checked first; one that may not be cut stops the whole step.

    Args:
        shop: The open workshop.
        plan: The plan's code.
        came: What was cut, and how it came out.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such plan, or it does not hold a place that is named.
        Refused: If it holds nothing any more.
        Held: If a board may not be cut.
        BadValue: If scrap has no reason, a place is both left and scrap, or none is left to cut.
    """
    if came.scrap and not came.reason.strip():
        raise BadValue("say why it is scrap", hint="such as 'cracked'", field="--reason")
    if both := sorted(set(came.scrap) & set(came.leave)):
        raise BadValue(f"{both[0]} is left and scrap at once", hint="name it once")

    def steps(change: Change) -> PlanCut:
        places = _chosen(plan, check_holding(change.conn, plan), came)
        _check_boards(change, places)
        found = load_plan(change.conn, plan)
        cuts = tuple(append_cut(change, _new_cut(change, place, came)) for place in places)
        return PlanCut(found, cuts, held_by(change.conn, plan))

    return shop.commit("cut plan", steps, dry_run=dry_run)


def places_to_cut(
    shop: Workshop, *, plan: Code, came: WhatCameOut = EVERYTHING
) -> tuple[Reservation, ...]:
    """The places that :func:`cut_plan` would cut; see there for what is refused."""
    return _chosen(plan, check_holding(shop.conn, plan), came)


def _chosen(plan: Code, held: Sequence[Reservation], came: WhatCameOut) -> tuple[Reservation, ...]:
    _check_known(plan, "place", {one.code for one in held}, (*came.leave, *came.scrap))
    _check_known(plan, "place on", {one.board for one in held}, came.boards)
    chosen = tuple(
        sorted(
            (
                one
                for one in held
                if (not came.boards or one.board in came.boards) and one.code not in came.leave
            ),
            key=lambda one: (one.board, one.code),
        )
    )
    if strangers := sorted(set(came.scrap) - {one.code for one in chosen}):
        raise BadValue(f"{', '.join(strangers)} is not on the boards that were named")
    if not chosen:
        raise BadValue("nothing is left to cut", hint="name fewer places with --except")
    return chosen


def _check_known(plan: Code, what: str, known: Collection[str], named: Sequence[Code]) -> None:
    if strangers := sorted(set(named) - set(known)):
        raise NotFound(
            f"{plan} holds no {what} {', '.join(strangers)}",
            hint=f"its places: salvage plan show {plan}",
        )


def _check_boards(change: Change, places: Sequence[Reservation]) -> None:
    """
    Raise unless every board may be cut.

    Raises:
        Held: For one board; ManyMistakes for several.
    """
    mistakes: list[SalvageError] = []
    for code in dict.fromkeys(place.board for place in places):
        try:
            check_clear(change.conn, load_board(change.conn, code))
        except Held as held:
            mistakes.append(held)
    if len(mistakes) == 1:
        raise mistakes[0]
    if mistakes:
        raise ManyMistakes(mistakes)


def _new_cut(change: Change, place: Reservation, came: WhatCameOut) -> NewCut:
    is_scrap = place.code in came.scrap
    outcome, reason = ("scrap", came.reason) if is_scrap else ("piece", "")
    return cut_of_place(change.conn, place, outcome=outcome, reason=reason)
