"""The job at the fair and after: papers, pieces, recyclers, recalls, second thoughts."""

from __future__ import annotations

from datetime import date

from salvage.paper.stock import STOCKS
from salvage.work import (
    cards,
    correct,
    donors,
    history,
    labels,
    mass,
    pieces,
    planning,
    recall,
    recall_causes,
    recall_settle,
    record,
)
from salvage.work.library import choose_shape
from salvage.work.workshop import Workshop
from tests.faces.step import Memory, Step


def _consign(shop: Workshop, memory: Memory) -> None:
    new = mass.NewConsignment(
        "Quay Street recycling yard",
        "coin cells, taped",
        84.0,
        sent_on=date(2026, 5, 3),
        document="Q-88",
        drop_off=memory["drop_off"],
    )
    mass.send_consignment(shop, new=new)


def _correct_drop_off(shop: Workshop, memory: Memory) -> None:
    new = correct.DropOffCorrection(
        received_on=date(2026, 5, 1),
        board_count=0,
        weight_g=6300.0,
        origin_country="GB",
        notes="",
    )
    correct.correct_drop_off(shop, drop_off=memory["drop_off"], new=new, why="misread the scales")


def _plan(shop: Workshop, memory: Memory) -> None:
    shape = choose_shape(shop, name="circle", width_mm=20)
    demand = planning.Demand(shape, 2, "circle@20")
    search = planning.Search(0, lambda: 0.0)
    planning.plan_order(shop, demands=[demand], for_whom="order 40", search=search)


STEPS = (
    Step("plan_order", _plan, 'plan order circle@20:2 --for "order 40" --seconds 0'),
    Step(
        "release_order",
        lambda shop, memory: planning.release_order(shop, for_whom="order 40", reason="late"),
        'plan release --for "order 40" --reason late',
    ),
    Step(
        "print_labels",
        lambda shop, memory: labels.print_labels(
            shop, codes=labels.codes_without_label(shop), stock=STOCKS["a4-3x8"], start=5
        ),
        "label --new --stock a4-3x8 --start 5 --out {out}/labels.pdf",
    ),
    Step(
        "set_stage",
        lambda shop, memory: pieces.set_stage(
            shop,
            pieces=[memory["piece"], memory["oval"]],
            stage="sealed",
            note="two coats",
            batches=[memory["varnish"]],
        ),
        'piece stage {piece} {oval} sealed --note "two coats" --batch {varnish}',
    ),
    Step(
        "set_stage",
        lambda shop, memory: pieces.set_stage(shop, pieces=[memory["oval"]], stage="assembled"),
        "piece stage {oval} assembled",
    ),
    Step(
        "weigh_piece",
        lambda shop, memory: pieces.weigh_piece(shop, piece=memory["piece"], weight_g=4.2),
        "piece weigh {piece} 4.2g",
    ),
    Step(
        "set_price",
        lambda shop, memory: pieces.set_price(
            shop, pieces=[memory["piece"], memory["oval"]], price_minor=1850
        ),
        "piece price {piece} {oval} 18.50",
    ),
    Step(
        "print_cards",
        lambda shop, memory: cards.print_cards(
            shop, pieces=[memory["piece"]], look=cards.CardLook("large")
        ),
        "card {piece} --large --out {out}/card.pdf",
    ),
    Step(
        "print_cards",
        lambda shop, memory: cards.print_cards(
            shop,
            pieces=[memory["piece"], memory["oval"]],
            look=cards.CardLook("price", "letter"),
        ),
        "card {piece} {oval} --design price --on letter --out {out}/tags.pdf",
    ),
    Step(
        "sell",
        lambda shop, memory: pieces.sell(
            shop,
            piece=memory["piece"],
            price_minor=2000,
            venue="Lantern Fair",
            sold_on=date(2026, 5, 4),
        ),
        'piece sell {piece} --price 20 --venue "Lantern Fair" --date 2026-05-04',
    ),
    Step(
        "take_back",
        lambda shop, memory: pieces.take_back(shop, piece=memory["piece"], reason="pin loose"),
        'piece return {piece} --reason "pin loose"',
    ),
    Step(
        "send_consignment",
        _consign,
        (
            'consign --receiver "Quay Street recycling yard" --contents "coin cells, taped"'
            " --weight 84g --date 2026-05-03 --document Q-88 --dropoff {drop_off}"
        ),
    ),
    Step(
        "open_recall",
        lambda shop, memory: (
            recall.open_recall(
                shop, subject=memory["board"], reason="mercury switch", learned_on=date(2026, 5, 3)
            ).recall.code
        ),
        'recall open {board} --reason "mercury switch" --date 2026-05-03',
        "recall",
    ),
    Step(
        "add_to_recall",
        lambda shop, memory: recall.add_to_recall(
            shop, recall=memory["recall"], things=[memory["card"]], why="no date code"
        ),
        'recall add {recall} {card} --why "no date code"',
    ),
    Step(
        "hold_recall",
        lambda shop, memory: recall.hold_recall(shop, recall=memory["recall"], hold=False),
        "recall hold {recall} --off",
    ),
    Step(
        "settle_items",
        lambda shop, memory: recall_settle.settle_items(
            shop,
            recall=memory["recall"],
            outcome="not affected",
            items=[memory["oval"], memory["card"]],
            note="lamp",
        ),
        "recall settle {recall} not-affected {oval} {card} --note lamp",
    ),
    Step(
        "close_recall",
        lambda shop, memory: recall.close_recall(
            shop, recall=memory["recall"], outcome="all looked at", anyway="a drill"
        ),
        'recall close {recall} --outcome "all looked at" --anyway "a drill"',
    ),
    Step(
        "begin_recall",
        lambda shop, memory: (
            recall.begin_recall(
                shop,
                new=recall.NewRecall(
                    recall_causes.from_date_codes("9840-9845"),
                    "leaking cells",
                    "2026-05-03",
                    "Bring it back.",
                ),
            ).recall.code
        ),
        'recall open --date-codes 9840-9845 --reason "leaking cells" --date 2026-05-03'
        ' --to-do "Bring it back."',
        "weeks",
    ),
    Step(
        "close_recall",
        lambda shop, memory: recall.close_recall(
            shop, recall=memory["weeks"], outcome="no cells", anyway="a drill"
        ),
        'recall close {weeks} --outcome "no cells" --anyway "a drill"',
    ),
    Step(
        "retire_board",
        lambda shop, memory: record.retire_board(shop, board=memory["bare"], reason="used up"),
        'board retire {bare} --reason "used up"',
    ),
    Step(
        "correct_drop_off",
        _correct_drop_off,
        "correct dropoff {drop_off} --weight 6.3kg --boards none --date 2026-05-01"
        ' --origin-country gb --notes "" --why "misread the scales"',
    ),
    Step(
        "correct_board",
        lambda shop, memory: correct.correct_board(
            shop,
            board=memory["card"],
            new=correct.BoardCorrection(type="power-supply", maker="Nocturn", thickness_mm=1.5),
            why="read the wrong side",
        ),
        'correct board {card} --type "power supply" --maker Nocturn --thickness 1.5'
        ' --why "read the wrong side"',
    ),
    Step(
        "correct_donor",
        lambda shop, memory: correct.correct_donor(
            shop,
            donor=donors.list_donors(shop)[0].donor.code,
            new=correct.DonorCorrection(name="Kelpie Dome", contact="", source_kind="college"),
            why="renamed",
        ),
        'correct donor {donor} --name "Kelpie Dome" --contact "" --source college --why renamed',
    ),
    Step(
        "undo",
        lambda shop, memory: history.undo(shop, why="wrong board"),
        'undo --why "wrong board" --yes',
    ),
)
"""In the order of the job."""
