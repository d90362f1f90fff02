"""
The journal in the words of W3C PROV: PROV-JSON (2013 submission) and PROV-N (recommendation).

Drop-offs, boards, pieces and consignments are entities, events are activities, donors are agents
known by their code alone. An assembled article derives from its parts, which are its members (PROV
has no word for a member that was taken out again; the event tells of it). Undone events are not
told.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field

from salvage.errors import BadValue
from salvage.ids import Code
from salvage.records.events import Event
from salvage.work.export_line import Export, Line, gather_line
from salvage.work.workshop import Workshop

FORMS = ("json", "n")
"""PROV-JSON and PROV-N."""

_ENTITIES = "DBPC"

# PROV's relation -> the names of its two ends.
_ENDS = {
    "wasGeneratedBy": ("prov:entity", "prov:activity"),
    "used": ("prov:activity", "prov:entity"),
    "wasDerivedFrom": ("prov:generatedEntity", "prov:usedEntity"),
    "wasAttributedTo": ("prov:entity", "prov:agent"),
    "hadMember": ("prov:collection", "prov:entity"),
}


@dataclass(slots=True)
class Graph:
    """
    What is said in PROV, in order.

    Args:
        prefixes: Short names of addresses.
        entities: Names of things.
        activities: Names of events, with instant and kind.
        agents: Names of donors.
        relations: Relation, first end, second end, and the instant or nothing.
    """

    prefixes: dict[str, str]
    entities: list[str] = field(default_factory=list)
    activities: dict[str, tuple[str, str]] = field(default_factory=dict)
    agents: list[str] = field(default_factory=list)
    relations: list[tuple[str, str, str, str]] = field(default_factory=list)


def export_prov(shop: Workshop, *, about: Code | None = None, form: str = "json") -> Export:
    """
    PROV about one thing's line, or about everything when *about* is None.

    Raises:
        NotFound: If there is nothing with this code.
        BadValue: If the form is none of :data:`FORMS`, or the record contradicts itself.
    """
    if form not in FORMS:
        raise BadValue(f"'{form}' is no form of PROV", hint="json or n")
    graph = draw_graph(gather_line(shop, about=about))
    check_graph(graph)
    text = format_json(graph) if form == "json" else format_n(graph)
    return Export(text.encode(), len(graph.activities), {})


def draw_graph(line: Line) -> Graph:
    """Say a line's events in PROV."""
    graph = Graph({"item": line.base, "event": "urn:uuid:", "kind": "urn:salvage:kind:"})
    for event in line.events:
        if event.id not in line.undone:
            _tell(graph, event, line)
    return graph


def _tell(graph: Graph, event: Event, line: Line) -> None:
    made = [code for code in event.made if code[0] in _ENTITIES and line.tells(code)]
    named = [
        code for code in event.about if code not in event.made and f"item:{code}" in graph.entities
    ]
    parent = event.data.get("drop_off")
    if made and isinstance(parent, str) and f"item:{parent}" in graph.entities:
        named = list(dict.fromkeys([*named, Code(parent)]))
    if not made and not named:
        return
    act = f"event:{event.id}"
    graph.activities[act] = (event.at, f"kind:{event.kind}")
    graph.relations += [("used", act, f"item:{code}", event.at) for code in named]
    for code in made:
        name = f"item:{code}"
        graph.entities.append(name)
        graph.relations.append(("wasGeneratedBy", name, act, event.at))
        graph.relations += [("wasDerivedFrom", name, f"item:{old}", "") for old in named]
        if event.kind == "article.assembled":
            graph.relations += [("hadMember", name, f"item:{old}", "") for old in named]
        if event.kind == "dropoff.logged":
            donor = f"item:{event.data['donor']}"
            if donor not in graph.agents:
                graph.agents.append(donor)
            graph.relations.append(("wasAttributedTo", name, donor, ""))


def check_graph(graph: Graph) -> None:
    """
    Raise unless every end is declared, each thing is made once, and none is used before.

    Raises:
        BadValue: Naming the first that is wrong.
    """
    known = {*graph.entities, *graph.activities, *graph.agents}
    made: set[str] = set()
    for relation, first, second, _ in graph.relations:
        for name in (first, second):
            if name not in known:
                raise BadValue(f"{name} is named in {relation} but declared nowhere")
        if relation == "wasGeneratedBy" and first in made:
            raise BadValue(f"{first} is made twice")
        if relation == "wasGeneratedBy":
            made.add(first)
        if relation == "used" and second not in made:
            raise BadValue(f"{second} is used before it is made")
    if never := [name for name in graph.entities if name not in made]:
        raise BadValue(f"{never[0]} is made by nothing")


def format_json(graph: Graph) -> str:
    """The graph as PROV-JSON."""
    whole: dict[str, dict[str, object]] = {
        "prefix": dict(graph.prefixes),
        "entity": {name: {} for name in graph.entities},
        "activity": {
            name: {
                "prov:startTime": at,
                "prov:endTime": at,
                "prov:type": {"$": kind, "type": "prov:QUALIFIED_NAME"},
            }
            for name, (at, kind) in graph.activities.items()
        },
        "agent": {name: {} for name in graph.agents},
    }
    for n, (relation, first, second, at) in enumerate(graph.relations, 1):
        one, two = _ENDS[relation]
        said = {one: first, two: second, **({"prov:time": at} if at else {})}
        whole.setdefault(relation, {})[f"_:r{n}"] = said
    return json.dumps({key: value for key, value in whole.items() if value}, indent=1) + "\n"


def format_n(graph: Graph) -> str:
    """The graph as PROV-N."""
    lines = [f"  prefix {short} <{long}>" for short, long in graph.prefixes.items()]
    lines += ["", *(f"  entity({name})" for name in graph.entities)]
    for name, (at, kind) in graph.activities.items():
        lines.append(f"  activity({name}, {at}, {at}, [prov:type='{kind}'])")
    lines += [f"  agent({name})" for name in graph.agents]
    for relation, first, second, at in graph.relations:
        tail = {"used": f", {at}", "wasGeneratedBy": f", {at}", "wasDerivedFrom": ", -, -, -"}
        lines.append(f"  {relation}({first}, {second}{tail.get(relation, '')})")
    return "\n".join(["document", *lines, "endDocument"]) + "\n"
