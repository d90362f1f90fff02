"""Assembling and taking apart, as the maker types it."""

from __future__ import annotations

from pathlib import Path

from tests.desk import Desk, cut_piece


def test_a_pair_is_made_shown_and_taken_apart(tmp_path: Path) -> None:
    """What the maker types and reads, from two pieces to earrings and back."""
    desk = Desk(tmp_path)
    first, second = cut_piece(desk), cut_piece(desk)
    tried = desk.run(f'article make {first} {second} --name "tern earrings" --dry-run')
    made = desk.do(f'article make {first} {second} --name "tern earrings" --json').value
    article = made["code"]
    listed = desk.do("article list --plain").out.split("\t")
    shown = desk.do(f"piece show {article}").out
    traced = desk.do(f"trace {article}").out
    told = desk.do(f"trace {article} --json").value
    parts = desk.do(f'article apart {article} --reason "hook broke" --json').value

    assert "dry run" in tried.out
    assert [part["piece"] for part in made["parts"]] == [first, second]
    assert made["boards"] == [board for board in listed[4].split()]
    assert f"assembled of {first} {second}" in shown
    assert "controlled blending" in shown
    assert traced.index(first) < traced.index(second) < traced.index(f"> {article}")
    assert [one["code"] for one in told["origins"]["branches"]] == [first, second]
    assert [part["code"] for part in parts] == [first, second]
    assert "was assembled of" in desk.do(f"piece show {article}").out


def test_what_is_wrong_is_said_in_one_line(tmp_path: Path) -> None:
    """Too few pieces, no name, no reason, and a part that is taken."""
    desk = Desk(tmp_path)
    first, second = cut_piece(desk), cut_piece(desk)
    assert "two pieces or more" in desk.run(f"article make {first} --name x").err
    assert "say what it is" in desk.run(f"article make {first} {second}").err
    article = desk.do(f"article make {first} {second} --name pair --plain").first
    sold = desk.run(f"piece sell {first} --price 9")

    assert sold.code == 1
    assert "Traceback" not in sold.err
    assert f"{first} is a part of {article}" in sold.err
    assert "say why" in desk.run(f"article apart {article}").err
    assert "one piece" in desk.run(f"article apart {first} --reason x").err
    assert "no articles yet" not in desk.do("article list").out


def test_no_articles_yet(tmp_path: Path) -> None:
    """An empty list says how to begin one."""
    desk = Desk(tmp_path)
    cut_piece(desk)

    assert "next: salvage article make" in desk.run("article list").err


def test_a_lineage_is_drawn_into_a_file(tmp_path: Path) -> None:
    """The picture is written once, and what is there stays unless forced."""
    desk = Desk(tmp_path)
    piece = cut_piece(desk)
    told = desk.do(f"trace {piece} --svg line.svg --json").value

    assert told["code"] == piece
    assert (tmp_path / "line.svg").read_text().startswith("<svg ")
    assert "is there already" in desk.run(f"trace {piece} --svg line.svg").err


def test_what_was_taken_apart_is_told_so(tmp_path: Path) -> None:
    """Nobody looks for parts in an article that is no more."""
    desk = Desk(tmp_path)
    article = desk.code(f"article make {cut_piece(desk)} {cut_piece(desk)} --name pair")
    whole = desk.do(f"trace {article}").out
    desk.do(f"article apart {article} --reason broke")
    apart = desk.do(f"trace {article}").out

    assert whole.startswith("  made of\n")
    assert apart.startswith("  was made of\n")
    assert ", taken apart; it was assembled of 2 pieces" in apart
    assert "taken apart" not in whole
