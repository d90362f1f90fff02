"""
Everything that a workshop does in a season, each deed once, chosen by lot.

A deed looks for what it needs on the record, where others may be changing it at the same moment;
what it finds may be gone when its turn comes, and then it is refused in our own words.
"""

from __future__ import annotations

import io
import random
from collections.abc import Callable, Mapping

from salvage.canonical import Json
from salvage.errors import NotFound
from salvage.geometry.outline import rectangle
from salvage.ids import Code
from salvage.work import (
    alerts,
    clear,
    correct,
    custody_steps,
    cutting,
    donors,
    evidence,
    history,
    inbox,
    library,
    photos,
    places,
    plans,
    receive,
    record,
    setup,
    stock_take,
    waste,
)
from salvage.work.first_outline import outline_of_form
from salvage.work.workshop import Workshop

Deed = Callable[[Workshop, random.Random], object]
"""Does one thing in an open workshop, or raises one of our own errors."""


def pick(shop: Workshop, dice: random.Random, query: str, *values: Json) -> Code:
    """
    One code of those that a query gives.

    Raises:
        NotFound: If it gives none: then this deed has nothing to work on.
    """
    found = shop.conn.execute(query, values).fetchall()
    if not found:
        raise NotFound("nothing to do this with")
    return Code(str(dice.choice(found)[0]))


def picture(dice: random.Random) -> bytes:
    """A small picture that is no other's."""
    from PIL import Image

    out = io.BytesIO()
    Image.frombytes("L", (32, 32), dice.randbytes(32 * 32)).save(out, "PNG")
    return out.getvalue()


def _board(shop: Workshop, dice: random.Random, where: str = "retired = ''") -> Code:
    return pick(shop, dice, f"SELECT code FROM board WHERE {where} ORDER BY code DESC LIMIT 8")


def _drop_off(shop: Workshop, dice: random.Random) -> Code:
    return pick(shop, dice, "SELECT code FROM drop_off ORDER BY code DESC LIMIT 6")


def _log_drop_off(shop: Workshop, dice: random.Random) -> None:
    donor = donors.NewDonor(
        f"donor {dice.random()}",
        described_as="a radio station",
        naming="described",
        contact=f"{dice.randrange(99)} Beacon Row",
    )
    parts = (("hard disk", dice.choice((1, 2))),)
    new = receive.NewDropOff(shop.today, "a box", weight_g=8000.0, data_parts=parts)
    receive.log_drop_off(shop, donor=donor, new=new)


def _record_boards(shop: Workshop, dice: random.Random) -> None:
    kind = dice.choice(("memory-module", "other"))
    new = record.NewBoard(_drop_off(shop, dice), kind, outline=rectangle(120, 80))
    record.record_boards(shop, new=new, count=dice.choice((1, 1, 2)))


def _record_form(shop: Workshop, dice: random.Random) -> None:
    form = outline_of_form("mini-itx")
    new = record.NewBoard(
        _drop_off(shop, dice),
        "motherboard",
        outline=form.region,
        outline_from=form.outline_from,
        keep_outs=form.keep_outs,
    )
    record.record_boards(shop, new=new)


def _settle_hazards(shop: Workshop, dice: random.Random) -> None:
    board = _board(shop, dice, "clearance = 'held' AND retired = ''")
    checks = [
        clear.NewCheck(slug, "absent", how="looked for")
        for slug in clear.open_hazards(shop, [board])
    ]
    clear.record_checks(shop, boards=[board], checks=checks)


def _add_photo(shop: Workshop, dice: random.Random) -> None:
    side = dice.choice(("front", "back", "other"))
    new = photos.NewPhoto(picture(dice), "front.png", side)
    photos.add_photo(shop, code=_board(shop, dice), new=new)


def _take_in_photo(shop: Workshop, dice: random.Random) -> None:
    name = f"{_board(shop, dice)} front.png"
    inbox.take_in_photo(shop, data=picture(dice), name=dice.choice((name, "IMG.png")))


def _file_waiting(shop: Workshop, dice: random.Random) -> None:
    sha256 = pick(shop, dice, "SELECT sha256 FROM inbox")
    waiting = inbox.find_waiting(shop, sha256)
    inbox.file_waiting(shop, photo=waiting, code=_board(shop, dice), side="other")


def _add_evidence(shop: Workshop, dice: random.Random) -> None:
    board = pick(shop, dice, "SELECT board FROM hazard_check WHERE finding <> 'not checked'")
    slug = pick(shop, dice, "SELECT hazard FROM hazard_check WHERE board = ?", board)
    new = evidence.NewEvidence("holder is empty", photos.NewPhoto(picture(dice), "x.png", "other"))
    evidence.add_evidence(shop, board=board, hazards=[slug], evidence=new)


def _add_keep_out(shop: Workshop, dice: random.Random) -> None:
    new = record.NewKeepOut(rectangle(6, 6), "port")
    record.add_keep_outs(shop, board=_board(shop, dice), keep_outs=[new])


def _lift_keep_out(shop: Workshop, dice: random.Random) -> None:
    board = pick(shop, dice, "SELECT board FROM keep_out WHERE lifted = 0")
    n = pick(shop, dice, "SELECT n FROM keep_out WHERE lifted = 0 AND board = ?", board)
    record.lift_keep_out(shop, board=board, n=int(n), reason="it came off")


def _spot(shop: Workshop, dice: random.Random, width_mm: float = 14) -> cutting.Spot:
    shape = library.choose_shape(shop, name="circle", width_mm=width_mm)
    x, y = dice.randrange(12, 110, 17), dice.randrange(12, 72, 17)
    return cutting.Spot(shape, x * 1000, y * 1000)


_WHOLE = "clearance = 'cleared' AND retired = '' AND recalled = 0"


def _reserve(shop: Workshop, dice: random.Random) -> None:
    board, spot = _board(shop, dice, _WHOLE), _spot(shop, dice)
    cutting.reserve(shop, board=board, spot=spot, for_whom=f"order {dice.randrange(9)}")


def _release(shop: Workshop, dice: random.Random) -> None:
    held = pick(shop, dice, "SELECT code FROM reservation WHERE state = 'held'")
    cutting.release(shop, reservation=held, reason="withdrawn")


def _cut(shop: Workshop, dice: random.Random) -> None:
    outcome = dice.choice(("piece", "piece", "piece", "scrap"))
    new = cutting.NewCut(
        _board(shop, dice, _WHOLE),
        _spot(shop, dice),
        outcome=outcome,
        kerf_mm=1.0,
        reason="cracked" if outcome == "scrap" else "",
    )
    cutting.record_cut(shop, new=new)


def _move_board(shop: Workshop, dice: random.Random) -> None:
    record.move_board(shop, board=_board(shop, dice), place=f"shelf {dice.randrange(5)}")


def _retire_board(shop: Workshop, dice: random.Random) -> None:
    record.retire_board(
        shop, board=_board(shop, dice, "retired = '' AND cut_count > 3"), reason="x"
    )


def _correct_board(shop: Workshop, dice: random.Random) -> None:
    new = correct.BoardCorrection(maker=f"Orrery {dice.randrange(9)}", model="X2")
    correct.correct_board(shop, board=_board(shop, dice), new=new, why="misread")


def _name_place(shop: Workshop, dice: random.Random) -> None:
    places.name_places(shop, names=[f"shelf {dice.randrange(99)}"])


def _raise_alert(shop: Workshop, dice: random.Random) -> None:
    new = alerts.NewAlert("clock battery", "under the slot", "bulletin 7", type="motherboard")
    alerts.raise_alert(shop, new=new)


def _lift_alert(shop: Workshop, dice: random.Random) -> None:
    alert = pick(shop, dice, "SELECT id FROM alert WHERE lifted = ''")
    alerts.lift_alert(shop, alert=alert, reason="withdrawn")


def _search_for_data(shop: Workshop, dice: random.Random) -> None:
    new = custody_steps.NewSearch((("memory card", 1),), "all crates", "lamp")
    custody_steps.search_for_data(shop, drop_off=_drop_off(shop, dice), new=new)


def _settle_data_part(shop: Workshop, dice: random.Random) -> None:
    drop_off = pick(shop, dice, "SELECT drop_off FROM data_part WHERE state <> 'destroyed'")
    n = pick(
        shop, dice, "SELECT n FROM data_part WHERE state <> 'destroyed' AND drop_off = ?", drop_off
    )
    receive.settle_data_part(shop, drop_off=drop_off, n=int(n), state="destroyed", how="drilled")


def _change_settings(shop: Workshop, dice: random.Random) -> None:
    setup.change_settings(shop, typed={"name": f"Workshop {dice.randrange(999)}"})


def _release_plan(shop: Workshop, dice: random.Random) -> None:
    plan = pick(shop, dice, "SELECT code FROM plan WHERE state = 'held'")
    plans.release_plans(shop, plans=[plan], reason="withdrawn")


def _begin_stock_take(shop: Workshop, dice: random.Random) -> None:
    stock_take.begin_stock_take(shop, things="boards")


def _see_in_stock_take(shop: Workshop, dice: random.Random) -> None:
    stock_take.record_seen(shop, codes=[_board(shop, dice)], place="shelf 2")


def _settle_stock_take(shop: Workshop, dice: random.Random) -> None:
    end = stock_take.Settlement(lost=(), moved=(), reason="looked twice")
    stock_take.settle_stock_take(shop, settlement=end, close=True)


def _weigh_board(shop: Workshop, dice: random.Random) -> None:
    weight_g = round(dice.uniform(60, 90), 1)
    waste.weigh_board(shop, board=_board(shop, dice), weight_g=weight_g)


def _undo(shop: Workshop, dice: random.Random) -> None:
    history.undo(shop, why="a slip")


BENCH: Mapping[str, tuple[int, Deed]] = {
    "log drop-off": (4, _log_drop_off),
    "record boards": (6, _record_boards),
    "record a form": (1, _record_form),
    "settle hazards": (8, _settle_hazards),
    "add photo": (6, _add_photo),
    "take in photo": (1, _take_in_photo),
    "file waiting photo": (2, _file_waiting),
    "add evidence": (1, _add_evidence),
    "add keep-out": (1, _add_keep_out),
    "lift keep-out": (1, _lift_keep_out),
    "reserve": (2, _reserve),
    "release": (1, _release),
    "cut": (10, _cut),
    "move board": (1, _move_board),
    "retire board": (1, _retire_board),
    "correct board": (1, _correct_board),
    "name place": (1, _name_place),
    "raise alert": (1, _raise_alert),
    "lift alert": (1, _lift_alert),
    "search for data": (1, _search_for_data),
    "settle data part": (1, _settle_data_part),
    "change settings": (1, _change_settings),
    "release plan": (1, _release_plan),
    "begin stock-take": (1, _begin_stock_take),
    "see in stock-take": (1, _see_in_stock_take),
    "settle stock-take": (1, _settle_stock_take),
    "weigh board": (1, _weigh_board),
    "undo": (3, _undo),
}
"""Deeds at the door, on the shelf and at the bench, and how often each comes."""
