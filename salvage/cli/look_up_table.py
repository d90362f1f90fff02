"""The commands that may be run the short way, each loaded when it is asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

Command = Callable[..., Any]
"""A command's function, with the run first and its words after."""


def _next() -> Command:
    from salvage.cli import next as next_

    return next_.next_


def _history() -> Command:
    from salvage.cli import history

    return history.history


def _journal() -> Command:
    from salvage.cli import history

    return history.journal


def _trace() -> Command:
    from salvage.cli import trace

    return trace.trace


def _board_show() -> Command:
    from salvage.cli import board

    return board.show


def _board_list() -> Command:
    from salvage.cli import board

    return board.list_


def _piece_show() -> Command:
    from salvage.cli import piece

    return piece.show


def _piece_list() -> Command:
    from salvage.cli import piece

    return piece.list_


def _dropoff_show() -> Command:
    from salvage.cli import dropoff

    return dropoff.show


def _dropoff_list() -> Command:
    from salvage.cli import dropoff

    return dropoff.list_


def _donor_list() -> Command:
    from salvage.cli import donor

    return donor.list_


def _place_list() -> Command:
    from salvage.cli import place

    return place.list_all


def _article_list() -> Command:
    from salvage.cli import article

    return article.list_


def _formats() -> Command:
    from salvage.cli import knowledge

    return knowledge.formats


LOOK_UPS: Mapping[tuple[str, ...], Callable[[], Command]] = {
    ("history",): _history,
    ("journal",): _journal,
    ("trace",): _trace,
    (
        "board",
        "show",
    ): _board_show,
    (
        "board",
        "list",
    ): _board_list,
    (
        "piece",
        "show",
    ): _piece_show,
    (
        "piece",
        "list",
    ): _piece_list,
    (
        "dropoff",
        "show",
    ): _dropoff_show,
    (
        "dropoff",
        "list",
    ): _dropoff_list,
    (
        "donor",
        "list",
    ): _donor_list,
    (
        "place",
        "list",
    ): _place_list,
    (
        "article",
        "list",
    ): _article_list,
    ("formats",): _formats,
    ("next",): _next,
}
"""Loads the command of each name."""
