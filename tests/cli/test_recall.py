"""The command line of recalls: previewed, opened, looked at, settled and closed."""

from __future__ import annotations

import pytest

from tests.desk import Desk, cut_piece


@pytest.fixture
def desk(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    """A desk with a piece sold at a venue."""
    found = Desk(tmp_path_factory.mktemp("desk"))
    piece = cut_piece(found)
    found.do(f"piece sell {piece} --price 9 --venue 'Quay Market'")
    return found


def test_a_recall_from_preview_to_the_end(desk: Desk) -> None:
    """Nothing is held by a preview; closing waits until every thing is settled."""
    board = desk.do("board list --plain").first
    preview = desk.do(f"recall open {board} --reason 'sharp edge' --hold --dry-run").out
    free = desk.do("recall list --json").value
    recall = desk.code(f"recall open {board} --reason 'sharp edge' --date '2026-05-03 14:30'")
    piece = desk.do("piece list --state sold --plain").first
    refused = desk.run(f"recall close {recall} --outcome done")
    desk.do(f"recall settle {recall} returned {piece}")
    last = desk.do(f"recall settle {recall} not-affected all-open --note 'edge is round'")
    desk.do(f"recall close {recall} --outcome done")
    page = desk.do(f"recall show {recall}").out
    (told,) = desk.do("recall list --json").value

    assert f"{piece}  circle, sold at Quay Market on 2026-05-04" in preview
    assert free == []
    assert refused.code == 1
    assert piece in refused.err
    assert f"salvage recall close {recall}" in last.out + last.err
    assert "closed: done" in page
    assert "[not affected, Maren 2026-05-04]" in page
    assert (told["state"], told["item_count"]) == ("closed", 2)
    assert told["learned_on"].startswith("2026-05-03T")


def test_one_cause_is_named(desk: Desk) -> None:
    """None, two, or half a one: said in one line, and nothing is held."""
    none = desk.run("recall open --reason x")
    two = desk.run("recall open --mat MC1 --date-codes 9840 --reason x")
    clock = desk.run("recall open --date-codes 9840 --reason x --date '2026-05-03 teatime'")

    assert [told.code for told in (none, two, clock)] == [1, 1, 1]
    assert "name one cause" in none.err
    assert "name one cause" in two.err
    assert "'teatime' is no time of day" in clock.err
    assert desk.do("recall list --json").value == []


def test_the_papers_are_written(desk: Desk) -> None:
    """A list and a notice; soft words in the reason are pointed out."""
    board = desk.do("board list --plain").first
    recall = desk.code(f"recall open {board} --reason 'voluntary, sharp edge'")
    desk.do(f"recall sheet {recall} --out list.pdf")
    told = desk.do(f"recall notice {recall} --venue 'quay market' --out notice.pdf")

    assert (desk.folder / "list.pdf").read_bytes().startswith(b"%PDF")
    assert (desk.folder / "notice.pdf").read_bytes().startswith(b"%PDF")
    assert "'voluntary' may make the danger look smaller" in told.err
    assert "its rules come first" in told.err


def test_a_recall_may_look_first(desk: Desk) -> None:
    """Opened without holding, then held, and things taken in by hand."""
    board = desk.do("board list --plain").first
    recall = desk.code("recall open --worker maren --stage rough --reason x --no-hold")
    before = desk.do(f"recall show {recall}").out
    desk.do(f"recall hold {recall}")
    desk.do(f"recall add {recall} {board} --why 'same box'")

    assert "1 thing, not held, open" in before
    assert "2 things, held, open" in desk.do(f"recall show {recall} --all").out
    assert desk.run(f"scan {board}").code == 1


def test_a_slip_that_is_not_ruled_out_is_not_to_be_settled(desk: Desk) -> None:
    """A piece sold without its label has no code: the mend names what can be done about it."""
    desk.do("outing sell '?small kite=12'")
    board = desk.do("board list --plain").first
    recall = desk.code(f"recall open {board} --reason 'sharp edge'")
    piece = desk.do("piece list --state sold --plain").first
    desk.do(f"recall settle {recall} 'buyer told' {piece}")
    desk.do(f"recall settle {recall} not-affected all-open --note 'edge is round'")
    refused = desk.run(f"recall close {recall} --outcome done")

    assert "not ruled out: on this slip a piece without its label: small kite" in refused.err
    assert "or say why not with --anyway" in refused.err
    assert "recall settle" not in refused.err
