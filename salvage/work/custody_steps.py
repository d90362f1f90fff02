"""Steps of custody: a search, a medium described, a hand-over, and a drop-off closed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from salvage.canonical import Json
from salvage.errors import BadValue, Refused
from salvage.ids import Code
from salvage.store.change import Change
from salvage.work.custody import CustodyView, MediumView, find_medium, view_custody
from salvage.work.day_order import check_order
from salvage.work.photos import NewPhoto, append_photo, take_in
from salvage.work.receive import number_parts, view_drop_off
from salvage.work.workshop import Workshop

_KNOWN_BY_ROLE = ("workshop", "donor")
# The record knows who these are; every other hand has a name.


@dataclass(frozen=True, slots=True)
class NewSearch:
    """
    A search for data-bearing parts.

    Args:
        found: Kinds and numbers, or ``none found``.
        scope: What was looked at, such as "all 14 boards, both sides".
        how: With what, such as "lamp and glass".
        photo: Evidence; None for none.
    """

    found: tuple[tuple[str, int], ...]
    scope: str
    how: str = ""
    photo: NewPhoto | None = None


@dataclass(frozen=True, slots=True)
class NewMedium:
    """
    What is known of a medium; empty for what is not.

    Args:
        maker: As printed on it.
        model: As printed on it.
        serial: As printed on it; sealed, since it can tell whose it was.
        media_type: One of :data:`salvage.records.custody.MEDIA_TYPES`; empty for the usual one.
        source: The device that it came from; sealed likewise.
        confidentiality: Of what was on it, if the donor told.
    """

    maker: str = ""
    model: str = ""
    serial: str = ""
    media_type: str = ""
    source: str = ""
    confidentiality: str = ""


@dataclass(frozen=True, slots=True)
class NewHandOver:
    """
    A hand-over of a medium.

    Args:
        role: One of :data:`salvage.records.custody.ROLES`; to the donor it ends the custody.
        to: Who took it; sealed.
        on_day: Day; today when None.
        place: Where.
        document: Number of a paper about it.
        note: Anything else.
        photo: Evidence; None for none.
    """

    role: str
    to: str = ""
    on_day: date | None = None
    place: str = ""
    document: str = ""
    note: str = ""
    photo: NewPhoto | None = None


def keep_evidence(
    shop: Workshop, drop_off: Code, photo: NewPhoto | None, *, dry_run: bool
) -> dict[str, Json]:
    """The fields of a photo's event, its bytes kept; empty without a photo."""
    return take_in(shop, code=drop_off, new=photo, dry_run=dry_run) if photo else {}


def append_evidence(change: Change, drop_off: Code, taken: dict[str, Json]) -> str:
    """Journal a photo that was kept as evidence and give its hash; empty without one."""
    if not taken:
        return ""
    append_photo(change, drop_off, taken)
    return str(taken["sha256"])


def search_for_data(
    shop: Workshop, *, drop_off: Code, new: NewSearch, dry_run: bool = False
) -> CustodyView:
    """
    Record a search for data-bearing parts with its scope; nothing found is a record of its own.

    Raises:
        NotFound: If there is no such drop-off.
        BadValue: If it is not said what was found, or what was looked at.
    """
    if not new.found:
        raise BadValue("say what was found", hint="such as 'hard disk:2' or 'none found'")
    if not new.scope.strip():
        raise BadValue(
            "say what was looked at", hint="such as 'all 14 boards, both sides'", field="--scope"
        )
    view_drop_off(shop.conn, drop_off)
    taken = keep_evidence(shop, drop_off, new.photo, dry_run=dry_run)

    def steps(change: Change) -> CustodyView:
        numbered = number_parts(change, drop_off, new.found)
        change.append("dropoff.data_found", (drop_off,), {"data_parts": numbered})
        n = change.next_numbers("data_search", "drop_off", drop_off)[0]
        found = ", ".join(
            part if part == "none found" else f"{count} x {part}" for part, count in new.found
        )
        photo = append_evidence(change, drop_off, taken)
        data: dict[str, Json] = {
            "n": n,
            "found": found,
            "scope": new.scope,
            "how": new.how,
            "photo": photo,
        }
        change.append("custody.searched", (drop_off,), data)
        return view_custody(change.conn, drop_off)

    return shop.commit("search for data", steps, dry_run=dry_run)


def describe_medium(
    shop: Workshop, *, drop_off: Code, n: int, new: NewMedium, dry_run: bool = False
) -> MediumView:
    """
    Describe one medium; of several alike it becomes a part of its own.

    Raises:
        NotFound: If there is no such drop-off.
        Refused: If it has no such part, or several alike were settled together.
        BadValue: If it is described already and nothing is said, or its media type is not known
            from its kind and not given.
    """

    def steps(change: Change) -> MediumView:
        found = find_medium(change.conn, drop_off, n)
        if found.medium and new == NewMedium():
            raise BadValue(
                "say what is known of it: what is described anew takes the place of what was there",
                hint="such as --maker, --model, --serial",
            )
        alike = found.part.count > 1
        if alike and found.part.state != "open":
            raise Refused(
                f"the {found.part.count} of part {n} are recorded as {found.part.state} together"
            )
        media_type = new.media_type or found.media_type
        if not media_type:
            raise BadValue(
                f"what does a part of kind '{found.part.part}' keep its data in?",
                hint="magnetic, flash, hybrid, optical or other",
                field="--media",
            )
        number = change.next_numbers("data_part", "drop_off", drop_off)[0] if alike else n
        donor = view_drop_off(change.conn, drop_off).drop_off.donor
        data: dict[str, Json] = {
            "n": number,
            "taken_from": n if alike else None,
            "maker": new.maker,
            "model": new.model,
            "serial_seal": change.seal(new.serial),
            "media_type": media_type,
            "source_seal": change.seal(new.source),
            "confidentiality": new.confidentiality,
        }
        change.append("custody.described", (drop_off, donor), data)
        return find_medium(change.conn, drop_off, number)

    return shop.commit("describe medium", steps, dry_run=dry_run)


def hand_over_medium(
    shop: Workshop, *, drop_off: Code, n: int, new: NewHandOver, dry_run: bool = False
) -> MediumView:
    """
    Record that a medium went into other hands; back to the donor it ends the custody.

    Raises:
        NotFound: If there is no such drop-off.
        Refused: If it has no such part, or it went back to the donor already.
        BadValue: If nobody is named, or the day is before the drop-off came or the last hand-over.
    """
    if new.role not in _KNOWN_BY_ROLE and not new.to.strip():
        raise BadValue(
            f"say who the {new.role} is" if new.role != "other" else "say who took it",
            hint="a person or a firm; the name is kept sealed",
            field="--to",
        )
    day = new.on_day or shop.today
    view_drop_off(shop.conn, drop_off)
    taken = keep_evidence(shop, drop_off, new.photo, dry_run=dry_run)

    def steps(change: Change) -> MediumView:
        found = find_medium(change.conn, drop_off, n)
        view = view_drop_off(change.conn, drop_off)
        if found.part.state == "returned":
            raise Refused(f"part {n} of {drop_off} went back to the donor already")
        came = date.fromisoformat(view.drop_off.received_on)
        check_order(came, day, words=f"{drop_off} came")
        if found.hand_overs:
            last = date.fromisoformat(found.hand_overs[-1].step.on_day)
            check_order(last, day, words="it was last handed over")
        photo = append_evidence(change, drop_off, taken)
        data: dict[str, Json] = {
            "n": n,
            "step": change.next_within("hand_over", "step", {"drop_off": drop_off, "n": n}),
            "on_day": day.isoformat(),
            "role": new.role,
            "to_seal": change.seal(new.to),
            "place": new.place,
            "document": new.document,
            "note": new.note,
            "photo": photo,
        }
        change.append("custody.handed", (drop_off, view.drop_off.donor), data)
        return find_medium(change.conn, drop_off, n)

    return shop.commit("hand over medium", steps, dry_run=dry_run)


def close_drop_off(
    shop: Workshop, *, drop_off: Code, note: str = "", dry_run: bool = False
) -> CustodyView:
    """
    Close a drop-off: it was searched for data, and every part found is dealt with.

    Raises:
        NotFound: If there is no such drop-off.
        Refused: If a data-bearing part is open, nobody has looked for any, or it is closed.
    """

    def steps(change: Change) -> CustodyView:
        view = view_custody(change.conn, drop_off)
        left = ", ".join(f"{part.n} ({part.part})" for part in view.drop_off.open_data_parts)
        if left:
            raise Refused(
                f"{drop_off} has open data-bearing parts: {left}",
                hint=f"sanitise, destroy or return each: salvage custody show {drop_off}",
            )
        if not view.drop_off.data_parts:
            raise Refused(
                f"nobody has looked for data-bearing parts in {drop_off}",
                hint=f"salvage custody search {drop_off} 'none found' --scope …",
            )
        if view.closed:
            raise Refused(f"{drop_off} is {view.standing}")
        change.append("dropoff.closed", (drop_off,), {"note": note})
        return view_custody(change.conn, drop_off)

    return shop.commit("close drop-off", steps, dry_run=dry_run)
