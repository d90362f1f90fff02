"""Where the commands of waste, tools and documents are found; loaded when they are asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from salvage.cli.command import CommandSet


def report() -> CommandSet:
    """The commands that print documents."""
    from salvage.cli import report

    return report.commands


def wording() -> CommandSet:
    """The commands of wordings."""
    from salvage.cli import wording

    return wording.commands


def tool() -> CommandSet:
    """The commands of bits, filters and masks."""
    from salvage.cli import tool

    return tool.commands


def waste() -> CommandSet:
    """The commands of waste containers."""
    from salvage.cli import waste

    return waste.commands
