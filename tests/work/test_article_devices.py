"""What two devices do apart with the parts of articles, told in plain words and settled."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from salvage.ids import Code
from salvage.store.lookup import load_piece
from salvage.work.articles import assemble, take_apart
from salvage.work.check import run_checks
from salvage.work.clashes import list_clashes
from salvage.work.pieces import (
    sell,
    take_back,
)
from salvage.work.recall import open_recall, view_recall
from salvage.work.workshop import Workshop
from tests.bench import (
    cut_circle,
    dump,
    make_shop,
)
from tests.work.fleet import Fleet
from tests.work.pair import Pair


def _checks_hold(shop: Workshop) -> bool:
    return not [line for line in run_checks(shop) if not line.ok]


@pytest.fixture(name="two")
def _two(tmp_path: Path) -> Iterator[Fleet]:
    with ExitStack() as stack:
        yield Fleet(tmp_path, stack, count=2)


def _three_pieces(fleet: Fleet) -> list[Code]:
    found = []
    for x_mm in (20, 60, 100):
        piece = cut_circle(fleet.shops[0], fleet.board.code, x_mm, 40).piece
        assert piece is not None
        found.append(piece.code)
    fleet.exchange_all()
    return found


def test_a_piece_in_two_articles_is_told_and_settled(two: Fleet) -> None:
    """Laptop and tablet each used the same piece; one article comes apart again."""
    laptop, tablet = two.shops
    left, shared, right = _three_pieces(two)
    here = assemble(laptop, parts=[left, shared], name="earrings").piece.code
    there = assemble(tablet, parts=[shared, right], name="brooch").piece.code
    two.exchange_all()
    (clash,) = list_clashes(laptop)
    take_apart(tablet, article=there, reason="its part is in the earrings")
    two.exchange_all()

    assert f"{shared} is on record as a part of two articles" in clash.words
    assert here in clash.mend
    assert there in clash.mend
    assert list_clashes(laptop) == list_clashes(tablet) == ()
    assert load_piece(laptop.conn, shared).stage == "assembled"
    assert load_piece(laptop.conn, right).stage == "rough"
    assert two.records()[0] == two.records()[1]
    assert _checks_hold(tablet)


def test_a_part_sold_at_the_fair_is_told(two: Fleet) -> None:
    """The tablet sold the piece that the laptop built in; the sale is not lost."""
    laptop, tablet = two.shops
    left, right, _ = _three_pieces(two)
    article = assemble(laptop, parts=[left, right], name="earrings").piece.code
    sell(tablet, piece=left, price_minor=900, venue="Lantern Fair")
    two.exchange_all()
    (clash,) = list_clashes(tablet)
    take_apart(laptop, article=article, reason="a part of it is sold")
    two.exchange_all()

    assert f"{left} was sold at Lantern Fair" in clash.words
    assert f"part of {article}" in clash.words
    assert list_clashes(laptop) == ()
    assert load_piece(laptop.conn, left).stage == "sold"
    assert two.records()[0] == two.records()[1]


def test_an_article_sold_after_it_came_apart_is_told(two: Fleet) -> None:
    """The tablet sold what the laptop took apart."""
    laptop, tablet = two.shops
    left, right, _ = _three_pieces(two)
    article = assemble(laptop, parts=[left, right], name="earrings").piece.code
    two.exchange_all()
    take_apart(laptop, article=article, reason="hook broke")
    sell(tablet, piece=article, price_minor=900)
    two.exchange_all()
    (clash,) = list_clashes(laptop)
    take_back(tablet, piece=article, reason="sold by mistake")
    two.exchange_all()

    assert f"{article} was sold on" in clash.words
    assert "taken apart" in clash.words
    assert list_clashes(laptop) == ()
    assert two.records()[0] == two.records()[1]


def test_a_recall_reaches_an_article_made_meanwhile(two: Fleet) -> None:
    """The laptop recalls the board while the tablet assembles its pieces, in whichever order."""
    laptop, tablet = two.shops
    left, right, _ = _three_pieces(two)
    recall = open_recall(laptop, subject=two.board.code, reason="mercury").recall.code
    article = assemble(tablet, parts=[left, right], name="earrings").piece.code
    two.exchange_all()

    assert article in [item.code for item in view_recall(laptop.conn, recall).items]
    assert load_piece(tablet.conn, article).recalled == 1
    assert two.records()[0] == two.records()[1]


def test_an_older_workshop_keeps_pieces_and_sales(tmp_path: Path) -> None:
    """The table of pieces is made anew on the way to articles, and its rows are carried over."""
    from salvage.store.connection import connect
    from salvage.store.migrations import migrate, schema_files

    with make_shop(tmp_path / "new") as shop:
        pair = Pair(shop)
        sell(shop, piece=pair.left, price_minor=900)
        rows = dump(shop)
    conn = connect(tmp_path / "old.db")
    old = [file for file in schema_files() if file.number <= 6]
    migrate(conn, tmp_path / "old.db", now="2026-05-05T08:00:00.000Z", shipped=old)
    conn.execute("PRAGMA foreign_keys = OFF")
    for table in ("donor", "drop_off", "board", "cut", "piece", "sale"):
        columns = len(conn.execute(f"PRAGMA table_info({table})").fetchall())
        conn.executemany(
            f"INSERT INTO {table} VALUES ({', '.join('?' * columns)})",
            [row[:columns] for row in rows[table]],
        )
    conn.execute("PRAGMA foreign_keys = ON")
    migrate(conn, tmp_path / "old.db", now="2026-05-05T08:00:00.000Z", shipped=schema_files()[:7])
    kept = sorted(conn.execute("SELECT * FROM piece").fetchall(), key=repr)
    (watched,) = conn.execute("PRAGMA foreign_keys").fetchone()
    broken = conn.execute("PRAGMA foreign_key_check").fetchall()
    conn.close()

    assert kept == [row[: len(kept[0])] for row in rows["piece"]]
    assert watched == 1
    assert broken == []
