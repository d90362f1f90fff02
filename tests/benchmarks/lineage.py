"""
How long traces of articles, pictures of lineages and dossiers take.

    python -m tests.benchmarks.lineage --json

Processor times; the large lineage is 60 boards and 480 pieces of one donor.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from salvage.store.lookup import load_board, load_drop_off
from salvage.work.dossier import write_dossiers
from salvage.work.trace import trace
from salvage.work.trace_picture import draw_trace
from tests.bench import make_shop
from tests.work.crowd import add_crowd
from tests.work.pair import Pair


def seconds(deed: Callable[[], object], *, rounds: int) -> list[float]:
    """Processor times of a deed, the shortest first."""
    found = []
    for _ in range(rounds):
        start = time.process_time()
        deed()
        found.append(time.process_time() - start)
    return sorted(found)


def measure(folder: Path) -> dict[str, float]:
    """All figures, by stable keys."""
    with make_shop(folder) as shop:
        pair = Pair(shop)
        article = pair.assemble()
        made = write_dossiers(shop, every=True)
        pages = seconds(lambda: write_dossiers(shop, every=True), rounds=5)
        again = seconds(lambda: write_dossiers(shop, known=made.keys), rounds=5)
        traces = seconds(lambda: trace(shop, article), rounds=100)
        donor = load_drop_off(shop.conn, load_board(shop.conn, pair.first).drop_off).donor
        add_crowd(shop, donor=donor, boards=60, pieces_each=8)
        pictures = seconds(lambda: draw_trace(shop, code=donor), rounds=5)
        return {
            "dossier_page_s": pages[2] / len(made.written),
            "dossier_kept_s": again[2] / len(made.written),
            "dossier_page_kb": max(map(len, made.written.values())) / 1000,
            "trace_article_p95_ms": traces[94] * 1000,
            "picture_480_pieces_s": pictures[2],
        }


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    as_json = parser.parse_args().json
    with tempfile.TemporaryDirectory() as folder:
        found = {name: round(value, 4) for name, value in measure(Path(folder) / "shop").items()}
    if as_json:
        print(json.dumps(found, indent=1))
    else:
        for name, value in found.items():
            print(f"{name:24} {value}")


if __name__ == "__main__":
    main()
