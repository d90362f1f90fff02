"""Where the weight went: what came in, and what it became, with the rest shown."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from salvage.errors import BadValue, Refused
from salvage.frozen import dataclass
from salvage.ids import Code
from salvage.records.things import Consignment
from salvage.store.lookup import load_consignment, load_drop_off
from salvage.store.rows import select
from salvage.units import format_mass, to_mg
from salvage.work.balance import Amount, account_day, balance_boards, total
from salvage.work.day_order import check_order

if TYPE_CHECKING:
    import sqlite3

    from salvage.store.change import Change
    from salvage.work.workshop import Workshop

SCALES = 0.02
"""
Share by which two weighings of one thing may differ: a luggage scale at the door, a kitchen scale
at the bench (common practice, no source).
"""

# What left of a drop-off in one piece: the older consignments, and items of the others.
_SENT = (
    "SELECT drop_off, weight_mg FROM consignment"
    " UNION ALL SELECT drop_off, weight_mg FROM consignment_item"
)


@dataclass(frozen=True, slots=True)
class MassAccount:
    """
    Masses in grams; those marked *estimated* follow from area and thickness.

    Args:
        received_g: Weighed drop-offs.
        sent_g: Consignments.
        pieces_g: Pieces, weighed or estimated.
        boards_g: What is left of recorded boards, weighed or estimated.
        dust_g: Kerf, estimated.
        unweighed: Drop-offs without a weight; they are missing from *received_g*.
        containers_g: What lies in waste containers that have not left.
        dust_collected_g: Dust that was put into containers; it is part of *dust_g* and counted
            once.
    """

    received_g: float
    sent_g: float
    pieces_g: float
    boards_g: float
    dust_g: float
    unweighed: int
    containers_g: float = 0.0
    dust_collected_g: float = 0.0

    @property
    def unexplained_g(self) -> float:
        """What came in and is found nowhere: housings, screws, and mistakes."""
        found = self.sent_g + self.pieces_g + self.boards_g + self.dust_g + self.containers_g
        return self.received_g + self.dust_collected_g - found

    @property
    def diverted_percent(self) -> float | None:
        """
        Of what came in, the part that became pieces or went to recyclers.

        None where nothing was weighed, and where a drop-off has no weight: the share would be too
        large.
        """
        if not self.received_g or self.unweighed:
            return None
        return 100 * (self.pieces_g + self.sent_g) / self.received_g


@dataclass(frozen=True, slots=True)
class NewConsignment:
    """
    What leaves for a recycler.

    Args:
        receiver: Who takes it.
        contents: Such as "coin cells, terminals taped".
        weight_g: Weight in grams.
        sent_on: Day; today when not given.
        document: Number of the receipt or waybill.
        drop_off: Where it came with, if it is all from one.
    """

    receiver: str
    contents: str
    weight_g: float
    sent_on: date | None = None
    document: str = ""
    drop_off: Code | None = None


def send_consignment(shop: Workshop, *, new: NewConsignment, dry_run: bool = False) -> Consignment:
    """
    Record what left for a recycler.

    Args:
        shop: The open workshop.
        new: What left.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If it is not said what went to whom, or the drop-off came only later.
        NotFound: If the drop-off is not known.
        Refused: If more would have left of a drop-off than came in.
    """
    for text, field in ((new.receiver, "--receiver"), (new.contents, "--contents")):
        if not text.strip():
            raise BadValue("say what went to whom", field=field)

    day = new.sent_on or shop.today

    def steps(change: Change) -> Consignment:
        if new.drop_off:
            came = date.fromisoformat(load_drop_off(change.conn, new.drop_off).received_on)
            check_order(came, day, words=f"{new.drop_off} came in")
            check_not_outweighed(change.conn, new.drop_off, to_mg(new.weight_g))
        code = change.new_code("C")
        change.append(
            "consignment.sent",
            (code, new.drop_off) if new.drop_off else (code,),
            {
                "receiver": new.receiver,
                "contents": new.contents,
                "weight_mg": to_mg(new.weight_g),
                "sent_on": day.isoformat(),
                "document": new.document,
                "drop_off": new.drop_off,
            },
            made=(code,),
        )
        return load_consignment(change.conn, code)

    return shop.commit("send consignment", steps, dry_run=dry_run)


def check_not_outweighed(conn: sqlite3.Connection, drop_off: Code, weight_mg: int) -> None:
    """
    Raise if with so many milligrams more would have left of a drop-off than came in.

    Raises:
        NotFound: If there is no such drop-off.
        Refused: If it would.
    """
    came_mg = load_drop_off(conn, drop_off).weight_mg
    sent_mg = sent_of(conn, drop_off)
    if came_mg and sent_mg + weight_mg > came_mg * (1 + SCALES):
        before = f" besides the {format_mass(sent_mg / 1000)} sent before" if sent_mg else ""
        raise Refused(
            f"{format_mass(weight_mg / 1000)}{before} is more than the"
            f" {format_mass(came_mg / 1000)} of {drop_off}",
            hint=f"leave the drop-off out if it is from several, or mend its weight with"
            f" 'salvage correct dropoff {drop_off} --weight …'",
        )


def sent_of(conn: sqlite3.Connection, drop_off: Code) -> int:
    """Milligrams of a drop-off that have left."""
    (sent,) = conn.execute(
        f"SELECT coalesce(sum(weight_mg), 0) FROM ({_SENT}) WHERE drop_off = ?", (drop_off,)
    ).fetchone()
    return int(sent)


def outweighed(conn: sqlite3.Connection) -> tuple[tuple[Code, int, int], ...]:
    """Drop-offs of which more has left than came: code, milligrams in, milligrams out."""
    rows = conn.execute(
        "SELECT drop_off.code, drop_off.weight_mg, sum(sent.weight_mg) FROM drop_off"
        f" JOIN ({_SENT}) AS sent ON sent.drop_off = drop_off.code"
        " WHERE drop_off.weight_mg IS NOT NULL GROUP BY drop_off.code ORDER BY drop_off.code"
    )
    return tuple(
        (Code(code), came, sent) for code, came, sent in rows if sent > came * (1 + SCALES)
    )


def list_consignments(shop: Workshop) -> tuple[Consignment, ...]:
    """All consignments, newest first."""
    return select(shop.conn, Consignment, "FROM consignment ORDER BY sent_on DESC, code DESC")


@dataclass(frozen=True, slots=True)
class MassSums:
    """
    The same up to a day, in milligrams, with the bounds of what is estimated.

    Args:
        received_mg: Weighed drop-offs.
        unweighed: Drop-offs without a weight.
        sent_mg: Consignments.
        here_mg: In containers that have not left.
        collected_mg: Dust in containers, whether they have left or not.
        pieces: What became pieces.
        shelf: What is left of recorded boards.
        dust: What the kerf took.
    """

    received_mg: int
    unweighed: int
    sent_mg: int
    here_mg: int
    collected_mg: int
    pieces: Amount
    shelf: Amount
    dust: Amount


def account_mass(shop: Workshop, *, until: date | None = None) -> MassAccount:
    """
    The workshop's balance of mass.

    Args:
        shop: The open workshop.
        until: Last day that counts; all days where none is given.
    """
    sums = sum_masses(shop.conn, account_day(until))
    return MassAccount(
        sums.received_mg / 1000,
        sums.sent_mg / 1000,
        sums.pieces.mg / 1000,
        sums.shelf.mg / 1000,
        sums.dust.mg / 1000,
        sums.unweighed,
        sums.here_mg / 1000,
        sums.collected_mg / 1000,
    )


def sum_masses(conn: sqlite3.Connection, day: str) -> MassSums:
    """All masses up to a day; see :class:`MassSums`."""
    boards = balance_boards(conn, until=day)
    received, unweighed = conn.execute(
        "SELECT coalesce(sum(weight_mg), 0), coalesce(sum(weight_mg IS NULL), 0) FROM drop_off"
        " WHERE received_on <= ?",
        (day,),
    ).fetchone()
    (sent,) = conn.execute(
        "SELECT coalesce(sum(weight_mg), 0) FROM consignment WHERE sent_on <= ?", (day,)
    ).fetchone()
    here, collected = _in_containers(conn, day)
    return MassSums(
        int(received),
        int(unweighed),
        int(sent),
        here,
        collected,
        total(board.pieces for board in boards),
        total(board.shelf for board in boards),
        total(board.dust for board in boards),
    )


def _in_containers(conn: sqlite3.Connection, day: str) -> tuple[int, int]:
    """Milligrams in containers that have not left by a day, and of dust in all containers."""
    here, dust = conn.execute(
        "SELECT coalesce(sum(CASE WHEN container NOT IN (SELECT consignment_item.code FROM"
        " consignment_item JOIN consignment ON consignment.code = consignment WHERE sent_on <= ?1)"
        " THEN weight_mg END), 0), coalesce(sum(CASE WHEN matter = 'dust' THEN weight_mg END), 0)"
        " FROM waste_item WHERE put_on <= ?1",
        (day,),
    ).fetchone()
    return int(here), int(dust)
