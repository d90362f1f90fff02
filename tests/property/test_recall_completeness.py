"""
A recall misses nothing: what it holds is worked out a second time from the journal's raw texts.

Random workshops of two devices: boards with and without date codes, hazards found, accepted and
overridden, cuts, batches used and uses taken back, articles assembled and taken apart, sales,
corrections, undoing. In the middle recalls of every kind are opened; the work goes on, also on the
device that has not heard of them; then everything is exchanged. The second reckoning knows no table
and no rule of the program: it reads the bodies of the events and follows plain sets.
"""

from __future__ import annotations

import json
import random
from collections import defaultdict
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from salvage.errors import SalvageError
from salvage.geometry.outline import rectangle
from salvage.ids import Code
from salvage.store.lookup import load_board
from salvage.store.recall_reach import reach
from salvage.work import recall_causes as causes
from salvage.work.articles import assemble, take_apart
from salvage.work.check import compare_with_rebuild
from salvage.work.clear import NewCheck, record_checks
from salvage.work.correct import BoardCorrection, correct_board
from salvage.work.cutting import NewCut, record_cut
from salvage.work.history import undo
from salvage.work.materials import NewBatch, add_batch, use_batches, void_use
from salvage.work.pieces import sell, set_stage
from salvage.work.recall import NewRecall, begin_recall, list_recalls, view_recall
from salvage.work.record import NewBoard, record_boards, set_outline
from salvage.work.workshop import Workshop
from tests.bench import add_drop_off, circle_at
from tests.work.fleet import Fleet
from tests.work.stock import last_operation

DATE_CODES = ("9840", "9843", "9901", "0112", "", "wk 9")
BOUND = ("9840", "9901")

# A body of the journal, read as JSON: its fields differ by the kind, so Any.
Body = Mapping[str, Any]


class Reckoning:
    """The workshop as plain sets, from the journal's bodies alone."""

    def __init__(self, bodies: list[Body]) -> None:
        self.boards: dict[str, dict[str, Any]] = {}
        self.donors: dict[str, str] = {}
        self.pieces: dict[str, dict[str, str]] = {}
        self.parts: dict[str, set[str]] = defaultdict(set)
        self.taken_out: dict[str, dict[str, str]] = defaultdict(dict)
        self.batches: set[str] = set()
        self.uses: dict[tuple[str, int], dict[str, Any]] = {}
        self.work: list[tuple[str, str, str, str]] = []
        self.marks: dict[str, set[tuple[str, str]]] = defaultdict(set)
        self.findings: dict[str, dict[str, bool]] = defaultdict(dict)
        self.measured: list[tuple[str, str]] = []
        self.left_out: set[str] = set()
        gone = _undone(bodies)
        standing: set[str] = set()
        devices = {body["device"] for body in bodies}
        for body in sorted(bodies, key=lambda one: (one["clock"], one["device"])):
            if body["id"] in gone or body["kind"] == "correction.undone":
                continue
            missing = set(body["about"]) - set(body["made"]) - standing
            if missing and len(devices) > 1 and not body["kind"].startswith("recall."):
                self.left_out.add(body["id"])
                continue
            standing |= set(body["made"])
            self._take(body["kind"], body["about"], body["data"], body)

    def _take(self, kind: str, about: list[str], data: Body, body: Body) -> None:
        by, at = body["by"], body["at"]
        match kind:
            case "dropoff.logged":
                self.donors[about[0]] = data["donor"]
            case "board.recorded":
                self.boards[about[0]] = {"from": about[1], "date": data["date_code"]}
                self.findings[about[0]] = dict.fromkeys(data["hazards"], True)
                self.measured.append((about[0], data["outline_from"]))
            case "board.outlined":
                self.measured.append((about[0], data["outline_from"]))
            case "board.corrected" if "date_code" in data["now"]:
                self.boards[about[0]]["date"] = data["now"]["date_code"]
            case "hazard.checked":
                open_now = data["finding"] != "absent" and not data["outcome"]
                self.findings[about[0]][data["hazard"]] = open_now
                if data["finding"] == "present":
                    self.marks[data["hazard"]].add(("found", about[0]))
                if data["outcome"] == "accepted":
                    self.marks[data["hazard"]].add(("accepted", about[0]))
            case "cut.made" if data["outcome"] == "piece":
                self.pieces[about[2]] = {"cut": about[0], "board": about[1]}
                self.work.append((about[2], by, at, "rough"))
                if data["override_reason"]:
                    for hazard, is_open in self.findings[about[1]].items():
                        if is_open:
                            self.marks[hazard].add(("overridden", about[2]))
            case "piece.staged":
                self.work.append((about[0], by, at, data["stage"]))
            case "batch.received":
                self.batches.add(about[0])
            case "batch.used":
                self.uses[about[0], data["n"]] = {"in": about[1:], "by": by, "at": at, **data}
            case "batch.use_voided":
                self.uses[about[0], data["n"]]["void"] = True
            case "article.assembled":
                self.pieces[about[0]] = {"cut": "", "board": ""}
                self.parts[about[0]] = set(data["parts"])
            case "article.taken_apart":
                for part in self.parts.pop(about[0], set()):
                    self.taken_out[about[0]][part] = at

    def affected(self, cause: Body) -> set[str]:
        """Everything that a cause reaches."""
        found = self._hit(cause)
        found |= {code for code, piece in self.pieces.items() if piece["board"] in found}
        while more := {a for a, parts in self.parts.items() if parts & found} - found:
            found |= more
        return found

    def _hit(self, cause: Body) -> set[str]:
        match cause["kind"]:
            case "date code":
                return {b for b, board in self.boards.items() if _within(board["date"], cause)}
            case "hazard":
                marks = self.marks[cause["hazard"]]
                return {code for mark, code in marks if mark in cause["marks"]}
            case "mat":
                words = f"mat {cause['serial']},"
                return {board for board, how in self.measured if words in f"{how},"}
            case "worker":
                done = [*self.work]
                for use in self.uses.values():
                    if "void" not in use:
                        done += [(c, use["by"], use["at"], use["stage"]) for c in use["in"]]
                return {code for code, by, _, _ in done if by in cause["by"]}
        return self._came_of(cause["code"])

    def _came_of(self, code: str) -> set[str]:
        boards = {
            board
            for board, told in self.boards.items()
            if code in (board, told["from"], self.donors[told["from"]])
        }
        pieces = {piece for piece, told in self.pieces.items() if code in (piece, told["cut"])}
        pieces |= self.parts.get(code, set()) | set(self.taken_out.get(code, {}))
        used = {code} & self.batches
        for (batch, _), use in self.uses.items():
            if batch == code and "void" not in use:
                used |= set(use["in"])
                for article in use["in"]:
                    out = self.taken_out.get(article, {})
                    used |= {part for part, at in out.items() if at > use["at"]}
        return boards | pieces | used


def _undone(bodies: list[Body]) -> set[str]:
    """Ids of events that are taken back, where taking back may itself be taken back."""
    gone: set[str] = set()
    for body in sorted(bodies, key=lambda one: (one["clock"], one["device"]), reverse=True):
        if body["kind"] == "correction.undone" and body["id"] not in gone:
            gone |= set(body["data"]["events"])
    return gone


def _within(text: str, cause: Body) -> bool:
    def number(code: str) -> int:
        return int(code) + (190_000 if code >= "70" else 200_000)

    digits = text.isdigit() and len(text) == 4 and 1 <= int(text[2:]) <= 53
    return digits and number(cause["first"]) <= number(text) <= number(cause["last"])


class Maker:
    """Does one random act after another, as far as the record on a device allows it."""

    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)

    def act(self, shop: Workshop) -> None:
        """One act by one of two people."""
        by = self.chance.choice(("Maren", "Ilva"))
        one = Workshop(shop.folder, shop.conn, clock=shop.clock, entropy=shop.entropy, by=by)
        acts = (
            self._board, self._board, self._check, self._cut, self._cut, self._cut, self._stage,
            self._stage, self._batch, self._use, self._void, self._assemble, self._apart,
            self._sell, self._correct, self._outline, self._undo,
        )  # fmt: skip
        try:
            self.chance.choice(acts)(one)
        except (SalvageError, IndexError):
            return  # the record does not allow it, or there is nothing yet to do it to

    def one_of(self, shop: Workshop, table: str) -> Code:
        """Any thing of a table."""
        codes = [code for (code,) in shop.conn.execute(f"SELECT code FROM {table} ORDER BY code")]
        return Code(self.chance.choice(codes))

    def _board(self, shop: Workshop) -> None:
        known = self.chance.random() < 0.6
        new = NewBoard(
            self.one_of(shop, "drop_off") if known else add_drop_off(shop),
            "expansion-card",
            date_code=self.chance.choice(DATE_CODES),
            outline=rectangle(120, 80),
            outline_from=self.chance.choice(("calipers", "photo on mat MC1, within 0.2 mm")),
        )
        record_boards(shop, new=new)

    def _check(self, shop: Workshop) -> None:
        board = self.one_of(shop, "board")
        done = (
            NewCheck("coin-cell", "present", "removed", "lifted", "box"),
            NewCheck("coin-cell", "present", "accepted", reason="glued in"),
            NewCheck("coin-cell", "absent"),
            NewCheck("coin-cell", "cannot tell"),
        )
        record_checks(shop, boards=[board], checks=[self.chance.choice(done)])

    def _cut(self, shop: Workshop) -> None:
        board = self.one_of(shop, "board")
        spot = circle_at(shop, self.chance.randrange(16, 104), self.chance.randrange(16, 64))
        held = load_board(shop.conn, board).clearance == "held"
        record_cut(shop, new=NewCut(board, spot, override_reason="a trial" if held else ""))

    def _stage(self, shop: Workshop) -> None:
        stage = self.chance.choice(("sanded", "sealed", "assembled"))
        has_batch = self.chance.random() < 0.5
        batches = [self.one_of(shop, "batch")] if has_batch else []
        set_stage(shop, pieces=[self.one_of(shop, "piece")], stage=stage, batches=batches)

    def _batch(self, shop: Workshop) -> None:
        add_batch(shop, new=NewBatch(self.chance.choice(("sealant", "finding")), "a batch"))

    def _use(self, shop: Workshop) -> None:
        pieces = {self.one_of(shop, "piece") for _ in range(2)}
        use_batches(shop, batches=[self.one_of(shop, "batch")], pieces=sorted(pieces))

    def _void(self, shop: Workshop) -> None:
        rows = shop.conn.execute("SELECT DISTINCT batch, n FROM material_use ORDER BY 1, 2")
        batch, n = self.chance.choice(rows.fetchall())
        void_use(shop, batch=Code(batch), n=n, why="a slip")

    def _assemble(self, shop: Workshop) -> None:
        assemble(shop, parts=[self.one_of(shop, "piece") for _ in range(2)], name="a pair")

    def _apart(self, shop: Workshop) -> None:
        rows = shop.conn.execute("SELECT DISTINCT article FROM part ORDER BY 1").fetchall()
        take_apart(shop, article=Code(self.chance.choice(rows)[0]), reason="a slip")

    def _sell(self, shop: Workshop) -> None:
        sell(shop, piece=self.one_of(shop, "piece"), price_minor=900)

    def _correct(self, shop: Workshop) -> None:
        new = BoardCorrection(date_code=self.chance.choice(DATE_CODES))
        correct_board(shop, board=self.one_of(shop, "board"), new=new, why="read again")

    def _outline(self, shop: Workshop) -> None:
        board = self.one_of(shop, "board")
        words = "photo on mat MC12, within 0.2 mm"
        set_outline(shop, board=board, outline=rectangle(120, 80), outline_from=words)

    def _undo(self, shop: Workshop) -> None:
        undo(shop, operation=last_operation(shop))

    def call_back(self, shop: Workshop) -> None:
        """A recall of every kind, as far as there is something to call back."""
        conn, hold = shop.conn, self.chance.random() < 0.5
        marks = self.chance.choice(((), ("found",)))
        ways: list[Callable[[], causes.RecallCause]] = [
            lambda: causes.from_date_codes("-".join(BOUND)),
            lambda: causes.from_hazard(conn, "coin-cell", marks=marks),
            lambda: causes.from_worker(conn, "Ilva"),
            lambda: causes.from_mat("MC1"),
        ]
        tables = ("donor", "drop_off", "board", "cut", "piece", "batch")
        ways += [partial(self._thing, shop, table) for table in tables]
        for way in ways:
            try:
                begin_recall(shop, new=NewRecall(way(), "mercury found", hold=hold))
            except (SalvageError, IndexError):
                continue

    def _thing(self, shop: Workshop, table: str) -> causes.RecallCause:
        return causes.from_thing(shop.conn, self.one_of(shop, table))


@pytest.mark.parametrize("seed", range(8))
def test_a_recall_holds_all_that_the_journal_knows(tmp_path: Path, seed: int) -> None:
    """On each device, from every cause: nothing is missed, and what holds is held."""
    maker = Maker(seed)
    with ExitStack() as stack:
        fleet = Fleet(tmp_path, stack, count=2)
        for turn in range(3):
            for _ in range(40):
                maker.act(maker.chance.choice(fleet.shops))
            if turn == 1:
                maker.call_back(fleet.shops[0])
            elif turn == 0:
                fleet.exchange_all()
        fleet.exchange_all()
        kinds = [_compare(shop) for shop in fleet.shops]

    assert kinds[0] == kinds[1] != set()


def _compare(shop: Workshop) -> set[str]:
    """Compare every recall of a device with the second reckoning; gives the kinds compared."""
    bodies = [json.loads(body) for (body,) in shop.conn.execute("SELECT body FROM event")]
    reckoned = Reckoning(bodies)
    left_out = {event for (event,) in shop.conn.execute("SELECT event_id FROM clash")}
    kinds = set()
    for one in list_recalls(shop):
        view = view_recall(shop.conn, one.recall.code)
        cause = view.recall.cause_map
        wanted = reckoned.affected(cause)
        held = {item.code for item in view.items if item.holds}
        kinds.add(cause["kind"])

        assert set(reach(shop.conn, cause)) == wanted, cause
        assert {item.code for item in view.items} >= wanted, cause
        assert held == ({item.code for item in view.items} if view.recall.hold else set())
        assert all(_is_recalled(shop, code) for code in held)
    assert reckoned.left_out == left_out
    assert list(compare_with_rebuild(shop.conn)) == []
    return kinds


def _is_recalled(shop: Workshop, code: Code) -> bool:
    table = {"B": "board", "P": "piece", "V": "batch"}[code[0]]
    row = shop.conn.execute(f"SELECT recalled FROM {table} WHERE code = ?", (code,)).fetchone()
    return bool(row[0])
