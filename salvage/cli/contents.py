"""
The table of contents: every command, in the order of the job, with one line on each.

A command's file is loaded when the command is asked for, so that the others cost nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.cli.contents_safety import assay, custody, duties, gate
from salvage.cli.contents_selling import (
    load_export,
    load_history,
    load_journal,
    load_order,
    load_outing,
    load_price,
    load_sales,
    load_trace,
    load_undo,
)
from salvage.cli.contents_waste import report, tool, waste, wording
from salvage.cli.knowing import load_alert, load_facts, load_formats, load_hazards
from salvage.frozen import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable

    from salvage.cli.command import CommandSet


@dataclass(frozen=True)
class Entry:
    """
    One command or group.

    Args:
        name: What people type.
        section: Heading in the help.
        words: What it is for, in one line.
        load: Gives its commands.
    """

    name: str
    section: str
    words: str
    load: Callable[[], CommandSet]


def _setup() -> CommandSet:
    from salvage.cli import setup

    return setup.commands


def _next() -> CommandSet:
    from salvage.cli import next as next_

    return next_.commands


def _dropoff() -> CommandSet:
    from salvage.cli import dropoff

    return dropoff.commands


def _donor() -> CommandSet:
    from salvage.cli import donor

    return donor.commands


def _board() -> CommandSet:
    from salvage.cli import (
        board,
        board_area,
        board_back,
        board_marks,
        board_mass,
        board_richness,
        board_safety,
        clear,
    )

    # Loaded for the commands that they add to the group.
    del board_area, board_back, board_marks, board_mass, board_richness, board_safety, clear
    return board.commands


def _photo() -> CommandSet:
    from salvage.cli import photo

    return photo.commands


def _watch() -> CommandSet:
    from salvage.cli import watch

    return watch.watching


def _inbox() -> CommandSet:
    from salvage.cli import watch

    return watch.inbox


def _mat() -> CommandSet:
    from salvage.cli import mat

    return mat.commands


def _measure() -> CommandSet:
    from salvage.cli import measure

    return measure.commands


def _label() -> CommandSet:
    from salvage.cli import label

    return label.commands


def _place() -> CommandSet:
    from salvage.cli import place

    return place.commands


def _printer() -> CommandSet:
    from salvage.cli import printer

    return printer.commands


def _scan() -> CommandSet:
    from salvage.cli import scan

    return scan.commands


def _read() -> CommandSet:
    from salvage.cli import read

    return read.commands


def _bench() -> CommandSet:
    from salvage.cli import bench

    return bench.commands


def _page() -> CommandSet:
    from salvage.cli import page

    return page.commands


def _shape() -> CommandSet:
    from salvage.cli import shape

    return shape.commands


def _fits() -> CommandSet:
    from salvage.cli import fits

    return fits.commands


def _plan() -> CommandSet:
    from salvage.cli import plan, plan_deeds

    del plan_deeds  # loaded for the commands that it adds to the group
    return plan.commands


def _handover() -> CommandSet:
    from salvage.cli import handover

    return handover.commands


def _cut() -> CommandSet:
    from salvage.cli import cut

    return cut.commands


def _reserve() -> CommandSet:
    from salvage.cli import reserve

    return reserve.reserving


def _release() -> CommandSet:
    from salvage.cli import reserve

    return reserve.releasing


def _compare() -> CommandSet:
    from salvage.cli import compare

    return compare.commands


def _article() -> CommandSet:
    from salvage.cli import article

    return article.commands


def _piece() -> CommandSet:
    from salvage.cli import piece

    return piece.commands


def _material() -> CommandSet:
    from salvage.cli import material

    return material.commands


def _card() -> CommandSet:
    from salvage.cli import card

    return card.commands


def _correct() -> CommandSet:
    from salvage.cli import correct

    return correct.commands


def _consign() -> CommandSet:
    from salvage.cli import consignment

    return consignment.commands


def _mass() -> CommandSet:
    from salvage.cli import mass

    return mass.weighing


def _stocktake() -> CommandSet:
    from salvage.cli import stocktake, stocktake_settle

    del stocktake_settle  # loaded for the commands that it adds to the group
    return stocktake.commands


def _device() -> CommandSet:
    from salvage.cli import device, device_here

    del device_here  # loaded for the command that it adds to the group
    return device.commands


def _hub() -> CommandSet:
    from salvage.cli import hub

    return hub.commands


def _proof() -> CommandSet:
    from salvage.cli import proof

    return proof.commands


def _recall() -> CommandSet:
    from salvage.cli import recall, recall_papers

    del recall_papers  # loaded for the commands that it adds to the group
    return recall.commands


def _check() -> CommandSet:
    from salvage.cli import check

    return check.checking


def _rebuild() -> CommandSet:
    from salvage.cli import check

    return check.rebuilding


def _backup() -> CommandSet:
    from salvage.cli import copy

    return copy.copying


def _restore() -> CommandSet:
    from salvage.cli import copy

    return copy.restoring


def _demo() -> CommandSet:
    from salvage.cli import demo

    return demo.commands


_START = "Start"
_JOB = "The job, from the door to the fair"
_TRACE = "Where it came from, where it went"
_KEEP = "Keeping the record sound"
_KNOW = "Look-ups"

ENTRIES = (
    Entry("next", _START, "What to do next; 'salvage' alone tells the same.", _next),
    Entry("demo", _START, "Build a sample workshop and walk through the job.", _demo),
    Entry("setup", _START, "Show or change the workshop's settings.", _setup),
    Entry("dropoff", _JOB, "Deliveries: what came, from whom, data-bearing parts.", _dropoff),
    Entry("custody", _JOB, "Parts that hold data, from hand to hand.", custody),
    Entry("donor", _JOB, "Donors and how they wish to be named.", _donor),
    Entry("board", _JOB, "Boards: record, measure, clear of hazards, find.", _board),
    Entry("alert", _JOB, "New knowledge: hold every board of a kind at once.", load_alert),
    Entry("photo", _JOB, "Keep a photo of a board, piece or drop-off.", _photo),
    Entry("watch", _JOB, "File the photos that the phone drops into a folder.", _watch),
    Entry("inbox", _JOB, "Photos that wait until somebody says what they show.", _inbox),
    Entry("mat", _JOB, "Printed photo mats that give photos their scale.", _mat),
    Entry("measure", _JOB, "Take a board's outline from a photo on a mat.", _measure),
    Entry("label", _JOB, "Print labels and the action sheet, true to size.", _label),
    Entry("place", _JOB, "Shelves and boxes with a label to scan.", _place),
    Entry("printer", _JOB, "Printers, label stock, and how far a printer is off.", _printer),
    Entry("scan", _JOB, "Go or no-go before a cut: code, scanner or photo.", _scan),
    Entry("read", _JOB, "Every code in a folder of photos, and what stayed unread.", _read),
    Entry("bench", _JOB, "Work at the bench by scanning: see, cut, stage, sell.", _bench),
    Entry("page", _JOB, "The workshop on a screen, and on a paired phone.", _page),
    Entry("shape", _JOB, "The library of shapes to cut.", _shape),
    Entry("fits", _JOB, "Which boards can yield a shape, and where it goes.", _fits),
    Entry("reserve", _JOB, "Hold a place on a board for an order.", _reserve),
    Entry("release", _JOB, "Let a reserved place go.", _release),
    Entry("plan", _JOB, "Plan an order over the shelf, and what is held for it.", _plan),
    Entry("handover", _JOB, "A drawing for the router's program, or a setup sheet.", _handover),
    Entry("cut", _JOB, "Record a cut: a piece, or scrap.", _cut),
    Entry("compare", _JOB, "What is left by a photo, against the record.", _compare),
    Entry("piece", _JOB, "Pieces: stages, weight, price, sale, return.", _piece),
    Entry("material", _JOB, "Sealants, findings and the like, by batch.", _material),
    Entry("article", _JOB, "Assemble several pieces into one; take it apart.", _article),
    Entry("assay", _JOB, "Tests of one part: lead, nickel, cadmium.", assay),
    Entry("gate", _JOB, "What stands between a piece and its sale; children.", gate),
    Entry("card", _JOB, "Print a piece's story card as a PDF.", _card),
    Entry("price", _JOB, "Working time, what a piece costs, and a price by your rule.", load_price),
    Entry("order", _JOB, "Customers' orders: request, quote, boards, hand-over.", load_order),
    Entry("outing", _JOB, "Fairs and market days: pack, sell, count, come home.", load_outing),
    Entry("trace", _TRACE, "Back to the donor and forward to what was made.", load_trace),
    Entry("history", _TRACE, "Everything that happened to one thing.", load_history),
    Entry("report", _TRACE, "Papers: for donors, of hazards, consignments, a year.", report),
    Entry("wording", _TRACE, "The words of documents, as you would write them.", wording),
    Entry("tool", _TRACE, "Bits, filters and masks, and when to change them.", tool),
    Entry("waste", _TRACE, "Waste containers: open, fill, and when they must leave.", waste),
    Entry("consign", _TRACE, "What left for a recycler.", _consign),
    Entry("mass", _TRACE, "What came in by weight, and what it became.", _mass),
    Entry("sales", _TRACE, "The ledger: every sale and refund, and totals.", load_sales),
    Entry("export", _TRACE, "The record in open forms, the ledger, pages for buyers.", load_export),
    Entry("recall", _TRACE, "Call back everything that came of one cause.", _recall),
    Entry("journal", _KEEP, "The newest events of the whole workshop.", load_journal),
    Entry("device", _KEEP, "Several devices of one workshop: hand over, merge, settle.", _device),
    Entry("hub", _KEEP, "Several workshops in one PostgreSQL database.", _hub),
    Entry("proof", _KEEP, "Sign how far the journal came; prove one piece.", _proof),
    Entry("undo", _KEEP, "Take an operation back; both stay on record.", load_undo),
    Entry("correct", _KEEP, "Mend what was typed wrong; old and new stay on record.", _correct),
    Entry("stocktake", _KEEP, "What is on the shelves against the record.", _stocktake),
    Entry("check", _KEEP, "Check that nothing was lost or altered.", _check),
    Entry("rebuild", _KEEP, "Replay the journal into the tables.", _rebuild),
    Entry("backup", _KEEP, "Copy the whole workshop while it is in use.", _backup),
    Entry("restore", _KEEP, "Begin a workshop from a copy, checked whole.", _restore),
    Entry("hazards", _KNOW, "Hazards by board type, with their sources.", load_hazards),
    Entry("facts", _KNOW, "Limits, materials, rules with sources; your own rows.", load_facts),
    Entry("duties", _KNOW, "Limits and duties by place and topic, with sources.", duties),
    Entry("formats", _KNOW, "Sizes of common boards and cards, with sources.", load_formats),
)
"""All commands, in the order of the job."""
