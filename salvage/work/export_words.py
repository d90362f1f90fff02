"""What the files of a whole export are, in plain words: the README, and a line for each table."""

from __future__ import annotations

from collections.abc import Sequence

TABLE_WORDS = {
    "event": "The journal's events without their texts: order, kind, instant and hash of each.",
    "event_item": "Which codes each event concerns.",
    "undone": "Events that were taken back, with the correction that did it.",
    "counter": "The last number that was given for each kind of code.",
    "setting": "The workshop's settings that differ from the usual ones.",
    "device": "Devices that write, with their letters.",
    "device_key": "Public keys by which the devices sign checkpoints.",
    "donor": "Donors, by code; names lie apart and are told only when asked for.",
    "forgotten": "Donors whose names were erased on request.",
    "drop_off": "Deliveries: what came, when and from whom.",
    "data_part": "Data-bearing parts that came with a delivery.",
    "data_search": "Searches of a delivery for data-bearing parts.",
    "medium": "Data-bearing parts in detail.",
    "hand_over": "Steps of a data-bearing part from hand to hand.",
    "sanitising": "How data were erased, and who verified it.",
    "drop_off_closed": "Deliveries whose data-bearing parts are all settled.",
    "file": "Photos, drawings and papers, by the SHA-256 of their bytes.",
    "shape": "The workshop's own outlines.",
    "mat": "Measuring mats that were printed.",
    "own_fact": "Facts that the workshop added to the tables of the program.",
    "alert": "Hazards that became known later, and which boards they hold.",
    "board": "Circuit boards.",
    "hazard_check": "What was found of each hazard on each board.",
    "keep_out": "Regions of a board that are not to be cut.",
    "plan": "Plans that place an order's shapes on boards.",
    "plan_line": "What each plan makes.",
    "plan_shear": "Straight cuts of plans for hand shears.",
    "reservation": "Regions of boards that are held.",
    "cut": "Cuts: what was taken out of which board, where and by whom.",
    "piece": "Pieces and articles.",
    "part": "Which pieces an article is made of.",
    "board_share": "The share of each board in an article of several.",
    "sale": "Sales and returns of pieces.",
    "assay": "Tests of what a thing holds.",
    "piece_product": "What sort of product a piece is, and what is on it.",
    "piece_audience": "For whom a piece is meant.",
    "gate_accepted": "Points before a sale that somebody accepted with a reason.",
    "photo": "Photos of boards, pieces and deliveries; the files lie in the folder files.",
    "check_evidence": "Photos and notes that show a check of a hazard.",
    "consignment": "What left for a recycler.",
    "consignment_detail": "Permits and confirmed weights of consignments.",
    "consignment_item": "What each consignment held.",
    "waste_container": "Containers that waste is gathered in.",
    "waste_item": "What was put into which container.",
    "tool": "Bits and shears.",
    "tool_use": "How far a tool cut with each cut.",
    "tool_run": "Minutes that a tool ran beside that.",
    "wording": "The workshop's own wording of its papers.",
    "printed_paper": "Papers that were printed, by the hash of their text.",
    "board_weighing": "Weighings of boards.",
    "board_copper": "Copper layers of boards.",
    "recall": "Recalls.",
    "recall_item": "What each recall holds, and how it was settled.",
    "clash": "Events that cannot stand beside what another device did.",
    "clash_settled": "How such clashes were settled.",
    "place": "Shelves, boxes and other places.",
    "label_stock": "Sheets and rolls of labels by their measures.",
    "printer": "Printers, and how far each shifts and stretches.",
    "printed_tag": "The tag that was printed last for each piece.",
    "stock_take": "Stock-takes.",
    "stock_seen": "What each stock-take saw, and where.",
    "lost_thing": "Things that a stock-take did not find.",
    "inbox": "Photos that nobody has assigned yet.",
    "batch": "Batches of materials such as sealants and findings.",
    "batch_paper": "Data sheets of batches.",
    "material_use": "Which batch went into which piece.",
    "staging": "Who brought which piece to which stage, and when.",
    "unsaid": "Stages of pieces of which nobody said who did them.",
    "hazard_mark": "By which marks a hazard stands on the record of things.",
    "measuring": "When and how boards were measured.",
    "customer_order": "Customers' orders; names lie apart, as donors' do.",
    "order_line": "What each order asks for.",
    "quote": "Prices that were quoted.",
    "quote_line": "The single lines of quotes.",
    "order_plan": "Which plans work on which order.",
    "set_aside": "Pieces that are set aside for an order.",
    "forgotten_customer": "Customers whose names were erased on request.",
    "outing": "Fairs and market days.",
    "outing_piece": "What was packed for each, and what became of it.",
    "outing_cash": "Money put into and taken out of a fair's box.",
    "slip": "Slips of sales: day, way of payment, tax.",
    "slip_line": "The single lines of slips, in minor units of money.",
    "time_spent": "Working time by piece and step.",
    "step_rate": "Usual working time of a step.",
    "private_field": "Names and other sealed words, each with the seal that the journal holds.",
}
"""A sentence for each table."""

UNIT_WORDS = {
    "_um": "whole micrometres",
    "_um2": "whole square micrometres",
    "_mg": "whole milligrams",
    "_mdeg": "thousandths of a degree, counter-clockwise",
    "_minor": "whole minor units of the currency, such as cents",
    "_ppm": "millionths",
    "_milli": "thousandths of the unit that stands beside it",
    "_moz": "thousandths of an ounce of copper on a square foot",
    "_px": "pixels",
    "_on": "a day, year-month-day",
    "_at": "an instant, UTC in ISO 8601",
    "_seal": "a salted hash that stands for a sealed word",
}
"""What the end of a column's name tells of its unit."""


def words_of_column(name: str) -> str:
    """What a column's name tells of its unit; empty where it tells nothing."""
    return next((words for end, words in UNIT_WORDS.items() if name.endswith(end)), "")


def readme(*, workshop: str, at: str, events: int, files: int, with_names: bool) -> str:
    """
    The page that lies beside the files and tells what each of them is.

    Args:
        workshop: The workshop's name.
        at: When it was written.
        events: Number of events.
        files: Number of photos and drawings.
        with_names: Whether sealed words are in it.
    """
    names = _WITH_NAMES if with_names else _WITHOUT_NAMES
    return "\n".join((*_head(workshop, at, events, files), *_FILES, *names, *_BACK, ""))


def _head(workshop: str, at: str, events: int, files: int) -> Sequence[str]:
    return (
        f"The whole record of {workshop}",
        "",
        f"Written on {at[:10]} at {at[11:19]} UTC: {events} events, {files} files.",
        "Everything here is plain text or a picture and can be read without the program.",
        "",
    )


_FILES = (
    "journal.jsonl",
    "  Everything that ever happened, one event a line, in canonical JSON (RFC 8785), UTF-8.",
    "  This is the truth; all else here can be worked out from it.",
    "  A line without its line end is exactly what was hashed: the hash of an event is SHA-256",
    "  over the hash before it on the same device (32 bytes; zeros before the first) and the line.",
    "",
    "tables/*.csv",
    "  What follows from the journal, as tables: boards, pieces, sales and so on (RFC 4180).",
    "  They open in any spreadsheet program. A text that such a program would take for a formula",
    "  has an apostrophe before it. An empty cell is an empty text, or something not known.",
    "",
    "csv-metadata.json",
    "  What each table and column is, by the W3C recommendation of 17 December 2015 'Metadata",
    "  Vocabulary for Tabular Data'.",
    "",
    "files/",
    "  Photos, drawings and papers as they were taken in, each under the SHA-256 of its bytes.",
    "  files.csv tells the name that each had, and what it belongs to.",
    "",
    "checkpoints/ and designs/",
    "  Signed checkpoints, and the workshop's own designs of cards, where there are any.",
    "",
    "export.json",
    "  What this folder is: its form, the newest event of each device, and a digest of each table,",
    "  by which a workshop that is made from it is compared with this one.",
    "",
    "SHA256SUMS",
    "  The SHA-256 of every other file. To check them all: sha256sum -c SHA256SUMS",
    "",
)

_WITH_NAMES = (
    "sealed.jsonl",
    "  Names, contacts and other sealed words of donors and customers, with their seals and salts.",
    "  KEEP THIS FOLDER AS YOU KEEP THE WORKSHOP'S KEY. Whoever is forgotten in the workshop later",
    "  is not forgotten here: delete this folder then.",
    "",
)

_WITHOUT_NAMES = (
    "Names",
    "  Names and contacts of donors and customers are not in here; only their seals are, by which",
    "  they can be recognised but not guessed. The journal does hold who did the work, and every",
    "  free text as it was typed, since a changed line would no longer fit its hash. So look",
    "  through it before you hand it on; the tables leave these columns out.",
    "",
)

_BACK = (
    "Back again",
    "  salvage --shop NEWFOLDER restore THISFOLDER",
    "  Not in here: the device's secret signing key, phones that were paired, and what is worked",
    "  out anew when it is needed. The workshop goes on as the same device; do not go on with the",
    "  old one beside it.",
)
