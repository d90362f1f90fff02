"""The part of the self-check that looks at what was settled before the first cut."""

from __future__ import annotations

from collections.abc import Iterator

from salvage.work.checks_at_cut import cut_moments
from salvage.work.workshop import Workshop


def check_hazards_first(shop: Workshop) -> tuple[Iterator[str], str]:
    """No board was cut while one of its hazards was open, unless by override."""
    (overridden,) = shop.conn.execute(
        "SELECT count(DISTINCT board) FROM cut WHERE override_reason <> ''"
    ).fetchone()
    boards = "1 board" if overridden == 1 else f"{overridden} boards"

    def faults() -> Iterator[str]:
        for moment in cut_moments(shop.conn):
            left = sorted(h for h, state in moment.checks.items() if not state.is_settled)
            if left and not moment.event.data["override_reason"]:
                code = moment.event.about[0]
                yield f"{code} was cut before {', '.join(left)} was settled"

    return faults(), f"{boards} cut by override" if overridden else ""
