"""Where things came from, in the words of W3C PROV."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from prov.model import ProvDocument

from salvage.errors import BadValue
from salvage.work.articles import assemble
from salvage.work.export_line import gather_line
from salvage.work.export_prov import check_graph, draw_graph, export_prov
from tests.bench import make_shop
from tests.work.stock import Stock


@pytest.fixture(name="stock")
def _stock(tmp_path: Path) -> Stock:
    return Stock(make_shop(tmp_path))


def _statements(text: str) -> list[str]:
    return sorted(line.strip().replace(".000Z", "+00:00") for line in text.splitlines() if line)


def test_the_reference_library_reads_one_form_and_writes_the_other(stock: Stock) -> None:
    """Our PROV-N says what the prov library makes of our PROV-JSON."""
    told = export_prov(stock.shop).data.decode()
    read = ProvDocument.deserialize(content=told, format="json")
    again = ProvDocument.deserialize(content=read.serialize(format="json"), format="json")
    ours = export_prov(stock.shop, form="n").data.decode()

    assert again == read
    assert [x for x in _statements(read.get_provn()) if x] == _statements(ours)


def test_a_piece_derives_from_its_board(stock: Stock) -> None:
    """Piece from board from drop-off from a donor without a name; the neighbour stays out."""
    data = export_prov(stock.shop, about=stock.piece).data.decode()
    told = json.loads(data)
    pairs = {
        (one["prov:generatedEntity"], one["prov:usedEntity"])
        for one in told["wasDerivedFrom"].values()
    }

    assert (f"item:{stock.piece}", f"item:{stock.board}") in pairs
    assert len(told["agent"]) == 1
    assert stock.sold not in data
    assert "Kelpie" not in data


def test_an_article_has_its_parts_as_members(stock: Stock) -> None:
    """It derives from both pieces and holds them, in both forms, as the prov library reads them."""
    other = stock.cut_at(97, 60)
    article = assemble(stock.shop, parts=[stock.piece, other], name="pair").piece.code
    read = ProvDocument.deserialize(
        content=export_prov(stock.shop, about=article).data.decode(), format="json"
    )
    ours = export_prov(stock.shop, about=article, form="n").data.decode()
    told = read.get_provn()

    for part in (stock.piece, other):
        for text in (told, ours):
            assert f"hadMember(item:{article}, item:{part})" in text
            assert f"wasDerivedFrom(item:{article}, item:{part}, -, -, -)" in text
    assert _statements(ours) == [x for x in _statements(told) if x]


def test_contradictions_are_found(stock: Stock) -> None:
    """What the library lets pass is refused: a dangling end, a use too early, two births."""
    graph = draw_graph(gather_line(stock.shop))
    check_graph(graph)
    use = next(one for one in graph.relations if one[0] == "used")
    birth = next(one for one in graph.relations if one[0] == "wasGeneratedBy")
    unborn = [one for one in graph.relations if one[0] != "wasGeneratedBy"]
    nowhere = ("used", use[1], "item:NOWHERE", use[3])

    for relations, words in (
        ([*graph.relations, nowhere], "declared nowhere"),
        ([use, *graph.relations], "before it is made"),
        ([*graph.relations, birth], "made twice"),
        ([one for one in unborn if one[0] != "used"], "made by nothing"),
    ):
        with pytest.raises(BadValue, match=words):
            check_graph(replace(graph, relations=relations))


def test_another_form_is_refused(stock: Stock) -> None:
    """Only the two forms."""
    with pytest.raises(BadValue, match="no form of PROV"):
        export_prov(stock.shop, form="xml")
