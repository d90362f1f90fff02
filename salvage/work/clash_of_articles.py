"""What two devices did apart with the parts of articles, and cannot both be so."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from salvage.ids import Code
from salvage.records.things import Piece, Sale
from salvage.store.lookup import load_piece
from salvage.store.rows import select
from salvage.work.clash import Clash


def find_article_clashes(conn: sqlite3.Connection) -> Iterator[Clash]:
    """Pieces in two articles or sold singly while in one, and articles sold after coming apart."""
    yield from _in_two_articles(conn)
    yield from _sold_within(conn)
    yield from _sold_apart(conn)


def _in_two_articles(conn: sqlite3.Connection) -> Iterator[Clash]:
    rows = conn.execute(
        "SELECT piece, group_concat(article, ' ') FROM (SELECT piece, article FROM part"
        " WHERE taken_out_at = '' ORDER BY piece, article) GROUP BY piece HAVING count(*) > 1"
    ).fetchall()
    for piece, listed in rows:
        articles = [load_piece(conn, Code(code)) for code in listed.split()]
        told = " and ".join(f"{one.code} ({_made(one)})" for one in articles)
        codes = tuple(one.code for one in articles)
        yield Clash(
            f"{piece}-{'-'.join(codes)}",
            (Code(piece), *codes),
            f"{piece} is on record as a part of two articles that were assembled apart: {told}",
            "look which one it is in, then take the other apart: salvage article apart"
            f' {" or ".join(codes)} --reason "its part went into another"',
        )


def _made(article: Piece) -> str:
    return f"{article.shape}, {article.made_at[:10]}"


def _sold_apart(conn: sqlite3.Connection) -> Iterator[Clash]:
    rows = conn.execute(
        "SELECT article, max(taken_out_at) FROM part JOIN piece ON piece.code = article"
        " WHERE stage = 'sold' GROUP BY article HAVING min(taken_out_at) <> '' ORDER BY 1"
    ).fetchall()
    for article, at in rows:
        sold = _last_sale(conn, article)
        yield Clash(
            f"{article}-APART",
            (Code(article),),
            f"{article} was {sold}, and is on record as taken apart on {at[:10]}",
            "if it is sold, undo the taking apart ('salvage history' shows its id); if its parts"
            f' lie here: salvage piece return {article} --reason "sold by mistake"',
        )


def _last_sale(conn: sqlite3.Connection, piece: str) -> str:
    rest = "FROM sale WHERE piece = ? ORDER BY returned_on <> '', n DESC"
    sale = select(conn, Sale, rest, (piece,))[0]
    return f"sold{f' at {sale.venue}' if sale.venue else ''} on {sale.sold_on}"


def _sold_within(conn: sqlite3.Connection) -> Iterator[Clash]:
    rows = conn.execute(
        "SELECT piece.code, part.article FROM part JOIN piece ON piece.code = part.piece"
        " WHERE taken_out_at = '' AND piece.stage = 'sold' ORDER BY 1, 2"
    ).fetchall()
    for piece, article in rows:
        yield Clash(
            f"{piece}-IN-{article}",
            (Code(piece), Code(article)),
            f"{piece} was {_last_sale(conn, piece)} by itself, and is on record as a part of"
            f" {article} ({_made(load_piece(conn, Code(article)))})",
            f"if it is sold: salvage article apart {article}; if it is in the article: salvage"
            f' piece return {piece} --reason "sold by mistake"',
        )
