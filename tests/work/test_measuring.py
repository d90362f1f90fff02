"""Measuring from a photo: the outline belongs to the board that was named."""

from __future__ import annotations

import pytest

from salvage.errors import Refused
from salvage.geometry.outline import rectangle
from salvage.ids import Code
from salvage.work.mats import print_mat
from salvage.work.measuring import measure_board
from salvage.work.photos import NewPhoto
from salvage.work.record import NewBoard, record_boards
from salvage.work.workshop import Workshop
from tests.bench import add_drop_off, dump
from tests.faces.steps_measure import mat_photo


def _board(shop: Workshop) -> Code:
    """A board that is recorded as 30 x 20 mm; the one in the photo is much larger."""
    new = NewBoard(add_drop_off(shop), "network-board", thickness_mm=1.6, outline=rectangle(30, 20))
    return record_boards(shop, new=new)[0].code


def test_another_boards_photo_is_noticed(empty_shop: Workshop) -> None:
    """A photo of a board of quite another size is taken only by who says so; then the size fits."""
    print_mat(empty_shop)
    code = _board(empty_shop)
    photos = (NewPhoto(mat_photo(), "on-mat.jpg"),)
    before = dump(empty_shop)
    with pytest.raises(Refused, match=r"recorded as 30\.0 x 20\.0 mm, and the photo") as caught:
        measure_board(empty_shop, board=code, photos=photos)
    refused = dump(empty_shop)
    kept = list(empty_shop.files.kept())
    first = measure_board(empty_shop, board=code, photos=photos, replace=True).board
    again = measure_board(empty_shop, board=code, photos=photos).board

    assert refused == before
    assert kept == []
    assert "--replace" in caught.value.hint
    assert first.outline_um2 == again.outline_um2 != 600 * 10**6
