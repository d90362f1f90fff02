"""The back of a board in its front's frame, from one photo, so that both lie on one another."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from salvage.errors import BadOutline, BadValue, Refused
from salvage.ids import Code
from salvage.records.region import Region
from salvage.records.things import Board, Photo
from salvage.store.change import Change
from salvage.store.lookup import load_board
from salvage.work.area import board_outline
from salvage.work.measuring import look_at_board
from salvage.work.photos import (
    NewPhoto,
    append_photo,
    board_picture,
    cornered_photo,
    keep,
    look_over,
)
from salvage.work.standing import standing_parts
from salvage.work.taking import ON_MAT, Look, Taking
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.photo.register import SidePlace

TYPED_RESIDUAL_MM = 1.5
"""
Edges that may lie apart where the front was typed or taken from a form factor: a ruler in a hurry
and rounded corners (common practice, no source).
"""

_SAME_TURN_DEG = 15
_FRONT_PX_PER_MM = 4.0


@dataclass(frozen=True, slots=True)
class FoundBack:
    """
    What a photo of a board's back says; nothing is kept of it yet.

    Args:
        board: The board.
        look: Outline and holes of the back, as seen when the board is turned over.
        places: Where it may lie in the front's frame, best first; more than one is a question.
        photos: The photos as they are.
    """

    board: Board
    look: Look
    places: tuple[SidePlace, ...]
    photos: tuple[NewPhoto, ...]

    @property
    def is_certain(self) -> bool:
        """Whether there is only one way."""
        return len(self.places) == 1

    @property
    def turns(self) -> tuple[int, ...]:
        """The turns to choose from, in whole degrees."""
        return tuple(sorted(place.turn_word for place in self.places))


@dataclass(frozen=True, slots=True)
class BackKept:
    """
    A board whose back is on record.

    Args:
        board: The board.
        place: Where the back lies in the front's frame, and how well it fits.
        photo: The back squared up, over which maps are drawn.
    """

    board: Board
    place: SidePlace
    photo: Photo


def find_back(
    shop: Workshop, *, board: Code, photos: tuple[NewPhoto, ...], taking: Taking = ON_MAT
) -> FoundBack:
    """
    Where the back in a photo lies in the front's frame, by outline and holes; nothing is kept.

    The front may be measured, typed, or a form factor's. Of a board that was cut, what should still
    be there is compared.

    Args:
        shop: The open workshop.
        board: The board's code.
        photos: One of the back, or two of it lying still.
        taking: How they get their scale.

    Raises:
        NotFound: If there is no such board.
        BadOutline: If its front has no outline yet.
        BadFile: If the photo cannot be measured honestly.
        Refused: If it is another board's back; with how far the edges are apart.
    """
    from salvage.photo.register import MOST_RESIDUAL_MM, register_back

    found = load_board(shop.conn, board)
    parts = standing_parts(shop.conn, found)
    if not parts:
        raise BadOutline(
            f"the front of {board} has no outline yet", hint=f"salvage measure {board} front.jpg"
        )
    photos = tuple(replace(photo, side="back", corners_px=None) for photo in photos)
    for photo in photos:
        look_over(board, photo)
    look = look_at_board(shop, found, photos, taking)
    is_measured = found.outline_from.startswith("photo") and look.mat is not None
    registered = register_back(
        parts[0],
        look.measurement.outline,
        most_residual_mm=MOST_RESIDUAL_MM if is_measured else TYPED_RESIDUAL_MM,
    )
    return FoundBack(found, look, registered.places, photos)


def draw_back_choices(shop: Workshop, *, found: FoundBack) -> dict[int, bytes]:
    """
    A small picture for each way in which the back may belong to the front, by its turn.

    Args:
        shop: The open workshop.
        found: From :func:`find_back`.
    """
    from salvage.photo.other_side import SideChoice, draw_choice

    outline = _outline(found.board)
    front = board_picture(shop, found.board, px_per_mm=_FRONT_PX_PER_MM)
    return {
        place.turn_word: draw_choice(
            SideChoice(_seen(found, place), f"{found.board.code}  --turn {place.turn_word}"),
            front_png=front,
            outline=outline,
        )
        for place in found.places
    }


def keep_back(
    shop: Workshop, *, found: FoundBack, turn: int | None = None, dry_run: bool = False
) -> BackKept:
    """
    Keep the photos of a board's back, and the back squared up in the front's frame.

    Args:
        shop: The open workshop.
        found: From :func:`find_back`.
        turn: Which way, in degrees, where there are several; near one of ``found.turns``.
        dry_run: Do everything, then roll back; nothing is kept.

    Raises:
        Refused: If there are several ways and none is chosen: it is asked, never guessed.
        BadValue: If the chosen way is none of them.
    """
    place = choose_place(found, turn)
    code = found.board.code
    squared = _squared_photo(found, place)
    taken = [
        keep(shop, photo, look_over(code, photo), dry_run=dry_run)
        for photo in (*found.photos, squared)
    ]

    def steps(change: Change) -> BackKept:
        for photo in taken:
            append_photo(change, code, photo)
        kept = cornered_photo(shop, code, side="back")
        assert kept is not None  # it was appended just now
        return BackKept(load_board(change.conn, code), place, kept)

    return shop.commit("add back", steps, dry_run=dry_run)


def choose_place(found: FoundBack, turn: int | None) -> SidePlace:
    """
    The way that is meant.

    Raises:
        Refused: If there are several and none is chosen.
        BadValue: If the chosen one is none of them.
    """
    ways = " or ".join(f"--turn {way}" for way in found.turns)
    if turn is None:
        if found.is_certain:
            return found.places[0]
        holes = ", ".join(f"{p.matched_holes} of {p.holes} holes" for p in found.places)
        raise Refused(
            f"the back of {found.board.code} fits in {len(found.places)} ways ({holes})",
            hint=f"look at the pictures, then say which: {ways}",
        )

    def apart(place: SidePlace) -> float:
        return abs((place.turn_deg - turn + 180) % 360 - 180)

    nearest = min(found.places, key=apart)
    if apart(nearest) > _SAME_TURN_DEG:
        raise BadValue(f"the back does not fit turned by {turn}", hint=ways, field="--turn")
    return nearest


def _outline(board: Board) -> Region:
    outline = board_outline(board)
    assert outline is not None  # a back is found for measured boards only
    return outline


def _seen(found: FoundBack, place: SidePlace) -> bytes:
    """The back as seen when the board is turned over like a page."""
    from salvage.photo.other_side import draw_back

    pictures = found.look.measurement.pictures
    return draw_back(
        pictures.squared_png,
        place,
        px_per_mm=pictures.squared_px_per_mm,
        size_mm=_outline(found.board).size_mm,
    )


def _squared_photo(found: FoundBack, place: SidePlace) -> NewPhoto:
    from salvage.photo.intake import inspect_photo

    data = _seen(found, place)
    facts = inspect_photo(data, name="squared up")
    right, low = float(facts.width_px), float(facts.height_px)
    # Named as on the front: its lower left corner is at the lower right when turned over.
    corners = [(right, low), (0.0, low), (0.0, 0.0), (right, 0.0)]
    name = f"{found.board.code}-back-squared.png"
    return NewPhoto(data, name, "back", "back, squared up to the front", corners_px=corners)
