"""
Making a medium's data unreadable: one attempt with the fields of a certificate.

The person who did it and the person who verified it speak for it. What is not known counts as not
done: flash memory is destroyed only where somebody saw that the memory die itself is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from salvage.canonical import Json
from salvage.errors import BadValue, ManyMistakes, Refused, SalvageError
from salvage.ids import Code
from salvage.knowledge.sanitising import DIE_RULE, Technique, find_technique
from salvage.records.custody import METHODS
from salvage.store.change import Change
from salvage.work.custody import MediumView, find_medium
from salvage.work.custody_steps import append_evidence, keep_evidence
from salvage.work.day_order import check_order
from salvage.work.photos import NewPhoto
from salvage.work.receive import view_drop_off
from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class NewSanitising:
    """
    One attempt, as it will stand on the certificate.

    Args:
        method: One of :data:`salvage.records.custody.METHODS`.
        technique: As :func:`salvage.knowledge.sanitising.find_technique` knows it.
        tool: Tool and version.
        verification: One of :data:`salvage.records.custody.VERIFICATIONS`.
        verified_by: Who verified it.
        verified_title: Their position.
        place: Where it was done and verified.
        standard: What the technique follows, such as ``IEEE 2883``; may be empty.
        die: One of :data:`salvage.records.custody.DIE_STATES`; what was seen of the memory die.
        done_by: Who did it; who is at work when empty.
        done_on: Day; today when None.
        verified_on: Day; that of the work when None.
        verified_place: Where it was verified; where it was done when empty.
        contact: How to reach who verified it, sealed; the workshop's own when empty.
        validation: One of :data:`salvage.records.custody.VALIDATIONS`.
        destination: Where the medium goes afterwards.
        note: Anything else.
        photo: Evidence; None for none.
    """

    method: str
    technique: str
    tool: str
    verification: str
    verified_by: str
    verified_title: str
    place: str
    standard: str = ""
    die: str = "not checked"
    done_by: str = ""
    done_on: date | None = None
    verified_on: date | None = None
    verified_place: str = ""
    contact: str = ""
    validation: str = "accept"
    destination: str = ""
    note: str = ""
    photo: NewPhoto | None = None


def sanitise_medium(
    shop: Workshop, *, drop_off: Code, n: int, new: NewSanitising, dry_run: bool = False
) -> MediumView:
    """
    Record an attempt to make a medium's data unreadable; accepted, it ends the custody.

    Raises:
        NotFound: If there is no such drop-off.
        Refused: If there is no such part, it is settled, not described, or is one of several alike;
            or where the technique does not count as the method on such a medium.
        BadValue: If a field that the certificate needs is empty, or a day is before the one before.
    """
    technique = find_technique(new.technique, field="--technique")
    full = _filled(shop, new)
    _check_told(full, contact=full.contact or shop.settings.contact)
    view_drop_off(shop.conn, drop_off)
    taken = keep_evidence(shop, drop_off, new.photo, dry_run=dry_run)

    def steps(change: Change) -> MediumView:
        found = find_medium(change.conn, drop_off, n)
        _check_medium(found)
        _check_counts(found, full, technique)
        drop = view_drop_off(change.conn, drop_off).drop_off
        done = full.done_on or shop.today
        verified = full.verified_on or done
        check_order(date.fromisoformat(drop.received_on), done, words=f"{drop_off} came")
        check_order(done, verified, words="the work was done", field="--verified-on")
        photo = append_evidence(change, drop_off, taken)
        number = change.next_within("sanitising", "attempt", {"drop_off": drop_off, "n": n})
        data = _fields(full, technique.slug, done=done, verified=verified) | {
            "n": n,
            "attempt": number,
            "contact_seal": change.seal(full.contact),
            "photo": photo,
        }
        change.append("custody.sanitised", (drop_off, drop.donor), data)
        return find_medium(change.conn, drop_off, n)

    return shop.commit("sanitise medium", steps, dry_run=dry_run)


def _fields(new: NewSanitising, technique: str, *, done: date, verified: date) -> dict[str, Json]:
    return {
        "method": new.method,
        "technique": technique,
        "standard": new.standard,
        "tool": new.tool,
        "die": new.die,
        "done_by": new.done_by,
        "done_on": done.isoformat(),
        "place": new.place,
        "verification": new.verification,
        "verified_by": new.verified_by,
        "verified_title": new.verified_title,
        "verified_on": verified.isoformat(),
        "verified_place": new.verified_place,
        "validation": new.validation,
        "destination": new.destination,
        "note": new.note,
    }


def _filled(shop: Workshop, new: NewSanitising) -> NewSanitising:
    return replace(
        new,
        done_by=new.done_by or shop.by,
        verified_place=new.verified_place or new.place,
    )


def _check_told(new: NewSanitising, *, contact: str) -> None:
    """Every field that the certificate needs is told; all that lack are named at once."""
    needed = {
        "--tool": (new.tool, "tool and version, such as 'hand drill, 6 mm bit'"),
        "--verified-by": (new.verified_by, "name of the person"),
        "--title": (new.verified_title, "their position, such as 'bench lead'"),
        "--place": (new.place, "where it was done"),
        "--contact": (contact, "how to reach them, or set the workshop's: setup contact=…"),
    }
    mistakes: list[SalvageError] = [
        BadValue("the certificate needs this", hint=hint, field=flag)
        for flag, (text, hint) in needed.items()
        if not text.strip()
    ]
    if mistakes:
        raise mistakes[0] if len(mistakes) == 1 else ManyMistakes(mistakes)


def _check_medium(found: MediumView) -> None:
    name = f"part {found.part.n} of {found.part.drop_off}"
    if found.part.state != "open":
        raise Refused(
            f"{name} is recorded as {found.part.state} already",
            hint="undo that first if it was a mistake",
        )
    if found.medium is None or found.part.count > 1:
        raise Refused(
            f"{name} is not described as one medium yet",
            hint=f"salvage custody describe {found.part.drop_off} {found.part.n} --serial …",
        )


def _check_counts(found: MediumView, new: NewSanitising, technique: Technique) -> None:
    """Whether the technique counts as the method on this medium."""
    if new.method not in technique.methods:
        at_most = max(technique.methods, key=METHODS.index)
        raise Refused(
            f"{technique.slug} does not count as {new.method}, at most as {at_most}",
            hint=f"{technique.source}",
        )
    if found.media_type not in technique.media:
        raise Refused(
            f"{technique.slug} does not {new.method} {found.media_type} media",
            hint=technique.note or f"it works on: {', '.join(technique.media)}",
        )
    has_die = found.media_type in ("flash", "hybrid")
    if new.method == "destroy" and has_die and new.die != "destroyed" and _ends(new):
        raise Refused(
            f"part {found.part.n} holds its data in a memory die, which is {new.die}. {DIE_RULE}",
            hint="look at the die itself; then --die destroyed, or --result repeat",
        )


def _ends(new: NewSanitising) -> bool:
    return new.validation == "accept"
