"""Waste containers: opened for one kind, filled thing by thing, gone before their time is up."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from datetime import date, timedelta

from salvage.errors import BadValue, Refused
from salvage.ids import Code
from salvage.records.things import Board
from salvage.records.waste import WasteContainer, WasteItem
from salvage.store.change import Change
from salvage.store.lookup import load_board, load_container, load_drop_off
from salvage.store.rows import select
from salvage.units import to_mg
from salvage.work.balance import balance_boards
from salvage.work.board_rules import check_nothing_reserved
from salvage.work.day_order import check_order
from salvage.work.denied import check_not_denied
from salvage.work.own_facts import find_known_hazard
from salvage.work.workshop import Workshop

SOON_DAYS = 30
"""So many days before its time is up a container is told to be due soon."""


@dataclass(frozen=True, slots=True)
class NewContainer:
    """
    A container that is set up.

    Args:
        kind: Slug of a kind; see :mod:`salvage.knowledge.waste_kinds`.
        words: What is written on it; those of the kind when empty.
        opened_on: First day; today when not given.
        limit_days: How long it may stand; the kind's own time when None, no limit when 0.
        place: Where it stands.
        notes: For the workshop.
    """

    kind: str
    words: str = ""
    opened_on: date | None = None
    limit_days: int | None = None
    place: str = ""
    notes: str = ""


@dataclass(frozen=True, slots=True)
class NewWaste:
    """
    Something that goes into a container.

    Args:
        what: In words; the board itself where *whole*.
        source: Code of the board or drop-off that it came from; empty if from several.
        hazard: Slug of the hazard that it was, if it was one.
        weight_g: Its weight; None if nobody knows. Of a whole board it is estimated when None.
        guessed: Whether the weight is a guess.
        whole: Whether it is the board itself, which is retired with it.
        put_on: Day; today when not given.
    """

    what: str
    source: Code | None = None
    hazard: str = ""
    weight_g: float | None = None
    guessed: bool = False
    whole: bool = False
    put_on: date | None = None


@dataclass(frozen=True, slots=True)
class ContainerView:
    """
    A container as it stands.

    Args:
        container: The record.
        items: What is in it, in order.
        consignment: Code of the consignment with which it left; empty while it is here.
        due_on: Last day; empty where it has no limit.
        days_left: Days until then, below zero when over; None where it has no limit or has left.
    """

    container: WasteContainer
    items: tuple[WasteItem, ...]
    consignment: str
    due_on: str
    days_left: int | None

    @property
    def weight_mg(self) -> int:
        """What its items weigh, as far as that is known."""
        return sum(item.weight_mg or 0 for item in self.items)

    @property
    def unweighed(self) -> int:
        """Items whose weight nobody knows."""
        return sum(1 for item in self.items if item.weight_mg is None)

    @property
    def state(self) -> str:
        """``open``, ``closed`` or ``sent``."""
        if self.consignment:
            return "sent"
        return "closed" if self.container.closed_on else "open"

    @property
    def warning(self) -> str:
        """What is to be done about its time; empty for nothing."""
        if self.days_left is None or self.days_left > SOON_DAYS:
            return ""
        if self.days_left < 0:
            return f"over its time since {self.due_on}"
        return f"must leave by {self.due_on}, in {self.days_left} days"


def open_container(shop: Workshop, *, new: NewContainer, dry_run: bool = False) -> ContainerView:
    """
    Open a container for one kind of waste.

    Args:
        shop: The open workshop.
        new: The container.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such kind.
        BadValue: If nothing is to be written on it.
    """
    from salvage.knowledge.waste_kinds import find_waste_kind

    kind = find_waste_kind(new.kind)
    words = new.words.strip() or kind.label_words
    if not words:
        raise BadValue("say what is written on it", field="--words")
    limit = kind.limit_days if new.limit_days is None else new.limit_days or None
    is_own = bool(new.words.strip()) or new.limit_days is not None
    rule = f"set by the workshop; usual: {kind.source}" if is_own else str(kind.source)

    def steps(change: Change) -> ContainerView:
        code = change.new_code("E")
        change.append(
            "waste.opened",
            (code,),
            {
                "kind": kind.slug,
                "words": words,
                "opened_on": (new.opened_on or shop.today).isoformat(),
                "limit_days": limit,
                "rule": rule,
                "place": new.place,
                "notes": new.notes,
            },
            made=(code,),
        )
        return view_container(shop, code)

    return shop.commit("open container", steps, dry_run=dry_run)


def view_container(shop: Workshop, code: Code) -> ContainerView:
    """A container with what is in it; NotFound where there is none."""
    return _view(shop.conn, load_container(shop.conn, code), shop.today)


def list_containers(shop: Workshop, *, all_: bool = False) -> tuple[ContainerView, ...]:
    """
    Containers, those whose time is up first.

    Args:
        shop: The open workshop.
        all_: Those that have left too.
    """
    found = select(shop.conn, WasteContainer, "FROM waste_container ORDER BY opened_on, code")
    views = [_view(shop.conn, each, shop.today) for each in found]
    views.sort(key=lambda view: (view.state == "sent", view.days_left is None, view.days_left or 0))
    return tuple(view for view in views if all_ or view.state != "sent")


def _view(conn: sqlite3.Connection, found: WasteContainer, today: date) -> ContainerView:
    items = select(conn, WasteItem, "FROM waste_item WHERE container = ? ORDER BY n", (found.code,))
    sent = conn.execute(
        "SELECT consignment FROM consignment_item WHERE code = ?", (found.code,)
    ).fetchone()
    due = None
    if found.limit_days:
        due = date.fromisoformat(found.opened_on) + timedelta(days=found.limit_days)
    left = (due - today).days if due and not sent else None
    return ContainerView(
        found, items, sent[0] if sent else "", due.isoformat() if due else "", left
    )


def put_in(
    shop: Workshop, *, container: Code, new: NewWaste, dry_run: bool = False
) -> ContainerView:
    """
    Put something into a container; a whole board is retired with it.

    Args:
        shop: The open workshop.
        container: The container's code.
        new: What goes in.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If the container, the source or the hazard is not known.
        Refused: If the container is closed, a whole board is reserved or gone, or the hazard is on
            record as not found on that board.
        BadValue: If it does not belong there, or it is not said what it is.
    """

    def steps(change: Change) -> ContainerView:
        view = view_container(shop, container)
        if view.state != "open":
            raise Refused(f"{container} is {view.state}", hint="open another: salvage waste open")
        day = new.put_on or shop.today
        check_order(
            date.fromisoformat(view.container.opened_on), day, words=f"{container} was opened"
        )
        _append_item(change, view.container, new, day)
        if new.whole and new.source:
            reason = f"into waste container {container}"
            change.append("board.retired", (new.source,), {"reason": reason})
        return view_container(shop, container)

    return shop.commit("put in container", steps, dry_run=dry_run)


def _append_item(change: Change, container: WasteContainer, new: NewWaste, day: date) -> None:
    from salvage.knowledge.waste_kinds import find_waste_kind

    kind = find_waste_kind(container.kind)
    hazard = _check_belongs(change.conn, new, kind.slug)
    weight_mg = None if new.weight_g is None else to_mg(new.weight_g)
    is_guess = new.guessed or weight_mg is None
    source = new.source
    board = load_board(change.conn, source) if source and source[0] == "B" else None
    if board and hazard:
        check_not_denied(change.conn, board.code, hazard)
    if new.whole:
        weight_mg = _check_whole(change.conn, board, new, weight_mg)
    if new.source and not board:
        load_drop_off(change.conn, new.source)
    what = new.what.strip() or (board.title if new.whole and board else "")
    if not what:
        raise BadValue("say what goes in", hint="such as '3 coin cells, taped'", field="WHAT")
    (n,) = change.next_numbers("waste_item", "container", container.code)
    change.append(
        "waste.put",
        (container.code, new.source) if new.source else (container.code,),
        {
            "n": n,
            "what": what,
            "source": new.source or "",
            "hazard": hazard,
            "matter": "board" if new.whole else kind.matter,
            "weight_mg": weight_mg,
            "weighed": not is_guess,
            "whole": new.whole,
            "put_on": day.isoformat(),
        },
    )


def _check_belongs(conn: sqlite3.Connection, new: NewWaste, kind: str) -> str:
    """The hazard's slug; raises where its parts belong into a container of another kind."""
    from salvage.knowledge.waste_kinds import kind_for_hazard

    if not new.hazard:
        return ""
    hazard = find_known_hazard(conn, new.hazard, field="--hazard")
    right = kind_for_hazard(hazard.slug)
    if right and right.slug != kind:
        raise BadValue(
            f"{hazard.slug} does not belong into a container of kind {kind}",
            hint=f"salvage waste open {right.slug}",
            field="--hazard",
        )
    return hazard.slug


def _check_whole(
    conn: sqlite3.Connection, board: Board | None, new: NewWaste, weight_mg: int | None
) -> int | None:
    """The weight of a board that goes in as it is; by difference where it was not weighed."""
    if board is None:
        raise BadValue("only a board goes in whole", hint="name it with --from", field="--whole")
    if board.retired:
        raise Refused(f"{board.code} is retired already: {board.retired}")
    check_nothing_reserved(conn, board)
    return weight_mg if weight_mg is not None else shelf_mg(conn, board.code)


def shelf_mg(conn: sqlite3.Connection, board: Code) -> int | None:
    """What is left of a board by the record; None where nothing is known of its mass."""
    (mass,) = balance_boards(conn, where="code = ?", code=board)
    return mass.shelf.mg or None


def close_container(
    shop: Workshop, *, container: Code, closed_on: date | None = None, dry_run: bool = False
) -> ContainerView:
    """
    Close a container, so that nothing more goes in.

    Raises:
        NotFound: If there is no such container.
        Refused: If it is closed already, or nothing is in it.
    """

    def steps(change: Change) -> ContainerView:
        view = view_container(shop, container)
        if view.state != "open":
            raise Refused(f"{container} is {view.state} already")
        if not view.items:
            raise Refused(f"{container} is empty", hint="undo its opening if it was a mistake")
        day = closed_on or shop.today
        check_order(
            date.fromisoformat(view.container.opened_on), day, words=f"{container} was opened"
        )
        change.append("waste.closed", (container,), {"closed_on": day.isoformat()})
        return view_container(shop, container)

    return shop.commit("close container", steps, dry_run=dry_run)


def weigh_board(
    shop: Workshop,
    *,
    board: Code,
    weight_g: float,
    weighed_on: date | None = None,
    dry_run: bool = False,
) -> Board:
    """
    Record what a board weighs now, with all that was taken off it gone.

    Args:
        shop: The open workshop.
        board: The board's code.
        weight_g: On the scales now.
        weighed_on: Day; today when not given.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such board.
        Refused: If it is retired.
    """

    def steps(change: Change) -> Board:
        found = load_board(change.conn, board)
        if found.retired:
            raise Refused(f"{board} is retired: {found.retired}")
        day = (weighed_on or shop.today).isoformat()
        change.append("board.weighed", (board,), {"weight_mg": to_mg(weight_g), "weighed_on": day})
        return found

    return shop.commit("weigh board", steps, dry_run=dry_run)


def set_copper(
    shop: Workshop, *, board: Code, layers: int, copper_oz: float = 1.0, dry_run: bool = False
) -> Board:
    """
    Record how much copper a board has, for the estimate of its mass.

    Args:
        shop: The open workshop.
        board: The board's code.
        layers: Number of copper layers.
        copper_oz: Ounces per square foot on each, the mean where they differ.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such board.
        BadValue: If layers or ounces are out of range.
    """
    if not 0 <= layers <= 64 or not 0 <= copper_oz <= 20:
        raise BadValue("0 to 64 layers of 0 to 20 oz each", field="--layers")

    def steps(change: Change) -> Board:
        found = load_board(change.conn, board)
        data = {"layers": layers, "copper_moz": round(copper_oz * 1000)}
        change.append("board.copper_set", (board,), data)
        return found

    return shop.commit("set copper", steps, dry_run=dry_run)
