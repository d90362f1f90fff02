"""Deeds with pieces: finished, priced, sold, ordered, taken to a fair, recalled; and with waste."""

from __future__ import annotations

import random
from collections.abc import Mapping

from salvage.ids import Code
from salvage.knowledge.amounts import parse_amount
from salvage.work import (
    articles,
    assays,
    checkpoints,
    consigning,
    donors,
    forget,
    gate_steps,
    materials,
    order_making,
    orders,
    outing_day,
    outings,
    packing,
    pieces,
    planning,
    recall,
    recall_settle,
    selling,
    times,
    tools,
    waste,
)
from salvage.work.plan_search import Search
from salvage.work.slips import Discount, SaleItem, Terms
from salvage.work.wishes import parse_demand
from salvage.work.workshop import Workshop
from tests.faults.deeds import Deed, pick


def _piece(shop: Workshop, dice: random.Random, *stages: str) -> Code:
    marks = ", ".join("?" * len(stages))
    query = (
        f"SELECT code FROM piece WHERE recalled = 0 AND stage IN ({marks})"
        " ORDER BY code DESC LIMIT 12"
    )
    return pick(shop, dice, query, *stages)


def _finish(shop: Workshop, dice: random.Random) -> None:
    code = _piece(shop, dice, "rough", "sanded", "sealed", "assembled")
    stage = dice.choice(("sanded", "sealed", "ready", "ready"))
    pieces.set_stage(shop, pieces=[code], stage=stage)


def _price(shop: Workshop, dice: random.Random) -> None:
    code = _piece(shop, dice, "rough", "sanded", "ready")
    pieces.set_price(shop, pieces=[code], price_minor=dice.randrange(500, 3000))


def _weigh(shop: Workshop, dice: random.Random) -> None:
    weight_g = round(dice.uniform(0.5, 1.5), 1)
    pieces.weigh_piece(shop, piece=_piece(shop, dice, "rough", "ready"), weight_g=weight_g)


def _sell(shop: Workshop, dice: random.Random) -> None:
    pieces.sell(shop, piece=_piece(shop, dice, "ready"), price_minor=1800, venue="Quay")


def _sell_several(shop: Workshop, dice: random.Random) -> None:
    items = [
        SaleItem(_piece(shop, dice, "ready"), price_minor=1500),
        SaleItem(words="small kite", price_minor=dice.randrange(400, 900)),
        SaleItem(words="tern", price_minor=dice.randrange(400, 900)),
    ]
    selling.sell_pieces(
        shop, items=items, terms=Terms(shop.today, "cash"), discount=Discount(ppm=100_000)
    )


def _take_back(shop: Workshop, dice: random.Random) -> None:
    pieces.take_back(shop, piece=_piece(shop, dice, "sold"), reason="pin loose")


def _describe(shop: Workshop, dice: random.Random) -> None:
    new = gate_steps.NewProduct("pendant", solder="absent", component="absent")
    gate_steps.describe_pieces(shop, pieces=[_piece(shop, dice, "rough", "ready")], new=new)


def _assay(shop: Workshop, dice: random.Random) -> None:
    new = assays.NewAssay(
        "lead", parse_amount("120 ppm"), "x-ray fluorescence", part="laminate", instrument="XRF 3"
    )
    board = pick(shop, dice, "SELECT code FROM board WHERE retired = ''")
    assays.record_assay(shop, code=board, new=new)


def _assemble(shop: Workshop, dice: random.Random) -> None:
    one, other = (_piece(shop, dice, "rough", "sanded", "ready") for _ in range(2))
    articles.assemble(shop, parts=[one, other], name="brooch", note="two rivets")


def _take_apart(shop: Workshop, dice: random.Random) -> None:
    article = pick(shop, dice, "SELECT article FROM part WHERE taken_out_at = ''")
    articles.take_apart(shop, article=article, reason="a rivet broke")


def _note_time(shop: Workshop, dice: random.Random) -> None:
    code = _piece(shop, dice, "rough", "sanded", "ready")
    times.note_time(shop, pieces=[code], step="finishing", seconds=60)


def _take_order(shop: Workshop, dice: random.Random) -> None:
    wish = [parse_demand(shop, "circle@14:2"), parse_demand(shop, "oval@20:1")]
    new = orders.NewOrder(f"buyer {dice.random()}", wish, "mirren@example.org")
    orders.take_order(shop, new=new)


def _order(shop: Workshop, dice: random.Random, *states: str) -> Code:
    marks = ", ".join("?" * len(states))
    return pick(shop, dice, f"SELECT code FROM customer_order WHERE state IN ({marks})", *states)


def _quote(shop: Workshop, dice: random.Random) -> None:
    each = {"circle@14": 1250, "oval@20": 2400}
    order = _order(shop, dice, "asked", "quoted")
    orders.quote_order(shop, order=order, each=each, valid_until=shop.today)


def _accept(shop: Workshop, dice: random.Random) -> None:
    orders.answer_quote(shop, order=_order(shop, dice, "quoted"), accepted=True)


def _set_aside(shop: Workshop, dice: random.Random) -> None:
    order_making.set_aside(
        shop,
        order=_order(shop, dice, "asked", "quoted", "accepted"),
        pieces=[_piece(shop, dice, "rough", "sanded", "ready")],
        line="circle@14",
    )


def _free(shop: Workshop, dice: random.Random) -> None:
    held = pick(shop, dice, "SELECT piece FROM set_aside")
    order_making.free_pieces(shop, pieces=[held], reason="not alike")


def _hand_over_order(shop: Workshop, dice: random.Random) -> None:
    order = pick(shop, dice, "SELECT customer_order FROM set_aside")
    order_making.hand_over(shop, order=order, terms=Terms(shop.today, "transfer"))


def _cancel_order(shop: Workshop, dice: random.Random) -> None:
    orders.cancel_order(shop, order=_order(shop, dice, "asked", "quoted"), reason="one was enough")


def _plan(shop: Workshop, dice: random.Random) -> None:
    demand = parse_demand(shop, "circle@14:2")
    whom = f"order {dice.randrange(99)}"
    planning.plan_order(shop, demands=[demand], for_whom=whom, search=Search(0, lambda: 0.0))


def _plan_outing(shop: Workshop, dice: random.Random) -> None:
    new = outings.NewOuting(f"fair {dice.randrange(999)}", shop.today, stall_fee_minor=3500)
    outings.plan_outing(shop, new=new)


def _outing(shop: Workshop, dice: random.Random, state: str) -> Code:
    return pick(shop, dice, "SELECT code FROM outing WHERE state = ?", state)


def _pack(shop: Workshop, dice: random.Random) -> None:
    packed = [_piece(shop, dice, "ready")]
    packing.pack(shop, outing=_outing(shop, dice, dice.choice(("planned", "open"))), pieces=packed)


def _open_outing(shop: Workshop, dice: random.Random) -> None:
    outing_day.open_outing(shop, outing=_outing(shop, dice, "planned"), float_minor=9000)


def _move_cash(shop: Workshop, dice: random.Random) -> None:
    amount = dice.choice((500, -500))
    outing_day.move_cash(
        shop, outing=_outing(shop, dice, "open"), amount_minor=amount, reason="tea"
    )


def _bring_home(shop: Workshop, dice: random.Random) -> None:
    home = [_piece(shop, dice, "ready")]
    outing_day.bring_home(shop, outing=_outing(shop, dice, "open"), pieces=home)


def _close_outing(shop: Workshop, dice: random.Random) -> None:
    count = outing_day.Count(9000, all_missing=True, reason="counted twice")
    outing_day.close_outing(shop, outing=_outing(shop, dice, "open"), count=count)


def _add_batch(shop: Workshop, dice: random.Random) -> None:
    new = materials.NewBatch("sealant", "varnish", lot=f"{dice.randrange(999)}", notes="tin")
    materials.add_batch(shop, new=new)


def _use_batch(shop: Workshop, dice: random.Random) -> None:
    batch = pick(shop, dice, "SELECT code FROM batch WHERE recalled = 0")
    used_for = [_piece(shop, dice, "rough", "sanded", "ready")]
    materials.use_batches(shop, batches=[batch], pieces=used_for, use=materials.Use("sealed"))


def _describe_tool(shop: Workshop, dice: random.Random) -> None:
    new = tools.NewTool(f"filter {dice.randrange(99)}", "filter", None, None, 40.0, "the sheet")
    tools.describe_tool(shop, new=new)


def _log_hours(shop: Workshop, dice: random.Random) -> None:
    tools.log_hours(shop, minutes=dice.randrange(5, 90))


def _open_container(shop: Workshop, dice: random.Random) -> None:
    waste.open_container(shop, new=waste.NewContainer("offcuts", limit_days=90))


def _put_in(shop: Workshop, dice: random.Random) -> None:
    bin_ = pick(shop, dice, "SELECT code FROM waste_container WHERE closed_on = ''")
    source = pick(shop, dice, "SELECT code FROM board WHERE retired = ''")
    waste.put_in(shop, container=bin_, new=waste.NewWaste("offcut", source))


def _send_waste(shop: Workshop, dice: random.Random) -> None:
    bin_ = pick(shop, dice, "SELECT container FROM waste_item")
    items = (consigning.Handed(bin_, "", 3.2),)
    new = consigning.NewHandOver("Quay Street recycling yard", items, "W-77", "Q-89")
    consigning.hand_over(shop, new=new)


def _confirm_waste(shop: Workshop, dice: random.Random) -> None:
    sent = pick(shop, dice, "SELECT consignment FROM consignment_detail WHERE confirmation = ''")
    consigning.confirm_receipt(shop, consignment=sent, confirmation="R-2291")


def _open_recall(shop: Workshop, dice: random.Random) -> None:
    subject = pick(shop, dice, "SELECT code FROM board WHERE recalled = 0 AND cut_count > 0")
    recall.open_recall(shop, subject=subject, reason="mercury switch")


def _settle_recall(shop: Workshop, dice: random.Random) -> None:
    code = pick(shop, dice, "SELECT code FROM recall WHERE state = 'open'")
    item = pick(shop, dice, "SELECT code FROM recall_item WHERE recall = ?", code)
    recall_settle.settle_items(shop, recall=code, outcome="not affected", items=[item], note="lamp")


def _close_recall(shop: Workshop, dice: random.Random) -> None:
    code = pick(shop, dice, "SELECT code FROM recall WHERE state = 'open'")
    recall.close_recall(shop, recall=code, outcome="looked at", anyway="a drill")


def _forget_donor(shop: Workshop, dice: random.Random) -> None:
    donor = pick(
        shop, dice, "SELECT code FROM donor WHERE code NOT IN (SELECT donor FROM forgotten)"
    )
    forget.forget_donor(shop, donor=donor, reason="asked by letter")


def _set_naming(shop: Workshop, dice: random.Random) -> None:
    donor = pick(
        shop, dice, "SELECT code FROM donor WHERE code NOT IN (SELECT donor FROM forgotten)"
    )
    donors.set_naming(shop, donor=donor, naming="anonymous", naming_how="by letter")


def _sign(shop: Workshop, dice: random.Random) -> None:
    checkpoints.sign_checkpoint(shop)


SELLING: Mapping[str, tuple[int, Deed]] = {
    "finish": (8, _finish),
    "price": (3, _price),
    "weigh piece": (1, _weigh),
    "sell": (3, _sell),
    "sell several": (3, _sell_several),
    "take back": (2, _take_back),
    "describe piece": (1, _describe),
    "assay": (1, _assay),
    "assemble": (2, _assemble),
    "take apart": (1, _take_apart),
    "note time": (1, _note_time),
    "take order": (2, _take_order),
    "quote": (2, _quote),
    "accept quote": (1, _accept),
    "set aside": (2, _set_aside),
    "free": (1, _free),
    "hand over order": (1, _hand_over_order),
    "cancel order": (1, _cancel_order),
    "plan": (1, _plan),
    "plan outing": (1, _plan_outing),
    "pack": (3, _pack),
    "open outing": (1, _open_outing),
    "move cash": (1, _move_cash),
    "bring home": (1, _bring_home),
    "close outing": (1, _close_outing),
    "add batch": (1, _add_batch),
    "use batch": (2, _use_batch),
    "describe tool": (1, _describe_tool),
    "log hours": (1, _log_hours),
    "open container": (1, _open_container),
    "put in container": (2, _put_in),
    "send waste": (1, _send_waste),
    "confirm waste": (1, _confirm_waste),
    "open recall": (1, _open_recall),
    "settle recall": (1, _settle_recall),
    "close recall": (1, _close_recall),
    "forget donor": (1, _forget_donor),
    "set naming": (1, _set_naming),
    "sign checkpoint": (1, _sign),
}
"""Deeds from the finished piece to the sale and after, and how often each comes."""
