"""
Every operation by name, with the faces that offer it.

The test of the three faces plays scenarios through each face named here and compares the databases;
a face that forgets an operation is named by the test.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from salvage.work import (
    action_sheet,
    after_cut,
    area_view,
    back_side,
    bench_deeds,
    bench_sight,
    check,
    checkpoints,
    clashes,
    clear,
    correct,
    cutting,
    devices,
    donors,
    export_csv,
    export_epcis,
    export_prov,
    fitting,
    forget,
    handing_over,
    history,
    import_drop_offs,
    inbox,
    labels,
    library,
    look,
    mass,
    materials,
    mats,
    measuring,
    papers,
    photos,
    pieces,
    places,
    plan_cutting,
    planning,
    plans,
    printers,
    proof,
    recall,
    receive,
    record,
    richness,
    setup,
    stock_take,
    trace,
)

Function = Callable[..., Any]


@dataclass(frozen=True, slots=True)
class Operation:
    """
    One operation.

    Args:
        function: Takes the open workshop first, then keyword-only values.
        command: Words of the command line that call it.
        changes: True when it writes to the journal.
    """

    function: Function
    command: str
    changes: bool = True

    @property
    def name(self) -> str:
        """The function's name."""
        return str(self.function.__name__)


OPERATIONS = (
    Operation(setup.change_settings, "setup"),
    Operation(receive.log_drop_off, "dropoff add"),
    Operation(import_drop_offs.import_drop_offs, "dropoff import"),
    Operation(receive.add_data_parts, "dropoff search"),
    Operation(receive.settle_data_part, "dropoff data"),
    Operation(receive.list_drop_offs, "dropoff list", changes=False),
    Operation(papers.print_receipt, "dropoff receipt", changes=False),
    Operation(donors.list_donors, "donor list", changes=False),
    Operation(donors.set_naming, "donor naming"),
    Operation(forget.forget_donor, "donor forget"),
    Operation(record.record_boards, "board add"),
    Operation(record.list_boards, "board list", changes=False),
    Operation(area_view.view_area, "board area", changes=False),
    Operation(record.set_outline, "board outline"),
    Operation(record.add_keep_outs, "board keepout"),
    Operation(record.lift_keep_out, "board lift"),
    Operation(record.set_lead, "board lead"),
    Operation(record.move_board, "board move"),
    Operation(record.retire_board, "board retire"),
    Operation(clear.read_checklist, "board clear", changes=False),
    Operation(clear.record_checks, "board clear"),
    Operation(photos.add_photo, "photo"),
    Operation(mats.print_mat, "mat print"),
    Operation(mats.check_mat, "mat check"),
    Operation(mats.list_mats, "mat list", changes=False),
    Operation(measuring.measure_board, "measure"),
    Operation(measuring.measure_two_boards, "measure"),
    Operation(measuring.measure_only, "measure", changes=False),
    Operation(labels.print_labels, "label"),
    Operation(labels.draw_labels, "label"),
    Operation(action_sheet.print_actions, "label", changes=False),
    Operation(places.name_places, "place add"),
    Operation(places.list_places, "place list", changes=False),
    Operation(printers.describe_printer, "printer set"),
    Operation(printers.check_printer, "printer check"),
    Operation(printers.print_test_page, "printer test", changes=False),
    Operation(printers.print_outlines, "printer test", changes=False),
    Operation(printers.list_printers, "printer list", changes=False),
    Operation(printers.describe_stock, "printer stock"),
    Operation(printers.list_stock, "printer stocks", changes=False),
    Operation(look.identify, "scan", changes=False),
    Operation(look.identify_photo, "scan", changes=False),
    Operation(look.look_at, "scan", changes=False),
    Operation(look.draw_board_map, "board map", changes=False),
    Operation(back_side.find_back, "board back", changes=False),
    Operation(back_side.draw_back_choices, "board back", changes=False),
    Operation(back_side.keep_back, "board back"),
    Operation(richness.look_for_richness, "board richness", changes=False),
    Operation(richness.draw_board_richness, "board richness", changes=False),
    Operation(library.add_shape, "shape add"),
    Operation(library.list_shapes, "shape list", changes=False),
    Operation(library.show_shape, "shape show", changes=False),
    Operation(fitting.find_boards, "fits", changes=False),
    Operation(fitting.fits_here, "fits", changes=False),
    Operation(handing_over.hand_over, "handover", changes=False),
    Operation(handing_over.print_setup, "handover", changes=False),
    Operation(cutting.record_cut, "cut"),
    Operation(after_cut.find_differences, "compare", changes=False),
    Operation(after_cut.draw_differences, "compare", changes=False),
    Operation(after_cut.record_gone, "compare"),
    Operation(cutting.reserve, "reserve"),
    Operation(cutting.release, "release"),
    Operation(planning.plan_order, "plan order"),
    Operation(planning.replan_order, "plan again"),
    Operation(plans.list_plans, "plan list", changes=False),
    Operation(plans.view_plan, "plan show", changes=False),
    Operation(plans.extend_plan, "plan extend"),
    Operation(plans.release_plans, "plan release"),
    Operation(planning.release_order, "plan release"),
    Operation(planning.list_reservations, "plan list", changes=False),
    Operation(plan_cutting.cut_plan, "plan cut"),
    Operation(pieces.list_pieces, "piece list", changes=False),
    Operation(pieces.set_stage, "piece stage"),
    Operation(pieces.weigh_piece, "piece weigh"),
    Operation(pieces.set_price, "piece price"),
    Operation(pieces.sell, "piece sell"),
    Operation(pieces.take_back, "piece return"),
    Operation(materials.add_batch, "material add"),
    Operation(materials.add_batch_paper, "material paper"),
    Operation(materials.use_batches, "material use"),
    Operation(materials.void_use, "material void"),
    Operation(materials.list_batches, "material list", changes=False),
    Operation(papers.print_card, "card"),
    Operation(trace.trace, "trace", changes=False),
    Operation(history.read_history, "history", changes=False),
    Operation(history.read_journal, "journal", changes=False),
    Operation(history.undo, "undo"),
    Operation(correct.correct_drop_off, "correct dropoff"),
    Operation(correct.correct_board, "correct board"),
    Operation(correct.correct_donor, "correct donor"),
    Operation(devices.list_devices, "device list", changes=False),
    Operation(devices.add_device, "device add"),
    Operation(devices.begin_device, "device start"),
    Operation(devices.write_for_others, "device export", changes=False),
    Operation(devices.merge_bundle, "device merge"),
    Operation(clashes.list_clashes, "device clashes", changes=False),
    Operation(clashes.settle_clash, "device settle"),
    Operation(checkpoints.sign_checkpoint, "proof sign"),
    Operation(checkpoints.verify_checkpoint, "proof verify", changes=False),
    Operation(proof.prove_piece, "proof piece"),
    Operation(export_prov.export_prov, "export prov", changes=False),
    Operation(export_epcis.export_epcis, "export epcis", changes=False),
    Operation(export_csv.export_csv, "export csv", changes=False),
    Operation(mass.send_consignment, "consign"),
    Operation(mass.account_mass, "mass", changes=False),
    Operation(recall.open_recall, "recall open"),
    Operation(recall.close_recall, "recall close"),
    Operation(recall.list_recalls, "recall list", changes=False),
    Operation(bench_sight.sight, "bench", changes=False),
    Operation(bench_deeds.do_deed, "bench"),
    Operation(inbox.take_in_photo, "watch"),
    Operation(inbox.list_inbox, "inbox list", changes=False),
    Operation(inbox.file_waiting, "inbox file"),
    Operation(inbox.drop_waiting, "inbox drop"),
    Operation(stock_take.begin_stock_take, "stocktake start"),
    Operation(stock_take.record_seen, "stocktake scan"),
    Operation(stock_take.view_stock_take, "stocktake show", changes=False),
    Operation(stock_take.settle_stock_take, "stocktake settle"),
    Operation(stock_take.find_again, "stocktake found"),
    Operation(stock_take.list_lost, "stocktake lost", changes=False),
    Operation(check.run_checks, "check", changes=False),
    Operation(check.rebuild_tables, "rebuild", changes=False),
)
"""All operations, in the order of the job."""
