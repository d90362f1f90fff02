"""
Bits, blades, filters and masks: how far they have gone, against the limits of their own makers.

A bit's life is the way that it cut: the middle of the cutter round every recorded cut with the
router. Filters and masks are logged by the hour. A warning is all that follows from a limit: the
maker of the tool gave it, the workshop typed it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import BadValue, NotFound, Refused
from salvage.frozen import dataclass
from salvage.records.region import region_of_text
from salvage.records.tool import TOOL_KINDS, Tool
from salvage.store.rows import select, select_one
from salvage.units import from_um, to_um
from salvage.work.settings import read_settings

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Sequence
    from datetime import date

    from salvage.records.things import Cut
    from salvage.store.change import Change
    from salvage.work.workshop import Workshop

_MOST_MINUTES = 24 * 60


@dataclass(frozen=True, slots=True)
class NewTool:
    """
    A tool whose life is counted from now on.

    Args:
        name: What the workshop calls it, such as "2 mm spiral".
        kind: One of :data:`salvage.records.tool.TOOL_KINDS`.
        diameter_mm: Of a bit.
        limit_m: Metres that it may cut, by its maker; None for no limit.
        limit_hours: Hours that it may run or be worn, by its maker; None for no limit.
        limit_from: Where the limit stands, such as "maker's sheet"; needed with a limit.
        notes: For the workshop.
    """

    name: str
    kind: str
    diameter_mm: float | None = None
    limit_m: float | None = None
    limit_hours: float | None = None
    limit_from: str = ""
    notes: str = ""


@dataclass(frozen=True, slots=True)
class ToolView:
    """
    A tool with its life since it was last fresh.

    Args:
        tool: The record.
        cut_um: Way that it cut.
        minutes: Time that it ran or was worn.
        cuts: Number of cuts.
    """

    tool: Tool
    cut_um: int
    minutes: int
    cuts: int

    @property
    def share(self) -> float | None:
        """How far it has gone of the nearer limit; 1 is the limit; None where it has none."""
        shares = []
        if self.tool.limit_um:
            shares.append(self.cut_um / self.tool.limit_um)
        if self.tool.limit_minutes:
            shares.append(self.minutes / self.tool.limit_minutes)
        return max(shares) if shares else None

    @property
    def warning(self) -> str:
        """What is to be done where a limit is passed; empty for nothing."""
        tool, told = self.tool, []
        if tool.limit_um and self.cut_um > tool.limit_um:
            told.append(f"has cut {self.cut_um / 1e6:.1f} m of {tool.limit_um / 1e6:g} m")
        if tool.limit_minutes and self.minutes > tool.limit_minutes:
            told.append(f"ran {self.minutes / 60:.1f} h of {tool.limit_minutes / 60:g} h")
        if tool.retired or not told:
            return ""
        return f"{tool.kind} '{tool.name}' {' and '.join(told)} ({tool.limit_from}): change it"


def describe_tool(shop: Workshop, *, new: NewTool, dry_run: bool = False) -> ToolView:
    """
    Take a tool on, or tell its limits anew; its life so far stays.

    Args:
        shop: The open workshop.
        new: The tool.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If it has no name or kind, or a limit without its source.
    """
    name = " ".join(new.name.split())
    if not name:
        raise BadValue("give the tool a name", hint="such as '2 mm spiral'", field="NAME")
    if new.kind not in TOOL_KINDS:
        raise BadValue(f"'{new.kind}' is no kind of tool", hint=f"one of: {', '.join(TOOL_KINDS)}")
    has_limit = new.limit_m is not None or new.limit_hours is not None
    if has_limit and not new.limit_from.strip():
        raise BadValue("say where the limit stands", hint="its maker's sheet", field="--limit-from")

    def steps(change: Change) -> ToolView:
        change.append(
            "tool.described",
            (),
            {
                "name": name,
                "kind": new.kind,
                "diameter_um": None if new.diameter_mm is None else to_um(new.diameter_mm),
                "limit_um": None if new.limit_m is None else to_um(new.limit_m * 1000),
                "limit_minutes": None if new.limit_hours is None else round(new.limit_hours * 60),
                "limit_from": new.limit_from,
                "notes": new.notes,
                "fresh_on": shop.today.isoformat(),
            },
        )
        return view_tool(change.conn, name)

    return shop.commit("describe tool", steps, dry_run=dry_run)


def find_tool(conn: sqlite3.Connection, name: str) -> Tool:
    """
    The tool of a name, in any case.

    Raises:
        NotFound: If there is none; with those that there are.
    """
    wanted = " ".join(name.split()).casefold()
    tools = select(conn, Tool, "FROM tool ORDER BY name")
    for tool in tools:
        if tool.name.casefold() == wanted:
            return tool
    raise NotFound(
        f"there is no tool '{name}'",
        nearest=[tool.name for tool in tools][:5],
        hint="" if tools else "salvage tool add",
    )


def find_bit(conn: sqlite3.Connection, name: str) -> Tool:
    """
    The bit of a name.

    Raises:
        NotFound: If there is no such tool.
        BadValue: If it is no bit.
    """
    tool = find_tool(conn, name)
    if tool.kind != "bit":
        raise BadValue(f"'{tool.name}' is a {tool.kind}, no bit", field="bit")
    return tool


def view_tool(conn: sqlite3.Connection, name: str) -> ToolView:
    """A tool with its life; NotFound where there is none of that name."""
    tool = find_tool(conn, name)
    cuts, length = conn.execute(
        "SELECT count(*), coalesce(sum(length_um), 0) FROM tool_use WHERE tool = ? AND clock > ?",
        (tool.name, tool.fresh_clock),
    ).fetchone()
    (minutes,) = conn.execute(
        "SELECT coalesce(sum(minutes), 0) FROM tool_run WHERE tool = ? AND clock > ?",
        (tool.name, tool.fresh_clock),
    ).fetchone()
    return ToolView(tool, int(length), int(minutes), int(cuts))


def list_tools(shop: Workshop, *, all_: bool = False) -> tuple[ToolView, ...]:
    """
    Tools, those furthest gone first.

    Args:
        shop: The open workshop.
        all_: Those that are retired too.
    """
    names = [tool.name for tool in select(shop.conn, Tool, "FROM tool ORDER BY name")]
    views = [view_tool(shop.conn, name) for name in names]
    views.sort(key=lambda view: (bool(view.tool.retired), -(view.share or 0.0)))
    return tuple(view for view in views if all_ or not view.tool.retired)


def tool_warnings(conn: sqlite3.Connection) -> tuple[str, ...]:
    """What to know before a cut: tools in use that are beyond the limit of their maker."""
    usual = read_settings(conn).bit
    tools = select(conn, Tool, "FROM tool WHERE retired = '' ORDER BY name")
    told = [
        view_tool(conn, tool.name).warning
        for tool in tools
        if tool.kind not in ("bit", "blade") or tool.name == usual
    ]
    if usual and usual not in {tool.name for tool in tools}:
        told.append(f"the usual bit '{usual}' is in use no more: salvage setup bit=…")
    return tuple(words for words in told if words)


def append_use(change: Change, cut: Cut, bit: str) -> None:
    """
    Journal with which bit a cut was made, and how far it went, beside the cut itself.

    Args:
        change: The open change, in which the cut was journalled.
        cut: The cut.
        bit: Name of the bit; the workshop's usual one where empty.

    Raises:
        NotFound: If there is no such bit.
        BadValue: If it is no bit, or the cut was not made with the router.
        Refused: If it is retired.
    """
    from salvage.geometry.way import cutter_way_mm

    if cut.tool != "router":
        if bit:
            raise BadValue(f"a cut with {cut.tool} has no bit", field="--bit")
        return
    if bit:
        tool = find_bit(change.conn, bit)
        if tool.retired:
            raise Refused(f"the bit '{tool.name}' is retired: {tool.retired}")
    else:
        usual = read_settings(change.conn).bit
        query = "FROM tool WHERE name = ? AND kind = 'bit' AND retired = ''"
        found = select_one(change.conn, Tool, query, (usual,))
        if found is None:  # the cut was made all the same; the warning tells of the setting
            return
        tool = found
    way_mm = cutter_way_mm(region_of_text(cut.region), from_um(cut.kerf_um))
    change.append("tool.used", (cut.code,), {"name": tool.name, "length_um": to_um(way_mm)})


def log_hours(
    shop: Workshop,
    *,
    minutes: int,
    names: Sequence[str] = (),
    ran_on: date | None = None,
    dry_run: bool = False,
) -> tuple[ToolView, ...]:
    """
    Log for how long filters and masks ran or were worn.

    Args:
        shop: The open workshop.
        minutes: How long.
        names: Which; all filters and masks in use when empty.
        ran_on: Day; today when not given.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If the time is none, or longer than a day.
        NotFound: If a tool is not known, or nothing is in use.
        Refused: If it is retired.
    """
    if not 0 < minutes <= _MOST_MINUTES:
        raise BadValue("the time must be above 0 and at most a day", field="TIME")

    def steps(change: Change) -> tuple[ToolView, ...]:
        tools = [_in_use(change.conn, name) for name in names] or [
            tool
            for tool in select(change.conn, Tool, "FROM tool WHERE retired = '' ORDER BY name")
            if tool.kind in ("filter", "mask")
        ]
        if not tools:
            raise NotFound("no filter or mask is in use", hint="salvage tool add … --kind filter")
        day = (ran_on or shop.today).isoformat()
        for tool in tools:
            change.append("tool.ran", (), {"name": tool.name, "minutes": minutes, "ran_on": day})
        return tuple(view_tool(change.conn, tool.name) for tool in tools)

    return shop.commit("log hours", steps, dry_run=dry_run)


def _in_use(conn: sqlite3.Connection, name: str) -> Tool:
    tool = find_tool(conn, name)
    if tool.retired:
        raise Refused(f"'{tool.name}' is retired: {tool.retired}")
    return tool


def change_tool(shop: Workshop, *, name: str, reason: str = "", dry_run: bool = False) -> ToolView:
    """
    Record that a fresh one of the same kind was put in; its life counts from nothing again.

    Raises:
        NotFound: If there is no such tool.
        Refused: If it is retired.
    """

    def steps(change: Change) -> ToolView:
        tool = _in_use(change.conn, name)
        data = {"name": tool.name, "fresh_on": shop.today.isoformat(), "reason": reason}
        change.append("tool.changed", (), data)
        return view_tool(change.conn, tool.name)

    return shop.commit("change tool", steps, dry_run=dry_run)


def retire_tool(shop: Workshop, *, name: str, reason: str, dry_run: bool = False) -> ToolView:
    """
    Record that a tool is used no more.

    Raises:
        NotFound: If there is no such tool.
        BadValue: If no reason is given.
        Refused: If it is retired already.
    """
    if not reason.strip():
        raise BadValue("say why", hint="such as 'broke'", field="--reason")

    def steps(change: Change) -> ToolView:
        tool = _in_use(change.conn, name)
        change.append("tool.retired", (), {"name": tool.name, "reason": reason})
        return view_tool(change.conn, tool.name)

    return shop.commit("retire tool", steps, dry_run=dry_run)
