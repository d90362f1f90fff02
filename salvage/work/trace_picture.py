"""A trace as a picture: where a thing is from and what became of it, for anybody's eyes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from salvage.ids import Code, kind_of
from salvage.work.discretion import Discretion
from salvage.work.trace import Branch, trace
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.paper.lineage import Lineage


def draw_trace(shop: Workshop, *, code: Code) -> bytes:
    """
    The lineage of a thing as SVG, the same bytes while the record is the same.

    Donors appear as they agreed to, workers and customers not at all. Where much came of it, things
    of a sort are drawn as one box that counts them.

    Args:
        shop: The open workshop.
        code: Any code of ours.

    Raises:
        NotFound: If there is nothing with this code.
    """
    from salvage.paper.lineage_drawing import draw_lineage
    from salvage.work.trace_groups import make_legible

    return draw_lineage(make_legible(gather_lineage(shop, code))).encode()


def draw_origins(shop: Workshop, *, code: Code) -> bytes:
    """Where a thing came from as SVG, without what became of it; see :func:`draw_trace`."""
    from salvage.paper.lineage_drawing import draw_lineage
    from salvage.work.trace_groups import make_legible

    lineage = make_legible(gather_lineage(shop, code, with_forward=False))
    return draw_lineage(lineage).encode()


def gather_lineage(shop: Workshop, code: Code, *, with_forward: bool = True) -> Lineage:
    """All things of a trace, none put together yet."""
    from salvage.paper.lineage import Lineage
    from salvage.work.trace_nodes import node_of

    found = trace(shop, code)
    discretion = Discretion(shop.conn)
    # What a recall is about came before the things that it holds: only these are drawn.
    back = () if code[0] == "H" else tuple(_pairs(found.origins))
    forward = tuple(_pairs(found.forward)) if with_forward else ()
    edges = dict.fromkeys([*((below, above) for above, below in reversed(back)), *forward])
    codes = dict.fromkeys([one for edge in edges for one in edge] or [code])
    nodes = sorted((node_of(shop.conn, one, discretion) for one in codes), key=lambda n: n.column)
    kind = next((node.kind for node in nodes if node.key == code), kind_of(code))
    title = f"Lineage of {kind} {code}"
    return Lineage(title, code, tuple(nodes), tuple(edges))


def _pairs(branch: Branch) -> Iterator[tuple[Code, Code]]:
    for one in branch.branches:
        yield branch.link.code, one.link.code
        yield from _pairs(one)
