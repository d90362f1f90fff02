"""Names and words that somebody chose to do harm, from the counter to paper, page and export."""

from __future__ import annotations

import csv
import html
import os
import shlex
import unicodedata
from pathlib import Path

import pypdf
import pytest

from salvage.errors import BadFile, NotFound, SalvageError, StoreTrouble
from salvage.store.files import FileStore
from salvage.work.copies import back_up, restore
from salvage.work.drop_folder import read_states
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, make_shop
from tests.browser import Browser
from tests.desk import Desk
from tests.faces.step import photo_bytes

NAMES = {
    "right to left override": "Kelpie \u202egnp.exe Point",
    "isolates": "\u2067Skerry\u2069 \u2066Bay\u2069",
    "zero width": "Kel\u200bpie\u2060 Po\ufeffint",
    "combining flood": "Kelpie" + "\u0301" * 300,
    "emoji": "Kelpie \U0001f468\u200d\U0001f469\u200d\U0001f467 \U0001f9ed",
    "right to left": "מצפה הכוכבים Kelpie",
    "line and paragraph": "Kelpie\u2028Point\u2029end",
    "tags": "Tern\U000e0041\U000e007f",
    "script": "<script>alert(1)</script>",
    "attribute": "\"><img src=x onerror='alert(1)'>",
    "entity": "&lt;b&gt; &amp;#0; &#x202e;",
    "template": "{{ 7*7 }} {% raw %} ${7*7} %s {0}",
    "page description": '#read("/etc/passwd") #panic() *b* $x$ @y <z> \\u{41}',
    "sql": "'; DROP TABLE board; --",
    "more sql": "\" OR 1=1; ATTACH DATABASE 'x' AS y; --",
    "formula": '=HYPERLINK("http://127.0.0.1:9","x")',
    "plus": "+1-1",
    "at": "@SUM(A1)",
    "colours": "\x1b[31mred\x1b[0m",
    "title": "\x1b]0;owned\x07Kelpie",
    "bell and backspace": "Kelpie\b\b\b\x07\x7f",
    "rich markup": "[red]Kelpie[/red] [link=x]y[/link]",
    "eight bit controls": "Kelpie\x9b31m\x85",
}
STEERS = ("Cc", "Cf", "Cs", "Zl", "Zp")
"""Categories of characters that steer a terminal or reorder what it shows."""


class House:
    """A workshop in which every hostile name has given a box, and one a board that was cut."""

    def __init__(self, folder: Path) -> None:
        self.desk = Desk(folder)
        self.drop_offs = {name: self._give(text) for name, text in NAMES.items()}
        board = self.desk.code(
            f"board add {self.drop_offs['script']} --type expansion-card --size 120x80"
        )
        self.desk.do(f"board clear {board} --absent all-open --how lamp")
        self.piece = self.desk.code(f"cut {board} --shape circle --width 30 --at 30,40")

    def _give(self, text: str) -> str:
        word = shlex.quote(text)
        return self.desk.code(
            f"dropoff add --donor={word} --contents={word} --story={word} --notes={word}"
            f" --origin={word} --naming named --naming-how={word} --date 2026-05-02"
        )


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> House:
    """The workshop."""
    return House(tmp_path_factory.mktemp("hostile"))


@pytest.mark.parametrize(
    "line",
    [
        *("donor list", "donor list --plain", "dropoff list", "journal --most 100"),
        *("dropoff show CODE", "history CODE", "trace CODE", "custody show CODE"),
        *("board list", "piece show PIECE", "trace PIECE", "dropoff show CODE --plain"),
    ],
)
def test_nothing_steers_the_terminal(line: str, house: House) -> None:
    """A name with colours, bells, a window's title or turned-round letters is shown as it is."""
    codes = house.drop_offs.values() if "CODE" in line else [""]

    told = [house.desk.do(line.replace("CODE", c).replace("PIECE", house.piece)) for c in codes]

    steering = {c for one in told for c in one.out + one.err if unicodedata.category(c) in STEERS}
    assert steering <= {"\n", "\t"}


def test_nothing_steers_the_terminal_in_an_error(house: House) -> None:
    """What is wrong is quoted in the message, and quoted harmlessly."""
    lines = [f"scan {shlex.quote(text)}" for text in NAMES.values()]
    lines += [f"dropoff show {shlex.quote(text)}" for text in NAMES.values()]

    told = [house.desk.run(line) for line in lines if not line.split(" ", 1)[1].startswith("-")]

    assert {one.code for one in told} <= {1, 2}
    steering = {c for one in told for c in one.out + one.err if unicodedata.category(c) in STEERS}
    assert steering <= {"\n"}


@pytest.mark.parametrize("name", NAMES)
def test_a_receipt_prints_the_name_as_it_is_read(name: str, house: House, tmp_path: Path) -> None:
    """Page description stays words, and turned-round letters stand in their order."""
    out = tmp_path / "receipt.pdf"

    told = house.desk.run(f"dropoff receipt {house.drop_offs[name]} --with-name --out {out}")

    assert told.code == 0 or "no font here can print" in told.err, told.err
    if told.code == 0 and NAMES[name].isascii() and NAMES[name].isprintable():
        printed = "".join(page.extract_text() for page in pypdf.PdfReader(out).pages)
        assert "".join(NAMES[name].split()) in "".join(printed.split())


def test_a_card_prints_words_as_words(house: House, tmp_path: Path) -> None:
    """The story of a piece is data of the page, never its description."""
    out = tmp_path / "card.pdf"

    house.desk.do(f"card {house.piece} --out {out}")

    printed = "".join(page.extract_text() for page in pypdf.PdfReader(out).pages)
    # The card offers places for a line to break, which nobody sees.
    seen = "".join(printed.replace("\u200b", "").split())
    assert f"Givenby{NAMES['script']}" in seen


def test_the_page_shows_markup_as_words(house: House) -> None:
    """No script of a donor's runs in the browser of the workshop."""
    browser = Browser(house.desk.shop)
    pages = [browser.get(f"/dropoff/{code}") for code in house.drop_offs.values()]
    pages += [browser.get("/dropoff"), browser.get(f"/piece/{house.piece}"), browser.get("/")]

    assert not [page for page in pages if "<script>alert" in page or "<img src=x" in page]
    assert not [page for page in pages if {"\u202e", "\u2067", "\u2066"} & set(page)]
    assert html.escape(NAMES["script"]) in pages[list(NAMES).index("script")]
    assert (
        "49" not in html.unescape(pages[list(NAMES).index("template")]).split("{{ 7*7 }}")[0][-3:]
    )


@pytest.mark.parametrize("name", ["sql", "more sql", "script", "template", "zero width"])
def test_the_pages_search_takes_words_as_words(name: str, house: House) -> None:
    """What is looked for is a value of the question, never a part of it."""
    browser = Browser(house.desk.shop)

    answers = [
        browser.client.get(address, params={"find": NAMES[name], "text": NAMES[name]})
        for address in ("/", "/find", "/dropoff", "/piece")
    ]

    assert {answer.status_code for answer in answers} <= {200, 303, 404, 422}
    assert not any("<script>alert" in answer.text for answer in answers)


def test_a_dossier_shows_markup_as_words(house: House, tmp_path: Path) -> None:
    """The public page of a piece runs nothing and hides nothing."""
    house.desk.do(f"export dossier {tmp_path / 'site'} {house.piece}")

    page = (tmp_path / "site" / house.piece / "index.html").read_text("utf-8")

    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)" in page


def test_a_dossier_reorders_nothing(tmp_path: Path) -> None:
    """A story that turns round what stands after it would tell another origin."""
    desk = Desk(tmp_path)
    word = shlex.quote("Kelpie \u202egnp.exe \x1b[31m\u2067z")
    given = desk.code(
        f"dropoff add --donor={word} --contents=box --story={word} --naming named --naming-how=x"
        " --date 2026-05-02"
    )
    board = desk.code(f"board add {given} --type expansion-card --size 120x80")
    desk.do(f"board clear {board} --absent all-open --how lamp")
    piece = desk.code(f"cut {board} --shape circle --width 30 --at 30,40")
    desk.do(f"export dossier {tmp_path / 'site'} {piece}")

    page = (tmp_path / "site" / piece / "index.html").read_text("utf-8")

    assert "Kelpie gnp.exe" in page
    assert {c for c in page if unicodedata.category(c) in STEERS} <= {"\n"}


def test_no_cell_of_an_export_is_a_formula(house: House, tmp_path: Path) -> None:
    """A spreadsheet that opens an export computes nothing and asks no address."""
    house.desk.do(f"export csv {tmp_path / 'tables'}")

    cells = [
        cell
        for path in sorted((tmp_path / "tables").glob("*.csv"))
        for row in csv.reader(path.read_text("utf-8-sig").splitlines())
        for cell in row
    ]

    assert len(cells) > 100
    assert [c for c in cells if c.startswith(("=", "+", "@", "\t", "\r")) and len(c) > 1] == []


def test_the_record_stands_after_all_of_it(house: House) -> None:
    """Every promise of the record holds, and every name is kept letter by letter."""
    told = house.desk.do("check")
    kept = {one["name"] for one in house.desk.do("donor list --json").value}

    assert "FAULT" not in told.out
    assert " ".join(NAMES["sql"].split()) in kept
    assert " ".join(NAMES["script"].split()) in kept


@pytest.mark.parametrize(
    "other", ["Cafe\u0301 Möwe", "CAFÉ  MÖWE", "Caf\u200bé Möwe", "\u202dCafé Möwe"]
)
def test_names_that_look_alike_are_one_donor(other: str, tmp_path: Path) -> None:
    """An accent typed on another computer makes no second donor (Unicode Standard Annex 15)."""
    desk = Desk(tmp_path)
    for name in ("Café Möwe", other):
        desk.do(
            f"dropoff add --donor {shlex.quote(name)} --contents {shlex.quote(name)} --boards 1"
        )
    rows = "\n".join(f"2026-05-02,{name},box {n}" for n, name in enumerate(("Café Möwe", other)))
    (tmp_path / "may.csv").write_text(f"received_on,donor,contents\n{rows}\n", "utf-8")
    desk.do("dropoff import may.csv")

    donors = desk.do("donor list --json").value

    assert len(donors) == 1


def test_a_name_that_nobody_sees_is_no_name(tmp_path: Path) -> None:
    """Somebody to be named must have letters."""
    told = Desk(tmp_path).run(
        "dropoff add --donor '\u200b\u2060' --contents box --naming named --naming-how letter"
    )

    assert told.code == 1
    assert "needs a name" in told.err


FILE_NAMES = (
    *("../../evil.jpg", "/etc/passwd", "..\\..\\evil.jpg", "C:\\evil.jpg", "evil\0.jpg", "CON.jpg"),
    *(
        "x" * 5000 + ".jpg",
        "trailing...",
        ".",
        "..",
        "",
        "\u202egpj.exe",
        "a\nb.jpg",
        "\x1b[31m.jpg",
    ),
)


@pytest.mark.parametrize("name", FILE_NAMES)
def test_a_photos_name_is_never_a_path(name: str, tmp_path: Path) -> None:
    """A photo lies under the hash of its bytes, whatever it is called."""
    with make_shop(tmp_path / "shop") as shop:
        board = add_cleared_board(shop).code
        photo = add_photo(shop, code=board, new=NewPhoto(photo_bytes(), name))

        kept = sorted(
            path.name for path in (tmp_path / "shop" / "files").rglob("*") if path.is_file()
        )

        assert kept == [photo.sha256]
        assert [path.name for path in tmp_path.iterdir()] == ["shop"]


@pytest.mark.parametrize("name", FILE_NAMES[:9])
def test_an_uploads_name_is_never_a_path(name: str, house: House, tmp_path: Path) -> None:
    """A browser may call its photo as it likes."""
    browser = Browser(house.desk.shop)
    code = house.drop_offs["sql"]
    before = {path.name for path in house.desk.folder.iterdir()}

    answer = browser.post(
        f"/dropoff/{code}/photo",
        {"key": f"k{hash(name)}"},
        files={"photo": (name.replace("\0", "%00") or "x", photo_bytes(), "image/jpeg")},
    )

    assert answer.status_code in (303, 400, 415, 422)
    assert {path.name for path in house.desk.folder.iterdir()} == before


def test_links_in_a_watched_folder_are_left_alone(tmp_path: Path) -> None:
    """Only what lies in the folder itself is taken in, and neither pipes nor devices."""
    (tmp_path / "phone").mkdir()
    (tmp_path / "phone" / "a.jpg").symlink_to("/etc/passwd")
    (tmp_path / "phone" / "b.jpg").symlink_to("/dev/zero")
    os.mkfifo(tmp_path / "phone" / "c.jpg")
    (tmp_path / "phone" / "d.jpg").write_bytes(photo_bytes())

    states = read_states(tmp_path / "phone")

    assert list(states) == ["d.jpg"]


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    """The copy of a workshop with one photo."""
    with make_shop(tmp_path / "shop") as shop:
        add_photo(shop, code=add_cleared_board(shop).code, new=NewPhoto(photo_bytes(), "a.jpg"))
        back_up(shop, folder=tmp_path / "copy")
    return tmp_path / "copy"


def the_photo(copied: Path) -> Path:
    """The only file of the copy."""
    (found,) = FileStore(copied / "files").kept()
    return FileStore(copied / "files").path(found)


def _link(target: str, path: Path) -> None:
    path.unlink()
    path.symlink_to(target)


def _pipe(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


@pytest.mark.parametrize("target", ["/etc/passwd", "/dev/zero", "/", "nowhere", "loop"])
def test_a_link_in_the_place_of_a_photo_brings_nothing(target: str, copied: Path) -> None:
    """A copy from a strange stick cannot make the workshop read this computer's own files."""
    photo = the_photo(copied)
    _link(photo.name if target == "loop" else target, photo)

    with pytest.raises(StoreTrouble, match="missing or damaged"):
        restore(copied, target=copied.parent / "new", open_shop=make_shop)

    assert not (copied.parent / "new").exists()


def test_a_pipe_in_the_place_of_a_photo_does_not_hang(copied: Path) -> None:
    """Nobody writes into it, so reading it would wait for ever."""
    _pipe(the_photo(copied))

    with pytest.raises(StoreTrouble, match="missing or damaged"):
        restore(copied, target=copied.parent / "new", open_shop=make_shop)


@pytest.mark.parametrize("name", ["copy.json", "workshop.db"])
@pytest.mark.parametrize("target", ["/dev/zero", "/etc/passwd", "/", "nowhere"])
def test_a_link_in_the_place_of_a_copy_is_refused(name: str, target: str, copied: Path) -> None:
    """Neither its head nor its database is read without end."""
    _link(target, copied / name)

    with pytest.raises((NotFound, StoreTrouble)):
        restore(copied, target=copied.parent / "new", open_shop=make_shop)

    assert not (copied.parent / "new").exists()


def test_the_hash_is_the_only_name_that_is_taken(empty_shop: Workshop) -> None:
    """Whatever else is asked for is refused before a path is made of it."""
    asked = [
        "../" * 20 + "etc/passwd",
        "/etc/passwd",
        "0" * 63,
        "0" * 65,
        "A" * 64,
        "0" * 64 + "\0",
    ]
    refused = []
    for name in asked:
        with pytest.raises(SalvageError) as error:
            empty_shop.files.path(name)
        refused.append(error.type)

    assert refused == [BadFile] * len(asked)
