"""Every look-up of the command line, asked of every code that it takes."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from typing import Any

from salvage.cli.root import root_command
from salvage.work.workshop import Workshop

PLAIN = (
    *("next --all", "dropoff list --most 999", "donor list", "board list --most 999"),
    *("alert list", "inbox list", "mat list", "place list", "printer list", "printer stocks"),
    *("shape list", "plan list --all --places", "piece list --most 999", "waste kinds"),
    *("material list --most 999", "article list --most 999", "assay list", "card designs"),
    *("price rates", "price compare", "order list --all", "outing list", "wording list"),
    *("tool list --all", "waste list --all", "mass", "mass --year 2026", "sales list --most 999"),
    *("sales totals --per outing", "sales report", "recall list", "journal --most 999"),
    *("device list", "device clashes", "stocktake show", "stocktake lost", "facts own"),
    *("facts limits", "facts materials", "facts removal", "duties --all", "hazards", "formats"),
    *("fits circle --width-mm 15 --most 5", "check"),
)
"""Look-ups that need no code."""

BY_CODE = {
    "dropoff show": "SELECT code FROM drop_off",
    "custody show": "SELECT code FROM drop_off",
    "board show": "SELECT code FROM board",
    "board area": "SELECT code FROM board",
    "board free": "SELECT code FROM board",
    "scan": "SELECT code FROM board UNION SELECT code FROM piece",
    "alert show": "SELECT id FROM alert",
    "shape show": "SELECT name FROM shape",
    "plan show": "SELECT code FROM plan",
    "piece show": "SELECT code FROM piece",
    "gate show": "SELECT code FROM piece",
    "price show": "SELECT code FROM piece",
    "assay list": "SELECT DISTINCT code FROM assay",
    "material show": "SELECT code FROM batch",
    "order show": "SELECT code FROM customer_order",
    "outing show": "SELECT code FROM outing",
    "waste show": "SELECT code FROM waste_container",
    "mass": "SELECT code FROM drop_off",
    "sales show": "SELECT number FROM slip",
    "recall show": "SELECT code FROM recall",
    "trace": "SELECT code FROM board UNION SELECT code FROM piece UNION SELECT code FROM drop_off"
    " UNION SELECT code FROM donor UNION SELECT code FROM batch",
    "history": "SELECT DISTINCT code FROM event_item",
}
"""Look-ups that take one, and where their codes stand."""

NOT_ASKED = frozenset(
    {
        # They write a file or a folder, and the record tells what is in it.
        *("custody certificate", "board map", "board richness", "mat strips", "mat picture"),
        *("printer test", "handover", "wording copy", "export prov", "export epcis", "export csv"),
        *("export all", "export sales", "recall sheet", "recall notice", "device export"),
        # They ask something else than the record.
        *("read", "facts capacitor", "facts date", "facts dust", "proof verify"),
        *("hub status", "hub check"),
        # They make or rework a workshop, or go on until they are stopped.
        *("demo", "rebuild", "restore", "page"),
    }
)
"""Commands that change no record and are no look-up either."""


def look_ups() -> frozenset[str]:
    """Every command that takes no ``--dry-run``, from the parser itself."""
    return frozenset(_walk(root_command(), ()))


def _walk(command: Any, path: tuple[str, ...]) -> Iterator[str]:
    # The parser's library keeps its types under a private name.
    if hasattr(command, "list_commands"):
        for name in command.list_commands(None):
            yield from _walk(command.get_command(None, name), (*path, name))
    elif "dry_run" not in [param.name for param in command.params]:
        yield " ".join(path)


def questions(shop: Workshop) -> Iterator[str]:
    """All of them as command lines."""
    yield from (f"{line} --json" for line in PLAIN)
    for line, query in BY_CODE.items():
        for (code,) in shop.conn.execute(f"{query} ORDER BY 1"):
            yield f"{line} {shlex.quote(code)} --json"
