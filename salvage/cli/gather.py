"""Gathering every mistake of a command line before refusing it, as all faces do."""

from __future__ import annotations

from salvage.work.gather import Gatherer

__all__ = ["Gatherer"]
