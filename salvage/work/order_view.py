"""Orders as they stand: what is held, cut, ready and handed over, and what is late."""

from __future__ import annotations

from collections import Counter
from datetime import date
from typing import TYPE_CHECKING

from salvage.frozen import dataclass
from salvage.ids import Code
from salvage.records.season import Order, OrderLine, Quote, QuoteLine, SetAside
from salvage.store.lookup import load_order, read_private
from salvage.store.rows import select

if TYPE_CHECKING:
    import sqlite3

    from salvage.work.workshop import Workshop

SOON_DAYS = 7
"""An order that is due within so many days and not ready is told."""

_DONE = ("handed over", "declined", "cancelled")


@dataclass(frozen=True, slots=True)
class OrderPiece:
    """
    A piece of an order.

    Args:
        code: Its code.
        stage: Of its bench.
        from_shelf: Whether it was set aside, not cut for the order.
        handed: Whether it was handed over.
    """

    code: Code
    stage: str
    from_shelf: bool
    handed: bool


@dataclass(frozen=True, slots=True)
class OrderLineState:
    """
    A line of an order as it stands.

    Args:
        line: What is asked.
        held: Places on boards that are held for it.
        pieces: Pieces that are its own, those withdrawn left out.
        each_minor: Price of one by the newest quote; None where it is not quoted.
    """

    line: OrderLine
    held: int
    pieces: tuple[OrderPiece, ...]
    each_minor: int | None

    @property
    def ready(self) -> int:
        """Pieces that may be handed over."""
        return sum(one.stage == "ready" and not one.handed for one in self.pieces)

    @property
    def handed(self) -> int:
        """Pieces that were handed over."""
        return sum(one.handed for one in self.pieces)

    @property
    def open(self) -> int:
        """Pieces that have neither been made nor a place."""
        return max(0, self.line.quantity - self.held - len(self.pieces))


@dataclass(frozen=True, slots=True)
class OrderView:
    """
    An order as it stands.

    Args:
        order: The record.
        name: The customer's name, private; empty where it was erased.
        contact: Likewise.
        lines: Its lines in order.
        quotes: All quotes, oldest first.
        held_by_plan: Its plans with how many places each holds.
        days_left: Days until it is due; below zero for late; None for no day.
        forgotten_at: When name and contact were erased on request; empty where they were not.
    """

    order: Order
    name: str
    contact: str
    lines: tuple[OrderLineState, ...]
    quotes: tuple[Quote, ...]
    held_by_plan: tuple[tuple[Code, int], ...]
    days_left: int | None
    forgotten_at: str
    today: date

    @property
    def wanted(self) -> int:
        """Pieces that are asked for."""
        return sum(line.line.quantity for line in self.lines)

    @property
    def made(self) -> int:
        """Pieces that are there, or were handed over."""
        return sum(len(line.pieces) for line in self.lines)

    @property
    def ready(self) -> int:
        """Pieces that may be handed over."""
        return sum(line.ready for line in self.lines)

    @property
    def handed(self) -> int:
        """Pieces that were handed over."""
        return sum(line.handed for line in self.lines)

    @property
    def phase(self) -> str:
        """How far it is, in words."""
        state = self.order.state
        if state in ("declined", "cancelled"):
            return state
        if self.handed:
            return "handed over" if self.handed >= self.wanted else "partly handed over"
        if state == "asked":
            return "asked"
        if state == "quoted":
            last = self.quotes[-1].valid_until
            return "quote expired" if last < self.today.isoformat() else "quoted"
        return self._making()

    def _making(self) -> str:
        held = any(line.held for line in self.lines)
        if self.ready >= self.wanted:
            return "ready"
        if any(line.open for line in self.lines):
            return "to be planned" if not held and not self.made else "partly planned"
        if held:
            return "being cut" if self.made else "reserved"
        return "being finished"

    @property
    def is_late(self) -> bool:
        """Whether its day has passed and it is not handed over."""
        return self.days_left is not None and self.days_left < 0 and self.phase not in _DONE

    @property
    def is_pressing(self) -> bool:
        """Whether it is due soon and not ready."""
        if self.days_left is None or self.phase in (*_DONE, "ready"):
            return False
        return 0 <= self.days_left <= SOON_DAYS


def view_order(shop: Workshop, *, order: Code) -> OrderView:
    """
    An order as it stands.

    Raises:
        NotFound: If there is no such order.
    """
    return see_order(shop.conn, order, shop.today)


def list_orders(shop: Workshop, *, every: bool = False) -> tuple[OrderView, ...]:
    """
    Orders that are going on, the first due first; those without a day last.

    Args:
        shop: The open workshop.
        every: Those that are handed over, declined or cancelled, too.
    """
    rest = "FROM customer_order ORDER BY due_on = '', due_on, code"
    views = (see_order(shop.conn, one.code, shop.today) for one in select(shop.conn, Order, rest))
    return tuple(view for view in views if every or view.phase not in _DONE)


def see_order(conn: sqlite3.Connection, code: Code, today: date) -> OrderView:
    """The order of a code, through an open connection."""
    order = load_order(conn, code)
    quotes = select(conn, Quote, "FROM quote WHERE customer_order = ? ORDER BY made_on, n", (code,))
    row = conn.execute(
        "SELECT at FROM forgotten_customer WHERE customer_order = ?", (code,)
    ).fetchone()
    left = (date.fromisoformat(order.due_on) - today).days if order.due_on else None
    return OrderView(
        order,
        read_private(conn, order.name_seal),
        read_private(conn, order.contact_seal),
        _lines(conn, code, quotes[-1] if quotes else None),
        quotes,
        _held(conn, code),
        left,
        str(row[0]) if row else "",
        today,
    )


def _held(conn: sqlite3.Connection, code: Code) -> tuple[tuple[Code, int], ...]:
    rows = conn.execute(
        "SELECT order_plan.plan, count(reservation.code) FROM order_plan LEFT JOIN reservation"
        " ON reservation.plan = order_plan.plan AND reservation.state = 'held'"
        " WHERE customer_order = ? GROUP BY 1 ORDER BY 1",
        (code,),
    )
    return tuple((Code(plan), count) for plan, count in rows)


def _lines(conn: sqlite3.Connection, code: Code, quote: Quote | None) -> tuple[OrderLineState, ...]:
    rest = "FROM order_line WHERE customer_order = ? ORDER BY n"
    lines = select(conn, OrderLine, rest, (code,))
    rest = "FROM quote_line WHERE customer_order = ? AND quote = ?"
    priced = select(conn, QuoteLine, rest, (code, quote.n if quote else 0))
    each = {line.name: line.each_minor for line in priced}
    held = Counter(
        name
        for (name,) in conn.execute(
            "SELECT name FROM order_plan JOIN reservation ON reservation.plan = order_plan.plan"
            " JOIN plan_line ON plan_line.plan = reservation.plan AND plan_line.n = line"
            " WHERE customer_order = ? AND reservation.state = 'held'",
            (code,),
        )
    )
    pieces = _pieces(conn, code, {line.n: line.name for line in lines})
    return tuple(
        OrderLineState(line, held[line.name], pieces.get(line.name, ()), each.get(line.name))
        for line in lines
    )


def _pieces(
    conn: sqlite3.Connection, code: Code, names: dict[int, str]
) -> dict[str, tuple[OrderPiece, ...]]:
    """Its pieces by the name of their line, by code."""
    rows = conn.execute(
        "SELECT name, piece.code, stage FROM order_plan"
        " JOIN reservation ON reservation.plan = order_plan.plan"
        " JOIN plan_line ON plan_line.plan = reservation.plan AND plan_line.n = line"
        " JOIN cut ON cut.reservation = reservation.code JOIN piece ON piece.cut = cut.code"
        " WHERE customer_order = ? AND stage <> 'withdrawn' ORDER BY piece.code",
        (code,),
    ).fetchall()
    found = {piece: (name, stage, False) for name, piece, stage in rows}
    rest = "FROM set_aside WHERE customer_order = ? ORDER BY piece"
    for kept in select(conn, SetAside, rest, (code,)):
        (stage,) = conn.execute("SELECT stage FROM piece WHERE code = ?", (kept.piece,)).fetchone()
        found[kept.piece] = (names.get(kept.line, ""), stage, True)
    handed = {
        piece
        for (piece,) in conn.execute(
            "SELECT piece FROM slip CROSS JOIN slip_line ON slip = number"
            " WHERE customer_order = ? AND customer_order <> ''"
            " AND kind = 'sale'",
            (code,),
        )
    }
    lines: dict[str, list[OrderPiece]] = {}
    for piece, (name, stage, shelf) in found.items():
        # One that went out to somebody else, before it was set aside there, is not its own.
        if stage == "sold" and piece not in handed:
            continue
        one = OrderPiece(Code(piece), stage, shelf, stage == "sold")
        lines.setdefault(name, []).append(one)
    return {name: tuple(pieces) for name, pieces in lines.items()}
