"""The dust of cutting: how much a job makes, and the limits for it in the air, with sources."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from salvage.ids import Code
from salvage.records.region import Region
from salvage.store.lookup import load_board
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.knowledge.limits import Limit
    from salvage.knowledge.source import Source


def exposure_lines(own: Sequence[Limit], today: date) -> tuple[str, ...]:
    """
    Limits for dust and lead in the air that are in force, one line each with its source.

    Args:
        own: The workshop's own limits.
        today: The workshop's date now.
    """
    from salvage.knowledge.limits import limits

    return tuple(
        f"{one.jurisdiction}, {one.subject}: {one.words} ({one.source.marked_words})"
        for one in limits(topic="exposure", own=own)
        if one.state_on(today) == "in force"
    )


def bench_cautions(own: Sequence[Limit], today: date) -> tuple[str, ...]:
    """
    Cautions before cutting and the limits for lead in the air, each with its source in short.

    Args:
        own: The workshop's own limits.
        today: The workshop's date now.
    """
    from salvage.knowledge.cautions import cautions_for, closing_line
    from salvage.knowledge.limits import limits

    told = [
        f"{one.text} ({one.source.short_words})"
        for one in cautions_for("cutting")
        if one != closing_line()
    ]
    lead = [
        f"{one.jurisdiction} {one.words.split(',')[0]} ({one.source.short_words})"
        for one in limits(topic="exposure", own=own)
        if one.subject.startswith("lead in air, permissible") and one.state_on(today) == "in force"
    ]
    more = "all limits with their sources: salvage facts limits --topic exposure"
    return (*told, f"Lead in the air: {'; '.join(lead)}; {more}", closing_line().text)


@dataclass(frozen=True, slots=True)
class SourcedCautions:
    """
    What a sheet says before cutting, each line with the number of its source.

    Args:
        cautions: Caution, and number of its source; the closing line states no fact and has none.
        limits: Market, subject, limit, and number of its source.
        sources: By number from 1.
    """

    cautions: tuple[tuple[str, ...], ...]
    limits: tuple[tuple[str, ...], ...]
    sources: tuple[str, ...]


def sourced_cautions(shop: Workshop) -> SourcedCautions:
    """Cautions before cutting and limits for the air in force, with their sources numbered."""
    from salvage.knowledge.cautions import cautions_for, closing_line
    from salvage.knowledge.limits import limits
    from salvage.work.own_facts import own_limits

    sources: dict[str, int] = {}

    def number(source: Source) -> str:
        return str(sources.setdefault(source.marked_words, len(sources) + 1))

    cautions = tuple(
        (one.text, "" if one == closing_line() else number(one.source))
        for one in cautions_for("cutting")
    )
    rows = tuple(
        (one.jurisdiction, one.subject, one.words, number(one.source))
        for one in limits(topic="exposure", own=own_limits(shop.conn))
        if one.state_on(shop.today) == "in force"
    )
    return SourcedCautions(cautions, rows, tuple(sources))


def dust_line(shop: Workshop, *, board: Code, regions: Sequence[Region], kerf_mm: float) -> str:
    """
    About how much dust it makes to cut regions out of a board, and what that rests on.

    Args:
        shop: The open workshop.
        board: The board's code.
        regions: What is cut, each all round and round its holes.
        kerf_mm: Width of the tool.
    """
    from salvage.geometry.outline import to_polygon
    from salvage.knowledge.materials import dust_mass_g, find_material_fact

    usual, density = find_material_fact("fr4-thickness"), find_material_fact("fr4-density")
    measured_um = load_board(shop.conn, board).thickness_um
    thickness_mm = measured_um / 1000 if measured_um else usual.value
    length_mm = sum(float(to_polygon(region).length) for region in regions)
    mass = dust_mass_g(length_mm, kerf_mm, thickness_mm)
    rests = density.source.words
    if not measured_um:
        rests += f"; thickness not measured, {usual.value:g} mm by {usual.source.words}"
    return (
        f"About {mass:.1f} g of dust: {length_mm:.0f} mm of cut, {kerf_mm:g} mm wide,"
        f" {thickness_mm:g} mm thick, at {density.value:g} {density.unit} ({rests})."
    )
