"""``salvage measure`` and ``mat``: from photos of all sorts to numbers, or one clear refusal."""

from __future__ import annotations

import struct
import zlib
from dataclasses import replace
from functools import cache
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image, ImageDraw

from salvage.photo.measure.fallback import CARD_MM
from salvage.photo.measure.mat import standard_mat
from salvage.work.mats import code_of_mat, list_mats
from salvage.work.workshop import open_workshop
from tests.benchmarks.photo_scene import render
from tests.benchmarks.photo_shots import make_case
from tests.desk import Desk, Told
from tests.faces.steps_measure import mat_photo, pair_photo
from tests.photo.measure.test_fallback import carried, flat_picture, jpeg, slanted

HEIC = Path(__file__).parents[1] / "photo" / "pictures" / "on-mat.heic"
WIDTH_MM = 180.98
"""Width of the board in the seeded photo."""

FREE = "--corners '1,9 9,9 9,1 1,1'"


def refused(told: Told, *, code: int = 1) -> str:
    """What a refused line told on the error stream: short, and no traceback."""
    assert told.code == code, told.out + told.err
    assert "Traceback" not in told.err
    assert len(told.err.splitlines()) <= 2
    return told.err


def new_board(desk: Desk, *, more: str = "") -> str:
    """A board of the planetarium's, without any outline."""
    drop_off = desk.code("dropoff add --donor Kelpie --contents boards")
    return desk.code(f"board add {drop_off} --type network-board {more}")


def photo_on_own_mat(desk: Desk, serial: str) -> bytes:
    """The seeded photo with a mat that this workshop printed, its code and print scale included."""
    with open_workshop(desk.shop, clock=desk.clock) as shop:
        (printed,) = [mat for mat in list_mats(shop) if mat.serial == serial]
    mat = standard_mat(printed.paper, serial=serial)
    case = make_case(11, megapixels=3, tilt_deg=10, mat=mat)
    scene = replace(case.scene, code=code_of_mat(printed))
    return render(scene, case.first)


def true_scale() -> tuple[float, float]:
    """What a ruler reads on the bars of the seeded print."""
    x, y = make_case(11, megapixels=3, tilt_deg=10).scene.print_scale
    return 200 * x, 200 * y


def test_from_the_door_to_the_cutter_without_typing_a_dimension(tmp_path: Path) -> None:
    """Drop-off, board, photo, hazards, scan: the board is GO, and nobody typed a length of it."""
    desk = Desk(tmp_path)
    serial = desk.do("mat print --paper a4 --json").value["serial"]
    desk.do("mat check {:.2f} {:.2f}".format(*true_scale()))
    desk.do("mat print --paper a3")
    (tmp_path / "one.jpg").write_bytes(photo_on_own_mat(desk, serial))
    board = new_board(desk)
    found = desk.do(f"measure {board} one.jpg --json").value
    desk.do(f"board clear {board} --absent all-open --how 'lamp and mirror'")
    scanned = desk.do(f"scan {board} --json").value
    width, height = found["size_mm"]

    assert found["mat"] == serial
    assert width == pytest.approx(WIDTH_MM, abs=found["interval_mm"] * 2)
    assert scanned["go"] is True
    assert scanned["usable_mm2"] > 0.8 * found["area_mm2"]
    assert found["board"]["outline_from"] == found["outline_from"]
    assert f"photo on mat {serial}" in found["outline_from"]
    assert "not checked" not in found["outline_from"]
    assert (width, height) == (found["board"]["width_mm"], found["board"]["height_mm"])


def test_a_told_mat_guards_against_the_wrong_photo(tmp_path: Path) -> None:
    """--mat with another serial is refused with both, and nothing is kept."""
    desk = Desk(tmp_path)
    first = desk.do("mat print --json").value["serial"]
    second = desk.do("mat print --out second.pdf --json").value["serial"]
    (tmp_path / "one.jpg").write_bytes(photo_on_own_mat(desk, first))
    board = new_board(desk)
    told = desk.run(f"measure {board} one.jpg --mat {second} --json")
    old = desk.do(f"measure {board} one.jpg --json").value

    assert f"{first}, not {second}" in refused(told)
    assert told.value["reason"] == "wrong-mat"
    assert any(f"the old mat {first}" in warning for warning in old["warnings"])


def test_a_photo_alone_is_measured_and_nothing_is_kept(tmp_path: Path) -> None:
    """No workshop, no board: outline, holes, area and intervals all the same, and no folder."""
    desk = Desk(tmp_path)
    (tmp_path / "one.jpg").write_bytes(mat_photo())
    found = desk.do("measure one.jpg --overlay look.jpg --json").value
    told = desk.do("measure one.jpg")

    assert found["board"] is None
    assert (found["mat"], found["mat_paper"]) == ("", "a4")
    assert max(x for x, _ in found["outline_mm"]) == pytest.approx(WIDTH_MM, abs=2)
    assert len(found["holes"]) == len(found["holes_mm"]) > 0
    assert found["area_interval_mm2"][0] < found["area_mm2"] < found["area_interval_mm2"][1]
    assert (found["method"], found["height_source"]) == ("mat", "assumed")
    assert "nothing was kept" in told.out
    assert (tmp_path / "look.jpg").read_bytes().startswith(b"\xff\xd8")
    assert not desk.shop.exists()


def test_a_refused_photo_is_told_to_programs_too(tmp_path: Path) -> None:
    """With --json the line, the mend and the reason stand on the output; people read the same."""
    desk = Desk(tmp_path)
    Image.new("RGB", (1600, 1200), (120, 90, 60)).save(tmp_path / "bench.png")
    told = desk.run("measure bench.png --json")
    gone = desk.run("measure gone.png --json")

    assert told.value["reason"] == "no-mat"
    assert told.value["error"] in refused(told)
    assert "salvage mat print" in told.value["hint"]
    assert "is not there" in gone.value["error"]
    assert gone.value["reason"] == ""
    assert refused(gone)


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (f"measure one.jpg {FREE}", "--size"),
        ("measure one.jpg --size 80x60", "--corners"),
        (f"measure one.jpg --dpi 300 {FREE} --size 80x60", "--corners and --dpi both"),
        (f"measure one.jpg --mat M1 --card '{FREE[11:-1]}'", "--mat and --card both"),
        ("measure one.jpg --second two.jpg --dpi 300", "--second"),
        ("measure one.jpg --take left --dpi 300", "--take"),
        ("measure one.jpg --take middle", "'middle' is no place"),
        ("measure one.jpg --card '1,2 3,4'", "not four corners"),
        ("measure one.jpg --dpi 9000", "out of range"),
        ("measure one.jpg --mat M1", "no workshop here"),
    ],
)
def test_what_cannot_be_meant_together_is_one_line(tmp_path: Path, line: str, says: str) -> None:
    """Two scales for one photo, or half of one, are refused before anything is measured."""
    desk = Desk(tmp_path)
    (tmp_path / "one.jpg").write_bytes(jpeg(flat_picture()))
    (tmp_path / "two.jpg").write_bytes(jpeg(flat_picture()))

    assert says in refused(desk.run(line))


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("measure one.jpg --form atx", "name the board first"),
        ("measure one.jpg --with BC0002J", "name the board first"),
        ("measure BC0002J", "name the photo too"),
        ("measure a b c", "--second"),
        ("measure BC0002J one.jpg --with BD0001G --form atx", "do not go together"),
    ],
)
def test_a_line_that_lacks_something_is_misused(tmp_path: Path, line: str, says: str) -> None:
    """What changes a record needs a board, and a board needs a photo."""
    desk = Desk(tmp_path)
    (tmp_path / "one.jpg").write_bytes(b"")

    assert says in refused(desk.run(line), code=2)


def test_without_a_mat_the_larger_doubt_goes_into_the_record(tmp_path: Path) -> None:
    """A scan, a bank card and picked corners give the same fields, and say how far off they are."""
    desk = Desk(tmp_path)
    board = new_board(desk)
    (tmp_path / "scan.jpg").write_bytes(jpeg(flat_picture()))
    data, move = slanted(flat_picture(with_card=True))
    (tmp_path / "card.jpg").write_bytes(data)
    data, flat_move = slanted(flat_picture())
    (tmp_path / "corners.jpg").write_bytes(data)
    card = " ".join(f"{x:.1f},{y:.1f}" for x, y in carried(move, (97, 20, *CARD_MM)))
    corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in carried(flat_move, (10, 12, 80, 60)))
    told = [
        desk.do(f"measure {board} {line} --json").value
        for line in (
            "scan.jpg --dpi 300",
            f"card.jpg --card '{card}'",
            f"corners.jpg --corners '{corners}' --size 80x60",
        )
    ]
    alone = desk.do(f"measure card.jpg --card '{card}'").out

    assert [found["method"] for found in told] == ["scan", "card", "corners"]
    for found in told:
        assert found["size_mm"] == pytest.approx([80, 60], abs=0.5)
        assert found["board"]["outline_from"] == found["outline_from"]
        assert f"within {found['interval_mm']:.2f} mm" in found["outline_from"]
    assert told[0]["interval_mm"] < 0.5 < told[1]["interval_mm"]
    assert "flatbed scan at 300 dpi" in told[0]["outline_from"]
    assert "not good enough to cut by" in told[1]["outline_from"]
    assert "not good enough to cut by" in told[2]["outline_from"]
    assert "not good enough to cut by" in alone


def test_two_boards_are_offered_chosen_or_both_recorded(tmp_path: Path) -> None:
    """The refusal names both with their sizes; one word chooses, another records both."""
    desk = Desk(tmp_path)
    (tmp_path / "pair.jpg").write_bytes(pair_photo())
    (tmp_path / "one.jpg").write_bytes(mat_photo())
    low = new_board(desk)
    high = new_board(desk)
    told = desk.run(f"measure {low} pair.jpg --json")
    alone = desk.do("measure pair.jpg --take upper --json").value
    which = desk.run(f"measure {low} pair.jpg --with {high}")
    same = desk.run(f"measure {low} pair.jpg --take lower --with {low}")
    single = desk.run("measure one.jpg --take left")
    above = desk.run("measure pair.jpg --take left")
    pair = desk.do(f"measure {low} pair.jpg --take lower --with {high} --json").value

    assert "upper 1" in refused(told)
    assert "lower 1" in told.err
    assert "--take" in told.value["hint"]
    assert told.value["reason"] == "two-boards"
    assert len(told.value["outlines_mm"]) == 2
    assert "which of the two" in refused(which)
    assert "named twice" in refused(same)
    assert "only one board" in refused(single)
    assert "'left' does not tell the boards apart" in refused(above)
    assert [found["board"]["code"] for found in pair] == [low, high]
    assert pair[1]["area_mm2"] == alone["area_mm2"] != pair[0]["area_mm2"]


@cache
def mini_itx_scan(*, holes: bool = True) -> bytes:
    """
    A Mini-ITX board on a scanner at 150 dots per inch.

    170 x 170 mm (Mini-ITX Addendum 1.1 to the microATX specification 1.2, Table 1); holes C, F, H
    and J of 3.96 mm at 6.35 or 163.83 mm from the left and 10.16, 33.02 or 165.1 mm from the rear,
    as separately written public case designs have them.
    """
    per_mm, fine = 150 / 25.4, 3
    size = round(200 * per_mm), round(190 * per_mm)
    picture = Image.new("RGB", (size[0] * fine, size[1] * fine), (235, 235, 230))
    pen, k = ImageDraw.Draw(picture), per_mm * fine
    pen.rectangle((12 * k, 9 * k, 182 * k - 1, 179 * k - 1), fill=(25, 95, 50))
    for x, y in ((6.35, 10.16), (163.83, 33.02), (6.35, 165.1), (163.83, 165.1)) if holes else ():
        cx, cy, r = (12 + x) * k, (9 + y) * k, 1.98 * k
        pen.ellipse((cx - r, cy - r, cx + r, cy + r), fill=(235, 235, 230))
    pen.ellipse((90 * k, 90 * k, 96 * k, 96 * k), fill=(235, 235, 230))
    return jpeg(picture.resize(size, Image.Resampling.BOX).rotate(90, expand=True))


def test_a_published_form_is_told_and_taken(tmp_path: Path) -> None:
    """The board on its side is Mini-ITX by outline and holes; its published outline is recorded."""
    desk = Desk(tmp_path)
    board = new_board(desk)
    (tmp_path / "scan.jpg").write_bytes(mini_itx_scan())
    plain = desk.do(f"measure {board} scan.jpg --dpi 150")
    told = desk.do(f"measure {board} scan.jpg --dpi 150 --json").value
    snapped = desk.do(f"measure {board} scan.jpg --dpi 150 --form mini-itx --json").value
    photo = desk.do(f"board show {board} --json").value["photos"][-1]

    assert "this is Mini-ITX" in plain.out
    assert "--form mini-itx" in plain.out
    assert (told["form"]["slug"], told["is_form"]) == ("mini-itx", False)
    assert (told["form"]["holes_found"], told["form"]["hole_count"]) == (4, 4)
    assert told["form"]["mean_mm"] < 0.1
    assert snapped["is_form"] is True
    assert snapped["size_mm"] == [170.0, 170.0]
    assert len(snapped["holes_mm"]) == 5
    assert "form factor Mini-ITX" in snapped["board"]["outline_from"]
    assert "4 of 4 mounting holes found" in snapped["outline_from"]
    # The squared photo lies as measured; its corners are named as on the published outline.
    lower_left, lower_right = photo["corners"][:2]
    assert abs(lower_left[0] - lower_right[0]) < 0.05 * abs(lower_left[1] - lower_right[1])


def test_a_board_that_is_not_the_form_is_refused_with_how_far(tmp_path: Path) -> None:
    """Right size but no holes is no Mini-ITX, unless the maker says so; nor is it any Pico-ITX."""
    desk = Desk(tmp_path)
    board = new_board(desk)
    (tmp_path / "bare.jpg").write_bytes(mini_itx_scan(holes=False))
    line = f"measure {board} bare.jpg --dpi 150"
    told = refused(desk.run(f"{line} --form mini-itx"))
    kept = desk.do(f"board show {board} --json").value
    taken = desk.do(f"{line} --form mini-itx --replace --json").value

    assert "0 of 4 mounting holes found" in told
    assert "--replace" in told
    assert kept["outline"] is None
    assert kept["photos"] == []
    assert taken["form"]["agrees"] is False
    assert "0 of 4" in taken["outline_from"]
    assert "no Pico-ITX" in refused(desk.run(f"{line} --form pico-itx"))
    assert "not a form factor" in refused(desk.run(f"{line} --form pico-atx"))
    assert desk.do("measure bare.jpg --dpi 150 --json").value["form"] is None


def saved(form: str) -> bytes:
    """The seeded photo in another format; ``turned`` has EXIF orientation 6, as phones write."""
    with Image.open(BytesIO(mat_photo())) as picture:
        upright = picture.convert("RGB")
    out = BytesIO()
    if form == "turned":
        exif = Image.Exif()
        exif[0x0112] = 6  # EXIF 2.32, table 4: turn by 90 degrees clockwise to look at it
        side = upright.transpose(Image.Transpose.ROTATE_90)
        side.save(out, "JPEG", quality=90, exif=exif)
    else:
        upright.save(out, form, **({"quality": 90} if form == "WEBP" else {}))
    return out.getvalue()


@pytest.mark.parametrize("form", ["PNG", "TIFF", "WEBP", "turned", "HEIC"])
def test_every_kind_of_photo_is_measured(tmp_path: Path, form: str) -> None:
    """Whatever the phone writes, the board is as large and lies as upright in the overlay."""
    desk = Desk(tmp_path)
    name = f"one.{form.lower()}"
    (tmp_path / name).write_bytes(HEIC.read_bytes() if form == "HEIC" else saved(form))
    board = new_board(desk)
    found = desk.do(f"measure {board} {name} --overlay look.jpg --json").value
    with Image.open(tmp_path / "look.jpg") as overlay:
        width, height = overlay.size
    kept = desk.do(f"board show {board} --json").value["photos"]

    assert found["size_mm"][0] == pytest.approx(WIDTH_MM, abs=2)
    assert width > height
    assert [photo["width_px"] > photo["height_px"] for photo in kept] == [True, True]


def bomb() -> bytes:
    """A PNG of a few hundred bytes that says it has 1.6 thousand million pixels."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    head = struct.pack(">IIBBBBB", 40_000, 40_000, 8, 2, 0, 0, 0)
    data = zlib.compress(b"\0" * 1000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def test_a_picture_that_would_burst_is_refused_in_one_line(tmp_path: Path) -> None:
    """A tiny file of enormous size is refused by its header, with and without a board."""
    desk = Desk(tmp_path)
    board = new_board(desk)
    (tmp_path / "bomb.png").write_bytes(bomb())

    assert "more than 100 million pixels" in refused(desk.run("measure bomb.png"))
    assert "more than 100 million pixels" in refused(desk.run(f"measure {board} bomb.png"))


def test_a_picture_of_a_mat_can_be_composed_on(tmp_path: Path) -> None:
    """One command, no workshop: the file's own density and the record agree, and it is a mat."""
    desk = Desk(tmp_path)
    told = desk.do("mat picture --paper a4 --colour magenta --dpi 200 --out mat.png --json").value
    with Image.open(tmp_path / "mat.png") as picture:
        dpi, mat = picture.info["dpi"], picture.convert("RGB")
    left, top, right, bottom = told["field_px"]
    scale = told["px_per_mm"]
    board = (left + 40 * scale, top + 30 * scale, left + 140 * scale, top + 110 * scale)
    ImageDraw.Draw(mat).rectangle(board, fill=(25, 95, 50))
    mat.save(tmp_path / "composed.png")
    found = desk.do("measure composed.png --json").value
    again = desk.run("mat picture --out mat.png")

    assert dpi == pytest.approx((200, 200), abs=0.1)
    assert (told["width_px"], told["height_px"]) == mat.size == (2339, 1654)
    assert mat.getpixel((round(left) + 3, round(top) + 3)) == (255, 0, 200)
    assert mat.getpixel((round(right) - 4, round(bottom) - 4)) == (255, 0, 200)
    assert found["size_mm"] == pytest.approx([100, 80], abs=2 * found["interval_mm"])
    assert "--force" in refused(again)
    assert not desk.shop.exists()


def test_strips_are_printed_true_to_size(tmp_path: Path) -> None:
    """A page of A4 or letter, without a workshop; other papers are answered with those two."""
    desk = Desk(tmp_path)
    desk.do("mat strips")
    desk.do("mat strips --paper letter --out more.pdf")
    a4 = (tmp_path / "height-strips-a4.pdf").read_bytes()

    assert a4.startswith(b"%PDF")
    assert b"595.2" in a4  # 210 mm in points of 1/72 in
    assert (tmp_path / "more.pdf").exists()
    assert "use a4, letter" in refused(desk.run("mat strips --paper a3"))
    assert not desk.shop.exists()
