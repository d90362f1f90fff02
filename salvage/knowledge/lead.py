"""
What may be said about lead in a piece, and no more.

The status is never inferred from a date or a RoHS mark. Whatever it is, the sentence warns; none of
them certifies. Two findings shape the words: RoHS allows twice the lead of the EU jewellery limit,
and the US rule for children's goods does not count a coating as a barrier.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from salvage.knowledge.date_codes import ROHS_DAY, read_date_code
from salvage.knowledge.limits import find_limit
from salvage.knowledge.source import Source, weakest
from salvage.records.choices import LEAD_STATUSES, parse_choice


@dataclass(frozen=True, slots=True)
class LeadCaution:
    """
    The sentences that a card or screen prints for a lead status.

    Args:
        status: One of :data:`salvage.records.choices.LEAD_STATUSES`.
        text: For the card.
        source: The weakest of what the text rests on.
    """

    status: str
    text: str
    source: Source


_TRADE = Source("common practice, no source", "common-practice")
_AWAY = "Keep it away from children."
_COATING = "A coating is not counted on as a barrier."

_TEXTS = {
    "unknown": f"Lead: not known, so treated as present. {_AWAY} {_COATING}",
    "assumed-leaded": f"Lead: taken to be present in the solder. {_AWAY} {_COATING}",
    "marked-lead-free": (
        "Lead: the board carried a lead-free or RoHS mark. Such a mark does not show that a piece"
        f" meets the limit for jewellery. {_AWAY} {_COATING}"
    ),
    "tested": (
        "Lead: tested; the workshop keeps the record. The result speaks only for the parts and the"
        f" limit it names. {_AWAY}"
    ),
}

_LIMITS_BEHIND = {
    "unknown": ("us-coating-barrier",),
    "assumed-leaded": ("us-coating-barrier",),
    "marked-lead-free": ("eu-rohs-lead", "eu-jewellery-lead", "us-coating-barrier"),
    "tested": ("eu-jewellery-lead",),
}


def parse_lead_status(text: str, *, field: str = "") -> str:
    """
    The lead status that *text* means.

    Raises:
        BadValue: If it is none of them.

    >>> parse_lead_status("Assumed leaded")
    'assumed-leaded'
    """
    return parse_choice(text, LEAD_STATUSES, field=field)


def lead_caution(status: str) -> LeadCaution:
    """
    The caution for a lead status; a word that is no status gets the one for ``unknown``.

    >>> lead_caution("tested").text.startswith("Lead: tested")
    True
    """
    known = status if status in _TEXTS else "unknown"
    sources = [find_limit(slug).source for slug in _LIMITS_BEHIND[known]]
    return LeadCaution(known, _TEXTS[known], weakest([*sources, _TRADE]))


@dataclass(frozen=True, slots=True)
class LeadResult:
    """
    What one assay said of one part.

    Args:
        part: Such as ``laminate``.
        amount: In words, such as ``below 10 ppm``.
        method: Such as ``x-ray fluorescence``.
        tested_on: Day in ISO 8601.
    """

    part: str
    amount: str
    method: str
    tested_on: str

    @property
    def words(self) -> str:
        """One result as a card prints it where it is the only one."""
        return f"{self.part} {self.amount} ({self.method}, {self.tested_on})"

    @property
    def short(self) -> str:
        """One result among several."""
        return f"{self.part} {self.amount}"


_MOST_RESULTS = 4


def lead_statement(
    status: str,
    results: Sequence[LeadResult],
    *,
    untested: Sequence[str] = (),
    for_children: bool = False,
) -> LeadCaution:
    """
    What a card prints about lead: the caution of the status, or figures where parts were tested.

    It tells figures and never a verdict, and says which parts nobody tested. No text says that a
    piece is free of lead: a test shows only that a part has less than it can see.

    Args:
        status: Of the board.
        results: Highest result of each tested part.
        untested: Parts that can be touched and were not tested.
        for_children: Whether the piece is marked for children with its evidence.
    """
    caution = lead_caution(status)
    if not results:
        return caution
    told = results[0].words if len(results) == 1 else _several(results)
    rest = f" Not tested, so treated as present: {', '.join(untested)}." if untested else ""
    away = "" if for_children else f" {_AWAY}"
    text = f"Lead, measured: {told}. A result speaks only for the part it names.{rest}{away}"
    return LeadCaution(caution.status, text, caution.source)


def _several(results: Sequence[LeadResult]) -> str:
    shown = [result.short for result in results[:_MOST_RESULTS]]
    more = len(results) - len(shown)
    return f"{'; '.join(shown)}{f'; {more} more' if more else ''} (method and day on record)"


@dataclass(frozen=True, slots=True)
class Inference:
    """
    One thing that can, or cannot, be concluded about lead from a mark or a date.

    Args:
        text: In sentences.
        source: What it rests on.
    """

    text: str
    source: Source


def infer_lead(date_code: str, *, today: date) -> tuple[Inference, ...]:
    """
    What date and marks say about lead: a lower bound for the age, and nothing about the lead.

    Args:
        date_code: The newest on the board; empty for none.
        today: The workshop's date now.
    """
    rohs, telecom = find_limit("eu-rohs-lead"), find_limit("eu-rohs-telecom")
    jewellery, solder = find_limit("eu-jewellery-lead"), find_limit("sac305-impurity")
    found = [
        Inference(
            f"A RoHS or lead-free mark allows {rohs.value} % lead in each material of equipment;"
            f" jewellery must stay below {jewellery.value} %. So the mark shows nothing about a"
            " pendant, and parts may hold more by exemption: glass, ceramic, brass, high-melting"
            " solder.",
            weakest([rohs.source, jewellery.source]),
        ),
        Inference(
            f"Solder sold as lead-free may itself hold up to {solder.value} % lead.", solder.source
        ),
    ]
    return (*_infer_age(date_code, today, telecom.source), *found)


def _infer_age(date_code: str, today: date, telecom: Source) -> Iterator[Inference]:
    reading = read_date_code(date_code, today=today) if date_code else None
    if reading is None or reading.earliest is None or reading.latest is None:
        yield Inference("No date code is read, so nothing is known about its age.", _TRADE)
        return
    yield Inference(
        f"Date code {date_code}: it was put together in the week of {reading.earliest} at the"
        f" earliest ({reading.note}). Repairs and old stock make it later; no date makes it free of"
        " lead.",
        _TRADE,
    )
    if reading.latest >= ROHS_DAY:
        yield Inference(
            f"That RoHS applied to new equipment from {ROHS_DAY} proves nothing for this board:"
            " servers, storage and telecom equipment were exempt for their solder, and other kinds"
            " came under it years later.",
            telecom,
        )
    if reading.earliest < ROHS_DAY:
        yield Inference(
            f"Before {ROHS_DAY} leaded solder was usual: take the joints to be leaded.", _TRADE
        )
