"""Harm done to the record of data custody and of what is for children."""

from __future__ import annotations

from collections.abc import Callable

from salvage.ids import Code
from salvage.work.custody_steps import NewSearch, close_drop_off, search_for_data
from salvage.work.gate_steps import set_audience
from salvage.work.receive import settle_data_part
from salvage.work.workshop import Workshop
from tests.work.harms import rechain


def _open_after_all(shop: Workshop) -> None:
    """A part that was settled before the drop-off was closed is made one that was never settled."""
    (code,) = shop.conn.execute("SELECT code FROM drop_off ORDER BY code").fetchone()
    new = NewSearch((("memory card", 1),), "the brackets")
    view = search_for_data(shop, drop_off=Code(code), new=new)
    for part in view.drop_off.open_data_parts:
        settle_data_part(shop, drop_off=Code(code), n=part.n, state="returned", how="at the door")
    close_drop_off(shop, drop_off=Code(code))

    def change(bodies: list[dict[str, object]]) -> None:
        for body in bodies:
            if body["kind"] == "dropoff.data_settled":
                body["data"] = {**body["data"], "n": 99}  # type: ignore[dict-item]

    rechain(shop, change)


def _for_children(shop: Workshop) -> None:
    """A mark for adults is forged into one for children."""
    (piece,) = shop.conn.execute("SELECT code FROM piece WHERE stage = 'rough'").fetchone()
    set_audience(shop, piece=Code(piece), audience="adult", reason="sharp")

    def change(bodies: list[dict[str, object]]) -> None:
        for body in bodies:
            if body["kind"] == "piece.audience_set":
                body["data"] = {**body["data"], "audience": "child", "rests_on": []}  # type: ignore[dict-item]

    rechain(shop, change)


SAFETY_HARMS: dict[str, tuple[Callable[[Workshop], None], str, str]] = {
    "a drop-off closed too early": (
        _open_after_all,
        "drop-offs were closed when their data was dealt with",
        "was open",
    ),
    "a toy by forgery": (
        _for_children,
        "pieces are for children only by evidence",
        "it rests on no result",
    ),
}
"""By name: what is done, the line that must turn red, and what it must say."""
