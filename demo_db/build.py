"""
The demo workshop: one spring at Tidewrack Workshop, a small coastal repair-and-craft workshop.

Everything in it is invented. It is built through the same operations that a maker uses, with a
clock of its own and seeded randomness, so that every build gives the same database.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from importlib.resources import files
from pathlib import Path

from salvage.geometry.outline import rectangle
from salvage.ids import Code
from salvage.records.region import Region
from salvage.records.things import Piece
from salvage.work.clear import NewCheck, read_checklist, record_checks
from salvage.work.cutting import NewCut, Spot, record_cut, reserve
from salvage.work.donors import NewDonor
from salvage.work.library import add_shape, choose_shape
from salvage.work.mass import NewConsignment, send_consignment
from salvage.work.papers import print_card, print_labels
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.pieces import sell, set_price, set_stage, take_back, weigh_piece
from salvage.work.recall import open_recall
from salvage.work.receive import NewDropOff, log_drop_off, settle_data_part
from salvage.work.record import NewBoard, NewKeepOut, record_boards, retire_board
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop, open_workshop

from .pictures import BoardLook, board_photo, piece_photo

SHAPES = ("fern-leaf", "kite", "lighthouse", "tern", "tide-bell")
"""The workshop's own shapes; each is an SVG file beside this one."""

_TOUR_TEXT = """
dropoff add --donor "Skerry Bay Community Radio" --contents "two boards of a mixing desk"
    --boards 2 --weight 1.4kg --source "public body" --data "none found"
board add DT0006X --type control-board --size 160x100 --colour green --thickness 1.6
    --date-code 9914 --keepout "0,0 30,14 fader connector"
label BT0018P --stock roll-57x32
scan BT0018P
board clear BT0018P --absent all-open --how "looked with lamp and mirror"
scan BT0018P
cut BT0018P --shape tern --at 60,60 --angle 20
piece stage PT0014H ready
piece price PT0014H 26
card PT0014H
piece sell PT0014H --venue "Lantern Fair"
trace PT0014H
check
"""

TOUR = tuple(_TOUR_TEXT.strip().replace("\n    ", " ").splitlines())
"""The main job from drop-off to story card, as command lines for the demo workshop."""


class DemoClock:
    """A clock that stands where the story is and moves on a few minutes with each look."""

    def __init__(self) -> None:
        self.now = datetime(2026, 2, 14, 9, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        """The instant of the story, three minutes on."""
        self.now += timedelta(minutes=3)
        return self.now

    def turn_to(self, day: date) -> None:
        """Go to the morning of a day."""
        self.now = datetime(day.year, day.month, day.day, 9, 0, tzinfo=UTC)


def build_workshop(folder: Path, *, progress: Callable[[str], None] = lambda words: None) -> None:
    """
    Build the demo workshop in an empty folder.

    Args:
        folder: Where the database and files go.
        progress: Called with a few words before each chapter.
    """
    clock = DemoClock()
    entropy = random.Random(20260214).randbytes
    with open_workshop(folder, clock=clock, entropy=entropy, by="Maren") as shop:
        for words, chapter in (
            ("setting up the workshop", _set_up),
            ("the planetarium's projector boards", _planetarium),
            ("the hospital's telemetry rack", _hospital),
            ("the radio station's transmitter room", _radio),
            ("a box from somebody's basement", _basement),
        ):
            progress(words)
            chapter(shop, clock)


def _set_up(shop: Workshop, clock: DemoClock) -> None:
    clock.turn_to(date(2026, 2, 14))
    change_settings(
        shop,
        typed={
            "name": "Tidewrack Workshop",
            "place": "Harbour Lane, Skerry Bay",
            "contact": "hello@tidewrack.example",
            "web-address": "https://tidewrack.example/s",
            "device": "T",
            "operator": "Maren",
            "kerf-mm": "1.5",
            "tool-mm": "1.5",
        },
    )
    for name in SHAPES:
        data = (files(__package__) / "shapes" / f"{name}.svg").read_bytes()
        add_shape(shop, name=name, data=data, file_name=f"{name}.svg")


def _planetarium(shop: Workshop, clock: DemoClock) -> None:
    """A remnant with four pieces in four stages, and a board reserved for an order."""
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
    sky = _board(
        shop,
        NewBoard(
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
                NewKeepOut(_box(150, 40, 180, 90), "edge connector"),
                NewKeepOut(_box(0, 0, 12, 12), "cracked corner"),
            ),
        ),
        BoardLook(41, 180, 120, "green"),
        sides=("front", "back"),
    )
    clock.turn_to(date(2026, 2, 21))
    _clear(shop, sky, removed={"coin-cell": ("lifted out, terminals taped", "battery box 1")})
    clock.turn_to(date(2026, 2, 28))
    look = BoardLook(41, 180, 120, "green")
    tern = _piece(shop, look, sky, "tern", 42, 34, angle=8)
    kite = _piece(shop, look, sky, "kite", 98, 84, angle=-6)
    bell = _piece(shop, look, sky, "tide-bell", 128, 28, angle=0)
    _piece(shop, look, sky, "fern-leaf", 30, 84, angle=0, stage="sanded")
    cracked = NewCut(sky, _spot(shop, "kite", 64, 88, 0), "scrap", kerf_mm=1.5, reason="tip broke")
    record_cut(shop, new=cracked)
    weigh_piece(shop, piece=tern.code, weight_g=4.6)
    set_price(shop, pieces=[tern.code, kite.code, bell.code], price_minor=2400)
    print_card(shop, piece=tern.code)
    clock.turn_to(date(2026, 3, 14))
    sell(shop, piece=tern.code, venue="Lantern Fair", sold_on=date(2026, 3, 14))
    sell(shop, piece=kite.code, venue="Lantern Fair", sold_on=date(2026, 3, 14))
    clock.turn_to(date(2026, 3, 21))
    take_back(shop, piece=kite.code, reason="the cord was too short")
    dome = _board(
        shop,
        NewBoard(
            drop_off,
            "backplane",
            maker="Orrery Works",
            date_code="9131",
            colour="blue",
            thickness_mm=2.4,
            place="shelf 1",
            outline=rectangle(200, 110),
            outline_from="200 x 110 mm by ruler",
            keep_outs=(NewKeepOut(_box(0, 96, 200, 110), "row of connectors"),),
        ),
        BoardLook(42, 200, 110, "blue"),
    )
    _clear(shop, dome)
    spot = _spot(shop, "lighthouse", 48, 44, 0)
    reserve(shop, board=dome, spot=spot, for_whom="the harbour museum's order")


def _hospital(shop: Workshop, clock: DemoClock) -> None:
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
    look = BoardLook(51, 160, 100, "red")
    relay = _board(
        shop,
        NewBoard(
            drop_off,
            "line-card",
            model="TM-8",
            date_code="8846",
            colour="red",
            place="shelf 2",
            outline=rectangle(160, 100),
            outline_from="160 x 100 mm by ruler",
        ),
        look,
    )
    _clear(shop, relay)
    bell = _piece(shop, look, relay, "tide-bell", 40, 50, angle=0)
    lamp = _piece(shop, look, relay, "lighthouse", 90, 50, angle=0)
    set_price(shop, pieces=[bell.code, lamp.code], price_minor=2200)
    sell(shop, piece=bell.code, venue="Lantern Fair", sold_on=date(2026, 3, 14))
    clock.turn_to(date(2026, 3, 18))
    open_recall(
        shop,
        subject=relay,
        reason="a capsule on a board of the same model turned out to hold mercury",
        learned_on=date(2026, 3, 18),
    )
    _board(
        shop,
        NewBoard(
            drop_off,
            "control-board",
            date_code="0207",
            colour="black",
            place="quarantine tray",
            outline=rectangle(140, 90),
            outline_from="140 x 90 mm by ruler",
        ),
        BoardLook(52, 140, 90, "black"),
    )


def _radio(shop: Workshop, clock: DemoClock) -> None:
    """A named donor, a main board of a published form factor, and a power supply that waits."""
    from salvage.knowledge.form_factors import find_form_factor

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
    form = find_form_factor("microatx")
    look = BoardLook(61, form.width_mm, form.height_mm, "purple")
    main = _board(
        shop,
        NewBoard(
            drop_off,
            "motherboard",
            date_code="0926",
            colour="purple",
            thickness_mm=1.57,
            lead_status="marked-lead-free",
            lead_evidence="'Pb-free' printed beside the slots",
            place="shelf 3",
            outline=rectangle(form.width_mm, form.height_mm),
            outline_from="form factor microatx",
            keep_outs=(NewKeepOut(_box(70, 205, 244, 244), "rear connectors"),),
        ),
        look,
    )
    _clear(shop, main, removed={"coin-cell": ("clip opened, terminals taped", "battery box 1")})
    fern = _piece(shop, look, main, "fern-leaf", 60, 60, angle=12)
    set_price(shop, pieces=[fern.code], price_minor=2800)
    supply = _board(
        shop,
        NewBoard(
            drop_off,
            "power-supply",
            colour="amber",
            place="quarantine tray",
            outline=rectangle(150, 90),
            outline_from="150 x 90 mm by ruler",
        ),
        BoardLook(62, 150, 90, "amber"),
    )
    waiting = NewCheck("large-capacitor", "present", how="two cans, 35 mm high; not discharged yet")
    record_checks(shop, boards=[supply], checks=[waiting])


def _basement(shop: Workshop, clock: DemoClock) -> None:
    """Like boards recorded at once; one of them used up; what left for the recycler."""
    clock.turn_to(date(2026, 4, 11))
    donor = NewDonor("Ansgar Tollefsen-Quay", source_kind="household", naming="anonymous")
    new = NewDropOff(
        date(2026, 4, 11),
        "a shoebox of memory modules",
        board_count=4,
        weight_g=180.0,
        data_parts=(("none found", 0),),
    )
    drop_off = log_drop_off(shop, donor=donor, new=new).drop_off.code
    modules = record_boards(
        shop,
        new=NewBoard(
            drop_off,
            "memory-module",
            colour="green",
            date_code="0440",
            thickness_mm=1.27,
            outline=rectangle(133.35, 30),
            outline_from="form factor dimm-ddr2-ddr3",
            keep_outs=(NewKeepOut(_box(0, 0, 133.35, 6), "contact fingers"),),
        ),
        count=4,
    )
    for module in modules[:3]:
        _clear(shop, module.code)
    record_cut(
        shop,
        new=NewCut(
            modules[0].code,
            Spot(choose_shape(shop, name="teardrop", width_mm=14, height_mm=20), 30000, 18000),
            kerf_mm=0.0,
            tool="shears",
        ),
    )
    retire_board(shop, board=modules[1].code, reason="split along the slot")
    send_consignment(
        shop,
        new=NewConsignment(
            "Skerry Bay recycling yard",
            "coin cells, terminals taped",
            24.0,
            sent_on=date(2026, 4, 18),
            document="waybill 118",
        ),
    )
    from salvage.paper.stock import parse_stock

    print_labels(shop, codes=[module.code for module in modules], stock=parse_stock("a4-3x8"))


def _box(left: float, bottom: float, right: float, top: float) -> Region:
    from salvage.geometry.outline import region_of_points

    corners = [(left, bottom), (right, bottom), (right, top), (left, top)]
    return region_of_points(corners, field="keep-out")


def _board(
    shop: Workshop, new: NewBoard, look: BoardLook, *, sides: tuple[str, ...] = ("front",)
) -> Code:
    """Record a board with photos of its faces."""
    code = record_boards(shop, new=new)[0].code
    for side in sides:
        photo = board_photo(
            seed=look.seed,
            width_mm=look.width_mm,
            height_mm=look.height_mm,
            mask=look.mask,
            side=side,
        )
        add_photo(
            shop,
            code=code,
            new=NewPhoto(photo.jpeg, f"{code}-{side}.jpg", side, corners_px=photo.corners_px),
        )
    return code


def _clear(
    shop: Workshop, board: Code, *, removed: dict[str, tuple[str, str]] | None = None
) -> None:
    """Settle every hazard: some removed, the others looked for and absent."""
    taken = removed or {}
    checks = []
    for line in read_checklist(shop, board).lines:
        hazard = line.check.hazard
        if hazard in taken:
            how, goes_to = taken[hazard]
            checks.append(NewCheck(hazard, "present", "removed", how, goes_to))
        else:
            checks.append(NewCheck(hazard, "absent", how="looked for on both faces"))
    record_checks(shop, boards=[board], checks=checks)


def _spot(shop: Workshop, shape: str, x_mm: float, y_mm: float, angle: float) -> Spot:
    chosen = choose_shape(shop, name=shape)
    return Spot(chosen, round(x_mm * 1000), round(y_mm * 1000), round(angle * 1000))


def _piece(
    shop: Workshop,
    look: BoardLook,
    board: Code,
    shape: str,
    x_mm: float,
    y_mm: float,
    *,
    angle: float,
    stage: str = "ready",
) -> Piece:
    """Cut a piece, finish it and take its photo."""
    spot = _spot(shop, shape, x_mm, y_mm, angle)
    view = record_cut(shop, new=NewCut(board, spot, kerf_mm=1.5))
    assert view.piece is not None  # the cut was no scrap
    code = view.piece.code
    set_stage(shop, pieces=[code], stage=stage)
    photo = NewPhoto(
        piece_photo(board=look, region=spot.region(), turn_degrees=-angle), f"{code}.jpg", "front"
    )
    add_photo(shop, code=code, new=photo)
    return view.piece
