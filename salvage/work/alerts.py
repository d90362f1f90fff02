"""New knowledge: one alert holds every board of a kind, those on the shelf and those to come."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from salvage.errors import BadValue, NotFound, Refused
from salvage.frozen import dataclass
from salvage.ids import Code
from salvage.records.alerts import Alert, BoardFacts, concerns, week_of_code
from salvage.records.things import Board, HazardCheck, Piece
from salvage.store.lookup import load_drop_off
from salvage.store.rows import select, select_one
from salvage.work.own_facts import find_known_hazard
from salvage.work.trace import where_now

if TYPE_CHECKING:
    import sqlite3

    from salvage.store.change import Change
    from salvage.work.workshop import Workshop

__all__ = ["Alert", "AlertView", "BoardUnder", "NewAlert", "short_alert"]

FIRST_YEAR, LAST_YEAR = 1970, 2069
"""Years that date codes of two digits can mean."""

LEAST_ENDING = 4
"""Characters that the end of an id must have to name an alert."""


@dataclass(frozen=True, slots=True)
class NewAlert:
    """
    What was learned, and about which boards; an empty field means any.

    Args:
        hazard: Slug or name of what is to be looked for.
        reason: What was learned, in words.
        source: Where it was learned, such as a bulletin, or "found on BC0002J".
        type: Slug of a board type.
        maker, model: As printed.
        drop_off: Code of a drop-off.
        made_from, made_to: Days between which the date codes lie; a board without a readable date
            code counts.
    """

    hazard: str
    reason: str
    source: str
    type: str = ""
    maker: str = ""
    model: str = ""
    drop_off: Code | None = None
    made_from: date | None = None
    made_to: date | None = None


@dataclass(frozen=True, slots=True)
class BoardUnder:
    """
    A board that an alert concerns, as it stands now.

    Args:
        board: The record.
        check: Its check of the hazard.
        pieces: Pieces cut from it, each with where it is now.
    """

    board: Board
    check: HazardCheck
    pieces: tuple[tuple[Code, str], ...]

    @property
    def is_open(self) -> bool:
        """True while the check holds the board."""
        return not self.check.is_settled


@dataclass(frozen=True, slots=True)
class AlertView:
    """
    An alert with the boards that it concerns.

    Args:
        alert: The record.
        boards: All boards concerned, retired and cut ones too, by code.
    """

    alert: Alert
    boards: tuple[BoardUnder, ...]

    @property
    def held(self) -> tuple[BoardUnder, ...]:
        """Boards that are held by it now."""
        return tuple(under for under in self.boards if under.is_open)

    @property
    def cut(self) -> tuple[BoardUnder, ...]:
        """Boards from which something was cut already."""
        return tuple(under for under in self.boards if under.board.cut_count)


def short_alert(alert: Alert) -> str:
    """
    The end of an alert's id, which people read and type.

    The beginning is the time, so that ids of one morning begin alike; the end is random.
    """
    return alert.id[-8:]


def parse_made(text: str, *, field: str, last: bool = False) -> date:
    """
    A bound of date codes: a code such as ``9126``, a year, or a day.

    Args:
        text: As typed.
        field: Where it was typed.
        last: Take the last day of the week or year, not the first.

    Raises:
        BadValue: If it is none of them.

    >>> parse_made("9126", field="--to", last=True)
    datetime.date(1991, 6, 30)
    """
    tidy = text.strip()
    week = week_of_code(tidy)
    is_year = tidy.isdecimal() and len(tidy) == 4 and FIRST_YEAR <= int(tidy) <= LAST_YEAR
    if week and is_year:
        raise BadValue(
            f"'{text}' can be the year {tidy} or the week of {week[0]}",
            hint=f"write {tidy}-01-01 or {week[0]}",
            field=field,
        )
    if week:
        return week[last]
    if is_year:
        return date(int(tidy), 12, 31) if last else date(int(tidy), 1, 1)
    try:
        return date.fromisoformat(tidy)
    except ValueError:
        raise BadValue(
            f"'{text}' is no date code, year or day",
            hint="such as 9126, 1991 or 1991-06-24",
            field=field,
        ) from None


def raise_alert(shop: Workshop, *, new: NewAlert, dry_run: bool = False) -> AlertView:
    """
    Hold every board of a kind until it is looked over for a hazard, now and from now on.

    A check that said "absent" is asked for anew; what was found and removed stays removed. Boards
    that were cut already are named with their pieces, so that a recall can follow.

    Args:
        shop: The open workshop.
        new: What was learned.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If the hazard or drop-off is not known.
        BadValue: If the hazard holds no board, the alert is about every board there is, or it is
            not said what was learned and where.
    """
    _check(new)

    def steps(change: Change) -> AlertView:
        hazard = find_known_hazard(change.conn, new.hazard, field="HAZARD")
        if not hazard.blocks_cutting:
            raise BadValue(f"{hazard.slug} is a notice and holds no board", field="HAZARD")
        if new.drop_off:
            load_drop_off(change.conn, new.drop_off)
        data = {
            "hazard": hazard.slug,
            "type": new.type,
            "maker": " ".join(new.maker.split()),
            "model": " ".join(new.model.split()),
            "drop_off": new.drop_off or "",
            "made_from": new.made_from.isoformat() if new.made_from else "",
            "made_to": new.made_to.isoformat() if new.made_to else "",
            "reason": new.reason,
            "source": new.source,
        }
        meant = Alert("", **data, by="", at="", lifted="")
        about = [*_concerned(change.conn, meant), *filter(None, (new.drop_off,))]
        event = change.append("alert.raised", about, data)
        return view_alert(change.conn, event.id)

    return shop.commit("raise alert", steps, dry_run=dry_run)


def _check(new: NewAlert) -> None:
    for text, field, words in (
        (new.reason, "--reason", "say what was learned"),
        (new.source, "--source", "say where it was learned"),
    ):
        if not text.strip():
            raise BadValue(words, field=field)
    if not any((new.type, new.maker, new.model, new.drop_off, new.made_from, new.made_to)):
        raise BadValue(
            "an alert about every board there is helps nobody",
            hint="name a type, maker, model, drop-off or date codes",
        )
    if new.made_from and new.made_to and new.made_to < new.made_from:
        raise BadValue(f"{new.made_to} is before {new.made_from}", field="--to")


def _concerned(conn: sqlite3.Connection, alert: Alert) -> list[Code]:
    rows = conn.execute(
        "SELECT code, type, maker, model, date_code, drop_off FROM board ORDER BY code"
    )
    return [Code(code) for code, *facts in rows if concerns(alert, BoardFacts(*facts))]


def view_alert(conn: sqlite3.Connection, wanted: str) -> AlertView:
    """
    An alert with its boards as they stand now.

    Args:
        conn: Open connection.
        wanted: Its id, or the end of it.

    Raises:
        NotFound: If there is none, or several end like that.
    """
    alert = find_alert(conn, wanted)
    under = (_under(conn, alert, code) for code in _concerned(conn, alert))
    return AlertView(alert, tuple(filter(None, under)))


def find_alert(conn: sqlite3.Connection, wanted: str) -> Alert:
    """The alert of an id or the end of one; NotFound where there is none."""
    tidy = wanted.strip().lower()
    every = select(conn, Alert, "FROM alert ORDER BY rowid")
    found = [alert for alert in every if alert.id.endswith(tidy) and len(tidy) >= LEAST_ENDING]
    if len(found) != 1:
        known = [short_alert(alert) for alert in every]
        hint = "" if known else "'salvage alert list' lists them; none was ever raised"
        raise NotFound(f"'{wanted}' names {len(found)} alerts", nearest=known[-3:], hint=hint)
    return found[0]


def _under(conn: sqlite3.Connection, alert: Alert, code: Code) -> BoardUnder | None:
    """A board with its check; None if it came after the alert was lifted and has none."""
    (board,) = select(conn, Board, "FROM board WHERE code = ?", (code,))
    rest = "FROM hazard_check WHERE board = ? AND hazard = ?"
    check = select_one(conn, HazardCheck, rest, (code, alert.hazard))
    if check is None:
        return None
    pieces = select(conn, Piece, "FROM piece WHERE board = ? ORDER BY code", (code,))
    return BoardUnder(board, check, tuple((one.code, where_now(conn, one)) for one in pieces))


def list_alerts(shop: Workshop) -> tuple[AlertView, ...]:
    """All alerts, lifted ones too, the newest first."""
    every = select(shop.conn, Alert, "FROM alert ORDER BY rowid DESC")
    return tuple(view_alert(shop.conn, alert.id) for alert in every)


def lift_alert(shop: Workshop, *, alert: str, reason: str, dry_run: bool = False) -> AlertView:
    """
    Let an alert count no longer for boards to come; those it holds stay held until looked over.

    Raises:
        NotFound: If there is no such alert.
        BadValue: If no reason is given.
        Refused: If it is lifted already.
    """
    if not reason.strip():
        raise BadValue("say why it no longer counts", field="--reason")

    def steps(change: Change) -> AlertView:
        found = find_alert(change.conn, alert)
        if found.lifted:
            raise Refused(f"alert {short_alert(found)} is lifted already: {found.lifted}")
        change.append("alert.lifted", (), {"alert": found.id, "reason": reason})
        return view_alert(change.conn, found.id)

    return shop.commit("lift alert", steps, dry_run=dry_run)
