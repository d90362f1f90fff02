"""Calling back: nothing down the line is forgotten, and nothing else is held."""

from __future__ import annotations

from datetime import date

import pytest

from salvage.errors import BadValue, Held, NotFound, Refused
from salvage.ids import Code, next_code
from salvage.store.journal import read_events_newest
from salvage.store.lookup import load_board
from salvage.work.check import run_checks
from salvage.work.history import read_history, undo
from salvage.work.pieces import sell
from salvage.work.recall import close_recall, list_recalls, open_recall, view_recall
from salvage.work.record import move_board, retire_board
from salvage.work.trace import trace
from salvage.work.workshop import Workshop
from tests.bench import add_board, add_cleared_board, add_drop_off, clear, cut_circle, dump


@pytest.fixture
def line(empty_shop: Workshop) -> dict[str, Code]:
    """Donor, drop-off, two boards with two pieces and one, and a stranger's board and piece."""
    first = add_cleared_board(empty_shop)
    second = add_board(empty_shop, drop_off=first.drop_off)
    clear(empty_shop, second.code)
    stranger = add_cleared_board(empty_shop)
    ((donor,),) = empty_shop.conn.execute(
        "SELECT donor FROM drop_off WHERE code = ?", (first.drop_off,)
    )
    found = {"donor": Code(donor), "drop_off": first.drop_off}
    for name, board, x_mm in (
        ("1", first.code, 30),
        ("2", first.code, 80),
        ("3", second.code, 40),
        ("stranger", stranger.code, 40),
    ):
        view = cut_circle(empty_shop, board, x_mm, 40)
        assert view.piece is not None
        found |= {f"board {name}": board, f"cut {name}": view.cut.code}
        found[f"piece {name}"] = view.piece.code
    return found


def _recalled(shop: Workshop) -> set[str]:
    rows = shop.conn.execute(
        "SELECT code FROM board WHERE recalled > 0 UNION SELECT code FROM piece WHERE recalled > 0"
    )
    return {code for (code,) in rows}


ALL = ("board 1", "board 3", "piece 1", "piece 2", "piece 3")


@pytest.mark.parametrize(
    ("subject", "held"),
    [
        ("donor", ALL),
        ("drop_off", ALL),
        ("board 1", ("board 1", "piece 1", "piece 2")),
        ("cut 2", ("piece 2",)),
        ("piece 2", ("piece 2",)),
    ],
)
def test_everything_down_the_line_is_held_and_nothing_else(
    empty_shop: Workshop, line: dict[str, Code], subject: str, held: tuple[str, ...]
) -> None:
    """From each kind of cause to every board and piece of it; the stranger's stay free."""
    view = open_recall(empty_shop, subject=line[subject], reason="mercury found")
    wanted = {line[name] for name in held}

    assert {item.code for item in view.items} == wanted
    assert _recalled(empty_shop) == wanted


def test_it_is_told_where_each_thing_is(empty_shop: Workshop, line: dict[str, Code]) -> None:
    """Sold ones with venue and day, boards with their shelf, or that they are gone."""
    sell(empty_shop, piece=line["piece 1"], price_minor=1, venue="Quay Market",
         sold_on=date(2026, 5, 4))  # fmt: skip
    move_board(empty_shop, board=line["board 1"], place="shelf 2")
    retire_board(empty_shop, board=line["board 3"], reason="gone to the recycler")
    items = open_recall(empty_shop, subject=line["drop_off"], reason="mercury found").items
    where = {item.code: item.where_at for item in items}

    assert where[line["piece 1"]] == "sold at Quay Market on 2026-05-04"
    assert where[line["piece 2"]] == "rough"
    assert where[line["board 1"]] == "shelf 2"
    assert where[line["board 3"]] == "retired: gone to the recycler"


def test_recalled_things_are_neither_cut_nor_sold(
    empty_shop: Workshop, line: dict[str, Code]
) -> None:
    """Until it is closed; what was sold before stays sold."""
    recall = open_recall(empty_shop, subject=line["board 1"], reason="mercury found").recall
    with pytest.raises(Held, match="it is recalled"):
        cut_circle(empty_shop, line["board 1"], 100, 20)
    with pytest.raises(Refused, match="is recalled"):
        sell(empty_shop, piece=line["piece 1"], price_minor=1)
    closed = close_recall(empty_shop, recall=recall.code, outcome="false alarm", anyway="looked at")

    assert (closed.recall.state, closed.recall.outcome) == ("closed", "false alarm")
    assert _recalled(empty_shop) == set()
    assert sell(empty_shop, piece=line["piece 1"], price_minor=1).piece.stage == "sold"


def test_two_recalls_hold_until_both_are_closed(
    empty_shop: Workshop, line: dict[str, Code]
) -> None:
    """Closing one leaves held what the other still holds."""
    wide = open_recall(empty_shop, subject=line["drop_off"], reason="mercury found").recall
    narrow = open_recall(empty_shop, subject=line["piece 1"], reason="sharp edge").recall
    close_recall(empty_shop, recall=wide.code, outcome="false alarm", anyway="looked at")
    between = _recalled(empty_shop)
    close_recall(empty_shop, recall=narrow.code, outcome="edge dulled", anyway="looked at")

    assert between == {line["piece 1"]}
    assert _recalled(empty_shop) == set()


def test_a_recall_is_closed_once_and_says_how(empty_shop: Workshop, line: dict[str, Code]) -> None:
    """Twice closed would free what another recall holds."""
    recall = open_recall(empty_shop, subject=line["piece 1"], reason="sharp edge").recall
    with pytest.raises(BadValue, match="--outcome"):
        close_recall(empty_shop, recall=recall.code, outcome=" ")
    close_recall(empty_shop, recall=recall.code, outcome="edge dulled", anyway="looked at")
    before = dump(empty_shop)
    with pytest.raises(Refused, match="closed already"):
        close_recall(empty_shop, recall=recall.code, outcome="again", anyway="looked at")

    assert dump(empty_shop) == before


def test_a_recall_needs_cause_and_reason(empty_shop: Workshop, line: dict[str, Code]) -> None:
    """No reason, nothing that came of it, nobody's code: refused, and nothing is written."""
    empty = add_drop_off(empty_shop)
    unknown, _ = next_code("B", "K", 0)
    before = dump(empty_shop)
    with pytest.raises(BadValue, match="--reason"):
        open_recall(empty_shop, subject=line["board 1"], reason="")
    with pytest.raises(Refused, match="nothing is to be recalled"):
        open_recall(empty_shop, subject=empty, reason="mercury found")
    with pytest.raises(NotFound, match="nothing with the code"):
        open_recall(empty_shop, subject=unknown, reason="mercury found")
    with pytest.raises(NotFound, match="no recall"):
        close_recall(empty_shop, recall=next_code("H", "K", 0)[0], outcome="x")

    assert dump(empty_shop) == before


def test_the_day_it_became_known_is_kept(empty_shop: Workshop, line: dict[str, Code]) -> None:
    """Some places count from that hour; now stands in where none is given."""
    told = open_recall(
        empty_shop, subject=line["piece 1"], reason="x", learned_on=date(2026, 5, 1)
    ).recall
    now = open_recall(empty_shop, subject=line["piece 2"], reason="x").recall

    assert told.learned_on == "2026-05-01"
    assert now.learned_on.startswith("2026-05-04T")
    assert [view.recall.code for view in list_recalls(empty_shop)] == [now.code, told.code]
    assert view_recall(empty_shop.conn, told.code).recall == told


def test_a_recall_is_in_the_history_of_all_that_it_held(
    empty_shop: Workshop, line: dict[str, Code]
) -> None:
    """Who looks up a piece years later reads that it was called back, and how that ended."""
    recall = open_recall(empty_shop, subject=line["drop_off"], reason="mercury found").recall
    close_recall(empty_shop, recall=recall.code, outcome="false alarm", anyway="looked at")

    for name in ("drop_off", *ALL):
        words = [found.words for found in read_history(empty_shop, line[name])]
        assert any("mercury found" in told for told in words)
    for name in ALL:
        last = read_history(empty_shop, line[name])[-1]
        assert last.words == "recall closed: false alarm"


@pytest.mark.parametrize("subject", ["donor", "drop_off"])
def test_a_board_found_later_joins_the_recall(
    empty_shop: Workshop, line: dict[str, Code], subject: str
) -> None:
    """The last board at the bottom of a recalled box is counted, traced and freed with the rest."""
    recall = open_recall(empty_shop, subject=line[subject], reason="mercury found").recall
    late = add_board(empty_shop, drop_off=line["drop_off"])
    other = add_board(empty_shop)
    items = {item.code: item.where_at for item in view_recall(empty_shop.conn, recall.code).items}
    branches = trace(empty_shop, recall.code).forward.branches

    assert items[late.code] == "on the shelf"
    assert other.code not in items
    assert late.code in {branch.link.code for branch in branches}
    assert load_board(empty_shop.conn, late.code).recalled == 1
    assert [line.name for line in run_checks(empty_shop) if not line.ok] == []
    close_recall(empty_shop, recall=recall.code, outcome="false alarm", anyway="looked at")

    assert load_board(empty_shop.conn, late.code).recalled == 0


def test_a_board_recorded_before_a_closing_was_undone_is_held(
    empty_shop: Workshop, line: dict[str, Code]
) -> None:
    """A recall that was closed by mistake holds what came out of the box meanwhile as well."""
    recall = open_recall(empty_shop, subject=line["drop_off"], reason="mercury found").recall
    close_recall(empty_shop, recall=recall.code, outcome="wrong box", anyway="looked at")
    closing = next(iter(read_events_newest(empty_shop.conn, most=1))).operation
    late = add_board(empty_shop, drop_off=line["drop_off"])
    undo(empty_shop, operation=closing)

    assert late.recalled == 0
    assert load_board(empty_shop.conn, late.code).recalled == 1
