"""A donor who wants to be forgotten: no byte of the name stays, and every piece stays proven."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from contextlib import ExitStack
from datetime import date
from pathlib import Path

import pytest

from salvage.errors import BadValue, NotFound, Refused
from salvage.ids import Code
from salvage.store.backup import copy_database
from salvage.store.journal import verify_chain
from salvage.work.cards import print_card
from salvage.work.check import rebuild_tables, run_checks
from salvage.work.correct import DonorCorrection, correct_donor
from salvage.work.devices import merge_bundle, write_for_others
from salvage.work.donors import UNNAMED, NewDonor, view_donor
from salvage.work.forget import forget_donor
from salvage.work.history import undo
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.workshop import Workshop
from tests.bench import add_board, clear, cut_circle
from tests.work.fleet import Fleet

NAME, CONTACT = "Thorvald Quillfeather", "12 Sandpiper Quay"
WORDS = (b"Thorvald", b"Quillfeather", b"Sandpiper")


@pytest.fixture
def stack() -> Iterator[ExitStack]:
    """Closes every workshop that a test opens."""
    with ExitStack() as opened:
        yield opened


def give(shop: Workshop, *, naming: str = "named", described: str = "", story: str = "") -> Code:
    """A drop-off of the donor who will be forgotten; gives the donor's code."""
    new = NewDropOff(date(2026, 5, 2), "a box of boards", weight_g=4000.0, story=story)
    donor = NewDonor(NAME, naming=naming, described_as=described, contact=CONTACT)
    return log_drop_off(shop, donor=donor, new=new).donor.donor.code


def cut_card(shop: Workshop, donor: Code) -> Code:
    """A piece of the donor's board, its card printed."""
    (drop_off,) = shop.conn.execute("SELECT code FROM drop_off WHERE donor = ?", (donor,))
    board = add_board(shop, drop_off=Code(drop_off[0])).code
    clear(shop, board)
    piece = cut_circle(shop, board, 40, 40).piece
    assert piece is not None
    print_card(shop, piece=piece.code)
    return piece.code


def hits(folder: Path) -> list[str]:
    """Files below a folder, bundles unpacked, in which a word of the name stands."""
    found = []
    for path in sorted(folder.rglob("*")):
        data = path.read_bytes() if path.is_file() else b""
        if zipfile.is_zipfile(io.BytesIO(data)):
            with zipfile.ZipFile(io.BytesIO(data)) as bundle:
                data += b"".join(bundle.read(name) for name in bundle.namelist())
        found += [path.name for word in WORDS if word.lower() in data.lower()]
    return found


def green(shop: Workshop) -> bool:
    """Whether every line of the check is green."""
    return all(line.ok for line in run_checks(shop))


def test_no_byte_of_the_name_stays(empty_shop: Workshop) -> None:
    """Database, write-ahead log, cache, files and a new bundle are searched byte by byte."""
    donor = give(empty_shop)
    cut_card(empty_shop, donor)
    correct_donor(
        empty_shop, donor=donor, new=DonorCorrection(contact="14 Sandpiper Quay"), why="misread"
    )
    before = hits(empty_shop.folder)
    done = forget_donor(empty_shop, donor=donor, reason="asked by letter")
    bundle = write_for_others(empty_shop, everything=True).data
    (empty_shop.folder / "all.zip").write_bytes(bundle)

    assert before
    assert done.erased == 3
    assert done.is_flushed
    assert hits(empty_shop.folder) == []
    assert verify_chain(empty_shop.conn)
    assert green(empty_shop)


def test_many_names_around_it_stay(empty_shop: Workshop) -> None:
    """Of four hundred donors, moved about on their pages, one is forgotten to the last byte."""
    code = Code("")
    for number in range(400):
        new = NewDropOff(date(2026, 5, 2), "a box")
        name = NAME if number == 123 else f"Donor {number} " + "x" * (number % 97)
        given = log_drop_off(empty_shop, donor=NewDonor(name), new=new).donor.donor.code
        code = given if number == 123 else code
    forget_donor(empty_shop, donor=code, reason="asked")
    (kept,) = empty_shop.conn.execute("SELECT count(*) FROM private_field").fetchone()

    assert hits(empty_shop.folder) == []
    assert kept == 399


@pytest.mark.parametrize(
    ("naming", "described", "public"),
    [
        ("named", "", UNNAMED),
        ("named", "a lighthouse keeper", "a lighthouse keeper"),
        ("described", "a lighthouse keeper", "a lighthouse keeper"),
        ("anonymous", "a lighthouse keeper", UNNAMED),
    ],
)
def test_cards_go_on_without_the_name(
    empty_shop: Workshop, naming: str, described: str, public: str
) -> None:
    """The description they agreed to takes its place, or nothing does; a card still prints."""
    donor = give(empty_shop, naming=naming, described=described)
    piece = cut_card(empty_shop, donor)
    done = forget_donor(empty_shop, donor=donor, reason="asked")
    view = view_donor(empty_shop.conn, donor)

    assert done.public == view.public == public
    assert (view.name, view.contact) == ("", "")
    assert view.forgotten_at
    assert print_card(empty_shop, piece=piece).startswith(b"%PDF")
    assert green(empty_shop)


def test_texts_that_hold_the_name_are_listed(empty_shop: Workshop) -> None:
    """What was typed with the name in it is found, with the command that puts it right."""
    donor = give(empty_shop, story="Old quillfeather's radio")
    (mention,) = forget_donor(empty_shop, donor=donor, reason="asked").mentions

    assert (mention.field, mention.text) == ("story", "Old quillfeather's radio")
    assert mention.mend == f"salvage correct dropoff {mention.code} --story … --reason …"


def test_it_cannot_be_undone(empty_shop: Workshop) -> None:
    """What was erased is gone; a plain undo says so and does nothing else."""
    donor = give(empty_shop)
    forget_donor(empty_shop, donor=donor, reason="asked")
    operation = empty_shop.conn.execute("SELECT operation FROM event ORDER BY seq DESC").fetchone()

    for wanted in ("", operation[0]):
        with pytest.raises(Refused, match="what was erased is gone"):
            undo(empty_shop, operation=wanted, why="a slip")


def test_twice_is_once(empty_shop: Workshop) -> None:
    """Said again, nothing is written; only copies are looked for again."""
    donor = give(empty_shop)
    forget_donor(empty_shop, donor=donor, reason="asked")
    heads = verify_chain(empty_shop.conn)
    again = forget_donor(empty_shop, donor=donor, reason="asked")

    assert again.erased == 0
    assert verify_chain(empty_shop.conn) == heads


def test_a_donor_taken_back_is_forgotten_as_well(empty_shop: Workshop) -> None:
    """A drop-off that was undone leaves a sealed name, and that is erased too."""
    donor = give(empty_shop)
    undo(empty_shop, why="a slip")
    done = forget_donor(empty_shop, donor=donor, reason="asked")
    rebuild_tables(empty_shop)

    assert done.erased == 2
    assert hits(empty_shop.folder) == []
    assert green(empty_shop)


def test_the_reason_may_not_hold_the_name(empty_shop: Workshop) -> None:
    """The reason stays in the journal, so it is refused, and nothing is erased."""
    donor = give(empty_shop)

    with pytest.raises(BadValue, match="holds 'quillfeather'"):
        forget_donor(empty_shop, donor=donor, reason="Quillfeather asked")
    with pytest.raises(BadValue, match="say why"):
        forget_donor(empty_shop, donor=donor, reason=" ")
    assert view_donor(empty_shop.conn, donor).name == NAME


def test_nobody_unknown_is_forgotten(empty_shop: Workshop) -> None:
    """A code that nobody was given is named as such."""
    donor = give(empty_shop)
    other = "K" if donor[1] != "K" else "N"
    from salvage.ids import next_code

    with pytest.raises(NotFound):
        forget_donor(empty_shop, donor=next_code("G", other, 0)[0], reason="asked")


def test_a_dry_run_erases_nothing(empty_shop: Workshop) -> None:
    """The maker sees what would be listed, and the name is still there."""
    donor = give(empty_shop)

    assert forget_donor(empty_shop, donor=donor, reason="asked", dry_run=True).erased == 2
    assert view_donor(empty_shop.conn, donor).name == NAME


def test_older_copies_are_listed(empty_shop: Workshop) -> None:
    """Copies that upgrades left, and bundles in the folder, still hold it, and are named."""
    donor = give(empty_shop)
    (empty_shop.folder / "backups").mkdir()
    copy_database(empty_shop.conn, empty_shop.folder / "backups" / "before.db")
    (empty_shop.folder / "old.zip").write_bytes(write_for_others(empty_shop, everything=True).data)
    done = forget_donor(empty_shop, donor=donor, reason="asked")
    copy_database(empty_shop.conn, empty_shop.folder / "backups" / "after.db")
    again = forget_donor(empty_shop, donor=donor, reason="asked")

    assert done.copies == again.copies == ("backups/before.db", "old.zip")


def test_the_other_device_forgets_when_it_merges(tmp_path: Path, stack: ExitStack) -> None:
    """The tablet erases what it kept, and an old bundle brings the name back to neither."""
    two = Fleet(tmp_path, stack, count=2)
    laptop, tablet = two.shops
    donor = give(laptop)
    old = write_for_others(laptop, everything=True).data
    two.hand(laptop, tablet)
    knew = view_donor(tablet.conn, donor).name
    back = write_for_others(tablet, everything=True).data
    forget_donor(laptop, donor=donor, reason="asked")
    merge_bundle(laptop, data=back, name="back.zip")
    merged = merge_bundle(tablet, data=write_for_others(laptop).data, name="new.zip")
    merge_bundle(tablet, data=old, name="old.zip")

    assert knew == NAME
    assert merged.erased == 2
    assert hits(tmp_path) == []
    assert green(laptop)
    assert green(tablet)


def test_a_correction_made_meanwhile_brings_nothing_back(tmp_path: Path, stack: ExitStack) -> None:
    """The tablet mends the name while the laptop forgets it: on both it is gone."""
    two = Fleet(tmp_path, stack, count=2)
    laptop, tablet = two.shops
    donor = give(laptop)
    two.exchange_all()
    forget_donor(laptop, donor=donor, reason="asked")
    for contact in ("13 Sandpiper Quay", "14 Sandpiper Quay"):
        correct_donor(tablet, donor=donor, new=DonorCorrection(contact=contact), why="misread")
    two.exchange_all()
    first, second = two.records()

    assert first == second
    assert hits(tmp_path) == []
    assert green(laptop)
    assert green(tablet)
