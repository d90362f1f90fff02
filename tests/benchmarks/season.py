"""
A sale at the stall with 100,000 pieces on record, and totals over 100,000 sales.

The baseline is a bare SQLite transaction of the same disk: begin, one row, commit. What is timed is
the operation, from the parsed words to the slip that is durable on the disk, in wall time.

``python -m tests.benchmarks.season --json``
"""

from __future__ import annotations

import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from salvage.ids import Code, next_code
from salvage.paper.plots import FORMS, Plot, draw_plot
from salvage.work.export_sales import export_sales
from salvage.work.ledger import total_sales
from salvage.work.season_figures import figure_season
from salvage.work.season_plots import plot_season
from salvage.work.season_report import report_season
from salvage.work.selling import Terms, sell_pieces
from salvage.work.setup import change_settings
from salvage.work.till_words import read_sale
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, cut_circle, make_shop
from tests.benchmarks.timing import parse_arguments, show
from tests.work.stall import DAY, open_stall

PIECES = 100_000
SALES = 100_000


def _many_pieces(shop: Workshop, count: int) -> list[Code]:
    """So many priced pieces, written as rows: what is timed reads tables, not the journal."""
    view = cut_circle(shop, add_cleared_board(shop).code, 40, 40)
    assert view.piece is not None
    cut, columns = view.cut, [row[1] for row in shop.conn.execute("PRAGMA table_info(cut)")]
    device, last, rows = shop.settings.device, 10, []
    row = shop.conn.execute("SELECT * FROM cut WHERE code = ?", (cut.code,)).fetchone()
    pieces: list[Code] = []
    for _ in range(count):
        code, last = next_code("P", device, last)
        pieces.append(code)
        rows.append((f"K{code}", *row[1:]))
    marks = ", ".join("?" * len(columns))
    shop.conn.execute("BEGIN")
    shop.conn.executemany(f"INSERT INTO cut VALUES ({marks})", rows)
    shop.conn.executemany(
        "INSERT INTO piece (code, cut, board, shape, stage, recalled, price_minor, currency,"
        " weight_mg, custody, label_printed, cards_printed, made_at)"
        " VALUES (?, ?, ?, ?, 'ready', 0, 1850, 'EUR', 4000, 'identity preserved', 1, 1, ?)",
        [(code, f"K{code}", cut.board, "circle", view.piece.made_at) for code in pieces],
    )
    shop.conn.execute("COMMIT")
    return pieces


def _many_slips(shop: Workshop, pieces: list[Code]) -> None:
    """A slip for each of some pieces, over two years, written as rows."""
    slips, lines, sales = [], [], []
    for n, code in enumerate(pieces):
        day = f"{2025 + n % 2}-{1 + n % 12:02d}-{1 + n % 28:02d}"
        venue = f"Fair {n % 40}"
        slips.append((f"X{n}", "sale", day, day, ("cash", "card")[n % 2], "EUR", venue, "", "",
                      190_000, "", "", "0"))  # fmt: skip
        lines.append((f"X{n}", 1, code, 1, "circle", 1850, 50, 1800, 287, 30 * (n % 2), 0))
        sales.append((code, 1, 1800, "EUR", venue, day, "", ""))
    shop.conn.execute("BEGIN")
    for table, rows in (("slip", slips), ("slip_line", lines), ("sale", sales)):
        marks = ", ".join("?" * len(rows[0]))
        shop.conn.executemany(f"INSERT INTO {table} VALUES ({marks})", rows)
    shop.conn.execute("COMMIT")


def _bare(path: Path) -> Callable[[], None]:
    conn = sqlite3.connect(path, isolation_level=None)
    conn.execute("PRAGMA journal_mode = WAL")
    conn.execute("PRAGMA synchronous = FULL")
    conn.execute("CREATE TABLE note (id INTEGER PRIMARY KEY, body TEXT)")

    def commit() -> None:
        conn.execute("BEGIN IMMEDIATE")
        conn.execute("INSERT INTO note (body) VALUES (?)", ("x" * 900,))
        conn.execute("COMMIT")

    return commit


def _wall_ms(task: Callable[[], object]) -> float:
    start = time.perf_counter()
    task()
    return (time.perf_counter() - start) * 1000


def _spread(times: list[float]) -> dict[str, float]:
    ordered = sorted(times)
    return {
        "median": round(statistics.median(ordered), 2),
        "p95": round(ordered[int(0.95 * (len(ordered) - 1))], 2),
        "worst": round(ordered[-1], 2),
    }


def _sell(shop: Workshop, outing: Code, word: str) -> None:
    said = read_sale(shop, words=[word], outing=outing)
    sell_pieces(shop, items=said.items, terms=Terms(DAY, "cash", outing=outing))


def _draw(plots: Sequence[Plot], form: str) -> None:
    for plot in plots:
        draw_plot(plot, form=form)


def run(rounds: int) -> dict[str, object]:
    """Time sales by code among many pieces, and totals over many sales."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        bare = _bare(folder / "bare.db")
        with make_shop(folder / "shop") as shop:
            change_settings(shop, typed={"tax-rate": "19%", "card-fee": "1.69%"})
            pieces = _many_pieces(shop, PIECES)
            outing = open_stall(shop, [])
            times: dict[str, list[float]] = {"bare commit": [], "a sale": []}
            spent: list[float] = []
            for code in pieces[: rounds + 5]:
                times["bare commit"].append(_wall_ms(bare))
                start = time.process_time()
                times["a sale"].append(_wall_ms(partial(_sell, shop, outing, code)))
                spent.append((time.process_time() - start) * 1000)
            _many_slips(shop, pieces[-SALES + rounds + 5 :])
            (sales,) = shop.conn.execute("SELECT count(*) FROM slip").fetchone()
            totals = {
                f"totals per {per}": round(_wall_ms(partial(total_sales, shop, by=per)))
                for per in ("all", "month", "venue", "shape", "paid")
            }
            totals["season report"] = round(_wall_ms(partial(report_season, shop)))
            totals["yields of boards and donors"] = round(_wall_ms(partial(figure_season, shop)))
            totals["all plots: their figures"] = round(_wall_ms(partial(plot_season, shop)))
            plots = plot_season(shop)
            for form in FORMS:
                took = _wall_ms(partial(_draw, plots, form))
                totals[f"nine plots drawn as {form}"] = round(took)
            totals["the accountant's file"] = round(_wall_ms(partial(export_sales, shop)))
    spread = {task: _spread(ms[5:]) for task, ms in times.items()}
    return {
        "benchmark": "season",
        "baseline": "bare commit",
        "pieces": PIECES,
        "sales": sales,
        "ms": {task: one["median"] for task, one in spread.items()},
        "ratio": {
            task: round(one["median"] / spread["bare commit"]["median"], 2)
            for task, one in spread.items()
        },
        "p95_ms": {task: one["p95"] for task, one in spread.items()},
        "sale_processor_ms": _spread(spent[5:]),
        "worst_ms": {task: one["worst"] for task, one in spread.items()},
        "over_all_sales_ms": totals,
    }


if __name__ == "__main__":
    arguments = parse_arguments("A sale, and totals over many.", rounds=200)
    show(run(arguments.rounds), as_json=arguments.json)
