"""Papers of the job: wordings of one's own, receipts, reports."""

from __future__ import annotations

from salvage.work import impact, receipts, reports, wordings, year_report
from tests.faces.step import Step

WORDING = b'thanks = "We thank you."\nlanguage = "en"\n'
"""Words of one's own for the receipt; the other one is ours and is not kept."""

STEPS = (
    Step(
        "set_wording",
        lambda shop, memory: None,
        "wording copy receipt --out {out}/receipt.toml",
    ),
    Step(
        "set_wording",
        lambda shop, memory: wordings.set_wording(shop, document="receipt", data=WORDING),
        "wording set receipt {wording}",
    ),
    Step(
        "print_receipt",
        lambda shop, memory: receipts.print_receipt(shop, drop_off=memory["again"]),
        "dropoff receipt {again} --out {out}/receipt.pdf",
    ),
    Step(
        "print_impact",
        lambda shop, memory: impact.print_impact(shop, subject=memory["again"], with_name=True),
        "report donor {again} --with-name --out {out}/donor.pdf",
    ),
    Step(
        "print_hazard_log",
        lambda shop, memory: reports.print_hazard_log(shop),
        "report hazards --out {out}/hazards.pdf",
    ),
    Step(
        "print_consignment_note",
        lambda shop, memory: reports.print_consignment_note(shop, consignment=memory["sent"]),
        "report consignment {sent} --out {out}/consignment.pdf",
    ),
    Step(
        "print_year_report",
        lambda shop, memory: year_report.print_year_report(shop, year=2026),
        "report year 2026 --out {out}/year.pdf",
    ),
)
"""In the order of the job."""
