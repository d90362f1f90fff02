"""Pieces that become one article, which is sold, and one that is taken apart again."""

from __future__ import annotations

from salvage.work import articles
from tests.faces.step import Step

STEPS = (
    Step(
        "assemble",
        lambda shop, memory: (
            articles.assemble(
                shop,
                parts=[memory["oval"], memory["piece"]],
                name="tern brooch",
                note="two rivets",
            ).piece.code
        ),
        'article make {oval} {piece} --name "tern brooch" --note "two rivets"',
        "article",
    ),
    Step(
        "take_apart",
        lambda shop, memory: articles.take_apart(
            shop, article=memory["article"], reason="a rivet broke"
        ),
        'article apart {article} --reason "a rivet broke"',
    ),
)
"""In the order of the job."""
