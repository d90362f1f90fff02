"""A board: its picture in board coordinates with all layers, its hazards, what was cut from it."""

from __future__ import annotations

from typing import Any

from salvage.errors import NotFound
from salvage.ids import Code
from salvage.records.choices import LEAD_STATUSES, PHOTO_SIDES, SIDES, TOOLS
from salvage.records.region import region_of_text
from salvage.records.things import Board, Cut, Piece, Reservation
from salvage.store.cache import Cache
from salvage.store.lookup import load_board
from salvage.store.rows import select
from salvage.units import from_um
from salvage.web import board_deeds
from salvage.web.doors import Way
from salvage.web.shelf import board_state
from salvage.web.visit import Answer, Bytes, Sheet, Visit
from salvage.work.area import board_outline
from salvage.work.clear import read_checklist
from salvage.work.library import list_shapes
from salvage.work.look import BoardLook, look_at
from salvage.work.photos import board_picture, cornered_photo, list_photos
from salvage.work.record import list_keep_outs
from salvage.work.richness import draw_board_richness, look_for_richness

_FACE_PX = {"small": 360.0, "large": 1600.0}
_LAYERS = ("usable", "unusable", "wall")


def show_board(visit: Visit) -> Answer:
    """Everything about one board."""
    code = visit.code("B")
    look = look_at(visit.shop, board=code)
    facts = {
        "board": look.board,
        "standing": board_state(look.board),
        "look": look,
        "picture": _picture(visit, look),
        "checklist": read_checklist(visit.shop, code),
        "pieces": select(
            visit.shop.conn, Piece, "FROM piece WHERE board = ? ORDER BY code", (code,)
        ),
        "keep_outs": [k for k in list_keep_outs(visit.shop, code) if not k.lifted],
        "held": _held(visit, code),
        "corners_of": corners_text,
        "shapes": _shapes(visit),
        "tools": TOOLS,
        "kerf_mm": visit.shop.settings.kerf_mm,
        "photo_sides": PHOTO_SIDES,
        "today": visit.shop.today,
        "leads": LEAD_STATUSES,
    }
    return Sheet("board.html", f"{code} {look.board.title}", facts)


def _picture(visit: Visit, look: BoardLook) -> dict[str, Any] | None:
    """What the drawing of a board is made of; None while it has no outline."""
    outline = board_outline(look.board)
    if outline is None or look.ledger is None:
        return None
    conn, code = visit.shop.conn, look.board.code
    faces = {}
    for side in ("front", "back"):
        photo = cornered_photo(visit.shop, code, side=side)
        if photo:
            faces[side] = f"/board/{code}/face/{side}/large?v={photo.sha256[:12]}"
    width, height = outline.size_mm
    cuts = select(conn, Cut, "FROM cut WHERE board = ? ORDER BY clock, code", (code,))
    named = dict(conn.execute("SELECT cut, code FROM piece WHERE board = ?", (code,)))
    return {
        "outline": outline,
        "width": width,
        "height": height,
        "faces": faces,
        "rich": _rich_address(visit, code) if faces else "",
        "start": _start(look),
        "layers": {layer: look.ledger.layers[layer] for layer in _LAYERS},
        "cuts": [(cut, named.get(cut.code, cut.code), _middle(cut.region)) for cut in cuts],
    }


def _rich_address(visit: Visit, code: Code) -> str:
    photo = cornered_photo(visit.shop, code, side="front")
    return f"/board/{code}/rich?v={photo.sha256[:12]}" if photo else ""


def _start(look: BoardLook) -> str:
    """Where a shape is put first: the middle of the largest circle that is free."""
    if not look.largest_fragments:
        return ""
    return "{:.1f},{:.1f}".format(*look.largest_fragments[0].inscribed_at_mm)


def show_rich(visit: Visit) -> Answer:
    """Where the traces of the front run densest, as a picture to lay over the board: a hint."""
    view = look_for_richness(visit.shop, board=visit.code("B"))
    return Bytes(draw_board_richness(visit.shop, view=view, words=False), "image/png")


def corners_text(region: str) -> str:
    """The outer corners of a region as people type them, in millimetres."""
    return " ".join(f"{x / 1000:g},{y / 1000:g}" for x, y in region_of_text(region).outer)


def _middle(region: str) -> tuple[float, float]:
    left, bottom, right, top = region_of_text(region).bounds_um
    return from_um((left + right) // 2), from_um((bottom + top) // 2)


def _held(visit: Visit, code: str) -> tuple[Reservation, ...]:
    rest = "FROM reservation WHERE board = ? AND state = 'held' ORDER BY code"
    return select(visit.shop.conn, Reservation, rest, (code,))


def _shapes(visit: Visit) -> list[str]:
    from salvage.geometry.shapes import BUILT_IN_SHAPES

    return [*(shape.name for shape in list_shapes(visit.shop)), *BUILT_IN_SHAPES]


def show_face(visit: Visit) -> Answer:
    """A side of a board in board coordinates, as a picture; the back as seen through it."""
    code, side, size = visit.code("B"), visit.path["side"], visit.path["size"]
    board = load_board(visit.shop.conn, code)
    outline = board_outline(board)
    photo = cornered_photo(visit.shop, code, side=side) if side in SIDES else None
    if outline is None or photo is None or size not in _FACE_PX:
        raise NotFound(f"{code} has no such picture", hint="salvage measure takes one")
    cache = Cache(visit.shop.folder / "cache.db")
    state = f"{photo.sha256} {photo.corners} {board.outline}"
    kind = f"page face 1 {side} {size}"
    data = cache.load(code, kind, state=state)
    if data is None:
        data = _draw(visit, board, side, _FACE_PX[size] / max(outline.size_mm))
        cache.save_all(kind, [(code, state, data)])
    return Bytes(data, "image/jpeg", keep=True)


def _draw(visit: Visit, board: Board, side: str, px_per_mm: float) -> bytes:
    from salvage.photo.upright import upright_jpeg

    png = board_picture(visit.shop, board, px_per_mm=px_per_mm, side=side)
    assert png is not None  # its photo and outline are there
    return upright_jpeg(png, longest_px=1600)


def show_photo(visit: Visit) -> Answer:
    """A photo as it was taken, upright and without what the phone wrote into it."""
    from salvage.photo.upright import upright_jpeg

    number = visit.path["n"]
    for photo in list_photos(visit.shop, visit.code("BPD")):
        if str(photo.n) == number:
            data = upright_jpeg(visit.shop.files.load(photo.sha256), longest_px=1600)
            return Bytes(data, "image/jpeg", keep=True)
    raise NotFound(f"there is no photo {number[:12]} of this")


WAYS = (
    Way("/board/{code}", show_board),
    Way("/board/{code}/rich", show_rich),
    Way("/board/{code}/face/{side}/{size}", show_face),
    Way("/photo/{code}/{n}", show_photo),
    *board_deeds.ways(show_board),
)
