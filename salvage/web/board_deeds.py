"""What is done to a board: hazards, photos, keep-outs, outline, places held, the cut."""

from __future__ import annotations

import re

from salvage.errors import BadFile, BadValue, ManyMistakes, SalvageError
from salvage.ids import Code
from salvage.knowledge.lead import lead_caution, parse_lead_status
from salvage.records.choices import FINDINGS, PHOTO_SIDES, TOOLS, parse_choice
from salvage.units import format_area, parse_from_zero_mm, parse_length_mm
from salvage.web.doors import Function, Way
from salvage.web.drawing import path_data
from salvage.web.visit import Answer, Done, Facts, Visit
from salvage.work import clear, cutting, fitting, photos, record, redraw
from salvage.work.cut_spot import Spot, describe_spot, spot_of_reservation
from salvage.work.first_outline import outline_of_corners, outline_of_form, outline_of_size
from salvage.work.gather import Gatherer
from salvage.work.library import ChosenShape, choose_shape
from salvage.work.reading import read_code
from salvage.work.spots import parse_keep_out, parse_spot
from salvage.work.trial import try_spot

_SETTLED = ("absent", "removed", "accepted")


def clear_board(visit: Visit) -> Answer:
    """Record what was found about the hazards of a board."""
    board = visit.code("B")
    checks = []
    for name, state in visit.fields.items():
        slug = name.removeprefix("state-")
        if slug == name or not state:
            continue
        checks.append(_check(visit, slug, state))
    if not checks:
        raise BadValue("nothing was chosen", hint="say of at least one hazard what was found")
    (checklist,) = clear.record_checks(visit.shop, boards=[board], checks=checks)
    still = len(checklist.open_lines)
    rest = f"{still} still open" if still else "the board is cleared"
    return Done(f"{len(checks)} recorded; {rest}.", (board,), f"/board/{board}#hazards")


def _check(visit: Visit, slug: str, state: str) -> clear.NewCheck:
    if state not in (*FINDINGS, "removed", "accepted"):
        raise BadValue(f"'{state}' is not a choice here", field=f"state-{slug}")
    outcome = state if state in ("removed", "accepted") else ""
    finding = visit.text(f"finding-{slug}", "present") if outcome else state
    return clear.NewCheck(
        slug,
        finding,
        outcome,
        how=visit.text(f"how-{slug}"),
        goes_to=visit.text(f"goes-to-{slug}"),
        reason=visit.text(f"reason-{slug}"),
    )


def keep_photo(visit: Visit) -> Answer:
    """Keep a photo of a board."""
    return add_photo(visit, visit.code("B"))


def add_photo(visit: Visit, code: Code) -> Done:
    """Keep the photo that came, of any thing that takes one."""
    from salvage.web.doors import address_of

    if not visit.uploads:
        raise BadFile("no photo came", hint="choose or take one", field="photo")
    upload = visit.uploads[0]
    side = parse_choice(visit.text("side", "front"), PHOTO_SIDES, field="side")
    new = photos.NewPhoto(upload.data, upload.name, side, visit.text("caption"))
    kept = photos.add_photo(visit.shop, code=code, new=new)
    return Done(f"Photo {kept.n} is kept.", (code,), f"{address_of((code,))}#photos")


def add_keep_out(visit: Visit) -> Answer:
    """Mark a region that must not be cut."""
    board = visit.code("B")
    new = keep_outs_of(visit) or (_keep_out(visit),)
    done = record.add_keep_outs(visit.shop, board=board, keep_outs=new)
    words = ", ".join(f"'{each.reason}'" for each in new)
    return Done(f"Keep-out {words} is marked; {_left(done.usable_um2)}.", (board,), _at(board))


def keep_outs_of(visit: Visit) -> tuple[record.NewKeepOut, ...]:
    """Keep-outs written one on a line, as on the command line; empty where none are."""
    gather = Gatherer()
    found: list[record.NewKeepOut] = []
    for line in filter(str.strip, visit.text("keepout").splitlines()):
        try:
            found.append(parse_keep_out(line, field="keepout"))
        except SalvageError as mistake:
            gather.mistakes.append(mistake)
    gather.finish()
    return tuple(found)


def _keep_out(visit: Visit) -> record.NewKeepOut:
    corners, reason = visit.text("corners"), visit.text("reason")
    if not corners:
        raise BadValue(
            "no corners were drawn", hint="draw them, or type 0,0 20,20", field="corners"
        )
    if not reason:
        raise BadValue("say why", hint="such as 'serial port'", field="reason")
    return parse_keep_out(f"{corners} {reason}", field="corners")


def lift_keep_out(visit: Visit) -> Answer:
    """Take a keep-out off."""
    board, n = visit.code("B"), _number(visit)
    done = record.lift_keep_out(visit.shop, board=board, n=n, reason=visit.text("reason"))
    return Done(f"Keep-out {n} is lifted; {_left(done.usable_um2)}.", (board,), _at(board))


def _number(visit: Visit) -> int:
    text = visit.text("n")
    if not re.fullmatch("[0-9]{1,9}", text):
        raise BadValue(f"'{text}' is no number", field="n")
    return int(text)


def redraw_keep_out(visit: Visit) -> Answer:
    """Give a keep-out another place or form."""
    board, n, new = visit.code("B"), _number(visit), _keep_out(visit)
    done = redraw.redraw_keep_out(visit.shop, board=board, n=n, keep_out=new)
    words = f"Keep-out {n} is drawn anew; {_left(done.usable_um2)}."
    return Done(words, (board,), _at(board))


def set_outline(visit: Visit) -> Answer:
    """Give a board its outline, or a better one."""
    board = visit.code("B")
    form, size, corners = visit.text("form"), visit.text("size"), visit.text("outline")
    if sum(map(bool, (form, size, corners))) != 1:
        raise BadValue("tell the outline in one way", hint="size, form factor or corners")
    if form:
        found = outline_of_form(form, field="form")
    elif size:
        found = outline_of_size(size, field="size")
    else:
        found = outline_of_corners(corners, field="outline")
    done = record.set_outline(
        visit.shop, board=board, outline=found.region, outline_from=found.outline_from
    )
    return Done(f"{board} has its outline; {_left(done.usable_um2)}.", (board,), _at(board))


def move_board(visit: Visit) -> Answer:
    """Record where a board lies."""
    board = record.move_board(visit.shop, board=visit.code("B"), place=visit.text("place"))
    return Done(f"{board.code} lies at {board.place}.", (board.code,), f"/board/{board.code}")


def set_lead(visit: Visit) -> Answer:
    """Record what is known about lead on a board."""
    board = record.set_lead(
        visit.shop,
        board=visit.code("B"),
        lead_status=parse_lead_status(visit.text("lead"), field="lead"),
        lead_evidence=visit.text("lead-evidence"),
    )
    words = f"Lead: {board.lead_status}. {lead_caution(board.lead_status).text}"
    return Done(words, (board.code,), f"/board/{board.code}")


def retire(visit: Visit) -> Answer:
    """Close a board."""
    board = record.retire_board(
        visit.shop, board=visit.code("B"), reason=visit.text("retire-reason")
    )
    return Done(f"{board.code} is retired.", (board.code,), f"/board/{board.code}")


def try_place(visit: Visit) -> Answer:
    """Whether a shape fits where the finger is, and how much room it has."""
    board, spot = visit.code("B"), _spot(visit)
    ignore = (visit.text("reservation"),) if visit.text("reservation") else ()
    trial = try_spot(visit.shop, board=board, spot=spot, kerf_mm=_kerf_mm(visit), ignore=ignore)
    return Facts(
        {
            "fits": trial.fits,
            "reason": trial.reason,
            "room_mm": round(trial.room.mm, 2),
            "beside": trial.room.beside,
            "held": trial.held,
            "path": path_data(trial.region),
            "words": describe_spot(spot),
        }
    )


def suggest_places(visit: Visit) -> Answer:
    """The best places for a shape on a board."""
    wish = fitting.Wish(_shape(visit), _kerf_mm(visit), either_face=visit.text("side") == "either")
    fit = fitting.fits_here(visit.shop, board=visit.code("B"), wish=wish)
    places = [
        {
            "x_mm": spot.placement.x_um / 1000,
            "y_mm": spot.placement.y_um / 1000,
            "angle": spot.placement.angle_mdeg / 1000,
            "side": "back" if spot.placement.mirrored else "front",
            "path": path_data(spot.region),
        }
        for spot in fit.spots
    ]
    return Facts({"verdict": fit.verdict, "reason": fit.reason, "places": places})


def reserve(visit: Visit) -> Answer:
    """Hold a place for somebody."""
    board = visit.code("B")
    held = cutting.reserve(visit.shop, board=board, spot=_spot(visit), for_whom=visit.text("for"))
    return Done(f"{held.code} holds the place for {held.for_whom}.", (held.code, board), _at(board))


def release(visit: Visit) -> Answer:
    """Let a held place go."""
    code = read_code(visit.shop, text=visit.text("reservation"), kinds="R", field="reservation")
    gone = cutting.release(visit.shop, reservation=code, reason=visit.text("reason"))
    return Done(f"{gone.code} is released.", (gone.code, gone.board), _at(gone.board))


def cut(visit: Visit) -> Answer:
    """Record a cut."""
    gather = Gatherer()
    board, reserved = visit.code("B"), visit.text("reservation")
    tool = gather.take(
        lambda: parse_choice(visit.text("tool", "router"), TOOLS, field="tool"), "router"
    )
    kerf_mm = gather.take(lambda: _kerf_mm(visit), 0.0)
    gather.finish()
    held = (
        read_code(visit.shop, text=reserved, kinds="R", field="reservation") if reserved else None
    )
    new = cutting.NewCut(
        board=board,
        spot=_held_spot(visit, held) if held else _spot(visit),
        outcome="scrap" if visit.text("scrap") else "piece",
        tool=tool,
        kerf_mm=kerf_mm,
        reservation=held,
        reason=visit.text("reason"),
        override_reason=visit.text("override"),
    )
    view = cutting.record_cut(visit.shop, new=new)
    made = view.piece.code if view.piece else view.cut.code
    words = f"{made} is cut from {board}; {_left(view.board.usable_um2)}."
    then = f"/piece/{made}" if view.piece else f"/board/{board}"
    return Done(words, (made, board), then)


def _held_spot(visit: Visit, code: Code) -> Spot:
    from salvage.store.lookup import load_reservation

    return spot_of_reservation(load_reservation(visit.shop.conn, code))


def _kerf_mm(visit: Visit) -> float:
    tool = visit.text("tool", "router")
    if visit.text("kerf"):
        return parse_from_zero_mm(visit.text("kerf"), field="kerf", most_mm=50)
    return cutting.usual_kerf_mm(visit.shop, tool if tool in TOOLS else "router")


def _shape(visit: Visit) -> ChosenShape:
    mistakes: list[SalvageError] = []
    sizes: dict[str, float | None] = {}
    for name in ("width", "height"):
        typed = visit.text(name)
        try:
            sizes[name] = parse_length_mm(typed, field=name) if typed else None
        except BadValue as mistake:
            mistakes.append(mistake)
    if mistakes:
        raise ManyMistakes(mistakes)
    if not visit.text("shape"):
        raise BadValue("no shape was chosen", field="shape")
    return choose_shape(
        visit.shop,
        name=visit.text("shape"),
        width_mm=sizes["width"],
        height_mm=sizes["height"],
    )


def _spot(visit: Visit) -> Spot:
    return parse_spot(
        _shape(visit),
        at=visit.text("at"),
        angle=visit.text("angle", "0"),
        side=visit.text("side", "front"),
    )


def _left(usable_um2: int) -> str:
    return f"{format_area(usable_um2 / 1e6)} usable"


def _at(board: str) -> str:
    return f"/board/{board}#picture"


def ways(page: Function) -> tuple[Way, ...]:
    """All deeds of a board; *page* shows the board again where one is refused."""
    top = "/board/{code}"
    return (
        Way(f"{top}/clear", clear_board, form=page),
        Way(f"{top}/photo", keep_photo, form=page),
        Way(f"{top}/keepout", add_keep_out, form=page),
        Way(f"{top}/lift", lift_keep_out, form=page),
        Way(f"{top}/redraw", redraw_keep_out, form=page),
        Way(f"{top}/outline", set_outline, form=page),
        Way(f"{top}/move", move_board, form=page),
        Way(f"{top}/lead", set_lead, form=page),
        Way(f"{top}/retire", retire, form=page),
        Way(f"{top}/reserve", reserve, form=page),
        Way(f"{top}/release", release, form=page),
        Way(f"{top}/cut", cut, form=page),
        Way(f"{top}/try", try_place, asks=True),
        Way(f"{top}/suggest", suggest_places, asks=True),
    )
