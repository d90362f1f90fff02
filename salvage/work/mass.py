"""Where the weight went: what came in, and what it became, with the rest shown."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from salvage.errors import BadValue, Refused
from salvage.ids import Code
from salvage.records.region import region_of_text
from salvage.records.things import Consignment, Cut
from salvage.store.change import Change
from salvage.store.lookup import load_consignment, load_drop_off
from salvage.store.rows import select
from salvage.units import format_mass, to_mg
from salvage.work.day_order import check_order
from salvage.work.workshop import Workshop

SCALES = 0.02
"""
Share by which two weighings of one thing may differ: a luggage scale at the door, a kitchen scale
at the bench (common practice, no source).
"""


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
    """

    received_g: float
    sent_g: float
    pieces_g: float
    boards_g: float
    dust_g: float
    unweighed: int

    @property
    def unexplained_g(self) -> float:
        """What came in and is found nowhere: housings, screws, and mistakes."""
        return self.received_g - self.sent_g - self.pieces_g - self.boards_g - self.dust_g


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
            _check_not_outweighed(change.conn, new)
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


def _check_not_outweighed(conn: sqlite3.Connection, new: NewConsignment) -> None:
    """Raise if with *new* more would have left of its drop-off than came in."""
    assert new.drop_off is not None  # the caller has asked
    came_mg = load_drop_off(conn, new.drop_off).weight_mg
    sent_mg = sent_of(conn, new.drop_off)
    if came_mg and sent_mg + to_mg(new.weight_g) > came_mg * (1 + SCALES):
        before = f" besides the {format_mass(sent_mg / 1000)} sent before" if sent_mg else ""
        raise Refused(
            f"{format_mass(new.weight_g)}{before} is more than the {format_mass(came_mg / 1000)}"
            f" of {new.drop_off}",
            hint=f"leave the drop-off out if it is from several, or mend its weight with"
            f" 'salvage correct dropoff {new.drop_off} --weight …'",
        )


def sent_of(conn: sqlite3.Connection, drop_off: Code) -> int:
    """Milligrams of a drop-off that have left."""
    (sent,) = conn.execute(
        "SELECT coalesce(sum(weight_mg), 0) FROM consignment WHERE drop_off = ?", (drop_off,)
    ).fetchone()
    return int(sent)


def outweighed(conn: sqlite3.Connection) -> tuple[tuple[Code, int, int], ...]:
    """Drop-offs of which more has left than came: code, milligrams in, milligrams out."""
    rows = conn.execute(
        "SELECT drop_off.code, drop_off.weight_mg, sum(consignment.weight_mg) FROM drop_off"
        " JOIN consignment ON consignment.drop_off = drop_off.code"
        " WHERE drop_off.weight_mg IS NOT NULL GROUP BY drop_off.code ORDER BY drop_off.code"
    )
    return tuple(
        (Code(code), came, sent) for code, came, sent in rows if sent > came * (1 + SCALES)
    )


def list_consignments(shop: Workshop) -> tuple[Consignment, ...]:
    """All consignments, newest first."""
    return select(shop.conn, Consignment, "FROM consignment ORDER BY sent_on DESC, code DESC")


def account_mass(shop: Workshop) -> MassAccount:
    """The workshop's balance of mass."""
    from salvage.knowledge.materials import dust_mass_g, estimated_mass_g

    conn = shop.conn
    pieces = dust = 0.0
    gone_from: dict[str, float] = defaultdict(float)
    thickness = _thickness_mm(conn)
    # An article weighs in through its parts; the rest of it, such as hooks, never came as boards.
    query = "SELECT cut, weight_mg FROM piece WHERE weight_mg > 0 AND cut IS NOT NULL"
    weighed = dict(conn.execute(query))
    for cut in select(conn, Cut, "FROM cut ORDER BY clock, code"):
        lost = dust_mass_g(_length_mm(cut), cut.kerf_um / 1000, thickness[cut.board])
        dust += lost
        if cut.outcome == "piece":  # scrap stays with its board's remains until it is sent away
            area_mm2 = region_of_text(cut.region).area_mm2
            laminate = estimated_mass_g(area_mm2, thickness[cut.board])
            piece = weighed[cut.code] / 1000 if cut.code in weighed else laminate
            pieces += piece
            lost += piece
        gone_from[cut.board] += lost
    left = sum(
        max(0.0, _board_g(weight_mg, area_um2, thickness[code]) - gone_from[code])
        for code, weight_mg, area_um2 in conn.execute(
            "SELECT code, weight_mg, outline_um2 FROM board WHERE retired = ''"
        )
    )
    received, unweighed = conn.execute(
        "SELECT coalesce(sum(weight_mg), 0), coalesce(sum(weight_mg IS NULL), 0) FROM drop_off"
    ).fetchone()
    (sent,) = conn.execute("SELECT coalesce(sum(weight_mg), 0) FROM consignment").fetchone()
    return MassAccount(received / 1000, sent / 1000, pieces, left, dust, int(unweighed))


def _board_g(weight_mg: int | None, area_um2: int, thickness_mm: float) -> float:
    from salvage.knowledge.materials import estimated_mass_g

    return weight_mg / 1000 if weight_mg else estimated_mass_g(area_um2 / 1e6, thickness_mm)


def _length_mm(cut: Cut) -> float:
    """Length of the cutter's way: round the piece and round the holes in it."""
    from salvage.geometry.outline import to_polygon

    return float(to_polygon(region_of_text(cut.region)).length)


def _thickness_mm(conn: sqlite3.Connection) -> dict[str, float]:
    from salvage.knowledge.materials import find_material_fact

    usual = find_material_fact("fr4-thickness").value
    rows = conn.execute("SELECT code, thickness_um FROM board")
    return {code: um / 1000 if um else usual for code, um in rows}
