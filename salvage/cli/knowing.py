"""Loaders of the commands on what is known: hazards, facts, sizes, and alerts."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from salvage.cli.command import CommandSet


def load_hazards() -> CommandSet:
    """The command on hazards."""
    from salvage.cli import knowledge

    return knowledge.dangers


def load_facts() -> CommandSet:
    """The group on limits, materials and rules, and on rows of one's own."""
    from salvage.cli import facts, own_facts

    del own_facts  # loaded for the commands that it adds to the group
    return facts.commands


def load_alert() -> CommandSet:
    """The group on new knowledge."""
    from salvage.cli import alert

    return alert.commands


def load_formats() -> CommandSet:
    """The command on sizes."""
    from salvage.cli import knowledge

    return knowledge.sizes
