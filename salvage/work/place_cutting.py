"""The cut that a held place asks for: with its plan's own tool and kerf where a plan holds it."""

from __future__ import annotations

import sqlite3
from dataclasses import replace

from salvage.ids import Code
from salvage.records.things import Reservation
from salvage.store.lookup import load_plan
from salvage.units import from_um
from salvage.work.cutting import NewCut, spot_of_reservation
from salvage.work.settings import read_settings


def cut_of_place(
    conn: sqlite3.Connection, place: Reservation, *, outcome: str = "piece", reason: str = ""
) -> NewCut:
    """
    A held place as a cut, to be recorded as it stands.

    A place that a plan holds was laid with the plan's tool and kerf beside its neighbours, and is
    cut so; one held by itself is cut with the router and the workshop's usual kerf.

    Args:
        conn: Open connection.
        place: The place.
        outcome: ``piece`` or ``scrap``.
        reason: Why it became scrap.

    Raises:
        NotFound: If its plan is not known.
    """
    spot = spot_of_reservation(place)
    tool, kerf_um = "router", read_settings(conn).kerf_um
    if place.plan:
        plan = load_plan(conn, Code(place.plan))
        tool, kerf_um = plan.tool, plan.kerf_um
        spot = replace(spot, shape=replace(spot.shape, sha256=_shape_sha256(conn, place)))
    return NewCut(
        place.board,
        spot,
        outcome=outcome,
        tool=tool,
        kerf_mm=from_um(kerf_um),
        reservation=place.code,
        reason=reason,
    )


def _shape_sha256(conn: sqlite3.Connection, place: Reservation) -> str:
    row = conn.execute(
        "SELECT shape_sha256 FROM plan_line WHERE plan = ? AND n = ?", (place.plan, place.line)
    ).fetchone()
    return row[0] if row else ""
