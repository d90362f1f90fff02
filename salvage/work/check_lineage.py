"""The parts of the self-check that look at lines of descent and at what cards say of donors."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from salvage.ids import Code
from salvage.store.journal import read_events, undone_ids
from salvage.work.articles import SEVERAL_BOARDS
from salvage.work.cutting import ONE_BOARD
from salvage.work.lineage import donors_of
from salvage.work.naming_told import read_naming
from salvage.work.workshop import Workshop

_WHOLE_PPM = 1_000_000


def check_lineage(shop: Workshop) -> tuple[Iterator[str], str]:
    """Pieces against their cuts, boards, drop-offs and donors."""
    rows = shop.conn.execute(
        "SELECT piece.code, board.code, drop_off.code, donor.code FROM piece"
        " LEFT JOIN cut ON cut.code = piece.cut LEFT JOIN board ON board.code = cut.board"
        " LEFT JOIN drop_off ON drop_off.code = board.drop_off"
        " LEFT JOIN donor ON donor.code = drop_off.donor"
        " WHERE piece.cut IS NOT NULL OR piece.code NOT IN (SELECT article FROM part)"
    ).fetchall()
    broken = (f"{row[0]} does not trace back to a donor" for row in rows if None in row)
    return broken, f"{len(rows)} pieces"


def check_articles(shop: Workshop) -> tuple[Iterator[str], str]:
    """Assembled articles against their parts, boards and shares."""
    articles = [code for (code,) in shop.conn.execute("SELECT code FROM piece WHERE cut IS NULL")]
    note = f"{len(articles)} articles"
    return (fault for code in articles for fault in _article_faults(shop.conn, code)), note


def _article_faults(conn: sqlite3.Connection, article: str) -> Iterator[str]:
    boards = {
        board
        for (board,) in conn.execute(
            "WITH RECURSIVE inside (code) AS (SELECT piece FROM part WHERE article = ?"
            " UNION SELECT piece FROM part JOIN inside ON article = code)"
            " SELECT DISTINCT board FROM piece JOIN inside USING (code) WHERE board IS NOT NULL",
            (article,),
        )
    }
    rows = conn.execute("SELECT board, share_ppm FROM board_share WHERE article = ?", (article,))
    shares = dict(rows.fetchall())
    if boards != shares.keys():
        odd = ", ".join(sorted(boards ^ shares.keys()))
        yield f"{article}: its shares and its parts name other boards ({odd})"
    if sum(shares.values()) != _WHOLE_PPM:
        yield f"{article}: the shares of its boards do not add up to the whole"
    (custody,) = conn.execute("SELECT custody FROM piece WHERE code = ?", (article,)).fetchone()
    if custody != (ONE_BOARD if len(boards) == 1 else SEVERAL_BOARDS):
        yield f"{article}: its custody is told as {custody}, and it is of {len(boards)} boards"


def check_consent(shop: Workshop) -> tuple[Iterator[str], str]:
    """Cards against the wish that stood when they were printed."""

    def faults() -> Iterator[str]:
        gone = undone_ids(shop.conn)
        naming: dict[str, str] = {}
        for event in read_events(shop.conn):
            if event.id in gone:
                continue
            if event.kind in ("donor.added", "donor.naming_set"):
                naming[event.about[0]] = str(event.data["naming"])
            elif event.kind == "donor.forgotten":
                if naming.get(event.about[0]) == "named":
                    naming[event.about[0]] = "forgotten"
            elif event.kind == "card.printed":
                told = str(event.data["naming"])
                yield from _card_faults(shop.conn, event.about[0], told, naming)

    return faults(), ""


def _card_faults(
    conn: sqlite3.Connection, piece: Code, told: str, naming: dict[str, str]
) -> Iterator[str]:
    donors = [donor.code for donor in donors_of(conn, piece)]
    for donor, said in read_naming(told, donors).items():
        if said == "named" != (wish := naming[donor]):
            yield f"a card of {piece} names a donor who wished to be {wish}"
