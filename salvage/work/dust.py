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
        dust: About how much dust it makes, with the numbers of the sources it rests on.
        limits: Market, subject, limit, and number of its source.
        sources: By number from 1.
    """

    cautions: tuple[tuple[str, ...], ...]
    dust: str
    limits: tuple[tuple[str, ...], ...]
    sources: tuple[str, ...]


def sourced_cautions(
    shop: Workshop, *, board: Code, regions: Sequence[Region], kerf_mm: float
) -> SourcedCautions:
    """
    Cautions before cutting, an estimate of the dust, and limits for the air that are in force.

    Args:
        shop: The open workshop.
        board: The board's code.
        regions: What is cut, each all round and round its holes.
        kerf_mm: Width of the tool.
    """
    from salvage.knowledge.cautions import cautions_for, closing_line
    from salvage.knowledge.limits import limits
    from salvage.work.own_facts import own_limits

    numbers: dict[str, int] = {}

    def number(source: Source) -> str:
        return str(numbers.setdefault(source.marked_words, len(numbers) + 1))

    cautions = tuple(
        (one.text, "" if one == closing_line() else number(one.source))
        for one in cautions_for("cutting")
    )
    thickness_um = load_board(shop.conn, board).thickness_um
    words, rests = _estimate(regions, kerf_mm, thickness_um / 1000 if thickness_um else None)
    dust = f"{words} {''.join(f'[{number(source)}]' for source in rests)}"
    rows = tuple(
        (one.jurisdiction, one.subject, one.words, number(one.source))
        for one in limits(topic="exposure", own=own_limits(shop.conn))
        if one.state_on(shop.today) == "in force"
    )
    return SourcedCautions(cautions, dust, rows, tuple(numbers))


def _estimate(
    regions: Sequence[Region], kerf_mm: float, measured_mm: float | None
) -> tuple[str, list[Source]]:
    """About how much dust it makes to cut regions out of a board, and what that rests on."""
    from salvage.geometry.outline import to_polygon
    from salvage.knowledge.materials import dust_mass_g, find_material_fact

    usual, density = find_material_fact("fr4-thickness"), find_material_fact("fr4-density")
    thickness_mm = usual.value if measured_mm is None else measured_mm
    length_mm = sum(float(to_polygon(region).length) for region in regions)
    mass_g = dust_mass_g(length_mm, kerf_mm, thickness_mm)
    guess = ", taken as usual, not measured" if measured_mm is None else ""
    words = (
        f"About {mass_g:.1f} g of dust: {length_mm:.0f} mm of cut, {kerf_mm:g} mm wide,"
        f" {thickness_mm:g} mm thick{guess}, at {density.value:g} {density.unit}."
    )
    return words, [density.source, *([usual.source] if measured_mm is None else [])]
