"""The reference of JSON fields names every field of orders, outings, prices and the ledger."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.desk import Desk, cut_piece
from tests.docs.test_json_reference import fields_of, section


@pytest.fixture(scope="module")
def season_desk(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    """A workshop with an order, an outing that is open, a sale, a refund and a rate."""
    desk = Desk(tmp_path_factory.mktemp("season"))
    desk.do("setup hourly-rate=24 tax-rate=19%")
    piece = cut_piece(desk)
    desk.do(f"piece stage {piece} ready")
    desk.do(f"price time cutting 12 {piece}")
    desk.do("price rate finishing 5")
    order = desk.code('order take circle@30:2 --customer "Mirren Faulds" --due 2026-05-20')
    desk.do(f"order quote {order} --each circle@30=24")
    desk.do(f"order accept {order}")
    desk.do(f"order aside {order} {piece}")
    desk.do(f"order handover {order}")
    desk.do('outing plan "Lantern Fair" 2026-05-09 --fee 35')
    desk.do("outing open lantern --float 60")
    desk.do('outing cash out 35 --reason "stall fee"')
    desk.do(f"piece return {piece} --reason loose --refund 10 --paid cash")
    desk.do(f"outing home lantern {piece}")
    return desk


@pytest.mark.parametrize(
    ("title", "line"),
    [
        ("price time", "price time packing 1 {piece} --dry-run"),
        ("price rate", "price rate packing 1 --dry-run"),
        ("price rates", "price rates"),
        ("price show", "price show {piece}"),
        ("price compare", "price compare"),
        ("order list", "order list --all"),
        ("order show", "order show {order}"),
        ("outing list", "outing list"),
        ("outing show", "outing show"),
        ("outing sell", "outing sell ?kite=12 --given 20 --dry-run"),
        ("sales show", "sales show {piece}"),
        ("sales list", "sales list"),
        ("sales totals", "sales totals --per month"),
        ("sales report", "sales report"),
        ("export sales", "export sales --out ledger.csv --force"),
    ],
)
def test_every_field_of_the_season_is_described(season_desk: Desk, title: str, line: str) -> None:
    """Who writes a script finds each field on the page, under its command."""
    piece = season_desk.do("piece list --state all --plain").first
    order = season_desk.do("order list --all --plain").first
    told = season_desk.do(f"{line.format(piece=piece, order=order)} --json").value
    text = section(title) + (section("sales show") if title == "outing sell" else "")
    named = set(re.findall(r"`([a-z_0-9]+)`", text))

    assert sorted(set(fields_of(told)) - named) == []


def test_the_till_tells_one_object_a_line(season_desk: Desk) -> None:
    """A program reads each answer as it comes."""
    told = season_desk.do("outing till --json --dry-run", typed="?kite=12\nc\n")
    answers = [json.loads(line) for line in told.out.splitlines()]
    named = set(re.findall(r"`([a-z_0-9]+)`", section("outing sell") + section("sales show")))

    assert [answer["kind"] for answer in answers] == ["basket", "sold"]
    assert set(fields_of(answers)) <= named


def test_the_howto_pages_show_commands_that_are_there() -> None:
    """Each command of the two pages has its help; none was renamed under them."""
    folder = Path(__file__).resolve().parents[2] / "docs" / "howto"
    lines = [
        line.split("#")[0].replace("\\", "").strip()
        for page in ("day-at-the-fair.md", "quote-and-hand-over.md")
        for line in (folder / page).read_text(encoding="utf-8").splitlines()
        if line.startswith("salvage ")
    ]
    desk = Desk(folder)
    groups = {tuple(re.split(r" ", line.removeprefix("salvage "))[:2]) for line in lines}

    assert len(groups) > 15
    for first, second in sorted(groups):
        words = f"{first} --help" if first == "setup" else f"{first} {second} --help"
        assert desk.run(words).code == 0, words
