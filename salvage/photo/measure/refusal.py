"""
Why a photo is not measured, with one thing to do about it.

A wrong number that looks right costs a board; a second photo costs a minute. Each refusal has a
slug that never changes, so that a script or a web page can tell them apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from salvage.errors import BadFile

if TYPE_CHECKING:
    from salvage.records.region import Region

REASONS: dict[str, str] = {
    "no-mat": "lay the board on a printed mat (salvage mat print) and take in the whole mat",
    "too-few-markers": "take in the whole mat, with nothing lying on its border",
    "lop-sided-markers": "take in the whole mat: markers must be seen all round the board",
    "mirrored": "turn off mirroring in the camera, or print the mat anew without mirroring",
    "wrong-mat": "choose the mat that is in the photo, or print this version of the mat",
    "bent-mat": "press the mat flat on a board or glass and take the photo again",
    "blurred": "hold the camera still, tap on the board to focus, and add light",
    "wide-angle": "use the phone's main camera, not its ultra-wide one, and no effects",
    "tilted": "hold the camera more squarely above the board",
    "too-dark": "add light, from two sides if you can",
    "overexposed": "turn down the exposure or move the lamp; white paper must not burn out",
    "too-small": "go nearer, or send the photo in full size instead of through a chat",
    "no-board": "lay a board inside the coloured field",
    "two-boards": "take the other board away, or choose one: --take left, right, upper or lower;"
    " --with BOARD records the other one too",
    "cut-off": "take in the whole board",
    "over-border": "move the board until coloured field is seen all round it, or use a larger mat",
    "low-contrast": "use a mat whose colour the board does not have",
    "cluttered": "clear the field, soften the light, and take the photo again",
    "different-photos": "leave the board where it lies between the two photos",
    "bad-strip": "print the height strips at 100 % together with the mat, and lay one flat on the "
    "bare board; or take a second photo from another side instead",
    "stretched": "send the photo as the camera took it, neither stretched nor squeezed",
    "bad-scale": "measure the printed bars again, or print at 100 % without fitting to the page",
}
"""Every slug and the mend that goes with it."""


class PhotoRefused(BadFile):
    """
    A photo that cannot be measured honestly.

    Args:
        reason: One of :data:`REASONS`.
        message: What is wrong, with the number that was found.
        outlines: For ``two-boards``: both outlines, larger first, so that one can be chosen.

    >>> PhotoRefused("tilted", "the camera looks from 55 degrees, 45 at most").reason
    'tilted'
    """

    def __init__(self, reason: str, message: str, *, outlines: Sequence[Region] = ()) -> None:
        super().__init__(message, hint=REASONS[reason])
        self.reason = reason
        self.outlines = tuple(outlines)
