"""The job at the door and on the shelf: settings, deliveries, donors, boards."""

from __future__ import annotations

from datetime import date

from salvage.ids import Code
from salvage.work import donors, import_drop_offs, receive, record, redraw, setup
from salvage.work.first_outline import outline_of_form, outline_of_size
from salvage.work.spots import parse_keep_out
from salvage.work.workshop import Workshop
from tests.faces.step import TABLE, Memory, Step


def _log(shop: Workshop, memory: Memory) -> Code:
    donor = donors.NewDonor(
        "Kelpie Point Planetarium",
        source_kind="public body",
        naming="described",
        naming_how="said at the counter",
        described_as="a planetarium",
        contact="4 Beacon Row",
    )
    new = receive.NewDropOff(
        date(2026, 5, 2),
        "dome boards",
        board_count=14,
        weight_g=6200.0,
        channel="collected",
        origin="the north shore",
        origin_country="IE",
        story="They turned the stars for thirty years.",
        notes="two boxes",
        data_parts=(("hard disk", 2), ("memory card", 1)),
    )
    return receive.log_drop_off(shop, donor=donor, new=new).drop_off.code


def _log_again(shop: Workshop, memory: Memory) -> Code:
    (known,) = donors.find_donors(shop, "kelpie point planetarium")
    new = receive.NewDropOff(date(2026, 5, 3), "one more box")
    return receive.log_drop_off(shop, donor=known.donor.code, new=new).drop_off.code


def _record_motherboard(shop: Workshop, memory: Memory) -> Code:
    outline = outline_of_form("mini-itx")
    new = record.NewBoard(
        memory["drop_off"],
        "motherboard",
        maker="Orrery",
        model="X2",
        date_code="9843",
        colour="green",
        thickness_mm=1.6,
        weight_g=410.0,
        lead_status="marked-lead-free",
        lead_evidence="logo on the back",
        place="shelf 2",
        notes="bent bracket",
        outline=outline.region,
        outline_from=outline.outline_from,
        keep_outs=(*outline.keep_outs, parse_keep_out("0,150 40,170 serial port")),
    )
    return record.record_boards(shop, new=new)[0].code


def _record_cards(shop: Workshop, memory: Memory) -> Code:
    outline = outline_of_size("120x80")
    new = record.NewBoard(
        memory["drop_off"],
        "expansion-card",
        outline=outline.region,
        outline_from=outline.outline_from,
    )
    return record.record_boards(shop, new=new, count=2)[0].code


def _record_bare(shop: Workshop, memory: Memory) -> Code:
    return record.record_boards(shop, new=record.NewBoard(memory["again"], "other"))[0].code


def _outline(shop: Workshop, memory: Memory) -> None:
    found = outline_of_size("90x60")
    record.set_outline(
        shop, board=memory["bare"], outline=found.region, outline_from=found.outline_from
    )


def _import(shop: Workshop, memory: Memory) -> Code:
    done = import_drop_offs.import_drop_offs(shop, data=TABLE, name="table.csv")
    return done.logged[1]


STEPS = (
    Step(
        "change_settings",
        lambda shop, memory: setup.change_settings(
            shop, typed={"name": "Tidewrack Workshop", "kerf-mm": "1.5", "tool-mm": "1.5"}
        ),
        'setup name="Tidewrack Workshop" kerf-mm=1.5 tool-mm=1.5',
    ),
    Step(
        "log_drop_off",
        _log,
        'dropoff add --donor "Kelpie Point Planetarium" --contents "dome boards" --boards 14'
        ' --weight 6.2kg --source "public body" --naming described'
        ' --naming-how "said at the counter" --described-as "a planetarium"'
        ' --contact "4 Beacon Row" --date 2026-05-02 --channel collected'
        ' --origin "the north shore" --origin-country ie --notes "two boxes"'
        ' --story "They turned the stars for thirty years." --data "hard disk:2" --data memory',
        "drop_off",
    ),
    Step(
        "log_drop_off",
        _log_again,
        'dropoff add --donor "kelpie point planetarium" --contents "one more box"'
        " --date 2026-05-03",
        "again",
    ),
    Step("import_drop_offs", _import, "dropoff import {table}"),
    Step(
        "add_data_parts",
        lambda shop, memory: receive.add_data_parts(
            shop, drop_off=memory["drop_off"], data_parts=(("optical disc", 3),)
        ),
        'dropoff search {drop_off} "optical disc:3"',
    ),
    Step(
        "settle_data_part",
        lambda shop, memory: receive.settle_data_part(
            shop, drop_off=memory["drop_off"], n=1, state="destroyed", how="drilled"
        ),
        "dropoff data {drop_off} 1 destroyed --how drilled",
    ),
    Step(
        "set_naming",
        lambda shop, memory: donors.set_naming(
            shop,
            donor=donors.list_donors(shop)[0].donor.code,
            naming="described",
            naming_how="by letter",
            described_as="a planetarium on the shore",
        ),
        'donor naming {donor} described --how "by letter"'
        ' --described-as "a planetarium on the shore"',
    ),
    Step(
        "record_boards",
        _record_motherboard,
        "board add {drop_off} --type mainboard --form 'Mini ITX' --maker Orrery --model X2"
        " --date-code 9843 --colour green --thickness 1.6 --weight 410g --lead marked"
        ' --lead-evidence "logo on the back" --place "shelf 2" --notes "bent bracket"'
        ' --keepout "0,150 40,170 serial port"',
        "board",
    ),
    Step(
        "record_boards",
        _record_cards,
        "board add {drop_off} --type expansion-card --size 120x80 --count 2",
        "card",
    ),
    Step("record_boards", _record_bare, "board add {again} --type other", "bare"),
    Step("set_outline", _outline, "board outline {bare} --size 90x60"),
    Step(
        "add_keep_outs",
        lambda shop, memory: record.add_keep_outs(
            shop,
            board=memory["card"],
            keep_outs=[
                parse_keep_out("10,10 r6 coil"),
                parse_keep_out("60,0 80,0 70,12.5 torn corner"),
            ],
        ),
        'board keepout {card} "10,10 r6 coil" "60,0 80,0 70,12.5 torn corner"',
    ),
    Step(
        "lift_keep_out",
        lambda shop, memory: record.lift_keep_out(
            shop, board=memory["card"], n=1, reason="coil is off"
        ),
        'board lift {card} 1 --reason "coil is off"',
    ),
    Step(
        "redraw_keep_out",
        lambda shop, memory: redraw.redraw_keep_out(
            shop, board=memory["card"], n=2, keep_out=parse_keep_out("60,0 80,0 70,15 torn corner")
        ),
        'board redraw {card} 2 "60,0 80,0 70,15 torn corner"',
    ),
    Step(
        "set_lead",
        lambda shop, memory: record.set_lead(
            shop, board=memory["card"], lead_status="tested", lead_evidence="XRF, 0.02 %, no lead"
        ),
        'board lead {card} tested --evidence "XRF, 0.02 %, no lead"',
    ),
    Step(
        "move_board",
        lambda shop, memory: record.move_board(shop, board=memory["card"], place="box 4"),
        'board move {card} "box 4"',
    ),
)
"""In the order of the job."""
