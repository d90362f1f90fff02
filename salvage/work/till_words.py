"""What is sold, as people scan and type it: codes, keys of a list, prices, ways to pay."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from salvage.errors import BadValue, NotFound, Refused
from salvage.ids import LETTERS, Code
from salvage.records.season import PAYMENTS, OutingPiece
from salvage.store.rows import select
from salvage.units import parse_money
from salvage.work.amounts import parse_rate
from salvage.work.reading import read_code
from salvage.work.slips import NO_DISCOUNT, Discount, SaleItem
from salvage.work.workshop import Workshop

_KEY = re.compile(rf"[{LETTERS}]{{2,3}}")
GIFT = "gift"
"""Stands in the place of a price for what is given away."""


@dataclass(frozen=True, slots=True)
class SaleWords:
    """
    A sale as far as it was said.

    Args:
        items: What is sold.
        back: Pieces that come back.
        discount: Off the whole.
        paid_by: How it is paid; empty while nobody said.
        given_minor: What the buyer laid down.
    """

    items: tuple[SaleItem, ...] = ()
    back: tuple[Code, ...] = ()
    discount: Discount = NO_DISCOUNT
    paid_by: str = ""
    given_minor: int | None = None

    @property
    def is_empty(self) -> bool:
        """Whether nothing was named yet."""
        return not self.items and not self.back


def find_piece(shop: Workshop, *, text: str, outing: str = "") -> Code:
    """
    The piece that a code means, or a key of an outing's packing list.

    Args:
        shop: The open workshop.
        text: As typed or scanned.
        outing: Whose keys count; empty for none.

    Raises:
        BadCode: If it is neither.
        NotFound: If nothing has this key or code.
        Refused: If a key stands for several pieces.
    """
    tidy = text.strip().upper()
    if not _KEY.fullmatch(tidy):
        return read_code(shop, text=text, kinds="P")
    rest = "FROM outing_piece WHERE outing = ? AND key = ? AND state <> 'unpacked' ORDER BY piece"
    found = select(shop.conn, OutingPiece, rest, (outing, tidy))
    if len(found) > 1:
        codes = ", ".join(one.piece for one in found)
        raise Refused(f"the key {tidy} stands for {len(found)} pieces", hint=f"give one: {codes}")
    if not found:
        raise NotFound(
            f"no packed piece has the key {tidy}",
            hint="'salvage outing show' lists them; or give the code",
        )
    return found[0].piece


def add_word(shop: Workshop, said: SaleWords, word: str, *, outing: str = "") -> SaleWords:
    """
    A sale with one more word of it.

    Args:
        shop: The open workshop.
        said: The sale so far.
        word: A code or key, with ``=12.50`` or ``=gift`` if need be; ``?words=12.50`` for a piece
            without a label; ``back:`` before a code that comes back; ``-10%`` or ``-2.50`` off the
            whole; ``given:50``; or a way to pay.
        outing: Whose keys count.

    Raises:
        BadValue: If it is none of these.
    """
    currency, lower = shop.settings.currency, word.lower()
    if lower in PAYMENTS:
        return replace(said, paid_by=lower)
    if lower.startswith("given:"):
        given = parse_money(word[6:], currency=currency, field="given")
        return replace(said, given_minor=given)
    if word.startswith("-"):
        return replace(said, discount=parse_discount(word[1:], currency=currency))
    if lower.startswith("back:"):
        code = find_piece(shop, text=word[5:], outing=outing)
        return said if code in said.back else replace(said, back=(*said.back, code))
    item = parse_item(shop, word, outing=outing)
    if item.piece and any(one.piece == item.piece for one in said.items):
        return said
    return replace(said, items=(*said.items, item))


def parse_item(shop: Workshop, word: str, *, outing: str = "") -> SaleItem:
    """
    One piece with its price, as typed.

    Args:
        shop: The open workshop.
        word: As for :func:`add_word`.
        outing: Whose keys count.
    """
    thing, equals, price = word.partition("=")
    is_gift = price.strip().lower() == GIFT
    minor = None
    if equals and not is_gift:
        minor = parse_money(price, currency=shop.settings.currency, field=thing)
    if thing.startswith("?"):
        return SaleItem(words=thing[1:].replace("_", " "), price_minor=minor, is_gift=is_gift)
    return SaleItem(find_piece(shop, text=thing, outing=outing), "", minor, is_gift)


def parse_discount(text: str, *, currency: str) -> Discount:
    """
    A discount as typed: ``10%`` or an amount.

    Raises:
        BadValue: If it is neither.
    """
    if text.strip().endswith("%"):
        return Discount(ppm=parse_rate(text, field="--discount"))
    return Discount(minor=parse_money(text, currency=currency, field="--discount"))


def read_sale(shop: Workshop, *, words: Sequence[str], outing: str = "") -> SaleWords:
    """
    A whole sale from its words; every mistake is told at once.

    Raises:
        BadValue: For one mistake; ManyMistakes for several.
    """
    from salvage.errors import ManyMistakes, SalvageError

    said, mistakes = SaleWords(), list[SalvageError]()
    for word in words:
        try:
            said = add_word(shop, said, word, outing=outing)
        except SalvageError as mistake:
            mistakes.append(mistake)
    if len(mistakes) == 1:
        raise mistakes[0]
    if mistakes:
        raise ManyMistakes(mistakes)
    if said.is_empty:
        raise BadValue("say what is sold", hint="codes, or keys of the packing list")
    return said
