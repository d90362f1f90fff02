"""What is known about a board's lead, and what its date and marks can and cannot tell."""

from __future__ import annotations

from salvage.cli.assay import assay_lines, assay_record
from salvage.cli.records import source_words
from salvage.cli.session import Session
from salvage.cli.show import show_record, warn


def show_lead(session: Session, code: str) -> None:
    """
    Show a board's lead status, its assays, and what can be concluded.

    Args:
        session: The run.
        code: The board's code as typed.
    """
    from salvage.knowledge.lead import infer_lead, lead_caution
    from salvage.store.lookup import load_board
    from salvage.work.assays import list_assays
    from salvage.work.gate import ADVICE
    from salvage.work.reading import read_code

    with session.open() as shop:
        board = load_board(shop.conn, read_code(shop, text=code, kinds="B"))
        assays = list_assays(shop, code=board.code)
        inferences = infer_lead(board.date_code, today=shop.today)
    caution = lead_caution(board.lead_status)
    record = {
        "code": board.code,
        "lead_status": board.lead_status,
        "lead_evidence": board.lead_evidence,
        "words": caution.text,
        "inferences": [
            {"text": each.text, "source": source_words(each.source), "weak": each.source.is_weak}
            for each in inferences
        ],
        "assays": [assay_record(view) for view in assays],
    }
    evidence = f" ({board.lead_evidence})" if board.lead_evidence else ""
    lines = [f"{board.code}  lead: {board.lead_status}{evidence}", f"  {caution.text}"]
    lines += [f"  - {each.text} [{each.source.marked_words}]" for each in inferences]
    lines += [f"  {line}" for view in assays for line in assay_lines(view)]
    show_record(session, record, lines=lines, plain=("code", "lead_status", "lead_evidence"))
    if not session.form:
        warn(session, ADVICE)
