"""The self-check of recalls: an open one misses nothing, and what is held is counted as held."""

from __future__ import annotations

import json
from collections.abc import Iterator

from salvage.store.recall_reach import reach
from salvage.work.workshop import Workshop


def check_recalls(shop: Workshop) -> tuple[Iterator[str], str]:
    """Faults of recalls, and how many are open."""
    rows = shop.conn.execute("SELECT code, cause FROM recall WHERE state = 'open' ORDER BY code")
    recalls = [(str(code), json.loads(cause)) for code, cause in rows]

    def faults() -> Iterator[str]:
        for recall, cause in recalls:
            items = shop.conn.execute("SELECT code FROM recall_item WHERE recall = ?", (recall,))
            inside = {code for (code,) in items}
            missed = [code for code in reach(shop.conn, cause) if code not in inside]
            if missed:
                yield f"{recall} does not hold {', '.join(missed[:5])}, which its cause reaches"
        for table in ("board", "piece", "batch"):
            yield from _miscounted(shop, table)

    return faults(), f"{len(recalls)} open"


def _miscounted(shop: Workshop, table: str) -> Iterator[str]:
    rows = shop.conn.execute(
        f"SELECT {table}.code, recalled, count(recall_item.code) AS holding FROM {table}"
        f" LEFT JOIN recall_item ON recall_item.code = {table}.code AND holds = 1"
        f" GROUP BY {table}.code HAVING recalled <> holding ORDER BY 1"
    )
    for code, recalled, holding in rows:
        yield f"{code} counts as held by {recalled} recalls, and {holding} hold it"
