"""The commands that sell what was made and tell where the rest went, loaded when asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from salvage.cli.command import CommandSet


def load_price() -> CommandSet:
    """The commands of ``salvage price``."""
    from salvage.cli import price

    return price.commands


def load_order() -> CommandSet:
    """The commands of ``salvage order``."""
    from salvage.cli import order, order_making

    del order_making  # loaded for the commands that it adds to the group
    return order.commands


def load_outing() -> CommandSet:
    """The commands of ``salvage outing``."""
    from salvage.cli import outing, outing_day

    del outing_day  # loaded for the commands that it adds to the group
    return outing.commands


def load_sales() -> CommandSet:
    """The commands of ``salvage sales``."""
    from salvage.cli import sales, season_report

    del season_report  # loaded for the command that it adds to the group
    return sales.commands


def load_trace() -> CommandSet:
    """The commands of ``salvage trace``."""
    from salvage.cli import trace

    return trace.commands


def load_history() -> CommandSet:
    """The commands of ``salvage history``."""
    from salvage.cli import history

    return history.telling


def load_journal() -> CommandSet:
    """The commands of ``salvage journal``."""
    from salvage.cli import history

    return history.listing


def load_undo() -> CommandSet:
    """The commands of ``salvage undo``."""
    from salvage.cli import history

    return history.undoing


def load_export() -> CommandSet:
    """The commands of ``salvage export``."""
    from salvage.cli import export, export_all, export_dossier, export_sales

    del (
        export_all,
        export_dossier,
        export_sales,
    )  # loaded for the commands that they add to the group
    return export.commands
