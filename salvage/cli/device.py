"""``salvage device``: several devices of one workshop, and what they hand one another."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.count import count_of
from salvage.cli.files import read_file, write_file
from salvage.cli.records import record_of
from salvage.cli.session import session_of
from salvage.cli.show import Column, note, show_change, show_list

if TYPE_CHECKING:
    import sqlite3

    from salvage.cli.options import Force, Out
    from salvage.work.clash import Clash
    from salvage.work.devices import Merged
    from salvage.work.workshop import Workshop

commands = CommandSet(
    "device",
    "A second device, such as one for the fair: begin it, hand over, merge.",
    'salvage device add "fair tablet" --out tablet.zip',
)

_Bundle = Annotated[str, typer.Argument(metavar="FILE", help="A bundle that a device wrote.")]


@commands.command("list", example="salvage device list")
def list_devices(context: typer.Context) -> None:
    """List the workshop's devices, and how much of each is known here."""
    from salvage.work import devices as work

    session = session_of(context)
    with session.open() as shop:
        found = work.list_devices(shop)
    show_list(
        session,
        [record_of(view.device, events=view.events, is_this=view.is_this) for view in found],
        (
            Column("letter", "letter"),
            Column("name", "name"),
            Column("here", "is_this", lambda here: "this one" if here else ""),
            Column("events", "events"),
            Column("joined", "joined_at", lambda at: at[:10]),
        ),
        empty="no device yet",
    )


@commands.command("add", example='salvage device add "fair tablet" --out tablet.zip', changes=True)
def add_device(
    context: typer.Context,
    name: Annotated[str, typer.Argument(metavar="NAME", help="What to call it.")],
    out: Out = "device.zip",
    force: Force = False,
) -> None:
    """
    Let a further device join; writes the bundle that it begins with.

    Carry the file over there and say: salvage device start FILE. Each device needs a file of its
    own, because its letter stands in the codes that it gives.
    """
    from salvage.work import devices as work

    session = session_of(context)
    handed: list[work.Handed] = []
    with session.open() as shop:

        def make() -> bytes:
            handed.append(work.add_device(shop, name=name, dry_run=session.dry_run))
            return handed[0].data

        path = write_file(session, out, make, force=force)
    (made,) = handed
    show_change(
        session,
        {"device": made.to[0], "name": made.to[2:], "events": made.events, "path": str(path)},
        lines=[
            f"device {made.to} joins; its bundle is written: {path}",
            "it holds the whole record, donors' names included: carry it yourself",
            "over there: salvage device start FILE",
        ],
        codes=[made.to[0]],
    )


@commands.command("start", example="salvage device start tablet.zip", changes=True)
def start_device(context: typer.Context, file: _Bundle) -> None:
    """Begin this device's copy of the workshop from the bundle made for it."""
    from salvage.work import devices as work
    from salvage.work.workshop import Workshop

    session = session_of(context)
    world, by = session.world, session.by

    def open_shop(folder: Path, conn: sqlite3.Connection) -> Workshop:
        return Workshop(folder, conn, clock=world.clock, entropy=world.entropy, by=by)

    begun = work.begin_device(
        session.folder,
        data=read_file(session, file),
        name=Path(file).name,
        open_shop=open_shop,
        dry_run=session.dry_run,
    )
    show_change(
        session,
        {"from": begun.letter, "events": begun.events, "files": begun.files},
        lines=[f"begun in {session.folder}: {count_of(begun.events, 'event')} taken over"],
        codes=[begun.letter],
        next_step="device list",
    )


@commands.command("export", example="salvage device export --out from-laptop.zip")
def export(
    context: typer.Context,
    everything: Annotated[
        bool, typer.Option("--all", help="All events, not only what the others may lack.")
    ] = False,
    out: Out = "bundle.zip",
    force: Force = False,
) -> None:
    """Write a bundle for the other devices."""
    from salvage.work import devices as work

    session = session_of(context)
    handed: list[work.Handed] = []
    with session.open() as shop:

        def make() -> bytes:
            handed.append(work.write_for_others(shop, everything=everything))
            return handed[0].data

        path = write_file(session, out, make, force=force)
    show_change(
        session,
        {"events": handed[0].events, "path": str(path)},
        lines=[f"{count_of(handed[0].events, 'event')} written: {path}"],
        codes=[str(path)],
    )


@commands.command("merge", example="salvage device merge from-tablet.zip", changes=True)
def merge(context: typer.Context, file: _Bundle) -> None:
    """
    Take in what another device wrote.

    Twice, or in another order, changes nothing. What cannot both be so is told as a clash.
    """
    from salvage.work import devices as work

    session = session_of(context)
    data = read_file(session, file)
    with session.open() as shop:
        merged = work.merge_bundle(shop, data=data, name=Path(file).name, dry_run=session.dry_run)
    show_change(
        session,
        _merged_record(merged),
        lines=_merged_lines(merged),
        codes=[merged.letter],
        next_step="device clashes" if merged.clashes else "",
    )


@commands.command("sync", example="salvage device sync ~/Shared/salvage", changes=True)
def sync(
    context: typer.Context,
    folder: Annotated[
        str, typer.Argument(metavar="FOLDER", help="A folder that all devices share.")
    ],
) -> None:
    """
    Lay this device's bundle into a shared folder and take in the others'.

    The folder may be a stick, or one that any sync program keeps alike on all devices.
    """
    from salvage.errors import BadFile
    from salvage.work import devices as work

    session = session_of(context)
    place = session.place(folder)
    if not place.is_dir():
        raise BadFile(f"{folder} is no folder", hint="make it first")
    took: list[work.Merged] = []
    with session.open() as shop:
        own = f"salvage-{shop.settings.device}.zip"
        for path in sorted(place.glob("salvage-?.zip")):
            if path.name == own:
                continue
            try:
                data = read_file(session, str(path))
                took.append(
                    work.merge_bundle(shop, data=data, name=path.name, dry_run=session.dry_run)
                )
            except BadFile as error:  # half copied as yet, perhaps: the next time will do
                note(session, f"{path.name} passed over: {error.message}")
        write_file(
            session,
            str(place / own),
            lambda: work.write_for_others(shop).data,
            force=True,
        )
    clashes = took[-1].clashes if took else ()
    show_change(
        session,
        {"wrote": own, "merged": [_merged_record(merged) for merged in took]},
        lines=[f"{own} written", *(line for merged in took for line in _merged_lines(merged))],
        codes=[own],
        next_step="device clashes" if clashes else "",
    )


def _merged_record(merged: Merged) -> dict[str, Any]:
    return {
        "from": merged.letter,
        "events": merged.events,
        "files": merged.files,
        "clashes": [_clash_record(clash) for clash in merged.clashes],
        "erased": merged.erased,
    }


def _merged_lines(merged: Merged) -> list[str]:
    brought = count_of(merged.events, "event") if merged.events else "nothing new"
    return [
        f"device {merged.letter}: {brought}, {count_of(merged.files, 'file')}",
        *([f"sealed texts of forgotten donors erased: {merged.erased}"] if merged.erased else []),
        *(f"clash {clash.name}: {clash.words}" for clash in merged.clashes),
    ]


def _clash_record(clash: Clash) -> dict[str, Any]:
    return record_of(clash)


@commands.command("clashes", example="salvage device clashes")
def list_clashes(context: typer.Context) -> None:
    """List what two devices did that cannot both be so, and how to mend it."""
    from salvage.work import clashes as work

    session = session_of(context)
    with session.open() as shop:
        found = work.list_clashes(shop)
    show_list(
        session,
        [_clash_record(clash) for clash in found],
        (
            Column("clash", "name"),
            Column("what", "words"),
            Column("mend", "mend"),
            Column("settled", "settled"),
        ),
        empty="no clash: nothing stands against anything else",
    )


@commands.command(
    "settle",
    example='salvage device settle PC0001D-SOLD --how "second buyer was paid back"',
    changes=True,
)
def settle(
    context: typer.Context,
    clash: Annotated[str, typer.Argument(metavar="CLASH", help="Its name in the list.")],
    how: Annotated[str, typer.Option(metavar="TEXT", help="How it was settled.")] = "",
) -> None:
    """Record how a clash was settled; the record of both devices stays as it is."""
    from salvage.work import clashes as work

    session = session_of(context)
    with session.open() as shop:
        settled = work.settle_clash(shop, clash=clash, how=how, dry_run=session.dry_run)
    show_change(
        session,
        _clash_record(settled),
        lines=[f"clash {settled.name} settled: {settled.settled}"],
        codes=[settled.name],
    )
