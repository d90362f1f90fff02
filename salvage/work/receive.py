"""Receiving donations: a drop-off is one entry, whatever the number of boards in the box."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import BadValue, Refused
from salvage.frozen import dataclass
from salvage.records.things import Board, DataPart, DropOff
from salvage.store.lookup import load_donor, load_drop_off
from salvage.store.rows import select
from salvage.units import parse_country, to_mg
from salvage.work.donors import DonorView, NewDonor, add_donor_in, view_donor

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Sequence
    from datetime import date

    from salvage.canonical import Json
    from salvage.ids import Code
    from salvage.store.change import Change
    from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class NewDropOff:
    """
    What came in one delivery.

    Args:
        received_on: Day it arrived; not in the future.
        contents: What arrived, in words.
        board_count: Number of boards, if counted.
        weight_g: Weight of everything, in grams.
        channel: One of :data:`salvage.records.choices.CHANNELS`.
        origin: Coarse place it comes from, for the story.
        origin_country: ISO 3166-1 code; a parcel from abroad may be a controlled shipment.
        story: What the donor told, in their own words, if it may be printed.
        notes: For the workshop only.
        data_parts: Kind and number of parts that can hold data.
    """

    received_on: date
    contents: str
    board_count: int | None = None
    weight_g: float | None = None
    channel: str = "by hand"
    origin: str = ""
    origin_country: str = ""
    story: str = ""
    notes: str = ""
    data_parts: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class DropOffView:
    """
    A drop-off with its donor, data-bearing parts and boards.

    Args:
        drop_off: The record.
        donor: The donor as the owner sees it.
        data_parts: Data-bearing parts in order.
        boards: Boards recorded from it so far.
    """

    drop_off: DropOff
    donor: DonorView
    data_parts: tuple[DataPart, ...]
    boards: tuple[Board, ...]

    @property
    def open_data_parts(self) -> tuple[DataPart, ...]:
        """Parts whose custody has not ended."""
        return tuple(part for part in self.data_parts if part.state == "open")


def check_contents(contents: str) -> None:
    """
    Raise unless it is said what arrived.

    Raises:
        BadValue: If it is not.
    """
    if not contents.strip():
        raise BadValue("say what arrived", hint="such as '14 network cards'", field="--contents")


def log_drop_off_in(change: Change, donor: Code | NewDonor, new: NewDropOff) -> Code:
    """Journal a drop-off inside an open change and give the code."""
    check_contents(new.contents)
    country = new.origin_country and parse_country(new.origin_country, field="--origin-country")
    if isinstance(donor, NewDonor):
        donor = add_donor_in(change, donor)
    else:
        load_donor(change.conn, donor)
    code = change.new_code("D")
    change.append(
        "dropoff.logged",
        (code, donor),
        {
            "donor": donor,
            "received_on": new.received_on.isoformat(),
            "channel": new.channel,
            "contents": new.contents,
            "board_count": new.board_count,
            "weight_mg": None if new.weight_g is None else to_mg(new.weight_g),
            "origin": new.origin,
            "origin_country": country,
            "story": new.story,
            "notes": new.notes,
            "data_parts": number_parts(change, code, new.data_parts),
        },
        made=(code,),
    )
    return code


def log_drop_off(
    shop: Workshop, *, donor: Code | NewDonor, new: NewDropOff, dry_run: bool = False
) -> DropOffView:
    """
    Log one delivery.

    Args:
        shop: The open workshop.
        donor: Code of a known donor, or a new one.
        new: What came.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If the donor's code is not known.
        BadValue: If it is not said what arrived, the country is no code, or the donor's wish lacks
            its words.
    """

    def steps(change: Change) -> DropOffView:
        return view_drop_off(change.conn, log_drop_off_in(change, donor, new))

    return shop.commit("log drop-off", steps, dry_run=dry_run)


def view_drop_off(conn: sqlite3.Connection, code: Code) -> DropOffView:
    """The drop-off with everything that belongs to it; NotFound where there is none."""
    drop_off = load_drop_off(conn, code)
    return DropOffView(
        drop_off,
        view_donor(conn, drop_off.donor),
        select(conn, DataPart, "FROM data_part WHERE drop_off = ? ORDER BY n", (code,)),
        select(conn, Board, "FROM board WHERE drop_off = ? ORDER BY code", (code,)),
    )


def list_drop_offs(shop: Workshop, *, most: int = 50) -> tuple[DropOffView, ...]:
    """The newest drop-offs, newest first."""
    newest = select(
        shop.conn, DropOff, "FROM drop_off ORDER BY received_on DESC, code DESC LIMIT ?", (most,)
    )
    return tuple(view_drop_off(shop.conn, drop_off.code) for drop_off in newest)


def number_parts(change: Change, drop_off: Code, parts: Sequence[tuple[str, int]]) -> list[Json]:
    """Data-bearing parts as an event lists them, with the next numbers of their drop-off."""
    numbers = change.next_numbers("data_part", "drop_off", drop_off, count=len(parts))
    return [
        {"n": n, "part": part, "count": count}
        for n, (part, count) in zip(numbers, parts, strict=True)
    ]


def add_data_parts(
    shop: Workshop,
    *,
    drop_off: Code,
    data_parts: tuple[tuple[str, int], ...],
    dry_run: bool = False,
) -> DropOffView:
    """
    Record that a drop-off was searched for data-bearing parts, and what was found.

    Args:
        shop: The open workshop.
        drop_off: The drop-off's code.
        data_parts: Kind and number, or ``none found``.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such drop-off.
        BadValue: If nothing is named.
    """
    if not data_parts:
        raise BadValue("say what was found", hint="such as 'hard disk:2' or 'none found'")

    def steps(change: Change) -> DropOffView:
        load_drop_off(change.conn, drop_off)
        change.append(
            "dropoff.data_found",
            (drop_off,),
            {"data_parts": number_parts(change, drop_off, data_parts)},
        )
        return view_drop_off(change.conn, drop_off)

    return shop.commit("add data parts", steps, dry_run=dry_run)


def settle_data_part(
    shop: Workshop, *, drop_off: Code, n: int, state: str, how: str, dry_run: bool = False
) -> DropOffView:
    """
    Record how the custody of a data-bearing part ended.

    Args:
        shop: The open workshop.
        drop_off: The drop-off's code.
        n: Number of the part in the drop-off.
        state: One of :data:`salvage.records.choices.DATA_OUTCOMES`.
        how: By which method, tool or receipt.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such drop-off.
        Refused: If the part does not exist or is settled already.
        BadValue: If it is not said how.
    """

    def steps(change: Change) -> DropOffView:
        parts = {part.n: part for part in view_drop_off(change.conn, drop_off).data_parts}
        if n not in parts:
            known = ", ".join(f"{part.n} ({part.part})" for part in parts.values()) or "none"
            raise Refused(f"{drop_off} has no data-bearing part {n}", hint=f"it has: {known}")
        if parts[n].state != "open":
            raise Refused(
                f"part {n} of {drop_off} is recorded as {parts[n].state} already",
                hint="undo that first if it was a mistake",
            )
        if not how.strip():
            raise BadValue("say how", hint="method, tool or receipt", field="--how")
        change.append("dropoff.data_settled", (drop_off,), {"n": n, "state": state, "how": how})
        return view_drop_off(change.conn, drop_off)

    return shop.commit("settle data part", steps, dry_run=dry_run)
