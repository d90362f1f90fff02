"""Papers of a recall, from facts of the record: the list for the bench, the notice for buyers."""

from __future__ import annotations

import re
from datetime import datetime
from itertools import groupby

from salvage.errors import Refused
from salvage.ids import Code
from salvage.store.journal import read_head
from salvage.work.papers import fonts_of, naming_glyph, symbol_svg
from salvage.work.recall import RecallView, view_recall
from salvage.work.whereabouts import GROUP_WORDS
from salvage.work.workshop import Workshop

# Words that a notice may not hold under Regulation (EU) 2023/988, article 36 (from memory), since
# they make a danger look smaller.
_SOFT = re.compile(
    r"voluntar\w*|precaution\w*|discretion\w*|rare (?:cases?|situations?)"
    r"|no (?:accidents?|injur\w*)",
    re.IGNORECASE,
)
_CLOCKS = ("us-recall-report", "eu-recall-notice", "eu-documents-kept")


def soft_words(text: str) -> tuple[str, ...]:
    """
    Words of a text that play a danger down, which some places forbid on a notice.

    >>> soft_words("A voluntary recall, out of precaution")
    ('voluntary', 'precaution')
    """
    return tuple(_SOFT.findall(text))


def print_recall_list(shop: Workshop, *, recall: Code) -> bytes:
    """
    The list of a recall for the bench, as PDF.

    Raises:
        NotFound: If there is no such recall.
    """
    from salvage.paper.recall_papers import RecallList
    from salvage.paper.recall_papers import print_recall_list as typeset_list

    view = view_recall(shop.conn, recall)
    head = read_head(shop.conn, shop.settings.device)
    sheet = RecallList(
        code=recall,
        symbol_svg=symbol_svg(recall),
        workshop=shop.settings.name,
        subject=view.recall.subject,
        reason=view.recall.reason,
        learned_on=_hour(view.recall.learned_on),
        clocks=_clocks(),
        groups=_groups(view),
        unknown=tuple((one.code, one.words) for one in view.unknown),
        journal_count=head.count,
        journal_hash=head.hash,
    )
    with naming_glyph(f"the list of {recall}"):
        return typeset_list(sheet, made_on=shop.today, extra_fonts=fonts_of(shop))


def _hour(learned_on: str) -> str:
    """A day, or an instant as the workshop's wall tells it."""
    if "T" not in learned_on:
        return f"{learned_on} (the hour is not on record)"
    return datetime.fromisoformat(learned_on).astimezone().strftime("%Y-%m-%d %H:%M")


def _clocks() -> tuple[str, ...]:
    from salvage.knowledge.limits import find_limit
    from salvage.knowledge.source import CONFIDENCES

    found = []
    for slug in _CLOCKS:
        limit = find_limit(slug)
        value = f": within {limit.value} {limit.unit}" if limit.operator == "<=" else ""
        value = f": {limit.value} {limit.unit} or longer" if limit.operator == ">=" else value
        trust = CONFIDENCES[limit.source.confidence]
        words = f"{limit.jurisdiction}, {limit.subject}{value}"
        found.append(f"{words} ({limit.source.text}; {trust}).")
    return tuple(found)


def _groups(view: RecallView) -> tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]:
    items = {item.code: item for item in view.items}

    def row(code: Code, what: str, words: str) -> tuple[str, ...]:
        item = items[code]
        settled = f"{item.outcome}, {item.settled_by}, {item.settled_at[:10]}"
        return (code, what, words, settled if item.outcome else "")

    return tuple(
        (
            GROUP_WORDS[group].capitalize(),
            tuple(row(one.code, one.what, one.words) for one in found),
        )
        for group, found in groupby(view.now, lambda one: one.group)
    )


def print_recall_notice(shop: Workshop, *, recall: Code, venue: str = "") -> bytes:
    """
    The notice of a recall for its buyers, or for those of one venue, as PDF.

    It names the pieces that are sold, never a donor or a buyer.

    Args:
        shop: The open workshop.
        recall: The recall's code.
        venue: Only what was sold there; capitals do not matter; all that is sold when empty.

    Raises:
        NotFound: If there is no such recall.
        Refused: If nothing of it is sold, there.
    """
    from salvage.paper.recall_papers import RecallNotice
    from salvage.paper.recall_papers import print_recall_notice as typeset_notice

    view = view_recall(shop.conn, recall)
    wanted = venue.strip().casefold()
    sold = [
        one
        for one in view.now
        if one.group == "sold" and wanted in ("", one.venue.strip().casefold())
    ]
    if not sold:
        where = f" at '{venue}'" if wanted else ""
        venues = sorted({one.venue for one in view.now if one.venue})
        hint = (
            f"sold at: {', '.join(venues)}" if venues else "the list for the bench names the rest"
        )
        raise Refused(f"nothing of {recall} is sold{where}", hint=hint)
    settings = shop.settings
    notice = RecallNotice(
        code=recall,
        workshop=settings.name,
        place=settings.place,
        contact=settings.contact,
        web_address=settings.web_address,
        reason=view.recall.reason,
        to_do=view.recall.to_do,
        venue=sold[0].venue if wanted else "",
        pieces=tuple((one.code, one.what, one.words) for one in sold),
    )
    with naming_glyph(f"the notice of {recall}"):
        return typeset_notice(notice, made_on=shop.today, extra_fonts=fonts_of(shop))
