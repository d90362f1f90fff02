"""The job at the bench: hazards, photos, shapes, reservations, cuts."""

from __future__ import annotations

from salvage.ids import Code
from salvage.store.lookup import load_reservation
from salvage.work import clear, cutting, library, photos
from salvage.work.spots import parse_spot
from salvage.work.workshop import Workshop
from tests.faces.step import CORNERS, TERN, Memory, Step, photo_bytes


def _clear(shop: Workshop, memory: Memory) -> None:
    slugs = clear.open_hazards(shop, [memory["board"]])
    removed = clear.NewCheck("coin-cell", "present", "removed", "lifted out", "battery box")
    rest = [clear.NewCheck(slug, "absent") for slug in slugs if slug != "coin-cell"]
    clear.record_checks(shop, boards=[memory["board"]], checks=[removed, *rest])


def _clear_card(shop: Workshop, memory: Memory) -> None:
    checks = [
        clear.NewCheck(slug, "absent", how="lamp and mirror")
        for slug in clear.open_hazards(shop, [memory["card"]])
    ]
    clear.record_checks(shop, boards=[memory["card"]], checks=checks)


def _photo(shop: Workshop, memory: Memory) -> None:
    new = photos.NewPhoto(photo_bytes(), "front.png", "front", "as it came", CORNERS)
    photos.add_photo(shop, code=memory["board"], new=new)


def _photo_of_box(shop: Workshop, memory: Memory) -> None:
    new = photos.NewPhoto(photo_bytes(), "front.png", "other", "the box")
    photos.add_photo(shop, code=memory["drop_off"], new=new)


def _tern(shop: Workshop, at: str, angle: str = "0", side: str = "front") -> cutting.Spot:
    return parse_spot(library.choose_shape(shop, name="tern"), at=at, angle=angle, side=side)


def _reserve(shop: Workshop, memory: Memory) -> Code:
    spot = _tern(shop, "60,60", "15")
    return cutting.reserve(shop, board=memory["board"], spot=spot, for_whom="order 12").code


def _reserve_more(shop: Workshop, memory: Memory) -> Code:
    shape = library.choose_shape(shop, name="circle", width_mm=20)
    spot = parse_spot(shape, at="140,140", angle="10", side="back")
    return cutting.reserve(shop, board=memory["board"], spot=spot, for_whom="order 13").code


def _cut_reserved(shop: Workshop, memory: Memory) -> Code:
    held = load_reservation(shop.conn, memory["held"])
    new = cutting.NewCut(
        memory["board"],
        cutting.spot_of_reservation(held),
        kerf_mm=cutting.usual_kerf_mm(shop, "router"),
        reservation=held.code,
    )
    return _piece_of(cutting.record_cut(shop, new=new))


def _cut_back(shop: Workshop, memory: Memory) -> Code:
    shape = library.choose_shape(shop, name="oval", width_mm=20, height_mm=30)
    spot = parse_spot(shape, at="130,60", angle="-22.5", side="back")
    new = cutting.NewCut(memory["board"], spot, tool="saw", kerf_mm=0.3, reason="by hand")
    return _piece_of(cutting.record_cut(shop, new=new))


def _cut_scrap(shop: Workshop, memory: Memory) -> None:
    spot = parse_spot(library.choose_shape(shop, name="circle", width_mm=10), at="100,100")
    new = cutting.NewCut(
        memory["board"], spot, outcome="scrap", tool="shears", kerf_mm=0.0, reason="cracked"
    )
    cutting.record_cut(shop, new=new)


def _cut_held(shop: Workshop, memory: Memory) -> Code:
    shape = library.shape_of_drawing(TERN.read_bytes(), file_name="tern.svg")
    new = cutting.NewCut(
        memory["bare"],
        parse_spot(shape, at="45,30"),
        kerf_mm=2.5,
        override_reason="a bare panel",
    )
    return _piece_of(cutting.record_cut(shop, new=new))


def _piece_of(view: cutting.CutView) -> Code:
    assert view.piece is not None
    return view.piece.code


STEPS = (
    Step(
        "record_checks",
        _clear,
        'board clear {board} --removed "coin cell" --how "lifted out" --goes-to "battery box"'
        " --absent all-open",
    ),
    Step(
        "record_checks",
        _clear_card,
        'board clear {card} --absent all-open --how "lamp and mirror"',
    ),
    Step(
        "add_photo",
        _photo,
        'photo {board} {photo} --side front --corners "20,220 300,221 299,19 21,20"'
        ' --caption "as it came"',
    ),
    Step("add_photo", _photo_of_box, 'dropoff photo {drop_off} {photo} --caption "the box"'),
    Step(
        "add_shape",
        lambda shop, memory: library.add_shape(
            shop, name="Tern", data=TERN.read_bytes(), file_name="tern.svg"
        ),
        "shape add Tern {tern}",
    ),
    Step(
        "reserve",
        _reserve,
        'reserve {board} --shape tern --at 60,60 --angle 15 --for "order 12"',
        "held",
    ),
    Step(
        "reserve",
        _reserve_more,
        "reserve {board} --shape circle --width 20 --at 140,140 --angle 10 --side back"
        ' --for "order 13"',
        "freed",
    ),
    Step(
        "release",
        lambda shop, memory: cutting.release(
            shop, reservation=memory["freed"], reason="order withdrawn"
        ),
        'release {freed} --reason "order withdrawn"',
    ),
    Step("record_cut", _cut_reserved, "cut {board} --reservation {held}", "piece"),
    Step(
        "record_cut",
        _cut_back,
        "cut {board} --shape oval --width 20 --height 30 --at 130,60 --angle -22.5 --side back"
        ' --tool saw --reason "by hand"',
        "oval",
    ),
    Step(
        "record_cut",
        _cut_scrap,
        "cut {board} --shape circle --width 10mm --at 100,100 --tool shears --scrap"
        " --reason cracked",
    ),
    Step(
        "record_cut",
        _cut_held,
        'cut {bare} --svg {tern} --at 45,30 --kerf 2.5 --override "a bare panel"',
        "panel",
    ),
)
"""In the order of the job."""
