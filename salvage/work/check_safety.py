"""The parts of the self-check that look at data custody and at pieces marked for children."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from salvage.canonical import Json
from salvage.records.events import Event
from salvage.store.journal import read_events, undone_ids
from salvage.work.workshop import Workshop

# A drop-off with the numbers of its open parts, by the device that wrote of them: what another
# device had found meanwhile, the one that closed could not know.
_Open = dict[tuple[str, str], set[int]]


def check_closed(shop: Workshop) -> tuple[Iterator[str], str]:
    """Drop-offs against the parts that were open when they were closed."""

    def faults() -> Iterator[str]:
        gone = undone_ids(shop.conn)
        still: _Open = {}
        for event in read_events(shop.conn):
            if event.id in gone or not event.about:
                continue
            if event.kind == "dropoff.closed":
                left = still.get((event.device, event.about[0]), set())
                if left:
                    numbers = ", ".join(map(str, sorted(left)))
                    yield f"{event.about[0]} was closed while part {numbers} was open"
            else:
                _follow(still, event)

    (closed,) = shop.conn.execute("SELECT count(*) FROM drop_off_closed").fetchone()
    return faults(), f"{closed} closed"


def _follow(still: _Open, event: Event) -> None:
    """What an event does to the open parts of its drop-off."""
    data, key = event.data, (event.device, event.about[0])
    if event.kind in ("dropoff.logged", "dropoff.data_found"):
        parts = data["data_parts"]
        assert isinstance(parts, Sequence)
        found = {_number(part) for part in parts if _is_medium(part)}
        still[key] = still.get(key, set()) | found
    elif event.kind == "custody.described" and data["taken_from"] is not None:
        still.setdefault(key, set()).add(int(str(data["n"])))
    elif _ends(event):
        for known, numbers in still.items():
            if known[1] == event.about[0]:
                numbers.discard(int(str(data["n"])))


def _number(part: Json) -> int:
    assert isinstance(part, Mapping)
    return int(str(part["n"]))


def _is_medium(part: Json) -> bool:
    return isinstance(part, Mapping) and part["part"] != "none found"


def _ends(event: Event) -> bool:
    data = event.data
    return (
        event.kind == "dropoff.data_settled"
        or (event.kind == "custody.sanitised" and data["validation"] == "accept")
        or (event.kind == "custody.handed" and data["role"] == "donor")
    )


def check_children(shop: Workshop) -> tuple[Iterator[str], str]:
    """Pieces that were marked for children against what that rested on."""

    def faults() -> Iterator[str]:
        gone = undone_ids(shop.conn)
        for event in read_events(shop.conn):
            is_child = event.kind == "piece.audience_set" and event.data["audience"] == "child"
            if is_child and event.id not in gone and not event.data["rests_on"]:
                yield f"{event.about[0]} was marked for children, and it rests on no result"

    (marked,) = shop.conn.execute(
        "SELECT count(*) FROM piece_audience WHERE audience = 'child'"
    ).fetchone()
    return faults(), f"{marked} marked for children"


SAFETY_CHECKS: dict[str, Callable[[Workshop], tuple[Iterator[str], str]]] = {
    "drop-offs were closed when their data was dealt with": check_closed,
    "pieces are for children only by evidence": check_children,
}
"""These checks by the invariant that they check."""
