"""One spring of donations: who brought what, and what became of it. All of it is invented."""

from __future__ import annotations

from datetime import date

from salvage.geometry.outline import rectangle
from salvage.ids import Code
from salvage.work.cards import print_card
from salvage.work.clear import NewCheck, record_checks
from salvage.work.cutting import NewCut, Spot, record_cut, reserve
from salvage.work.donors import NewDonor
from salvage.work.labels import print_labels
from salvage.work.library import choose_shape
from salvage.work.mass import NewConsignment, send_consignment
from salvage.work.pieces import sell, set_price, take_back, weigh_piece
from salvage.work.recall import open_recall
from salvage.work.receive import NewDropOff, log_drop_off, settle_data_part
from salvage.work.record import NewBoard, NewKeepOut, record_boards, retire_board
from salvage.work.workshop import Workshop

from .pictures import BoardLook
from .steps import (
    DemoClock,
    Place,
    add_board,
    box,
    clear_board,
    make_piece,
    photograph_board,
    spot,
)

FAIR = date(2026, 3, 14)
VENUE = "Lantern Fair"


def planetarium(shop: Workshop, clock: DemoClock) -> None:
    """A remnant with pieces in four stages, and a board reserved for an order."""
    donor = NewDonor(
        "Kelpie Point Planetarium",
        source_kind="public body",
        naming="described",
        naming_how="said at the counter, 14 February 2026",
        described_as="a planetarium",
    )
    new = NewDropOff(
        date(2026, 2, 14),
        "the control rack of the old star projector",
        board_count=2,
        weight_g=8400.0,
        origin="Kelpie Point",
        story="It turned the sky for thirty winters.",
        data_parts=(("none found", 0),),
    )
    drop_off = log_drop_off(shop, donor=donor, new=new).drop_off.code
    _sky_drive(shop, clock, drop_off)
    _dome_backplane(shop, drop_off)


def _sky_drive(shop: Workshop, clock: DemoClock, drop_off: Code) -> None:
    look = BoardLook(41, 180, 120, "green")
    new = NewBoard(
        drop_off,
        "control-board",
        maker="Orrery Works",
        model="Sky Drive 4",
        date_code="9127",
        colour="green",
        thickness_mm=1.6,
        weight_g=212.0,
        place="shelf 1",
        outline=rectangle(180, 120),
        outline_from="180 x 120 mm by ruler",
        keep_outs=(
            NewKeepOut(box(150, 40, 180, 90), "edge connector"),
            NewKeepOut(box(0, 0, 12, 12), "cracked corner"),
        ),
    )
    board = record_boards(shop, new=new)[0].code
    photograph_board(shop, board, look)
    photograph_board(shop, board, look, side="back")
    clock.turn_to(date(2026, 2, 21))
    clear_board(
        shop, board, removed={"coin-cell": ("lifted out, terminals taped", "battery box 1")}
    )
    photograph_board(shop, board, look, populated=False)
    clock.turn_to(date(2026, 2, 28))
    _sky_pieces(shop, clock, board, look)


def _sky_pieces(shop: Workshop, clock: DemoClock, board: Code, look: BoardLook) -> None:
    tern = make_piece(shop, board, look, Place("tern", 42, 34, 8))
    kite = make_piece(shop, board, look, Place("kite", 98, 84, -6))
    bell = make_piece(shop, board, look, Place("tide-bell", 128, 28))
    make_piece(shop, board, look, Place("fern-leaf", 30, 84), stage="sanded")
    cracked = spot(shop, Place("kite", 64, 88))
    record_cut(shop, new=NewCut(board, cracked, "scrap", kerf_mm=1.5, reason="tip broke off"))
    weigh_piece(shop, piece=tern.code, weight_g=4.6)
    set_price(shop, pieces=[tern.code, kite.code, bell.code], price_minor=2400)
    print_card(shop, piece=tern.code)
    clock.turn_to(FAIR)
    sell(shop, piece=tern.code, venue=VENUE, sold_on=FAIR)
    sell(shop, piece=kite.code, venue=VENUE, sold_on=FAIR)
    clock.turn_to(date(2026, 3, 21))
    take_back(shop, piece=kite.code, reason="the cord was too short")


def _dome_backplane(shop: Workshop, drop_off: Code) -> None:
    new = NewBoard(
        drop_off,
        "backplane",
        maker="Orrery Works",
        date_code="9131",
        colour="blue",
        thickness_mm=2.4,
        place="shelf 1",
        outline=rectangle(200, 110),
        outline_from="200 x 110 mm by ruler",
        keep_outs=(NewKeepOut(box(0, 96, 200, 110), "row of connectors"),),
    )
    board = add_board(shop, new, BoardLook(42, 200, 110, "blue"))
    clear_board(shop, board)
    place = spot(shop, Place("lighthouse", 48, 44))
    reserve(shop, board=board, spot=place, for_whom="the harbour museum's order")


def hospital(shop: Workshop, clock: DemoClock) -> None:
    """A board that was recalled after a piece of it was sold, and one that is still held."""
    clock.turn_to(date(2026, 3, 3))
    donor = NewDonor(
        "Gannet Head Hospital, equipment department",
        source_kind="public body",
        naming="anonymous",
        naming_how="in writing with the handover sheet",
    )
    new = NewDropOff(
        date(2026, 3, 3),
        "a telemetry rack and two control units",
        board_count=3,
        weight_g=11200.0,
        channel="collected",
        data_parts=(("hard disk", 2),),
    )
    drop_off = log_drop_off(shop, donor=donor, new=new).drop_off.code
    settle_data_part(
        shop, drop_off=drop_off, n=1, state="destroyed", how="platters shredded, receipt 3391"
    )
    _line_card(shop, clock, drop_off)
    waiting = NewBoard(
        drop_off,
        "control-board",
        date_code="0207",
        colour="black",
        place="quarantine tray",
        outline=rectangle(140, 90),
        outline_from="140 x 90 mm by ruler",
    )
    add_board(shop, waiting, BoardLook(52, 140, 90, "black"))


def _line_card(shop: Workshop, clock: DemoClock, drop_off: Code) -> None:
    look = BoardLook(51, 160, 100, "red")
    new = NewBoard(
        drop_off,
        "line-card",
        model="TM-8",
        date_code="8846",
        colour="red",
        place="shelf 2",
        outline=rectangle(160, 100),
        outline_from="160 x 100 mm by ruler",
    )
    board = add_board(shop, new, look)
    clear_board(shop, board)
    bell = make_piece(shop, board, look, Place("tide-bell", 40, 50))
    lamp = make_piece(shop, board, look, Place("lighthouse", 90, 50))
    set_price(shop, pieces=[bell.code, lamp.code], price_minor=2200)
    clock.turn_to(FAIR)
    sell(shop, piece=bell.code, venue=VENUE, sold_on=FAIR)
    learned = date(2026, 3, 18)
    clock.turn_to(learned)
    reason = "a capsule on a board of the same model turned out to hold mercury"
    open_recall(shop, subject=board, reason=reason, learned_on=learned)


def radio(shop: Workshop, clock: DemoClock) -> None:
    """A named donor, a main board of a published form factor, and a power supply that waits."""
    clock.turn_to(date(2026, 3, 28))
    donor = NewDonor(
        "Skerry Bay Community Radio",
        source_kind="public body",
        naming="named",
        naming_how="signed on the handover sheet",
        described_as="a community radio station",
        contact="studio@skerrybay.example",
    )
    new = NewDropOff(
        date(2026, 3, 28),
        "the playout computer and its spare power supply",
        board_count=2,
        weight_g=9300.0,
        origin="Skerry Bay",
        story="It read the shipping forecast at five past six.",
        data_parts=(("solid-state drive", 1),),
    )
    drop_off = log_drop_off(shop, donor=donor, new=new).drop_off.code
    settle_data_part(
        shop, drop_off=drop_off, n=1, state="returned", how="handed back, signed for by the studio"
    )
    _main_board(shop, drop_off)
    supply = NewBoard(
        drop_off,
        "power-supply",
        colour="amber",
        place="quarantine tray",
        outline=rectangle(150, 90),
        outline_from="150 x 90 mm by ruler",
    )
    board = add_board(shop, supply, BoardLook(62, 150, 90, "amber"))
    waiting = NewCheck("large-capacitor", "present", how="two cans, 35 mm high; not discharged yet")
    record_checks(shop, boards=[board], checks=[waiting])


def _main_board(shop: Workshop, drop_off: Code) -> None:
    from salvage.knowledge.form_factors import find_form_factor

    form = find_form_factor("microatx")
    look = BoardLook(61, form.width_mm, form.height_mm, "purple")
    new = NewBoard(
        drop_off,
        "motherboard",
        date_code="0926",
        colour="purple",
        thickness_mm=1.57,
        lead_status="marked-lead-free",
        lead_evidence="'Pb-free' printed beside the slots",
        place="shelf 3",
        outline=rectangle(form.width_mm, form.height_mm),
        outline_from=f"form factor {form.slug}",
        keep_outs=(NewKeepOut(box(70, 205, 244, 244), "rear connectors"),),
    )
    board = add_board(shop, new, look)
    clear_board(
        shop, board, removed={"coin-cell": ("clip opened, terminals taped", "battery box 1")}
    )
    fern = make_piece(shop, board, look, Place("fern-leaf", 60, 60, 12))
    set_price(shop, pieces=[fern.code], price_minor=2800)


def basement(shop: Workshop, clock: DemoClock) -> None:
    """Like boards recorded at once; one of them used up; what left for the recycler."""
    from salvage.paper.stock import parse_stock

    clock.turn_to(date(2026, 4, 11))
    donor = NewDonor("Ansgar Tollefsen-Quay", source_kind="household")
    new = NewDropOff(
        date(2026, 4, 11),
        "a shoebox of memory modules",
        board_count=4,
        weight_g=180.0,
        data_parts=(("none found", 0),),
    )
    drop_off = log_drop_off(shop, donor=donor, new=new).drop_off.code
    module = NewBoard(
        drop_off,
        "memory-module",
        colour="green",
        date_code="0440",
        thickness_mm=1.27,
        outline=rectangle(133.35, 30),
        outline_from="133.35 x 30 mm by ruler",
        keep_outs=(NewKeepOut(box(0, 0, 133.35, 6), "contact fingers"),),
    )
    modules = record_boards(shop, new=module, count=4)
    for cleared in modules[:3]:
        clear_board(shop, cleared.code)
    drop = Spot(choose_shape(shop, name="teardrop", width_mm=14, height_mm=20), 30000, 18000)
    record_cut(shop, new=NewCut(modules[0].code, drop, kerf_mm=0.0, tool="shears"))
    retire_board(shop, board=modules[1].code, reason="split along the slot")
    _send_cells(shop)
    print_labels(shop, codes=[board.code for board in modules], stock=parse_stock("a4-3x8"))


def _send_cells(shop: Workshop) -> None:
    new = NewConsignment(
        "Skerry Bay recycling yard",
        "coin cells, terminals taped",
        24.0,
        sent_on=date(2026, 4, 18),
        document="waybill 118",
    )
    send_consignment(shop, new=new)
