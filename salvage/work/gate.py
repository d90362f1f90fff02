"""
What stands between a piece and its sale, point by point: each with its limit, source and verdict.

It blocks or warns; it clears nothing in law. What nobody looked at counts as present, what nobody
tested counts as not shown, and the local authority has the last word. Limits hold for each part, a
coating is no barrier, and neither a date nor a RoHS mark is evidence of anything here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from salvage.errors import Held
from salvage.frozen import dataclass, replace
from salvage.knowledge.product_rules import (
    Judgement,
    ProductRule,
    is_skin_contact,
    rules_of,
)
from salvage.records.gate import Accepted, Assay, PieceAudience, PieceProduct
from salvage.store.lookup import load_piece
from salvage.store.rows import select, select_one
from salvage.work.assays import judge_assay
from salvage.work.own_facts import own_limits
from salvage.work.touchable import SeenPart, product_of, touchable_parts, was_sealed

if TYPE_CHECKING:
    import sqlite3
    from datetime import date

    from salvage.ids import Code
    from salvage.knowledge.limits import Limit
    from salvage.records.things import Piece
    from salvage.work.workshop import Workshop

ADVICE = "Limits change and copies age: ask your local authority before you sell."
"""What is said wherever the gate is shown."""


@dataclass(frozen=True, slots=True)
class Point:
    """
    One question of the gate with its answer.

    Args:
        name: By which it is accepted, such as ``eu-jewellery-lead:solder``.
        market: Where it is asked; empty for everywhere.
        verdict: ``meets``, ``exceeds``, ``cannot tell``, ``not tested``, ``not known`` or ``said``.
        effect: ``clear``, ``warns`` or ``stops``.
        words: In a sentence.
        limit: The row behind it; None where no row is.
        may_accept: Whether a person may answer for it with a reason.
        accepted: The reason of whoever did; empty while nobody has.
    """

    name: str
    market: str
    verdict: str
    effect: str
    words: str
    limit: Limit | None = None
    may_accept: bool = False
    accepted: str = ""

    @property
    def source(self) -> str:
        """Where it comes from, and how far that may be trusted."""
        return self.limit.source.marked_words if self.limit else "common practice, no source"


@dataclass(frozen=True, slots=True)
class GateView:
    """
    A piece at the gate.

    Args:
        piece: The piece.
        product: What it is to be.
        audience: ``adult`` or ``child``.
        markets: Where the workshop sells.
        parts: What a buyer can touch.
        points: All questions, the gravest first.
        accepted: Every acceptance ever given, whether it is still needed or not.
    """

    piece: Piece
    product: str
    audience: str
    markets: tuple[str, ...]
    parts: tuple[SeenPart, ...]
    points: tuple[Point, ...]
    accepted: tuple[Accepted, ...]

    @property
    def stops(self) -> tuple[Point, ...]:
        """Points that keep it from being sold."""
        return tuple(point for point in self.points if point.effect == "stops")

    @property
    def for_children(self) -> bool:
        """True only while it is marked for children and every point is met by evidence."""
        return self.audience == "child" and not self.stops


_ORDER = ("stops", "warns", "clear")


def view_gate(shop: Workshop, *, piece: Code) -> GateView:
    """The gate of a piece as it stands today; NotFound where there is none."""
    return gate_of(shop.conn, load_piece(shop.conn, piece), shop.settings.markets, shop.today)


def gate_of(
    conn: sqlite3.Connection, piece: Piece, markets: str, day: date, *, audience: str = ""
) -> GateView:
    """
    The gate of a piece.

    Args:
        conn: Open connection.
        piece: The piece.
        markets: As the settings keep them.
        day: Limits that are in force on it count.
        audience: To ask as if it were for these; that of the record when empty.
    """
    chosen = tuple(market for market in markets.split(",") if market)
    key = (piece.code,)
    known = product_of(conn, piece.code)
    marked = select_one(conn, PieceAudience, "FROM piece_audience WHERE piece = ?", key)
    accepted = select(conn, Accepted, "FROM gate_accepted WHERE piece = ? ORDER BY n", key)
    meant = audience or (marked.audience if marked else "adult")
    parts = touchable_parts(conn, piece.code)
    own = own_limits(conn)
    rules = {market: rules_of(market, day=day, own=own) for market in chosen}
    points = [
        *_state_points(piece),
        *_market_points(rules, known.product, meant, parts),
        *_practice_points(conn, piece, known),
        *_limit_points(rules, known.product, meant, parts),
    ]
    reasons = {each.point: each.reason for each in accepted} if meant == "adult" else {}
    told = [_with_reason(point, reasons.get(point.name, "")) for point in points]
    told.sort(key=lambda point: _ORDER.index(point.effect))
    return GateView(piece, known.product, meant, chosen, parts, tuple(told), accepted)


def _with_reason(point: Point, reason: str) -> Point:
    """The point with the reason of whoever answers for it; it warns for ever."""
    if not reason or not point.may_accept or point.effect == "clear":
        return point
    return replace(point, effect="warns", accepted=reason)


def _state_points(piece: Piece) -> Iterator[Point]:
    if piece.recalled:
        yield Point("recalled", "", "said", "stops", "it is recalled and may not be sold")
    if piece.stage == "withdrawn":
        yield Point("withdrawn", "", "said", "stops", "it is withdrawn and may not be sold")


_Rules = Mapping[str, tuple[ProductRule, ...]]


def _market_points(
    rules: _Rules, product: str, audience: str, parts: Sequence[SeenPart]
) -> Iterator[Point]:
    """Where nothing is known, that is said; for children it stops the piece."""
    effect = "stops" if audience == "child" else "warns"
    if not rules:
        words = "no market is chosen, so nothing is held against a limit: salvage setup markets=…"
        yield Point("no-market", "", "not known", effect, words)
    ages = ("child",) if audience == "child" else ("adult", "any")
    for market, held in rules.items():
        meant = [rule for rule in held if rule.audience in ages]
        if any(rule.binds(product, part.part, audience) for rule in meant for part in parts):
            continue
        whose = "children's" if audience == "child" else "adults'"
        words = (
            f"no limit for {whose} goods of this kind in {market} is in our list, which does not"
            " mean that none is in force"
        )
        yield Point(f"no-limits:{market}", market, "not known", effect, words)


def _practice_points(
    conn: sqlite3.Connection, piece: Piece, known: PieceProduct
) -> Iterator[Point]:
    if known.product == "unknown":
        words = (
            "nobody said what it is to be, so it counts as jewellery on the skin with a post:"
            f" salvage gate describe {piece.code} …"
        )
        yield Point("product", "", "not known", "warns", words)
    if is_skin_contact(known.product) and not was_sealed(conn, piece.code):
        words = (
            "it lies on the skin, and neither a sealing stage nor a sealant is on record"
            " (a seal keeps dust and fibres in; it is no barrier for lead)"
        )
        yield Point("sealing", "", "not known", "warns", words, may_accept=True)


def _limit_points(
    rules: _Rules, product: str, audience: str, parts: Sequence[SeenPart]
) -> Iterator[Point]:
    asked: dict[str, list[str]] = {}
    single: dict[str, ProductRule] = {}
    for market, held in rules.items():
        for rule in held:
            asked.setdefault(rule.limit.slug, []).append(market)
            single[rule.limit.slug] = rule
    for part in parts:
        binding = [rule for rule in single.values() if rule.binds(product, part.part, audience)]
        for group in _groups(binding):
            where = ", ".join(asked[group[0].limit.slug])
            yield _limit_point(group, part, where, audience)


def _groups(rules: Sequence[ProductRule]) -> Iterator[tuple[ProductRule, ...]]:
    """Each rule alone, but those that are ways to meet one duty together."""
    told: set[str] = set()
    for rule in rules:
        if not rule.either:
            yield (rule,)
        elif rule.either not in told:
            told.add(rule.either)
            yield tuple(each for each in rules if each.either == rule.either)


def _limit_point(group: Sequence[ProductRule], part: SeenPart, market: str, audience: str) -> Point:
    """One part against one duty: met by any of its ways, else as bad as its first way."""
    found = [(rule, *_judge_part(rule, part)) for rule in group]
    met = next((each for each in found if each[1].word == "meets"), None)
    rule, judgement, assay = met or found[0]
    open_way = any(each[1].word != "exceeds" for each in found)
    limit = rule.limit
    told = f"{limit.subject} in {part.part} ({part.words}), {limit.words} in {limit.jurisdiction}"
    result = f": {judgement.word}{f' ({judgement.why})' if judgement.why else ''}"
    which = f", assay {assay.n} of {assay.code}" if assay else ""
    if judgement.word == "meets":
        effect = "clear"
    elif judgement.word == "exceeds" and not open_way:
        effect = "stops"
    else:
        # A row that nobody read weighs less, but for children nothing does.
        effect = "warns" if limit.source.is_weak and audience == "adult" else "stops"
    return Point(
        f"{limit.slug}:{part.name}",
        market,
        judgement.word,
        effect,
        told + result + which,
        limit,
        may_accept=open_way and audience == "adult",
    )


def _judge_part(rule: ProductRule, part: SeenPart) -> tuple[Judgement, Assay | None]:
    """The worst that the results say; a part without any was not tested."""
    wanted = (rule.analyte, rule.measure)
    fitting = [assay for assay in part.assays if (assay.analyte, assay.measure) == wanted]
    judged = [(judge_assay(assay, rule), assay) for assay in fitting]
    for word in ("exceeds", "meets", "cannot tell", "no comparison"):
        for judgement, assay in judged:
            if judgement.word == word:
                return judgement, assay
    return Judgement("not tested"), None


def check_gate(conn: sqlite3.Connection, piece: Piece, markets: str, day: date) -> None:
    """
    Raise while a point keeps a piece from being sold.

    Raises:
        Held: With the points.
    """
    view = gate_of(conn, piece, markets, day)
    if not view.stops:
        return
    first, *rest = view.stops
    more = f", and {len(rest)} more" if rest else ""
    raise Held(
        f"{piece.code} is not for sale yet: {first.words}{more}",
        hint=f"see each with its source, and what can be done: salvage gate show {piece.code}",
    )
