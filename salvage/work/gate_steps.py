"""Steps at the gate: say what a piece is to be and for whom, and answer for an open point."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from salvage.canonical import Json
from salvage.errors import BadValue, Held, Refused
from salvage.ids import Code
from salvage.knowledge.product_rules import AUDIENCES
from salvage.store.change import Change
from salvage.store.lookup import load_piece
from salvage.work.gate import GateView, gate_of
from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class NewProduct:
    """
    What pieces are to be, and what was seen of each part; what is not said counts as present.

    Args:
        product: One of :data:`salvage.knowledge.product_rules.PRODUCTS`.
        solder: One of :data:`salvage.records.choices.FINDINGS`; joints that can be touched.
        component: Likewise; parts that are still on it.
        metal: Likewise; copper, gold or nickel of the board that is not covered.
        finding: Likewise; ear hooks, rings, clasps. Noted batches are counted in any case.
        coating: Likewise; varnish or resin.
    """

    product: str
    solder: str = "not checked"
    component: str = "not checked"
    metal: str = "not checked"
    finding: str = "not checked"
    coating: str = "not checked"


def describe_pieces(
    shop: Workshop, *, pieces: Sequence[Code], new: NewProduct, dry_run: bool = False
) -> tuple[GateView, ...]:
    """
    Say what pieces are to be; it replaces what was said before.

    Raises:
        NotFound: If a piece is not known.
        Refused: If a piece is sold.
    """
    codes = tuple(dict.fromkeys(pieces))

    def steps(change: Change) -> tuple[GateView, ...]:
        for code in codes:
            _check_here(change, code)
        data: dict[str, Json] = {
            "product": new.product,
            "solder": new.solder,
            "component": new.component,
            "metal": new.metal,
            "finding": new.finding,
            "coating": new.coating,
        }
        change.append("piece.product_set", codes, data)
        return tuple(_gate(shop, change, code) for code in codes)

    return shop.commit("describe pieces", steps, dry_run=dry_run)


def _gate(shop: Workshop, change: Change, code: Code, *, audience: str = "") -> GateView:
    piece = load_piece(change.conn, code)
    return gate_of(change.conn, piece, shop.settings.markets, shop.today, audience=audience)


def _check_here(change: Change, code: Code) -> None:
    if load_piece(change.conn, code).stage == "sold":
        raise Refused(f"{code} is sold", hint=f"salvage piece return {code} if it came back")


def set_audience(
    shop: Workshop, *, piece: Code, audience: str, reason: str, dry_run: bool = False
) -> GateView:
    """
    Mark a piece for adults, or for children where each part has evidence for every chosen market.

    Raises:
        NotFound: If there is no such piece.
        Refused: If it is sold.
        Held: If a part lacks evidence that meets a limit for children; no reason overrides that.
        BadValue: If no reason is given, or nobody said what the piece is to be.
    """
    if audience not in AUDIENCES:
        raise BadValue(f"'{audience}' is neither adult nor child", field="AUDIENCE")
    if not reason.strip():
        raise BadValue("say what it rests on", hint="such as the report's number", field="--reason")

    def steps(change: Change) -> GateView:
        _check_here(change, piece)
        view = _gate(shop, change, piece, audience=audience)
        if audience == "child":
            _check_children(view)
        rests_on: list[Json] = [
            f"{assay.code}-{assay.n}" for part in view.parts for assay in part.assays
        ]
        data: dict[str, Json] = {"audience": audience, "reason": reason, "rests_on": rests_on}
        change.append("piece.audience_set", (piece,), data)
        return _gate(shop, change, piece)

    return shop.commit("set audience", steps, dry_run=dry_run)


def _check_children(view: GateView) -> None:
    code = view.piece.code
    if view.product == "unknown":
        raise BadValue(
            f"nobody said what {code} is to be", hint=f"salvage gate describe {code} ornament …"
        )
    if view.stops:
        told = "\n".join(f"  {point.words}" for point in view.stops)
        raise Held(
            f"{code} stays marked 'not for children'; it lacks evidence:\n{told}",
            hint="record the laboratory's result for each part: salvage assay add …",
        )


def accept_point(
    shop: Workshop, *, pieces: Sequence[Code], point: str, reason: str, dry_run: bool = False
) -> tuple[GateView, ...]:
    """
    Answer for an open point of pieces with a reason, which stays on their record for ever.

    A result that exceeds a limit, a recall, a withdrawal and children's goods cannot be answered
    for.

    Args:
        shop: The open workshop.
        pieces: Their codes.
        point: Its name, or the beginning of several, such as ``eu-jewellery-lead``.
        reason: Why it is sold all the same.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If a piece is not known.
        Refused: If a piece has no such open point, or nobody may answer for it.
        BadValue: If no reason is given.
    """
    if not reason.strip():
        raise BadValue("say why you answer for it", field="--reason")
    codes = tuple(dict.fromkeys(pieces))

    def steps(change: Change) -> tuple[GateView, ...]:
        for code in codes:
            _check_here(change, code)
            for name in _open_points(_gate(shop, change, code), point):
                n = change.next_numbers("gate_accepted", "piece", code)[0]
                change.append("gate.accepted", (code,), {"n": n, "point": name, "reason": reason})
        return tuple(_gate(shop, change, code) for code in codes)

    return shop.commit("accept point", steps, dry_run=dry_run)


def _open_points(view: GateView, wanted: str) -> list[str]:
    code = view.piece.code
    named = [p for p in view.points if p.name == wanted or p.name.startswith(f"{wanted}:")]
    still = [point for point in named if point.effect != "clear" and not point.accepted]
    fixed = [point for point in still if not point.may_accept]
    if fixed:
        raise Refused(f"nobody can answer for this: {fixed[0].words}")
    if not still:
        known = ", ".join(p.name for p in view.points if p.may_accept and p.effect != "clear")
        raise Refused(f"{code} has no open point '{wanted}'", hint=f"it has: {known or 'none'}")
    return [point.name for point in still]
