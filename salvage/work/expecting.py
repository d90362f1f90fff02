"""Which hazards a board is expected to be checked for, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.knowledge.expected import expect_hazards
from salvage.records.alerts import concerns
from salvage.store.project_safety import board_facts
from salvage.store.rows import select
from salvage.work.alerts import Alert, short_alert
from salvage.work.own_facts import own_hazards

if TYPE_CHECKING:
    from salvage.records.things import Board
    from salvage.work.workshop import Workshop


def expected_slugs(shop: Workshop, board_type: str, date_code: str) -> list[str]:
    """
    Hazards to look for on a board of a type and date code; alerts add theirs when it is recorded.

    Args:
        shop: The open workshop.
        board_type: Slug of the type.
        date_code: As printed; may be empty or no date.
    """
    found = expect_hazards(
        board_type, date_code=date_code, today=shop.today, own=own_hazards(shop.conn)
    )
    return [one.hazard.slug for one in found]


def why_expected(shop: Workshop, board: Board) -> dict[str, tuple[str, ...]]:
    """
    Reasons by hazard, each with the source it rests on.

    Args:
        shop: The open workshop.
        board: The board.
    """
    conn = shop.conn
    reasons: dict[str, list[str]] = {}
    own = own_hazards(conn)
    for one in expect_hazards(board.type, date_code=board.date_code, today=shop.today, own=own):
        rests = f" ({one.source.marked_words})" if one.source else ""
        reasons.setdefault(one.hazard.slug, []).append(one.because + rests)
    facts = board_facts(conn, board.code)
    for alert in select(conn, Alert, "FROM alert ORDER BY rowid"):
        if concerns(alert, facts):
            lifted = f"; lifted: {alert.lifted}" if alert.lifted else ""
            words = (
                f"alert {short_alert(alert)} of {alert.at[:10]} by {alert.by}: {alert.reason}"
                f" (source: {alert.source}){lifted}"
            )
            reasons.setdefault(alert.hazard, []).append(words)
    return {hazard: tuple(words) for hazard, words in reasons.items()}
