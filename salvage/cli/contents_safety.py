"""Loaders of the commands about safety: a command's file is loaded when it is asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from salvage.cli.command import CommandSet


def custody() -> CommandSet:
    """Data-bearing parts."""
    from salvage.cli import custody, custody_sanitise

    del custody_sanitise  # loaded for the command that it adds to the group
    return custody.commands


def assay() -> CommandSet:
    """Tests of parts."""
    from salvage.cli import assay

    return assay.commands


def gate() -> CommandSet:
    """The gate before a sale."""
    from salvage.cli import gate

    return gate.commands


def duties() -> CommandSet:
    """Limits and duties."""
    from salvage.cli import duties

    return duties.commands
