"""Which printed mat a photo shows, by the code among its markers."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.photo.measure.refusal import PhotoRefused
from salvage.records.things import PrintedMat
from salvage.work.mats import scale_of, text_of_mat

if TYPE_CHECKING:
    from salvage.photo.measure.mat import Mat, PrintScale

_TEXT = re.compile(r"(M[A-Z][0-9]{1,6})-[0-9A-F]{4}")


@dataclass(frozen=True, slots=True)
class SeenMat:
    """
    The mat in a photo.

    Args:
        paper: Its size, by its markers.
        serial: As its code says, or that of the mat it is taken for; empty where nobody knows.
        printed: This workshop's record of it; None for a mat that it never printed.
        notes: What a person should know of it.
    """

    paper: str
    serial: str = ""
    printed: PrintedMat | None = None
    notes: tuple[str, ...] = ()

    @property
    def is_checked(self) -> bool:
        """Whether a ruler was laid on its bars."""
        return self.printed is not None and scale_of(self.printed) is not None

    @property
    def words(self) -> str:
        """The mat in words, for the record."""
        if not self.serial:
            return f"{self.paper} mat without a serial"
        return f"mat {self.serial}" if self.printed else f"mat {self.serial} of another workshop"


class MatRecogniser:
    """
    Told what a photo shows of its mat, remembers which one it is, and answers with its print scale.

    Args:
        mats: This workshop's mats, newest first; empty without a workshop.
        told: The mat that somebody named; None where nobody did.
    """

    def __init__(self, mats: Sequence[PrintedMat], *, told: PrintedMat | None = None) -> None:
        self._mats = tuple(mats)
        self._told = told
        self.seen: SeenMat | None = None

    def __call__(self, mat: Mat, pictures: tuple[bytes, ...]) -> PrintScale | None:
        """
        The print scale of the mat in the photo; None while nobody laid a ruler on it.

        Raises:
            PhotoRefused: ``wrong-mat``, with both serials, if it is not the mat that was told, or
                sheets of two mats were joined.
        """
        text = _read_text(pictures)
        self.seen = self._of_text(mat.name, text) if text else self._unread(mat.name)
        return scale_of(self.seen.printed) if self.seen.printed else None

    def _of_text(self, paper: str, text: str) -> SeenMat:
        serial = text.partition("-")[0]
        printed = next((mat for mat in self._mats if text_of_mat(mat) == text), None)
        if self._told and self._told != printed:
            other = " of another workshop" if self._told.serial == serial else ""
            raise PhotoRefused(
                "wrong-mat", f"the photo shows mat {serial}{other}, not {self._told.serial}"
            )
        if printed is None:
            note = (
                f"mat {serial} was not printed by this workshop, so its print scale is not known"
                if self._mats
                else f"no workshop here knows mat {serial}, so its print scale is not known"
            )
            return SeenMat(paper, serial, None, (note,))
        newest = self._newest(paper)
        if newest is None or newest == printed:
            return SeenMat(paper, serial, printed)
        note = (
            f"this is the old mat {serial} of {printed.printed_at[:10]}; {newest.serial} was "
            "printed since"
        )
        return SeenMat(paper, serial, printed, (note,))

    def _unread(self, paper: str) -> SeenMat:
        if self._told and self._told.paper != paper:
            raise PhotoRefused(
                "wrong-mat",
                f"the photo shows a mat of size {paper}, and {self._told.serial} is "
                f"{self._told.paper}",
            )
        taken_for = self._told or self._newest(paper)
        if taken_for is None:
            note = f"this workshop printed no {paper} mat" if self._mats else ""
            return SeenMat(paper, notes=(note,) if note else ())
        why = "as was told" if self._told else f"the newest {paper} mat"
        note = f"the mat's code could not be read; it is taken for {taken_for.serial}, {why}"
        return SeenMat(paper, taken_for.serial, taken_for, (note,))

    def _newest(self, paper: str) -> PrintedMat | None:
        return next((mat for mat in self._mats if mat.paper == paper), None)


def _read_text(pictures: Sequence[bytes]) -> str:
    """What the codes of a mat say; empty where none can be read."""
    from salvage.codes.read import read_codes

    texts = {reading.text for picture in pictures for reading in read_codes(picture)}
    ours = sorted(text for text in texts if _TEXT.fullmatch(text))
    if len(ours) > 1:
        serials = " and ".join(text.partition("-")[0] for text in ours)
        raise PhotoRefused("wrong-mat", f"sheets of two mats are joined: {serials}")
    return ours[0] if ours else ""
