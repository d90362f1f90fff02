"""Every table as CSV."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from salvage.store.projection import TABLES
from salvage.work.export_csv import WITHHELD, export_csv
from salvage.work.receive import NewDropOff, log_drop_off
from tests.bench import PLANETARIUM, START, make_shop
from tests.work.stock import Stock


def _rows(data: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(data.decode(), newline="")))


def test_every_table_has_a_file_with_every_row(tmp_path: Path) -> None:
    """As many rows as the table has, and a heading; lines end as RFC 4180 has them."""
    shop = Stock(make_shop(tmp_path)).shop
    made = export_csv(shop)

    assert {f"{table}.csv" for table in TABLES} < made.keys()
    for table in TABLES:
        (count,) = shop.conn.execute(f"SELECT count(*) FROM {table}").fetchone()
        assert len(_rows(made[f"{table}.csv"])) == count + 1
    assert made["board.csv"].endswith(b"\r\n")


def test_names_stay_at_home_unless_asked_for(tmp_path: Path) -> None:
    """A donor's name is in no file, not even where it was typed into a story."""
    shop = Stock(make_shop(tmp_path)).shop
    name = next(str(row[0]) for row in shop.conn.execute("SELECT value FROM private_field"))
    new = NewDropOff(START.date(), f"boards of {name.upper()}", story="=1+1")
    log_drop_off(shop, donor=PLANETARIUM, new=new)
    without = export_csv(shop)
    with_names = export_csv(shop, with_names=True)

    assert not [f for f, data in without.items() if name.casefold() in data.decode().casefold()]
    assert WITHHELD in without["drop_off.csv"].decode()
    assert "'=1+1" in without["drop_off.csv"].decode()
    assert "private_field.csv" not in without
    assert name in with_names["private_field.csv"].decode()
    assert "received_by" not in _rows(without["drop_off.csv"])[0]
    assert "received_by" in _rows(with_names["drop_off.csv"])[0]
