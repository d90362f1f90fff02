"""
Time of a story card, a label and a sheet of labels, against an empty page of the same engine.

``python -m tests.benchmarks.papers --json``
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from salvage.paper.stock import parse_stock
from salvage.work.cards import print_card
from salvage.work.labels import print_labels
from salvage.work.receipts import print_receipt
from tests.bench import add_cleared_board, cut_circle, make_shop
from tests.benchmarks.timing import interleave, parse_arguments, report, show


def _empty_page() -> bytes:
    import typst

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "page.typ"
        path.write_text("#set page(width: 105mm, height: 148mm)\nempty")
        return bytes(typst.compile(str(path)))


def run(rounds: int) -> dict[str, object]:
    """Time the documents of a small workshop."""
    with tempfile.TemporaryDirectory() as folder, make_shop(Path(folder)) as shop:
        board = add_cleared_board(shop)
        view = cut_circle(shop, board.code, 40, 40)
        assert view.piece is not None
        piece, sheet, roll = view.piece.code, parse_stock("a4-3x8"), parse_stock("roll-57x32")
        times = interleave(
            {
                "empty page": _empty_page,
                "story card": lambda: print_card(shop, piece=piece, dry_run=True),
                "one label": lambda: print_labels(
                    shop, codes=[board.code], stock=roll, dry_run=True
                ),
                "24 labels": lambda: print_labels(
                    shop, codes=[board.code] * 24, stock=sheet, dry_run=True
                ),
                "receipt": lambda: print_receipt(shop, drop_off=board.drop_off),
            },
            rounds=rounds,
        )
    return report("documents", times, baseline="empty page", more={"rounds": rounds})


if __name__ == "__main__":
    arguments = parse_arguments("Time of printed documents.", rounds=7)
    show(run(arguments.rounds), as_json=arguments.json)
