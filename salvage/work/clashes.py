"""What two devices did apart and cannot both be so; told in plain words, settled by a person."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from itertools import combinations

from salvage.errors import BadValue, NotFound, Refused
from salvage.ids import Code
from salvage.records.region import region_of_text
from salvage.records.things import Cut, Reservation, Sale
from salvage.store.change import Change
from salvage.store.journal import event_by_id, read_events_about
from salvage.store.rows import select
from salvage.work.clash import Clash
from salvage.work.clash_of_articles import find_article_clashes
from salvage.work.event_words import describe_event
from salvage.work.history import short_id
from salvage.work.workshop import Workshop

# Regions that overlap by less lie edge to edge.
_LEAST_OVERLAP_MM2 = 0.01


def list_clashes(shop: Workshop) -> tuple[Clash, ...]:
    """All clashes, the open ones first."""
    return tuple(sorted(find_clashes(shop.conn), key=lambda clash: bool(clash.settled)))


def find_clashes(conn: sqlite3.Connection) -> tuple[Clash, ...]:
    """All clashes of an open workshop, settled or not."""
    settled = dict(conn.execute("SELECT clash, how FROM clash_settled"))
    found = (
        *_left_out(conn),
        *_sold_twice(conn),
        *_cut_twice(conn),
        *_held_and_cut(conn),
        *find_article_clashes(conn),
    )
    return tuple(
        Clash(one.name, one.codes, one.words, one.mend, settled.get(one.name, "")) for one in found
    )


def _left_out(conn: sqlite3.Connection) -> Iterator[Clash]:
    rows = conn.execute("SELECT event_id, reason FROM clash ORDER BY event_id").fetchall()
    for event_id, reason in rows:
        event = event_by_id(conn, event_id)
        yield Clash(
            event_id[-6:],
            event.about,
            f"{' '.join(event.about)}: '{describe_event(event)}', written on device {event.device}"
            f" by {event.by} on {event.at[:10]}, {reason}",
            "record it again as it is now",
        )


def _sold_twice(conn: sqlite3.Connection) -> Iterator[Clash]:
    rows = conn.execute(
        "SELECT piece FROM sale WHERE returned_on = '' GROUP BY piece HAVING count(*) > 1"
    ).fetchall()
    for (piece,) in rows:
        rest = "FROM sale WHERE piece = ? AND returned_on = '' ORDER BY sold_on, n"
        sales = " and ".join(
            f"on {sale.sold_on}{f' at {sale.venue}' if sale.venue else ''}"
            for sale in select(conn, Sale, rest, (piece,))
        )
        yield Clash(
            f"{piece}-SOLD",
            (Code(piece),),
            f"{piece} is on record as sold twice: {sales}",
            f'salvage piece return {piece} --reason "sold twice, money given back"',
        )


def _boards_of_many(conn: sqlite3.Connection) -> list[str]:
    """Boards on which codes of more than one device lie."""
    rows = conn.execute(
        "SELECT board FROM (SELECT board, code FROM cut UNION ALL"
        " SELECT board, code FROM reservation WHERE state = 'held')"
        " GROUP BY board HAVING count(DISTINCT substr(code, 2, 1)) > 1 ORDER BY board"
    )
    return [board for (board,) in rows]


def _overlap_mm2(first: str, second: str) -> float:
    from salvage.geometry.outline import to_polygon

    shared = to_polygon(region_of_text(first)).intersection(to_polygon(region_of_text(second)))
    return float(shared.area)


def _cut_twice(conn: sqlite3.Connection) -> Iterator[Clash]:
    for board in _boards_of_many(conn):
        cuts = select(conn, Cut, "FROM cut WHERE board = ? ORDER BY clock, code", (board,))
        for first, second in combinations(cuts, 2):
            if first.code[1] == second.code[1]:
                continue
            overlap = _overlap_mm2(first.region, second.region)
            if overlap >= _LEAST_OVERLAP_MM2:
                yield Clash(
                    f"{first.code}-{second.code}",
                    (first.code, second.code, Code(board)),
                    f"{board} was cut in the same place on two devices: {first.code}"
                    f" ({first.shape}, by {first.by}, {first.at[:10]}) and {second.code}"
                    f" ({second.shape}, by {second.by}, {second.at[:10]}) share {overlap:.0f} mm²",
                    "look at the board, then take back the cut that was not made: salvage undo"
                    f" {_operation_of(conn, first.code)} or {_operation_of(conn, second.code)}",
                )


def _operation_of(conn: sqlite3.Connection, code: Code) -> str:
    """Short id of the operation that made a thing."""
    made = next(event for event in read_events_about(conn, code) if code in event.made)
    return short_id(made.operation)


def _held_and_cut(conn: sqlite3.Connection) -> Iterator[Clash]:
    for board in _boards_of_many(conn):
        rest = "FROM reservation WHERE board = ? AND state = 'held' ORDER BY code"
        held = select(conn, Reservation, rest, (board,))
        cuts = select(conn, Cut, "FROM cut WHERE board = ? ORDER BY clock, code", (board,))
        for place in held:
            later = (other for other in held if other.code > place.code)
            others: tuple[Cut | Reservation, ...] = (*cuts, *later)
            for other in others:
                if other.code[1] == place.code[1]:
                    continue
                if _overlap_mm2(place.region, other.region) >= _LEAST_OVERLAP_MM2:
                    what = "cut as" if other.code[0] == "K" else "held as well as"
                    yield Clash(
                        f"{place.code}-{other.code}",
                        (place.code, other.code, Code(board)),
                        f"the place {place.code} on {board}, held for {place.for_whom}, was {what}"
                        f" {other.code} on another device",
                        f"salvage release {place.code}",
                    )


def settle_clash(shop: Workshop, *, clash: str, how: str, dry_run: bool = False) -> Clash:
    """
    Record how a clash was settled, where no other command mends it.

    Args:
        shop: The open workshop.
        clash: Its name.
        how: Such as "the second buyer chose another piece"; it stays on the record.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such clash.
        Refused: If it is settled already.
        BadValue: If it is not said how.
    """
    if not how.strip():
        raise BadValue("say how it was settled", field="--how")

    def steps(change: Change) -> Clash:
        found = {one.name: one for one in find_clashes(change.conn)}
        name = clash.strip()
        name = name if name in found else name.upper()
        if name not in found:
            raise NotFound(f"there is no clash '{clash}'", nearest=list(found)[:5])
        if found[name].settled:
            raise Refused(f"{name} is settled already: {found[name].settled}")
        change.append("clash.settled", found[name].codes, {"clash": name, "how": how})
        return next(one for one in find_clashes(change.conn) if one.name == name)

    return shop.commit("settle clash", steps, dry_run=dry_run)
