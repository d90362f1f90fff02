"""Many boards and pieces at once, put straight into the tables, for pictures and lists."""

from __future__ import annotations

from salvage.ids import Code, mint_code
from salvage.work.workshop import Workshop

SHAPES = ("tern", "kite", "fern-leaf", "tide-bell")


def codes_of(kind: str, count: int) -> list[Code]:
    """The first codes of a kind of device X."""
    found: list[Code] = []
    number = 0
    while len(found) < count:
        number += 1
        if code := mint_code(kind, "X", number):
            found.append(code)
    return found


def add_crowd(shop: Workshop, *, donor: Code, boards: int, pieces_each: int) -> list[Code]:
    """A drop-off of a donor with many boards, each cut into many pieces, every third one sold."""
    (drop_off,) = codes_of("D", 1)
    shop.conn.execute("PRAGMA foreign_keys = OFF")
    shop.conn.execute(
        "INSERT INTO drop_off SELECT ?, ?, '2026-05-03', 'door', 'a van full of racks', NULL,"
        " 90000000, '', '', '', '', 'Maren'",
        (drop_off, donor),
    )
    columns = [name for _, name, *_ in shop.conn.execute("PRAGMA table_info(board)")]
    sample = shop.conn.execute("SELECT * FROM board LIMIT 1").fetchone()
    board_codes = codes_of("B", boards)
    for code in board_codes:
        row = dict(zip(columns, sample, strict=True)) | {"code": code, "drop_off": drop_off}
        marks = ", ".join("?" * len(row))
        shop.conn.execute(f"INSERT INTO board VALUES ({marks})", tuple(row.values()))
    cuts, pieces = codes_of("K", boards * pieces_each), codes_of("P", boards * pieces_each)
    for n, (cut, piece) in enumerate(zip(cuts, pieces, strict=True)):
        board, shape = board_codes[n % boards], SHAPES[n % len(SHAPES)]
        shop.conn.execute(
            "INSERT INTO cut VALUES (?, ?, 'piece', 'front', 'router', ?, '', 9000, 9000, 0, 0,"
            " 2000, '[]', 900000000, 0, 0, '', '', '', 'Maren', '2026-05-04T09:00:00.000Z', ?)",
            (cut, board, shape, n),
        )
        stage = "sold" if n % 3 == 0 else "ready"
        shop.conn.execute(
            "INSERT INTO piece VALUES (?, ?, ?, ?, ?, 0, NULL, '', NULL, 'identity preserved',"
            " 0, 0, '2026-05-04T09:00:00.000Z')",
            (piece, cut, board, shape, stage),
        )
        if stage == "sold":
            shop.conn.execute(
                "INSERT INTO sale (piece, n, price_minor, currency, venue, sold_on, returned_on,"
                " reason) VALUES (?, 1, 900, 'EUR', 'Lantern Fair', '2026-05-05', '', '')",
                (piece,),
            )
    return pieces
