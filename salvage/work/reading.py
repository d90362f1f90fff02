"""Reading a typed or scanned code, with the nearest that exist where it does not fit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import BadCode
from salvage.ids import KINDS, Code, parse_code, tidy_code
from salvage.store.lookup import suggest

if TYPE_CHECKING:
    from salvage.work.workshop import Workshop


def read_code(shop: Workshop, *, text: str, kinds: str = "", field: str = "") -> Code:
    """
    The code that typed or scanned text means; it need not exist.

    A scanner on another keyboard layout, its prefix and a card's web address are undone.

    Args:
        shop: The open workshop.
        text: As typed.
        kinds: Letters of the kinds that are wanted here; empty for any.
        field: Label for the error.

    Raises:
        BadCode: If it is no code of ours or of another kind; names the nearest that exist.
    """
    from salvage.codes.wedge import parse_scan

    scanned = parse_scan(text).text
    try:
        return parse_code(scanned, kind=kinds, field=field)
    except BadCode as error:
        if tidy_code(scanned)[:1] in KINDS and not _is_code(scanned):
            nearest = suggest(shop.conn, scanned, kinds=kinds)
            if nearest:
                hint = "nearest: " + ", ".join(nearest)
                raise BadCode(error.message, hint=hint, field=field) from error
        raise


def _is_code(text: str) -> bool:
    try:
        parse_code(text)
    except BadCode:
        return False
    return True
