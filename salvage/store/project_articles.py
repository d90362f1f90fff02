"""What events of assembled articles do to the tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable

    from salvage.records.events import Event


def _assemble(conn: sqlite3.Connection, event: Event) -> None:
    article, data = event.about[0], event.data
    conn.execute(
        "INSERT INTO piece (code, cut, board, shape, stage, recalled, price_minor, currency,"
        " weight_mg, custody, label_printed, cards_printed, made_at)"
        " VALUES (?, NULL, NULL, ?, 'assembled', 0, NULL, '', NULL, ?, 0, 0, ?)",
        (article, data["name"], data["custody"], event.at),
    )
    parts, shares = data["parts"], data["shares"]
    assert isinstance(parts, list)
    assert isinstance(shares, list)
    for n, piece in enumerate(parts, 1):
        _put_in(conn, article, n, str(piece))
    conn.executemany(
        "INSERT INTO board_share (article, board, share_ppm, measured) VALUES (?, ?, ?, ?)",
        [(article, one["board"], one["share_ppm"], data["measured"]) for one in shares],
    )


def _put_in(conn: sqlite3.Connection, article: str, n: int, piece: str) -> None:
    """A part that another device sold or recalled stays sold and recalled; that is a clash."""
    conn.execute(
        "INSERT INTO part (article, n, piece, stage_before, taken_out_at)"
        " SELECT ?, ?, code, coalesce((SELECT stage_before FROM part AS other"
        " WHERE other.piece = piece.code AND taken_out_at = ''), stage), ''"
        " FROM piece WHERE code = ?",
        (article, n, piece),
    )
    conn.execute(
        "UPDATE piece SET stage = 'assembled' WHERE code = ? AND stage <> 'sold'", (piece,)
    )


def _take_apart(conn: sqlite3.Connection, event: Event) -> None:
    article = event.about[0]
    conn.execute(
        "UPDATE piece SET stage = (SELECT stage_before FROM part WHERE article = ?1"
        " AND piece = piece.code) WHERE stage = 'assembled' AND code IN"
        " (SELECT piece FROM part WHERE article = ?1 AND taken_out_at = '') AND code NOT IN"
        " (SELECT piece FROM part WHERE article <> ?1 AND taken_out_at = '')",
        (article,),
    )
    conn.execute(
        "UPDATE part SET taken_out_at = ? WHERE article = ? AND taken_out_at = ''",
        (event.at, article),
    )
    conn.execute(
        "UPDATE piece SET stage = 'withdrawn' WHERE code = ? AND stage <> 'sold'", (article,)
    )


ARTICLE_RULES: dict[str, Callable[[sqlite3.Connection, Event], None]] = {
    "article.assembled": _assemble,
    "article.taken_apart": _take_apart,
}
"""Rules by event kind."""
