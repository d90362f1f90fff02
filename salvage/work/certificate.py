"""The data certificate for a donor, composed from the record only."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING

from salvage.errors import Refused
from salvage.ids import Code
from salvage.knowledge.sanitising import DIE_RULE, certificate_fields, find_technique
from salvage.knowledge.source import weakest
from salvage.records.custody import Sanitising
from salvage.store.journal import read_head
from salvage.store.lookup import read_private
from salvage.work.card_words import format_day
from salvage.work.custody import CustodyView, Handed, MediumView, view_custody
from salvage.work.papers import fonts_of, naming_glyph, symbol_svg
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.paper.data_certificate import CertifiedMedium, DataCertificate

ERASED = "not known, or erased on request"
"""What stands for a sealed text that is not there."""

OPEN_WORDS = "Its custody has not ended: nothing is stated about its data."
"""What stands for an open part, so that the paper is not taken for the end of it."""


def print_certificate(shop: Workshop, *, drop_off: Code, part: int = 0) -> bytes:
    """
    The data certificate of a drop-off, or of one of its parts, as PDF; it is the donor's own copy.

    Args:
        shop: The open workshop.
        drop_off: The drop-off's code.
        part: Number of the only part to tell of; 0 for all, searches included.

    Raises:
        NotFound: If there is no such drop-off.
        Refused: If it has no such part, or nobody has looked for any.
    """
    from salvage.paper.data_certificate import print_data_certificate

    certificate = compose_certificate(shop, view_custody(shop.conn, drop_off), part=part)
    with naming_glyph(f"the data certificate of {drop_off}"):
        return print_data_certificate(certificate, made_on=shop.today, extra_fonts=fonts_of(shop))


def compose_certificate(shop: Workshop, view: CustodyView, *, part: int = 0) -> DataCertificate:
    """Everything that the certificate says, from the record."""
    from salvage.paper.data_certificate import DataCertificate

    found = view.drop_off.drop_off
    media = [medium for medium in view.media if part in (0, medium.part.n)]
    if part and not media:
        known = ", ".join(str(medium.part.n) for medium in view.media) or "none"
        raise Refused(f"{found.code} has no data-bearing part {part}", hint=f"it has: {known}")
    if not view.drop_off.data_parts:
        raise Refused(
            f"nobody has looked for data-bearing parts in {found.code}",
            hint=f"salvage custody search {found.code} 'none found' --scope …",
        )
    settings, head = shop.settings, read_head(shop.conn, shop.settings.device)
    donor = view.drop_off.donor
    return DataCertificate(
        code=found.code,
        received_on=date.fromisoformat(found.received_on),
        workshop=settings.name,
        contact=settings.contact,
        web_address=settings.web_address,
        symbol_svg=symbol_svg(found.code),
        donor=donor.name or donor.public,
        media=tuple(_certified(shop, view, medium) for medium in media),
        searches=() if part else _searches(view),
        source=f"Fields after {weakest(field.source for field in certificate_fields())}.",
        journal_count=head.count,
        journal_hash=head.hash,
    )


def _searches(view: CustodyView) -> tuple[str, ...]:
    told = [
        f"{format_day(date.fromisoformat(each.at[:10]))}, {each.by}: {each.found}."
        f" Looked at: {', '.join(text for text in (each.scope, each.how) if text)}."
        for each in view.searches
    ]
    bare = [
        f"{format_day(date.fromisoformat(part.settled_at[:10]))}, {part.settled_by}: none found."
        for part in view.drop_off.data_parts
        if part.part == "none found"
    ]
    return (*told, *bare[sum(each.found == "none found" for each in view.searches) :])


def _certified(shop: Workshop, view: CustodyView, medium: MediumView) -> CertifiedMedium:
    from salvage.paper.data_certificate import CertifiedMedium

    part, done = medium.part, medium.accepted
    count = f"{part.count} × " if part.count > 1 else ""
    return CertifiedMedium(
        title=f"{medium.number}: {count}{part.part}",
        outcome=_outcome(medium),
        fields=certificate_lines(shop, medium) if medium.medium else (),
        custody=custody_lines(view, medium),
        notes=_notes(medium),
        photo=_evidence(shop, medium),
        is_signed=done is not None,
    )


_OUTCOMES = {
    "open": OPEN_WORDS,
    "returned": "Handed back to the donor.",
    "sanitised": "Made unreadable; the medium was kept whole.",
    "destroyed": "Destroyed.",
}


def _outcome(medium: MediumView) -> str:
    words = _OUTCOMES[medium.part.state]
    told = f" Recorded in short: {medium.part.how}." if _is_short(medium) else ""
    return words + told


def _is_short(medium: MediumView) -> bool:
    """Whether it was settled by the short form, without the fields of a certificate."""
    ended = medium.part.state in ("sanitised", "destroyed", "returned")
    back = any(handed.step.role == "donor" for handed in medium.hand_overs)
    return ended and medium.accepted is None and not back


def certificate_lines(shop: Workshop, medium: MediumView) -> tuple[tuple[str, str], ...]:
    """Label and value of each field of the guideline, but for those that are signed by hand."""
    values = certificate_values(shop, medium)
    return tuple(
        (field.label, values[field.slug]) for field in certificate_fields() if field.slug in values
    )


def certificate_values(shop: Workshop, medium: MediumView) -> Mapping[str, str]:
    """Values by the guideline's field names; those about the work only where work was done."""
    known, done = medium.medium, medium.accepted
    assert known is not None  # only described media are asked
    values = {
        "manufacturer": known.maker,
        "model": known.model,
        "serial-number": medium.serial or ERASED,
        "organization-assigned-property-number": medium.number,
        "media-type": known.media_type,
        "media-source": medium.source or ERASED,
        "pre-sanitization-confidentiality": known.confidentiality,
    }
    return values | (_work_values(shop, done) if done else {})


def _work_values(shop: Workshop, done: Sanitising) -> dict[str, str]:
    own = not done.contact_seal
    contact = shop.settings.contact if own else read_private(shop.conn, done.contact_seal)
    return {
        "sanitization-method": done.method,
        "sanitization-technique": f"{done.technique}, by {done.done_by} on {done.done_on},"
        f" {done.place}",
        "tool-and-version": done.tool,
        "verification-method": done.verification,
        "verified-by-name": done.verified_by,
        "verified-by-title": done.verified_title,
        "verification-date": done.verified_on,
        "verification-location": done.verified_place,
        "verifier-contact": contact or ERASED,
        "media-destination": done.destination,
        "validation-decision": done.validation,
        "technique-standard": done.standard,
    }


def custody_lines(view: CustodyView, medium: MediumView) -> tuple[str, ...]:
    """Each step of a medium's custody from the door on, one line each, in the order of the days."""
    found = view.drop_off.drop_off
    came = (found.received_on, f"{found.received_on}: came in, taken by {found.received_by}.")
    handed = [(each.step.on_day, _handed(each)) for each in medium.hand_overs]
    tried = [
        (each.done_on, f"{each.done_on}: {each.method} by {each.technique}, {each.validation}.")
        for each in medium.attempts
    ]
    short = [(medium.part.settled_at[:10], _settled(medium))] if _is_short(medium) else []
    steps = sorted([came, *handed, *tried, *short], key=lambda step: step[0])
    return tuple(words for _, words in steps)


def _settled(medium: MediumView) -> str:
    part = medium.part
    return f"{part.settled_at[:10]}: {part.state} by {part.settled_by}: {part.how}."


def _handed(handed: Handed) -> str:
    step = handed.step
    who = f" ({handed.to})" if handed.to else ""
    more = "".join(f", {text}" for text in (step.place, step.document, step.note) if text)
    return f"{step.on_day}: handed to the {step.role}{who} by {step.by}{more}."


def _notes(medium: MediumView) -> tuple[str, ...]:
    done = medium.accepted
    if done is None:
        return ()
    technique = find_technique(done.technique)
    same = done.verified_by == done.done_by
    return tuple(
        filter(
            None,
            (
                f"{DIE_RULE} {done.verified_by} saw that it is."
                if done.method == "destroy" and done.die == "destroyed"
                else "",
                f"For {technique.slug} as a way to {done.method}, see: {technique.source}.",
                "The same person did the work and verified it." if same else "",
                f"Note: {done.note}" if done.note else "",
            ),
        )
    )


def _evidence(shop: Workshop, medium: MediumView) -> bytes:
    from salvage.photo.upright import upright_jpeg

    done = medium.accepted
    if done is None or not done.photo:
        return b""
    return upright_jpeg(shop.files.load(done.photo), longest_px=1000)
