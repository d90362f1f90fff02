"""A sender that is killed at any moment leaves the hub fit for the next one, and loses nothing."""

from __future__ import annotations

import os
import random
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from salvage.work.checkpoints import sign_checkpoint
from salvage.work.hub import prepare_hub, send_to_hub
from salvage.work.hub_view import check_at_hub
from salvage.work.workshop import Workshop
from tests.benchmarks.trace_world import World, build
from tests.faults.children import Child, children_of
from tests.faults.hub_sender import DONE, send_until_killed
from tests.postgres import Server
from tests.work.hubs import ask, at_hub, events_of, first_of, make_piece, open_hub_shop

ROUNDS = int(os.environ.get("SALVAGE_HUB_KILLS", "6"))
"""How often to kill; a long run before a release takes hundreds."""


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Workshop]:
    """A workshop of some hundred events."""
    with open_hub_shop(tmp_path / "shop", seed=3) as found:
        build(found, World(6, 40), most_s=60)
        sign_checkpoint(found)
        yield found


def wait_for_the_dead(address: str) -> None:
    """Until the server has noticed that those who were killed are gone."""
    others = "SELECT state, query FROM pg_stat_activity WHERE application_name = 'salvage'"
    until = time.monotonic() + 60
    while (left := ask(address, others)) and time.monotonic() < until:
        time.sleep(0.01)

    assert left == []


def test_a_killed_sender_is_taken_up_by_the_next(shop: Workshop, postgres: Server) -> None:
    """After each kill what is there is a beginning of each chain; said again, all is there."""
    dice = random.Random(20260504)
    whole = postgres.empty_hub("whole")
    send_to_hub(shop, address=whole)
    told = 0
    for number in range(ROUNDS):
        address = postgres.empty_hub()
        prepare_hub(address=address)
        senders = 2 if number % 3 == 2 else 1
        batches = [dice.randrange(3, 40) for _ in range(senders)]
        children = [Child(send_until_killed, shop.folder, batch, address) for batch in batches]
        with children_of(*children):
            for child in children:
                child.listen(least=dice.randrange(1, 12))
            time.sleep(dice.uniform(0, 0.02))
            for child in children:
                child.kill()
        told += sum(len(child.told) for child in children)
        wait_for_the_dead(address)
        half = ask(
            address,
            "SELECT device, n, clock, id, kind, operation, at, body, prev, hash"
            " FROM salvage.event ORDER BY device, n",
        )
        rest = send_to_hub(shop, address=address)

        assert half == events_of(shop)[: len(half)], f"after kill {number}"
        assert rest.events == len(events_of(shop)) - len(half)
        assert at_hub(address, first_of(shop)) == at_hub(whole, first_of(shop))
    assert check_at_hub(shop, address=address)[0].faults == ()
    assert told > ROUNDS * 2  # the senders did get to work


def test_a_workshop_at_work_can_send(shop: Workshop, postgres: Server) -> None:
    """While one sends, others cut and sell; the hub gets one moment of it, and the rest later."""
    address = postgres.empty_hub()
    with children_of(Child(send_until_killed, shop.folder, 5, address)) as (child,):
        while child.listen(least=len(child.told) + 1) and child.told[-1] != DONE:
            make_piece(shop)
        between = check_at_hub(shop, address=address)
        send_to_hub(shop, address=address)

    assert child.told[-1] == DONE
    assert between[0].faults == ()
    assert at_hub(address, first_of(shop))["event"] == events_of(shop)
    assert check_at_hub(shop, address=address)[0].faults == ()
