"""
Making a large lineage legible: things of a sort are drawn as one box that counts them.

Nothing is left out without being counted. Pieces of a board are put together by shape; where that
is not enough, all of a board; then the boards of a drop-off and the drop-offs of a donor beyond the
first few. What leads to the thing that was asked about is always drawn singly.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from salvage.paper.lineage import MARKS, Lineage, Node
from salvage.work.trace_nodes import ARTICLES, BOARDS, CUTS, DROP_OFFS, PIECES

MOST_ROWS = 24
"""Rows that fit on one wide page and can still be read."""

_LIMITS = (20, 14, 8, 4, 2)

_PLURALS = {
    "drop-off": "drop-offs",
    "board": "boards",
    "cut": "cuts",
    "piece": "pieces",
    "article": "articles",
    "held place": "held places",
    "consignment": "consignments",
}


@dataclass(frozen=True, slots=True)
class _Tree:
    """The lineage's neighbours, and what may not be put into a group."""

    nodes: Mapping[str, Node]
    children: Mapping[str, list[str]]
    parent: Mapping[str, str]
    alone: frozenset[str]


def make_legible(lineage: Lineage, *, most_rows: int = MOST_ROWS) -> Lineage:
    """
    The lineage itself where it is small, else with groups until it fits.

    Args:
        lineage: All of it.
        most_rows: Rows that are not to be passed, if grouping can help it.
    """
    drawn = lineage
    tree = _tree(lineage)
    plans: list[Callable[[], dict[str, str]]] = [
        dict,
        lambda: _by_shape(tree),
        lambda: _by_board(tree),
        *(_limited(tree, limit) for limit in _LIMITS),
    ]
    for plan in plans:
        drawn = _merge(lineage, tree, plan())
        if _rows(drawn) <= most_rows:
            break
    return drawn


def _limited(tree: _Tree, limit: int) -> Callable[[], dict[str, str]]:
    return lambda: _beyond(tree, limit)


def _tree(lineage: Lineage) -> _Tree:
    children: dict[str, list[str]] = defaultdict(list)
    parents: dict[str, list[str]] = defaultdict(list)
    for above, below in lineage.edges:
        children[above].append(below)
        parents[below].append(above)
    alone, waiting = {lineage.subject}, [lineage.subject]
    while waiting:
        more = [one for one in parents.get(waiting.pop(), ()) if one not in alone]
        alone.update(more)
        waiting += more
    first = {key: above[0] for key, above in parents.items()}
    nodes = {node.key: node for node in lineage.nodes}
    return _Tree(nodes, children, first, frozenset(alone))


def _rows(lineage: Lineage) -> int:
    """Ends of branches, each of which takes a row."""
    first: dict[str, str] = {}
    for above, below in lineage.edges:
        first.setdefault(below, above)
    branching = set(first.values())
    return sum(node.key not in branching for node in lineage.nodes)


def _seat(tree: _Tree, key: str) -> str:
    """The board that a cut or piece is of, or whatever it hangs on."""
    above = tree.parent.get(key, "")
    return _seat(tree, above) if above and tree.nodes[above].column == CUTS else above


def _by_shape(tree: _Tree) -> dict[str, str]:
    """Cuts and pieces into groups by board and shape, where there are two or more."""
    sorts: dict[tuple[str, str, str], list[str]] = defaultdict(list)
    for key, node in tree.nodes.items():
        if key in tree.alone or node.column not in (CUTS, PIECES):
            continue
        below = [one for one in tree.children.get(key, ()) if tree.nodes[one].kind == "piece"]
        if not (node.kind == "cut" and below):  # a cut goes with its piece
            sorts[_seat(tree, key), node.kind, _shape(node)].append(key)
    into: dict[str, str] = {}
    for sort, members in sorts.items():
        if len(members) > 1:
            for key in members:
                into[key] = " ".join(("group", *sort))
                above = tree.parent.get(key, "")
                if above and tree.nodes[above].kind == "cut" and above not in tree.alone:
                    into[above] = into[key]
    return into


def _shape(node: Node) -> str:
    return node.lines[0].split(", ")[0]


def _by_board(tree: _Tree) -> dict[str, str]:
    """All cuts and pieces of a board into one group, and articles beyond a few into one."""
    into: dict[str, str] = {}
    for key, node in tree.nodes.items():
        if key not in tree.alone and node.column in (CUTS, PIECES):
            into[key] = f"group {_seat(tree, key)}"
    articles = [
        key for key, node in tree.nodes.items() if node.column >= ARTICLES and key not in tree.alone
    ]
    if len(articles) > _LIMITS[-2]:
        into |= dict.fromkeys(articles, "group articles")
    return into


def _beyond(tree: _Tree, limit: int) -> dict[str, str]:
    """Boards and drop-offs beyond the first few, with all that came of them, into one group."""
    into = _by_board(tree)
    for above, below in tree.children.items():
        for column in (BOARDS, DROP_OFFS):
            kinds: dict[str, list[str]] = defaultdict(list)
            for key in below:
                if tree.nodes[key].column == column and key not in tree.alone:
                    kinds[tree.nodes[key].kind].append(key)
            for kind, keys in kinds.items():
                keys.sort(key=lambda one: (-_weight(tree, one), one))
                for key in keys[limit:]:
                    into |= dict.fromkeys(_all_of(tree, key), f"more {above} {kind}")
    return into


def _all_of(tree: _Tree, key: str) -> list[str]:
    found = [key]
    for one in tree.children.get(key, ()):
        if one not in tree.alone and tree.nodes[one].column < ARTICLES:
            found += _all_of(tree, one)
    return found


def _weight(tree: _Tree, key: str) -> int:
    return sum(tree.nodes[one].kind == "piece" for one in _all_of(tree, key))


def _merge(lineage: Lineage, tree: _Tree, into: Mapping[str, str]) -> Lineage:
    groups: dict[str, list[Node]] = defaultdict(list)
    for node in lineage.nodes:
        if node.key in into:
            groups[into[node.key]].append(node)
    nodes: dict[str, Node] = {}
    for node in lineage.nodes:
        key = into.get(node.key, node.key)
        if key not in nodes:
            nodes[key] = _group(key, groups[key]) if node.key in into else node
    edges = dict.fromkeys(
        (into.get(above, above), into.get(below, below)) for above, below in lineage.edges
    )
    kept = tuple(edge for edge in edges if edge[0] != edge[1])
    notes = lineage.notes
    if into:
        words = _counted(Counter(tree.nodes[key].kind for key in into))
        told = f"Not drawn singly: {words}; each is counted in one of {len(groups)} groups."
        notes = (*notes, told)
    return replace(lineage, nodes=tuple(nodes.values()), edges=kept, notes=notes)


def _counted(kinds: Counter[str]) -> str:
    told = [
        f"{kinds[kind]} {kind if kinds[kind] == 1 else plural}"
        for kind, plural in _PLURALS.items()
        if kinds[kind]
    ]
    return ", ".join(told)


def _group(key: str, members: list[Node]) -> Node:
    """One box for several: how many of what, and where they are."""
    kinds = Counter(node.kind for node in members)
    column = min(node.column for node in members)
    leading = [node for node in members if node.column == column]
    if kinds["piece"] and column == CUTS:
        column, leading = PIECES, [node for node in members if node.kind == "piece"]
        del kinds["cut"]
    title = _counted(Counter(node.kind for node in leading))
    if key.startswith("more "):
        title = f"{len(leading)} more {_PLURALS.get(leading[0].kind, leading[0].kind)}"
    rest = _counted(Counter({kind: n for kind, n in kinds.items() if kind != leading[0].kind}))
    shaped = ("piece", "cut", "held place")
    shapes = Counter(_shape(node) for node in members if node.kind in shaped)
    names = ", ".join(f"{n} {shape}" if len(shapes) > 1 else shape for shape, n in _most(shapes))
    marks = Counter(node.mark for node in members if node.kind in ("piece", "article"))
    where = ", ".join(f"{n} {_SHORT[mark]}" for mark, n in _most(marks) if mark)
    is_listed = column in (CUTS, PIECES)
    lines = tuple(filter(None, (names if is_listed else rest, where)))
    return Node(key, column, title, "", lines, _common(members), is_group=True)


def _most(counts: Counter[str]) -> list[tuple[str, int]]:
    return sorted(counts.items(), key=lambda one: (-one[1], one[0]))


_SHORT = {**MARKS, "here": "here", "part": "in articles", "gone": "gone"}


def _common(members: list[Node]) -> str:
    marks = {node.mark for node in members if node.kind in ("piece", "article")}
    return marks.pop() if len(marks) == 1 else ""
