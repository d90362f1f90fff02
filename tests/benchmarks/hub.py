"""
Sending to the hub, and its answers beside the workshop's own.

``python -m tests.benchmarks.hub --json`` builds two workshops, together of ``--events`` events or
so, sends both to a PostgreSQL server of its own that syncs to disk, and asks both sides the same
questions in turns. Answers are timed in processor time of the one who asks and of the server's
process that answers, so that a busy machine distorts them less; sending in wall time as well.
"""

from __future__ import annotations

import argparse
import json
import random
import tempfile
import time
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path

import psycopg

from salvage.ids import Code
from salvage.work.checkpoints import sign_checkpoint
from salvage.work.hub import prepare_hub, send_to_hub
from salvage.work.hub_view import check_at_hub
from salvage.work.recall import affected_by
from salvage.work.recall_causes import RecallCause
from salvage.work.season_figures import figure_season
from salvage.work.season_report import report_season
from salvage.work.trace import trace
from salvage.work.workshop import Workshop
from tests.benchmarks.trace_world import World, build
from tests.postgres import Server, run_server
from tests.work.hubs import make_piece, open_hub_shop

_EVENTS_PER_PIECE = 2.45
_PIECES_PER_BOARD = 20


class Asker:
    """Asks the hub, and knows the processor time that it and the server's process spent."""

    def __init__(self, conn: psycopg.Connection[tuple[object, ...]]) -> None:
        self._conn = conn
        self._spent = Path(f"/proc/{conn.info.backend_pid}/schedstat")

    def ask(self, query: str, *values: object) -> int:
        """The number of rows that the hub answers."""
        return len(self._conn.execute(query.encode(), values).fetchall())

    def now_ms(self) -> float:
        """Processor time until now, of both."""
        return time.process_time() * 1000 + int(self._spent.read_text().split()[0]) / 1e6


class Watch:
    """
    Times what is sent.

    Args:
        server: Whose processor time counts as well.
    """

    def __init__(self, server: Server) -> None:
        self._server = server

    def time(self, task: Callable[[], object]) -> dict[str, float]:
        """Wall seconds, and processor seconds here and at the server, of one task."""
        wall, here, there = time.perf_counter(), time.process_time(), self._server.spent_s
        task()
        wall, here = time.perf_counter() - wall, time.process_time() - here
        time.sleep(0.3)  # until the server has noticed that the connection's process ended
        there = self._server.spent_s - there
        return {"wall_s": round(wall, 2), "here_s": round(here, 2), "server_s": round(there, 2)}


def _sending(shop: Workshop, address: str, watch: Watch) -> dict[str, object]:
    (count,) = shop.conn.execute("SELECT count(*) FROM event").fetchone()

    def send() -> object:
        return send_to_hub(shop, address=address)

    first, idle = watch.time(send), watch.time(send)
    make_piece(shop)
    return {
        "events": count,
        "send": first,
        "events_per_cpu_s": round(count / (first["here_s"] + first["server_s"])),
        "send_nothing_new": idle,
        "send_one_board_more": watch.time(send),
        "check": watch.time(lambda: check_at_hub(shop, address=address)),
    }


Question = Callable[[Code], object]


def _questions(shop: Workshop, asker: Asker) -> dict[str, tuple[str, Question, Question]]:
    """Each question: what it is asked about, how the workshop answers, and how the hub."""

    def by(kind: str) -> tuple[Question, Question]:
        def own(code: Code) -> object:
            return affected_by(shop.conn, RecallCause("", {"kind": kind, "code": code}))

        def hub(code: Code) -> object:
            cause = json.dumps({"kind": kind, "code": code})
            return asker.ask("SELECT * FROM salvage.recall_reach(%s, 1)", cause)

        return own, hub

    def hub_trace(code: Code) -> object:
        back = asker.ask("SELECT * FROM salvage.trace_back(1, %s)", code)
        return back + asker.ask("SELECT * FROM salvage.trace_forward(1, %s)", code)

    def season(_: Code) -> object:
        views = ("season_whole", "season_month", "season_shape", "season_outing", "season_stock")
        yields = ("season_boards()", "season_donors()")
        return [asker.ask(f"SELECT * FROM salvage.{name}") for name in (*views, *yields)]

    return {
        "trace_piece": ("piece", lambda code: trace(shop, code), hub_trace),
        "trace_board": ("board", lambda code: trace(shop, code), hub_trace),
        "recall_board": ("board", *by("descent")),
        "recall_donor": ("donor", *by("descent")),
        "season": ("donor", lambda _: (report_season(shop), figure_season(shop)), season),
    }


def _answers(shop: Workshop, asker: Asker, rounds: int) -> dict[str, object]:
    chance = random.Random(7)
    found: dict[str, object] = {}
    for name, (table, own, hub) in _questions(shop, asker).items():
        codes = [Code(code) for (code,) in shop.conn.execute(f"SELECT code FROM {table}")]
        spent = [0.0, 0.0]
        turns = rounds if name != "season" else max(3, rounds // 20)
        for turn in range(turns + 1):
            code = chance.choice(codes)
            for side, task in enumerate((own, hub)):
                start = asker.now_ms()
                task(code)
                if turn:
                    spent[side] += asker.now_ms() - start
        found[name] = {
            "workshop_ms": round(spent[0] / turns, 3),
            "hub_ms": round(spent[1] / turns, 3),
            "ratio": round(spent[1] / spent[0], 2),
        }
    return found


def run(events: int, rounds: int) -> dict[str, object]:
    """Build, send, and ask; see the docstring of the module."""
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        server = stack.enter_context(run_server(durable=True))
        address = server.new_database("hub")
        prepare_hub(address=address)
        pieces = round(events / 2 / _EVENTS_PER_PIECE)
        shops = []
        for seed in (1, 2):
            shop = stack.enter_context(open_hub_shop(folder / str(seed), seed=seed))
            build(shop, World(pieces // _PIECES_PER_BOARD, pieces, seed), most_s=600)
            sign_checkpoint(shop)
            shops.append(shop)
        first, second = (_sending(shop, address, Watch(server)) for shop in shops)
        conn = stack.enter_context(psycopg.connect(address, autocommit=True))
        conn.execute("ANALYZE")  # a server in use does so by itself
        return {
            "benchmark": "hub",
            "pieces_each": pieces,
            "first": first,
            "second": second,
            **_answers(shops[0], Asker(conn), rounds),
        }


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description="Sending to the hub, and its answers.")
    parser.add_argument("--json", action="store_true", help="print JSON with stable keys")
    parser.add_argument("--events", type=int, default=200_000, help="of both workshops together")
    parser.add_argument("--rounds", type=int, default=100, help="questions of each sort")
    arguments = parser.parse_args()
    result = run(arguments.events, arguments.rounds)
    if arguments.json:
        print(json.dumps(result, indent=2))
        return
    for key, value in result.items():
        print(f"{key:22} {value}")


if __name__ == "__main__":
    main()
