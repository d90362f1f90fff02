"""Before cutting: a code by hand, scanner or photo, and everything at one glance."""

from __future__ import annotations

import io

import pytest
from PIL import Image

from salvage.codes.draw import draw_qr, symbol_png
from salvage.errors import BadCode, BadFile, BadOutline, NotFound
from salvage.ids import next_code, running_number
from salvage.records.region import region_of_text
from salvage.records.things import Board
from salvage.work.look import (
    draw_board_chart,
    draw_board_map,
    identify,
    identify_photo,
    look_at,
)
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.record import NewBoard, record_boards, retire_board
from salvage.work.workshop import Workshop
from tests.bench import add_drop_off, cut_circle


@pytest.mark.parametrize(
    "typed",
    [
        "{code}",
        " {lower} ",
        "{spaced}",
        "]C1{code}\r\n",
        "HTTPS://TIDEWRACK.EXAMPLE/S/{code}",
        "https://tidewrack.example/s/{lower}?from=card",
    ],
)
def test_a_code_is_known_however_it_is_given(
    empty_shop: Workshop, held_board: Board, typed: str
) -> None:
    """By hand in any case, by scanner with its prefix, or as the address on a card."""
    code = held_board.code
    text = typed.format(code=code, lower=code.lower(), spaced=f"{code[:2]} {code[2:6]}-{code[6:]}")

    assert identify(empty_shop, text=text).code == code


def test_a_scanner_on_another_keyboard_is_undone_and_told(
    empty_shop: Workshop, held_board: Board
) -> None:
    """A French layout types other marks for digits; the maker reads that it was undone."""
    text = held_board.code.translate(str.maketrans("0123456789", "à&é\"'(-è_ç"))
    reading = identify(empty_shop, text=text)

    assert reading.code == held_board.code
    assert "French" in reading.note


def test_a_misread_code_is_refused_with_the_nearest(
    empty_shop: Workshop, held_board: Board
) -> None:
    """Never silently taken for another; what it may have been is offered."""
    code = held_board.code
    with pytest.raises(BadCode, match=f"nearest: {code}"):
        identify(empty_shop, text=code[:5] + "9" + code[6:])


def test_a_lawful_code_that_is_not_here_is_not_found(
    empty_shop: Workshop, held_board: Board
) -> None:
    """It may belong to another workshop."""
    device = empty_shop.settings.device
    other, _ = next_code("B", device, running_number(held_board.code))
    with pytest.raises(NotFound, match="nothing with the code"):
        identify(empty_shop, text=other)


def _photo_of(*texts: str) -> bytes:
    """A white picture with the QR codes of some texts, one beside the other."""
    pictures = [Image.open(io.BytesIO(symbol_png(draw_qr(t), dots=6))) for t in texts]
    sheet = Image.new("L", (320 * len(pictures) + 40, 400), 255)
    for place, picture in enumerate(pictures):
        sheet.paste(picture.convert("L"), (40 + 320 * place, 60))
    out = io.BytesIO()
    sheet.save(out, "PNG")
    return out.getvalue()


def test_a_photo_shows_which_things_it_holds(empty_shop: Workshop, held_board: Board) -> None:
    """Labels of ours are read, each once; a stranger's code beside them does no harm."""
    data = _photo_of(held_board.code, "https://parcel.example/12345", held_board.drop_off)
    found = {reading.code for reading in identify_photo(empty_shop, data=data, name="bench.png")}

    assert found == {held_board.code, held_board.drop_off}


def test_a_photo_without_our_label_is_refused(empty_shop: Workshop) -> None:
    """It is told whether there was no code or only strangers'."""
    with pytest.raises(BadFile, match=r"bench.png shows only codes that are not ours: PARCEL"):
        identify_photo(empty_shop, data=_photo_of("PARCEL 12345"), name="bench.png")
    blank = io.BytesIO()
    Image.new("L", (200, 200), 255).save(blank, "PNG")
    with pytest.raises(BadFile, match="shows no code"):
        identify_photo(empty_shop, data=blank.getvalue(), name="bench.png")


def test_one_look_shows_verdict_area_and_fragments(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """Before a cut one sees at once whether, and where there is room."""
    cut_circle(empty_shop, cleared_board.code, 60, 40)
    look = look_at(empty_shop, board=cleared_board.code)

    assert look.go
    assert look.ledger is not None
    areas = [fragment.area_mm2 for fragment in look.largest_fragments]
    assert areas == sorted(areas, reverse=True)
    assert sum(areas) == pytest.approx(look.board.usable_um2 / 1e6, rel=0.01)


def test_a_held_board_is_a_no_go(empty_shop: Workshop, held_board: Board) -> None:
    """Each hazard that holds it is named."""
    look = look_at(empty_shop, board=held_board.code)

    assert not look.go
    assert len(look.obstacles) > 1


def test_the_map_is_drawn_with_and_without_photo(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """A board of 120 x 80 mm at 4 px/mm; the chart has the columns that were asked for."""
    view = cut_circle(empty_shop, cleared_board.code, 60, 40)
    place = region_of_text(view.cut.region)
    png = draw_board_map(empty_shop, board=cleared_board.code, legend=False)
    lit = draw_board_map(empty_shop, board=cleared_board.code, legend=False, highlight=place)
    picture = Image.open(io.BytesIO(png))
    chart = draw_board_chart(look_at(empty_shop, board=cleared_board.code), columns=40)

    assert picture.size[0] >= 480
    assert picture.size[1] >= 320
    assert lit != png
    assert max(map(len, chart)) <= 40
    assert len(set("".join(chart))) > 1


def test_a_board_without_outline_has_no_map(empty_shop: Workshop) -> None:
    """There is nothing to draw yet, and that is said."""
    new = NewBoard(add_drop_off(empty_shop), "other")
    board = record_boards(empty_shop, new=new)[0]
    look = look_at(empty_shop, board=board.code)

    assert draw_board_chart(look, columns=40) == ()
    assert look.largest_fragments == ()
    with pytest.raises(BadOutline, match="no outline yet"):
        draw_board_map(empty_shop, board=board.code)


def test_the_backs_map_is_seen_as_when_turned_over(
    empty_shop: Workshop, cleared_board: Board
) -> None:
    """A cut near the left edge is near the right edge of the back's map, over the back's photo."""
    cut_circle(empty_shop, cleared_board.code, 20, 40)
    half = Image.new("RGB", (240, 160), (20, 80, 45))
    half.paste((200, 30, 30), (0, 0, 120, 160))
    out = io.BytesIO()
    half.save(out, "PNG")
    corners = ((240.0, 160.0), (0.0, 160.0), (0.0, 0.0), (240.0, 0.0))
    photo = NewPhoto(out.getvalue(), "back.png", "back", "", corners)
    plain = draw_board_map(empty_shop, board=cleared_board.code, side="back")
    add_photo(empty_shop, code=cleared_board.code, new=photo)
    png = draw_board_map(empty_shop, board=cleared_board.code, legend=False, side="back")
    seen = Image.open(io.BytesIO(png)).convert("RGB")
    middle, row = seen.width / 2, seen.height / 2
    # 4 px/mm; where nothing is cut the photo shines through, faded, red on the left.
    (left, right), (red, green) = (
        [seen.getpixel((round(middle + at * 4), round(row))) for at in places]
        for places in ((-40, 40), (-10, 10))
    )

    assert plain != png
    assert isinstance(left, tuple)
    assert isinstance(right, tuple)
    assert isinstance(red, tuple)
    assert isinstance(green, tuple)
    assert red[0] > green[0]
    # The cut hides the photo at the right: grey there, still red at its mirror place.
    assert max(right) - min(right) < 40 < max(left) - min(left)


def test_a_retired_board_promises_no_room(empty_shop: Workshop, cleared_board: Board) -> None:
    """What is in the bin offers no largest circle beside its zero of usable area."""
    before = look_at(empty_shop, board=cleared_board.code)
    retire_board(empty_shop, board=cleared_board.code, reason="to the recycler")
    after = look_at(empty_shop, board=cleared_board.code)

    assert before.largest_fragments
    assert after.board.usable_um2 == 0
    assert after.largest_fragments == ()
