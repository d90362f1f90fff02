"""``salvage card`` with its designs, many pieces, and the live preview."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import pdfplumber
import pexpect
import pytest
from PIL import Image

from tests.desk import Desk, cut_piece


def _size(picture: bytes) -> tuple[int, int]:
    with Image.open(io.BytesIO(picture)) as opened:
        return opened.size


def test_cards_go_on_a_sheet_with_the_way_to_turn_it(tmp_path: Path) -> None:
    """How many are on a sheet, at what scale, and over which edge it is turned."""
    desk = Desk(tmp_path)
    code = cut_piece(desk)
    told = desk.do(f"card {code} {code} --design pocket --on a4 --out two.pdf")
    value = desk.do(f"card {code} --design price --on letter --out one.pdf --json").value

    assert "2 story cards written" in told.out
    assert "9 on a sheet; print at 100 %, both sides, turned on the short edge" in told.out
    assert (value["paper"], value["on"], value["shortened"]) == ("price tag", "letter", [])
    assert value["per_sheet"] > 20


def test_pieces_are_chosen_by_stage_or_by_stale_tags(tmp_path: Path) -> None:
    """One of codes, --stage and --stale; where no piece needs one, that is said."""
    desk = Desk(tmp_path)
    code = cut_piece(desk)
    none = desk.do("card --stale")
    desk.do(f"piece price {code} 12")
    desk.do(f"piece stage {code} ready")
    ready = desk.do("card --stage ready --design price --out t.pdf --json").value
    desk.do(f"piece price {code} 15")
    stale = desk.do("card --stale --design price --out t.pdf --force --json").value
    both = desk.run(f"card {code} --stale")

    assert none.err == "no piece needs one\n"
    assert ready["codes"] == stale["codes"] == [code]
    assert both.code == 2
    assert "--stage, --stale, or --outing" in both.err
    assert desk.run("card --stage nowhere").code == 1


def test_tags_for_an_outing_bear_its_keys(tmp_path: Path) -> None:
    """What is packed is printed, with the letters that stand for each piece there."""
    desk = Desk(tmp_path)
    code = cut_piece(desk)
    desk.do(f"piece price {code} 12")
    desk.do(f"piece stage {code} ready")
    desk.do('outing plan "Lantern Fair" 2026-05-09')
    desk.do("outing pack --ready")
    told = desk.do("card --outing lantern --design price --out t.pdf --json").value
    with pdfplumber.open(tmp_path / "t.pdf") as document:
        words = document.pages[0].extract_text().split()
    desk.do(f"card {code} --design price --out plain.pdf")
    with pdfplumber.open(tmp_path / "plain.pdf") as document:
        plain = document.pages[0].extract_text().split()

    assert told["codes"] == [code]
    assert "BB" in words
    assert "BB" not in plain


def test_a_bitmap_is_written_for_each_side(tmp_path: Path) -> None:
    """A name that ends in .png gives the front there and the back beside it."""
    desk = Desk(tmp_path)
    code = cut_piece(desk)
    files = desk.do(f"card {code} --design a7 --out tern.png --plain").out.split()
    sizes = [_size(Path(file).read_bytes()) for file in files]

    assert [Path(file).name for file in files] == ["tern.png", "tern-2.png"]
    assert sizes == [(583, 827)] * 2  # 74 x 105 mm at 200 dots an inch


def test_a_shortened_story_is_told(tmp_path: Path) -> None:
    """How many of how many words are missing, of which piece, and what would hold more."""
    desk = Desk(tmp_path)
    story = " ".join(["It steered a lamp over the harbour."] * 30)
    drop_off = desk.code(
        'dropoff add --donor "Kelpie Point Planetarium" --contents box --naming anonymous'
        f' --source "public body" --date 2026-05-02 --story "{story}"'
    )
    board = desk.code(f"board add {drop_off} --type expansion-card --size 120x80")
    desk.do(f'board clear {board} --absent all-open --how "looked"')
    code = desk.code(f"cut {board} --shape circle --width 30 --at 30,40")
    told = desk.do(f"card {code} --design pocket --out p.pdf")

    assert f"{code}: the last " in told.err
    assert "a larger design holds more" in " ".join(told.err.split())


def test_a_design_is_listed_copied_and_used(tmp_path: Path) -> None:
    """The list says sizes; the copy is told with the next step; --dry-run writes nothing."""
    desk = Desk(tmp_path)
    code = cut_piece(desk)
    tried = desk.do("card copy a6 harbour --dry-run")
    absent = not (tmp_path / "shop" / "designs").exists()
    copied = desk.do("card copy a6 harbour")
    listed = {one["name"]: one for one in desk.do("card designs --json").value}
    desk.do(f"card {code} --design harbour --out h.pdf")

    assert tried.out.startswith("dry run: ")
    assert absent
    assert "next: salvage card CODE --design harbour --watch" in copied.err
    assert (listed["harbour"]["own"], listed["a6"]["own"]) == (True, False)
    assert (listed["pocket"]["width_mm"], listed["pocket"]["height_mm"]) == (85, 55)
    assert "85 x 55 mm" in desk.do("card designs").out


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("--design nosuch", "known: pocket"),
        ("--design a6 --large", "give one of --large and --design"),
        ("--on papyrus", "card, shop, a4, letter"),
        ("--watch", "a6 is one of ours and never changes"),
        ("--design large --on a4 --out no/where.pdf", "the folder no is not there"),
    ],
)
def test_what_cannot_be_printed_is_told_in_a_line(tmp_path: Path, line: str, said: str) -> None:
    """What is wrong, and the mend; nothing is written and nothing recorded."""
    desk = Desk(tmp_path)
    code = cut_piece(desk)
    told = desk.run(f"card {code} {line}")

    assert told.code in (1, 2)
    assert said in told.err
    assert not list(tmp_path.glob("*.pdf"))
    assert desk.do(f"piece show {code} --json").value["cards_printed"] == 0


def test_the_preview_is_drawn_again_when_the_design_is_saved(tmp_path: Path) -> None:
    """The terminal says what was drawn and what is wrong; a mistake does not end it."""
    desk = Desk(tmp_path)
    code = cut_piece(desk)
    desk.do("card copy a7 harbour")
    path = tmp_path / "shop" / "designs" / "harbour.typ"
    text = path.read_text()
    line = f"card {code} --design harbour --watch --shop {tmp_path / 'shop'}"
    words = ["-m", "salvage", *line.split()]
    with pexpect.spawn(
        sys.executable, words, cwd=str(tmp_path), encoding="utf-8", timeout=60
    ) as terminal:
        terminal.expect("harbour-preview.png drawn in")
        first = (tmp_path / "harbour-preview.png").read_bytes()
        path.write_text(text.replace("#let back(card) = {", "#let back(card) = {\nnosuch"))
        terminal.expect("harbour.typ, line [0-9]+, column [0-9]+: unknown variable: nosuch")
        path.write_text(text.replace("(74mm, 105mm)", "(80mm, 105mm)"))
        terminal.expect("harbour.typ changed: harbour-preview.png drawn in")
        second = (tmp_path / "harbour-preview.png").read_bytes()
        terminal.sendintr()
        terminal.expect(pexpect.EOF)

    assert _size(second)[0] - _size(first)[0] == pytest.approx(2 * 6 / 25.4 * 150, abs=3)
    assert desk.do(f"piece show {code} --json").value["cards_printed"] == 0


def test_a_sold_piece_is_not_offered_for_sale_after_its_card(tmp_path: Path) -> None:
    """A card printed anew for a buyer ends there; before it a price is asked, and then the sale."""
    desk = Desk(tmp_path)
    code = cut_piece(desk)
    unpriced = desk.do(f"card {code} --out before.pdf")
    desk.do(f"piece price {code} 20")
    priced = desk.do(f"card {code} --out priced.pdf")
    desk.do(f"piece sell {code} --price 20")
    after = desk.do(f"card {code} --out after.pdf")

    assert f"salvage piece price {code}" in unpriced.err
    assert f"salvage piece sell {code}" in priced.err
    assert "piece sell" not in after.out + after.err
