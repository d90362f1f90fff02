"""The picture of a lineage: every thing is drawn or counted, and no private name is in it."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest

from salvage.errors import NotFound
from salvage.ids import Code
from salvage.paper.lineage import MARKS, Lineage, Node
from salvage.paper.lineage_drawing import draw_lineage
from salvage.paper.lineage_layout import NODE_HEIGHT, NODE_WIDTH, lay_out
from salvage.store.lookup import load_board, load_drop_off
from salvage.work.articles import assemble
from salvage.work.donors import set_naming
from salvage.work.recall import open_recall
from salvage.work.trace_groups import MOST_ROWS, make_legible
from salvage.work.trace_picture import draw_trace, gather_lineage
from salvage.work.workshop import Workshop
from tests.bench import make_shop
from tests.work.crowd import add_crowd, codes_of
from tests.work.pair import Pair

_TEXT = "{http://www.w3.org/2000/svg}text"


@pytest.fixture(name="pair", scope="module")
def _pair(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Pair]:
    with make_shop(tmp_path_factory.mktemp("pair")) as shop:
        pair = Pair(shop)
        pair.assemble()
        yield pair


@pytest.fixture(name="crowd", scope="module")
def _crowd(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Workshop]:
    """A donor with 60 boards and 480 pieces, two of them an article."""
    with make_shop(tmp_path_factory.mktemp("crowd")) as shop:
        first = Pair(shop).first
        donor = load_drop_off(shop.conn, load_board(shop.conn, first).drop_off).donor
        pieces = add_crowd(shop, donor=donor, boards=60, pieces_each=8)
        shop.conn.execute("UPDATE piece SET stage = 'ready'")
        shop.conn.execute("DELETE FROM sale")
        assemble(shop, parts=pieces[:2], name="pair")
        yield shop


def _texts(svg: bytes) -> list[str]:
    return [node.text or "" for node in ET.fromstring(svg).iter(_TEXT)]


def _article(pair: Pair) -> Code:
    ((code,),) = pair.shop.conn.execute("SELECT code FROM piece WHERE cut IS NULL")
    return Code(code)


def test_an_article_is_drawn_with_all_that_it_came_from(pair: Pair) -> None:
    """Donors, drop-offs, boards, cuts, parts and the article each have a box."""
    texts = _texts(draw_trace(pair.shop, code=_article(pair)))
    codes = [text for text in texts if re.fullmatch(r"[GDBKP]D[0-9]{4}[A-Z]", text)]

    assert len(codes) == len(set(codes)) == 11
    assert {pair.left, pair.right, pair.first, pair.second, _article(pair)} < set(codes)
    assert "tern earrings" in texts
    assert pair.middle not in texts


def test_the_same_record_gives_the_same_bytes(pair: Pair) -> None:
    """Nothing of the hour or of chance is in the picture."""
    assert draw_trace(pair.shop, code=pair.first) == draw_trace(pair.shop, code=pair.first)


def test_no_private_name_is_drawn(pair: Pair) -> None:
    """Not the described donor's name, not the worker's, not for whom a place is held."""
    told = b"".join(
        draw_trace(pair.shop, code=code) for code in (_article(pair), pair.first, pair.second)
    )

    assert b"a planetarium" in told
    assert b"Skerry Bay Community Radio" in told
    assert b"Kelpie" not in told
    assert b"Maren" not in told


def test_consent_withdrawn_is_gone_from_the_next_picture(tmp_path: Path) -> None:
    """The name goes, and so does a text that somebody typed it into."""
    with make_shop(tmp_path) as shop:
        pair = Pair(shop)
        drop_off = load_board(shop.conn, pair.second).drop_off
        shop.conn.execute("UPDATE drop_off SET contents = 'racks of Skerry'")
        before = draw_trace(shop, code=pair.right)
        donor = load_drop_off(shop.conn, drop_off).donor
        set_naming(shop, donor=donor, naming="anonymous", naming_how="by telephone")
        after = draw_trace(shop, code=pair.right)

    assert before.count(b"Skerry") == 2
    assert b"Skerry" not in after
    assert b"(withheld)" in after


@pytest.mark.parametrize("kind", ["G", "D"])
def test_hundreds_of_pieces_stay_legible_and_are_all_counted(crowd: Workshop, kind: str) -> None:
    """Sixty boards and 480 pieces on one page, and the numbers add up."""
    (drop_off,) = codes_of("D", 1)
    code = drop_off if kind == "D" else load_drop_off(crowd.conn, drop_off).donor
    whole = gather_lineage(crowd, code)
    drawn = make_legible(whole)
    counted = sum(
        int(number) for text in _texts(draw_trace(crowd, code=code))
        for number in re.findall(r"\b([0-9]+) (?:here|sold|in articles)", text)
    )  # fmt: skip
    single = sum(node.kind == "piece" and not node.is_group for node in drawn.nodes)

    assert len(whole.nodes) > 1000
    assert len(drawn.nodes) < 3 * MOST_ROWS
    assert counted + single >= 480
    assert any("Not drawn singly" in note for note in drawn.notes)


def test_the_way_to_the_subject_is_never_grouped(crowd: Workshop) -> None:
    """A piece among 480 is drawn with its own cut, board, drop-off and donor."""
    piece = codes_of("P", 300)[299]
    drawn = make_legible(gather_lineage(crowd, piece))

    assert [node.kind for node in drawn.nodes] == ["donor", "drop-off", "board", "cut", "piece"]


def test_a_board_of_many_pieces_groups_them_by_shape(crowd: Workshop) -> None:
    """Where shapes are enough to make it fit, they are what is shown."""
    board = codes_of("B", 1)[0]
    lineage = gather_lineage(crowd, board)
    drawn = make_legible(lineage, most_rows=4)
    groups = [node for node in drawn.nodes if node.is_group]

    assert groups
    assert {group.column for group in groups} == {4}
    assert all(re.fullmatch(r"[0-9]+ pieces", group.title) for group in groups)


def test_a_recall_is_drawn_with_what_it_holds(tmp_path: Path) -> None:
    """From the recall to boards, pieces and articles."""
    with make_shop(tmp_path) as shop:
        pair = Pair(shop)
        article = pair.assemble()
        recall = open_recall(shop, subject=pair.first, reason="sharp edge").recall.code
        texts = _texts(draw_trace(shop, code=recall))

    assert {recall, pair.first, pair.left, article} < set(texts)
    assert MARKS["recalled"] in texts
    assert "sharp edge" in texts


def test_nothing_to_draw_is_said(pair: Pair) -> None:
    """A code that was never given."""
    with pytest.raises(NotFound):
        draw_trace(pair.shop, code=Code("PX0001D"))


def test_boxes_do_not_lie_on_one_another(crowd: Workshop) -> None:
    """Whatever is drawn, no box covers another, and each stands in its column."""
    (drop_off,) = codes_of("D", 1)
    drawn = make_legible(gather_lineage(crowd, drop_off))
    at = lay_out(drawn).at
    boxes = sorted(at.values())

    for (x, y), (other_x, other_y) in pairwise(boxes):
        assert other_x - x >= NODE_WIDTH or other_y - y >= NODE_HEIGHT


def test_articles_that_share_a_column_keep_apart() -> None:
    """Two articles of the same two parts' rows stand below one another, each with a bus."""
    parts = [Node(f"p{n}", 4, f"p{n}", "piece") for n in range(4)]
    articles = [Node(f"a{n}", 5, f"a{n}", "article") for n in range(2)]
    edges = (("p0", "a0"), ("p3", "a0"), ("p1", "a1"), ("p2", "a1"))
    layout = lay_out(Lineage("x", "a0", (*parts, *articles), edges))

    assert abs(layout.at["a0"][1] - layout.at["a1"][1]) >= NODE_HEIGHT
    assert layout.lanes["p0", "a0"] != layout.lanes["p1", "a1"]


def test_text_from_people_is_data() -> None:
    """A title in angle brackets is drawn as it was typed."""
    node = Node("x", 0, "<b>", "donor", ("a & b </text>",))
    svg = draw_lineage(Lineage("<script>", "x", (node,), ())).encode()

    assert ET.fromstring(svg).tag.endswith("svg")
    assert "a & b </text>" in _texts(svg)
    assert b"<script>" not in svg
