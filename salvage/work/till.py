"""The till: scans and keys come in line by line, slips go into the ledger."""

from __future__ import annotations

from dataclasses import dataclass, replace

from salvage.errors import SalvageError
from salvage.records.actions import find_action, is_action
from salvage.records.season import PAYMENTS
from salvage.store.lookup import load_piece
from salvage.units import format_money
from salvage.work.amounts import part_of
from salvage.work.history import undo
from salvage.work.selling import Sold, sell_pieces
from salvage.work.slips import SaleItem, Terms
from salvage.work.till_words import SaleWords, add_word
from salvage.work.workshop import Workshop

KEYS = {"c": "cash", "k": "card", "x": "drop", "u": "undo", "r": "back", "q": "quit"}
"""Single letters, each followed by Enter, that stand for a word."""

HELP = (
    "scan pieces, or type the two letters of the packing list; then c for cash or k for card",
    "=12.50 or =gift behind a piece sets its price; ?kite=12 sells one without a label",
    "-10% or -2 takes something off; given:50 tells the change; r takes the next piece back",
    "x empties the basket; u takes the last sale back; q closes the till",
)
"""What the till takes, line by line."""

_CARDS = {"confirm": "cash", "cancel": "drop", "undo": "undo", "done": "quit", "return": "back"}
_BROUGHT = "brought back at the stall"


@dataclass(frozen=True, slots=True)
class TillAnswer:
    """
    What the till says.

    Args:
        kind: ``basket``, ``sold``, ``told`` or ``refused``.
        words: It, in a line.
        sold: The sale that was made, if one was.
    """

    kind: str
    words: str
    sold: Sold | None = None


class Till:
    """
    One sitting at the till; every sale is in the record before the next line is read.

    Args:
        shop: The open workshop.
        outing: Whose keys count and whose sales these are; empty for none.
        dry_run: Do everything, then roll back.
    """

    def __init__(self, shop: Workshop, *, outing: str = "", dry_run: bool = False) -> None:
        self.shop = shop
        self.outing = outing
        self.basket = SaleWords()
        self.is_over = False
        self._takes_back = False
        self._done: list[str] = []
        self._dry_run = dry_run

    def play(self, line: str) -> tuple[TillAnswer, ...]:
        """What a line brings about, word by word; never raises for what people type."""
        answers: list[TillAnswer] = []
        for word in line.split():
            try:
                answer = self._take(word)
            except SalvageError as error:
                hint = f" ({error.hint})" if error.hint else ""
                return (*answers, TillAnswer("refused", f"{error.message}{hint}"))
            if answer:
                answers.append(answer)
        # What is in the basket is told once, where the line leaves it unpaid.
        return (*(one for one in answers[:-1] if one.kind != "basket"), *answers[-1:])

    def _take(self, word: str) -> TillAnswer | None:
        for text in self._unscrambled(word):
            name = self._name(text)
            if name in PAYMENTS:
                return self._sell(name)
            if name in ("drop", "undo", "back", "quit", "help"):
                return self._act(name)
            self._add(text)
        return self._tell_basket()

    def _unscrambled(self, word: str) -> list[str]:
        """A scanner's line put right where it was typed through another keyboard's layout."""
        from salvage.codes.wedge import parse_scans

        plain = len(word) <= 3 or any(mark in word for mark in "=?:-%")
        return [word] if plain else [scan.text for scan in parse_scans(word)] or [word]

    def _name(self, text: str) -> str:
        lower = text.lower()
        if lower in ("?", "h"):
            return "help"
        if is_action(text.upper()):
            return _CARDS.get(find_action(text).verb, "help")
        return KEYS.get(lower, lower)

    def _add(self, text: str) -> None:
        word = f"back:{text}" if self._takes_back else text
        self.basket = add_word(self.shop, self.basket, word, outing=self.outing)
        self._takes_back = False

    def _act(self, name: str) -> TillAnswer:
        if name == "quit":
            self.is_over = True
            left = "; the basket was not sold" if not self.basket.is_empty else ""
            return TillAnswer("told", f"the till is closed{left}")
        if name == "back":
            self._takes_back = True
            return TillAnswer("told", "scan what comes back")
        if name == "help":
            return TillAnswer("told", "help")
        if name == "drop":
            self.basket, self._takes_back = SaleWords(), False
            return TillAnswer("told", "the basket is empty")
        if not self._done:
            return TillAnswer("refused", "this till has sold nothing that could be taken back")
        taken = undo(self.shop, operation=self._done[-1], why="at the till", dry_run=self._dry_run)
        self._done.pop()
        return TillAnswer("told", f"taken back: {'; '.join(taken.words)}")

    def _sell(self, paid_by: str) -> TillAnswer:
        said = replace(self.basket, paid_by=paid_by)
        sold = sell_pieces(
            self.shop,
            items=said.items,
            terms=Terms(
                self.shop.today,
                paid_by,
                outing=self.outing,
                notes=_BROUGHT if said.back else "",
            ),
            back=said.back,
            discount=said.discount,
            given_minor=said.given_minor,
            dry_run=self._dry_run,
        )
        self.basket = SaleWords()
        slip = sold.sale or sold.refunds[0]
        if not self._dry_run:
            self._done.append(slip.slip.operation)
        return TillAnswer("sold", describe_sold(sold), sold)

    def _tell_basket(self) -> TillAnswer:
        told = [self._tell_item(item) for item in self.basket.items]
        told += [f"back {code}" for code in self.basket.back]
        told += [self._to_pay()] if self.basket.items and not self.basket.back else []
        return TillAnswer("basket", f"{', '.join(told)}: c cash, k card")

    def _to_pay(self) -> str:
        """The sum so far, less the discount; what has no price yet is told where it is sold."""
        off = self.basket.discount
        whole = sum(self._price(item) or 0 for item in self.basket.items if not item.is_gift)
        due = whole - (off.minor or part_of(whole, off.ppm))
        return f"to pay {format_money(due, self.shop.settings.currency)}"

    def _price(self, item: SaleItem) -> int | None:
        if item.price_minor is not None or not item.piece:
            return item.price_minor
        return load_piece(self.shop.conn, item.piece).price_minor

    def _tell_item(self, item: SaleItem) -> str:
        name = item.words
        if item.piece:
            name = f"{item.piece} {load_piece(self.shop.conn, item.piece).shape}"
        if item.is_gift:
            return f"{name} as a gift"
        minor = self._price(item)
        currency = self.shop.settings.currency
        return f"{name} {'no price' if minor is None else format_money(minor, currency)}"


def describe_sold(sold: Sold) -> str:
    """
    A sale in one line, as it is told at the stall.

    Args:
        sold: What it came to.
    """
    parts = []
    if sold.sale:
        names = ", ".join(
            f"{line.piece or '-'} {line.words}{' (gift)' if line.is_gift else ''}"
            for line in sold.sale.lines
        )
        parts.append(f"{sold.sale.slip.number}  {names}")
        off = sum(line.discount_minor for line in sold.sale.lines if not line.is_gift)
        if off:
            parts.append(f"{format_money(off, sold.currency)} off")
    for refund in sold.refunds:
        line = refund.lines[0]
        parts.append(f"{refund.slip.number}  back {line.piece} {line.words}")
    due = sold.to_pay_minor
    paid_by = (sold.sale or sold.refunds[0]).slip.paid_by
    by = f" by {paid_by}" if paid_by else ""
    if due < 0:
        parts.append(f"give back {format_money(-due, sold.currency)}{by}")
    else:
        parts.append(f"to pay {format_money(due, sold.currency)}{by}")
    if sold.change_minor is not None:
        parts.append(f"change {format_money(sold.change_minor, sold.currency)}")
    return "; ".join(parts)
