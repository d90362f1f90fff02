"""What happened, as an EPCIS 2.0 document that the published schema accepts."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import fastjsonschema
import pytest

from salvage.records.events import KINDS
from salvage.work.articles import assemble, take_apart
from salvage.work.export_epcis import MAPPED, _event, export_epcis, why_unmapped
from salvage.work.export_line import Line
from tests.bench import make_shop
from tests.work.stock import Stock

SCHEMA = Path(__file__).resolve().parents[1] / "vectors" / "epcis_2_0.schema.json"


@pytest.fixture(scope="module", name="valid")
def _valid() -> Callable[[Any], Any]:
    """The published JSON schema of EPCIS 2.0; tests/vectors/SOURCES.md says where it is from."""
    made: Callable[[Any], Any] = fastjsonschema.compile(json.loads(SCHEMA.read_text("utf-8")))
    return made


@pytest.fixture(name="stock")
def _stock(tmp_path: Path) -> Stock:
    return Stock(make_shop(tmp_path))


def _document(stock: Stock, **about: Any) -> Any:
    return json.loads(export_epcis(stock.shop, **about).data)


def test_the_published_schema_accepts_the_workshop(
    stock: Stock, valid: Callable[[Any], Any]
) -> None:
    """All of it validates, and a cut is a transformation of its board into its piece."""
    told = _document(stock)
    valid(told)
    cuts = [e for e in told["epcisBody"]["eventList"] if e["type"] == "TransformationEvent"]

    assert len(cuts) == 2
    assert f"urn:salvage:{stock.board}" in cuts[0]["inputEPCList"]
    assert f"urn:salvage:{stock.piece}" in cuts[0]["outputEPCList"]


def _sample(kind: str, **data: Any) -> Any:
    from salvage.ids import Code
    from salvage.records.events import Event

    made: dict[str, tuple[str, ...]] = {
        "dropoff.logged": ("DA0001",),
        "board.recorded": ("BA0001",),
        "cut.made": ("KA0001", "PA0001"),
        "article.assembled": ("PA0009",),
    }
    first = "DA0001" if kind == "dropoff.logged" else "BA0001"
    about: tuple[Code, ...] = (Code(first),)
    if kind.startswith("article."):
        about = (Code("PA0009"), Code("PA0001"), Code("PA0002"))
    fields = {name: "x" for name in KINDS[kind]} | data
    return Event(
        1, "01961b4c-8000-7000-8000-000000000001", "A", 1, 1, "2026-05-02T09:00:00.000Z", "Ada",
        kind, "act", "op", about, tuple(Code(c) for c in made.get(kind, ())),
        fields, "0" * 64, "0" * 64,
    )  # fmt: skip


def test_an_article_is_an_aggregation_of_its_parts(
    stock: Stock, valid: Callable[[Any], Any]
) -> None:
    """Assembled, its parts are added to it; taken apart, they are taken away (EPCIS 2.0, 7.4.3)."""
    other = stock.cut_at(97, 60)
    article = assemble(stock.shop, parts=[stock.piece, other], name="pair").piece.code
    take_apart(stock.shop, article=article, reason="hook broke")
    told = _document(stock, about=article)
    valid(told)
    found = [e for e in told["epcisBody"]["eventList"] if e["type"] == "AggregationEvent"]
    parts = [f"urn:salvage:{stock.piece}", f"urn:salvage:{other}"]

    assert [e["action"] for e in found] == ["ADD", "DELETE"]
    assert [e["bizStep"] for e in found] == ["assembling", "disassembling"]
    assert [e["parentID"] for e in found] == [f"urn:salvage:{article}"] * 2
    assert [e["childEPCs"] for e in found] == [parts, parts]


@pytest.mark.parametrize(
    ("field", "wrong"), [("parentID", "earrings"), ("action", "GLUE"), ("childEPCs", "P")]
)
def test_a_wrong_aggregation_is_refused(
    stock: Stock, valid: Callable[[Any], Any], field: str, wrong: str
) -> None:
    """The schema bites here too."""
    assemble(stock.shop, parts=[stock.piece, stock.cut_at(97, 60)], name="pair")
    told = _document(stock)
    event = next(e for e in told["epcisBody"]["eventList"] if e["type"] == "AggregationEvent")
    event[field] = wrong

    with pytest.raises(fastjsonschema.JsonSchemaException):
        valid(told)


@pytest.mark.parametrize("kind", sorted(MAPPED))
@pytest.mark.parametrize("outcome", ["", "removed"])
def test_every_mapped_kind_is_accepted(
    kind: str, outcome: str, valid: Callable[[Any], Any]
) -> None:
    """Each kind by itself, also when it was taken back."""
    event = _sample(kind, **({"outcome": outcome} if "outcome" in KINDS[kind] else {}))
    line = Line((event,), {event.id: event.at}, None, "urn:salvage:")
    told = _event(event, line)

    assert told is not None
    assert told["errorDeclaration"]["reason"] == "incorrect_data"
    context = ["https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"]
    assert valid({"@context": context, **told})


@pytest.mark.parametrize("stage", ["rough", "sanded", "sealed", "assembled", "ready", "withdrawn"])
def test_every_stage_is_accepted(stage: str, valid: Callable[[Any], Any]) -> None:
    """Each stage of a piece has words of the vocabulary."""
    event = _sample("piece.staged", stage=stage)
    told = _event(event, Line((event,), {}, None, "urn:salvage:"))

    assert told is not None
    context = ["https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"]
    assert valid({"@context": context, **told})


@pytest.mark.parametrize(
    ("field", "wrong"),
    [
        ("bizStep", "cutting"),
        ("disposition", "pretty"),
        ("action", "LOOK"),
        ("eventTime", "yesterday"),
        ("eventID", "no address"),
    ],
)
def test_wrong_words_are_refused(
    stock: Stock, valid: Callable[[Any], Any], field: str, wrong: str
) -> None:
    """The schema does bite: a word outside the vocabulary fails."""
    told = _document(stock)
    event = next(e for e in told["epcisBody"]["eventList"] if e["type"] == "ObjectEvent")
    event[field] = wrong

    with pytest.raises(fastjsonschema.JsonSchemaException):
        valid(told)


def test_what_has_no_word_is_listed_with_the_reason(stock: Stock) -> None:
    """Every kind is either mapped or explained."""
    left = export_epcis(stock.shop).left_out

    assert MAPPED | left.keys() == KINDS.keys()
    assert not MAPPED & left.keys()
    assert all(left.values())
    assert why_unmapped("cut.made") == ""


def test_one_piece_tells_nothing_of_its_neighbour(stock: Stock) -> None:
    """The other piece of the board stays out, and so do names."""
    data = export_epcis(stock.shop, about=stock.piece).data.decode()

    assert stock.piece in data
    assert stock.sold not in data
    assert "Kelpie" not in data
    assert "Maren" not in data
