"""The job at the bench, materials: batches come in, go into pieces, and one was noted wrongly."""

from __future__ import annotations

from datetime import date

from salvage.ids import Code
from salvage.work import materials
from salvage.work.workshop import Workshop
from tests.faces.step import Memory, Step, photo_bytes


def _varnish(shop: Workshop, memory: Memory) -> Code:
    new = materials.NewBatch(
        "sealant",
        "clear varnish",
        maker="Harbour Coatings",
        lot="24-117",
        received_on=date(2026, 5, 2),
        pack_milli=250_000,
        unit="ml",
        cost_minor=1240,
        notes="tin 2",
    )
    return materials.add_batch(shop, new=new).batch.code


def _hooks(shop: Workshop, memory: Memory) -> Code:
    new = materials.NewBatch("finding", "ear hook", pack_milli=100_000)
    paper = materials.NewPaper(photo_bytes(), "front.png")
    return materials.add_batch(shop, new=new, papers=[paper]).batch.code


def _use(shop: Workshop, memory: Memory) -> None:
    materials.use_batches(
        shop,
        batches=[memory["varnish"], memory["hooks"]],
        pieces=[memory["oval"], memory["piece"]],
        use=materials.Use("sealed", 1500, "two coats"),
    )


STEPS = (
    Step(
        "add_batch",
        _varnish,
        'material add sealant "clear varnish" --maker "Harbour Coatings" --lot 24-117'
        ' --date 2026-05-02 --pack 250ml --cost 12.40 --notes "tin 2"',
        "varnish",
    ),
    Step("add_batch", _hooks, 'material add find "ear hook" --pack 100 --paper {photo}', "hooks"),
    Step(
        "add_batch_paper",
        lambda shop, memory: materials.add_batch_paper(
            shop,
            batch=memory["hooks"],
            paper=materials.NewPaper(photo_bytes(), "front.png", "nickel release"),
        ),
        'material paper {hooks} {photo} --title "nickel release"',
    ),
    Step(
        "use_batches",
        _use,
        "material use {varnish} {hooks} --piece {oval} --piece {piece} --stage sealed --each 1.5"
        ' --note "two coats"',
    ),
    Step(
        "void_use",
        lambda shop, memory: materials.void_use(
            shop, batch=memory["hooks"], n=1, why="the other lot"
        ),
        'material void {hooks} 1 --why "the other lot"',
    ),
)
"""In the order of the job."""
