"""Pieces: the list of those in the house, and one with its story, stages, price and sales."""

from __future__ import annotations

from salvage.errors import BadValue
from salvage.ids import Code
from salvage.records.choices import BENCH_STAGES, parse_choice
from salvage.records.region import region_of_text
from salvage.units import format_money, parse_date, parse_mass_g, parse_money
from salvage.web.board_deeds import add_photo
from salvage.web.discreet import seen_by
from salvage.web.doors import Way
from salvage.web.visit import Answer, Bytes, Done, Sheet, Visit
from salvage.work import pieces
from salvage.work.cards import print_card
from salvage.work.gate import ADVICE, view_gate
from salvage.work.history import read_history
from salvage.work.look import draw_board_map
from salvage.work.once import DoneBefore
from salvage.work.papers import compose_card
from salvage.work.photos import list_photos
from salvage.work.reading import read_code

_MOST = 200


def show_pieces(visit: Visit) -> Answer:
    """Pieces, newest first."""
    state = visit.text("state")
    if state not in pieces.PIECE_STATES:
        state = parse_choice(state, tuple(pieces.PIECE_STATES), field="state")
    found = pieces.list_pieces(visit.shop, state=state, most=_MOST)
    facts = {
        "pieces": found,
        "state": state,
        "states": tuple(pieces.PIECE_STATES),
        "stages": (*BENCH_STAGES, "withdrawn"),
    }
    return Sheet("pieces.html", "Pieces", facts)


def show_piece(visit: Visit) -> Answer:
    """One piece."""
    code = visit.code("P")
    view = pieces.view_piece(visit.shop.conn, code)
    card = compose_card(visit.shop, view)
    history = seen_by(visit.guest, read_history(visit.shop, code))
    facts = {
        "view": view,
        "piece": view.piece,
        "card": card,
        "region": region_of_text(view.cut.region),
        "photos": list_photos(visit.shop, code),
        "stages": BENCH_STAGES,
        "history": history,
        "today": visit.shop.today,
        "gate": view_gate(visit.shop, piece=code),
        "advice": ADVICE,
    }
    return Sheet("piece.html", f"{code} {view.piece.shape}", facts)


def show_place(visit: Visit) -> Answer:
    """Where on its board a piece was."""
    view = pieces.view_piece(visit.shop.conn, visit.code("P"))
    region = region_of_text(view.cut.region)
    data = draw_board_map(
        visit.shop, board=view.board.code, highlight=region, px_per_mm=3, legend=False
    )
    return Bytes(data, "image/png")


def _chosen(visit: Visit) -> list[Code]:
    """The piece in the address, or those that were ticked."""
    if "code" in visit.path:
        return [visit.code("P")]
    ticked = [
        read_code(visit.shop, text=text, kinds="P") for text in visit.several.get("piece", ())
    ]
    if not ticked:
        raise BadValue("no piece was ticked", field="piece")
    return ticked


def _done(codes: list[Code], words: str) -> Done:
    then = f"/piece/{codes[0]}" if len(codes) == 1 else "/piece"
    return Done(f"{', '.join(codes)}: {words}.", tuple(codes), then)


def set_stage(visit: Visit) -> Answer:
    """Move pieces on."""
    codes = _chosen(visit)
    stage = parse_choice(visit.text("stage"), (*BENCH_STAGES, "withdrawn"), field="stage")
    pieces.set_stage(visit.shop, pieces=codes, stage=stage, note=visit.text("note"))
    return _done(codes, stage)


def weigh(visit: Visit) -> Answer:
    """Record a piece's weight."""
    code = visit.code("P")
    grams = parse_mass_g(visit.text("weight"), field="weight")
    pieces.weigh_piece(visit.shop, piece=code, weight_g=grams)
    return Done(f"{code} weighs {grams:g} g.", (code,), f"/piece/{code}")


def set_price(visit: Visit) -> Answer:
    """Price pieces."""
    codes, currency = _chosen(visit), visit.shop.settings.currency
    minor = parse_money(visit.text("price"), currency=currency, field="price")
    pieces.set_price(visit.shop, pieces=codes, price_minor=minor)
    return _done(codes, format_money(minor, currency))


def sell(visit: Visit) -> Answer:
    """Record a sale."""
    code, currency = visit.code("P"), visit.shop.settings.currency
    price, day = visit.text("price"), visit.text("date")
    view = pieces.sell(
        visit.shop,
        piece=code,
        price_minor=parse_money(price, currency=currency, field="price") if price else None,
        venue=visit.text("venue"),
        sold_on=parse_date(day, today=visit.shop.today, field="date") if day else None,
    )
    paid = format_money(view.sales[-1].price_minor, currency)
    return Done(f"{code} is sold for {paid}.", (code,), f"/piece/{code}")


def take_back(visit: Visit) -> Answer:
    """Record that a piece came back."""
    code, day = visit.code("P"), visit.text("date")
    if not visit.text("reason"):
        raise BadValue("say why it came back", field="reason")
    pieces.take_back(
        visit.shop,
        piece=code,
        reason=visit.text("reason"),
        returned_on=parse_date(day, today=visit.shop.today, field="date") if day else None,
    )
    return Done(f"{code} came back.", (code,), f"/piece/{code}")


def card(visit: Visit) -> Answer:
    """The story card to print, and a record of what it said."""
    code = visit.code("P")
    large = bool(visit.text("large"))
    try:
        data = print_card(visit.shop, piece=code, large=large)
    except DoneBefore:  # asked for once more: the record of it stands
        data = print_card(visit.shop, piece=code, large=large, dry_run=True)
    return Bytes(data, "application/pdf", name=f"card-{code}.pdf")


def keep_photo(visit: Visit) -> Answer:
    """Keep a photo of a piece."""
    return add_photo(visit, visit.code("P"))


WAYS = (
    Way("/piece", show_pieces),
    Way("/piece/stage", set_stage, form=show_pieces),
    Way("/piece/price", set_price, form=show_pieces, role="owner"),
    Way("/piece/{code}", show_piece),
    Way("/piece/{code}/place.png", show_place),
    Way("/piece/{code}/stage", set_stage, form=show_piece),
    Way("/piece/{code}/weigh", weigh, form=show_piece),
    Way("/piece/{code}/price", set_price, form=show_piece, role="owner"),
    Way("/piece/{code}/sell", sell, form=show_piece, role="owner"),
    Way("/piece/{code}/return", take_back, form=show_piece, role="owner"),
    Way("/piece/{code}/card", card, form=show_piece),
    Way("/piece/{code}/photo", keep_photo, form=show_piece),
)
