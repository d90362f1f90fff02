"""Where the commands of waste, tools and documents are found; loaded when they are asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from salvage.cli.command import CommandSet


def waste() -> CommandSet:
    """The commands of waste containers."""
    from salvage.cli import waste

    return waste.commands
