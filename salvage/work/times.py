"""The time that work takes: noted on pieces, or reckoned with by shape, step and tool."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from salvage.canonical import Json
from salvage.errors import BadValue
from salvage.ids import Code
from salvage.records.season import STEPS, StepRate
from salvage.store.change import Change
from salvage.store.lookup import load_piece
from salvage.store.rows import select
from salvage.work.amounts import share_out
from salvage.work.workshop import Workshop

TOOLS = ("router", "shears")
"""Tools that rates may differ for."""

MOST_SECONDS = 30 * 24 * 3600
"""Longest time that one note may hold; more is a slip of the pen."""


@dataclass(frozen=True, slots=True)
class TimeNoted:
    """
    Time that was noted.

    Args:
        step: Of the work.
        seconds: In all.
        shares: Seconds by piece, which sum to it.
    """

    step: str
    seconds: int
    shares: tuple[tuple[Code, int], ...]


@dataclass(frozen=True, slots=True)
class StepTime:
    """
    How long a step takes for one piece.

    Args:
        step: Of the work.
        seconds: The mean, or the rate.
        source: ``measured`` or ``rate``.
        count: Number of pieces that it was measured on.
    """

    step: str
    seconds: Decimal
    source: str
    count: int = 0


def note_time(
    shop: Workshop,
    *,
    pieces: Sequence[Code],
    step: str,
    seconds: int,
    note: str = "",
    dry_run: bool = False,
) -> TimeNoted:
    """
    Note the time that a step took, on one piece or on a batch that shares it equally.

    Args:
        shop: The open workshop.
        pieces: Their codes.
        step: One of :data:`salvage.records.season.STEPS`.
        seconds: For all of them together.
        note: What was done.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If a piece is not known.
        BadValue: If the step or the time is none.
    """
    _check_step(step)
    if not 0 < seconds <= MOST_SECONDS:
        raise BadValue("that is no time for a batch", hint="from a second to 30 days")
    codes = tuple(dict.fromkeys(pieces))
    shares = tuple(zip(codes, share_out(seconds, [1] * len(codes)), strict=True))

    def steps(change: Change) -> TimeNoted:
        for code in codes:
            load_piece(change.conn, code)
        spent: list[Json] = [{"piece": code, "seconds": share} for code, share in shares]
        change.append("time.noted", codes, {"step": step, "spent": spent, "note": note})
        return TimeNoted(step, seconds, shares)

    return shop.commit("note time", steps, dry_run=dry_run)


def _check_step(step: str) -> None:
    if step not in STEPS:
        raise BadValue(f"'{step}' is no step", hint=f"use one of: {', '.join(STEPS)}")


def rate_step(
    shop: Workshop,
    *,
    step: str,
    seconds: int | None,
    shape: str = "",
    tool: str = "",
    dry_run: bool = False,
) -> StepRate | None:
    """
    Set the time that the workshop reckons with for a step where nothing was measured.

    Args:
        shop: The open workshop.
        step: One of :data:`salvage.records.season.STEPS`.
        seconds: For one piece; None takes the rate away.
        shape: For this shape only; for every other one if empty.
        tool: For this tool only; for every other one if empty.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If the step, tool or time is none.
    """
    _check_step(step)
    if tool not in ("", *TOOLS):
        raise BadValue(f"'{tool}' is no tool", hint=f"use one of: {', '.join(TOOLS)}")
    if seconds is not None and not 0 <= seconds <= MOST_SECONDS:
        raise BadValue("that is no time for a piece", hint="up to 30 days")
    data = {"shape": shape, "step": step, "tool": tool, "seconds": seconds}

    def steps(change: Change) -> StepRate | None:
        change.append("time.rated", (), data)
        return None if seconds is None else StepRate(shape, step, tool, seconds)

    return shop.commit("rate step", steps, dry_run=dry_run)


def list_rates(shop: Workshop) -> tuple[StepRate, ...]:
    """All rates, those for every shape first."""
    return select(shop.conn, StepRate, "FROM step_rate ORDER BY shape, step, tool")


def times_of_piece(conn: sqlite3.Connection, piece: Code, shape: str, tool: str) -> list[StepTime]:
    """Time of each step of one piece: as noted on it, else as measured on its like, or by rate."""
    rows = conn.execute(
        "SELECT step, sum(seconds) FROM time_spent WHERE piece = ? GROUP BY step", (piece,)
    )
    own = {step: StepTime(step, Decimal(seconds), "measured", 1) for step, seconds in rows}
    alike = {time.step: time for time in times_of_shape(conn, shape, tool)}
    found = {**alike, **own}
    return [found[step] for step in STEPS if step in found]


def times_of_shape(conn: sqlite3.Connection, shape: str, tool: str) -> list[StepTime]:
    """
    Mean time of each step over the pieces of a shape that it was noted on; else the nearest rate.

    Args:
        conn: Open connection.
        shape: Its name.
        tool: That the pieces are cut with.
    """
    rows = conn.execute(
        "SELECT step, sum(seconds), count(DISTINCT piece) FROM time_spent CROSS JOIN piece"
        " ON piece.code = piece CROSS JOIN cut ON cut.code = cut WHERE piece.shape = ? AND tool = ?"
        " GROUP BY step",
        (shape, tool),
    )
    found = {
        step: StepTime(step, Decimal(seconds) / count, "measured", count)
        for step, seconds, count in rows
    }
    rates = {
        (rate.shape, rate.step, rate.tool): rate.seconds
        for rate in select(
            conn,
            StepRate,
            "FROM step_rate WHERE shape IN ('', ?) AND tool IN ('', ?)",
            (shape, tool),
        )
    }
    for step in STEPS:
        for key in ((shape, step, tool), (shape, step, ""), ("", step, tool), ("", step, "")):
            if step not in found and key in rates:
                found[step] = StepTime(step, Decimal(rates[key]), "rate")
    return [found[step] for step in STEPS if step in found]


def add_times(pieces: Sequence[Sequence[StepTime]]) -> list[StepTime]:
    """Times of several pieces together, step by step; measured only where all of them were."""
    found: dict[str, StepTime] = {}
    for time in (time for times in pieces for time in times):
        before = found.get(time.step)
        if before:
            source = time.source if time.source == before.source else "rate"
            time = StepTime(time.step, before.seconds + time.seconds, source, before.count)
        found[time.step] = time
    return [found[step] for step in STEPS if step in found]


def parse_minutes(text: str, *, field: str = "MINUTES") -> int:
    """
    Seconds of a typed time: minutes such as ``12.5``, or ``1h 20``, ``45s``, ``1:30`` h:mm.

    Raises:
        BadValue: If it is no time.

    >>> parse_minutes("12.5"), parse_minutes("1h20"), parse_minutes("45 s"), parse_minutes("1:30")
    (750, 4800, 45, 5400)
    """
    import re

    tidy = text.strip().lower().replace(",", ".").replace(" ", "")
    plain = re.fullmatch(r"([0-9]{1,5}(?:\.[0-9]{1,3})?)(min|m|s|h)?", tidy)
    mixed = re.fullmatch(r"([0-9]{1,3})[h:]([0-9]{1,2})(?:min|m)?", tidy)
    if plain:
        seconds = Decimal(plain[1]) * {"s": 1, "h": 3600}.get(plain[2] or "", 60)
        if seconds == seconds.to_integral_value():
            return int(seconds)
    elif mixed and int(mixed[2]) < 60:
        return int(mixed[1]) * 3600 + int(mixed[2]) * 60
    raise BadValue(f"'{text}' is no time", hint="minutes such as 12.5, or 1h20, 45s", field=field)
