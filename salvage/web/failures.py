"""Errors of the page: each becomes an answer with plain words, and never a traceback."""

from __future__ import annotations

import sqlite3
import sys
import traceback
from collections.abc import Callable
from dataclasses import dataclass

from salvage.errors import (
    BadFile,
    BadValue,
    ManyMistakes,
    MissingTool,
    NotFound,
    Refused,
    SalvageError,
    StoreTrouble,
)


@dataclass(frozen=True)
class Failure:
    """
    What went wrong.

    Args:
        status: HTTP status.
        error: In our own words.
    """

    status: int
    error: SalvageError


_STATUS: tuple[tuple[type[SalvageError], int], ...] = (
    (NotFound, 404),
    (Refused, 409),
    (BadFile, 415),
    (BadValue, 422),
    (ManyMistakes, 422),
    (StoreTrouble, 503),
    (MissingTool, 501),
)


def status_of(error: SalvageError) -> int:
    """
    The HTTP status that tells an error.

    >>> status_of(Refused("it is sold"))
    409
    """
    return next((status for kind, status in _STATUS if isinstance(error, kind)), 400)


def run_guarded(call: Callable[[], object]) -> object:
    """
    What *call* gives, or the failure that whatever it raised amounts to.

    Args:
        call: The page's function.
    """
    try:
        return call()
    except SalvageError as error:
        return Failure(status_of(error), error)
    except sqlite3.Error as error:
        words = f"the database says: {error}"
        mend = "run 'salvage check'; look at the journal before you do it again"
        return Failure(503, StoreTrouble(words, hint=mend))
    except OSError as error:
        return Failure(503, StoreTrouble(str(error.strerror or error)))
    except Exception as error:  # noqa: BLE001 - the one place of this face where a bug is caught
        traceback.print_exception(error, file=sys.stderr)
        words = f"this is a bug, not your mistake ({type(error).__name__})"
        hint = "the window where the page was started tells more; report it"
        return Failure(500, SalvageError(words, hint=hint))


def mistakes_of(error: SalvageError) -> tuple[SalvageError, ...]:
    """The single mistakes of an error, in the order of the form."""
    return error.mistakes if isinstance(error, ManyMistakes) else (error,)


def field_of(error: SalvageError) -> str:
    """
    Name of the form's field that an error is about; empty where it is about none.

    >>> field_of(BadValue("'x' is no length", field="--kerf-mm"))
    'kerf'
    """
    return error.field.removeprefix("--").lower().replace("_", "-").removesuffix("-mm")
