"""Regions as the path of a picture: millimetres, y upwards as on the board."""

from __future__ import annotations

from salvage.records.region import Region, region_of_text


def path_data(region: Region | str) -> str:
    """
    A region as SVG path data in millimetres; holes are further loops of it.

    The picture turns the y axis over once, so that the numbers here are the board's own.

    Args:
        region: The region, or its text as the tables keep it.

    >>> path_data(Region(((0, 0), (10_000, 0), (10_000, 5_500))))
    'M0 0L10 0L10 5.5Z'
    """
    found = region_of_text(region) if isinstance(region, str) else region
    return "".join(
        "M" + "L".join(f"{x / 1000:g} {y / 1000:g}" for x, y in ring) + "Z"
        for ring in (found.outer, *found.holes)
    )
