"""
A Code 128 reader for modules, written from the standard's table and not from our writer.

Widths of bars and spaces: ISO/IEC 15417, table 1, from memory; its start, stop and check rules as
published on barcodeisland.com, "Code 128 Barcode".
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

START_A, START_B, START_C, STOP = 103, 104, 105, 106
_CODE_C, _CODE_B, _CODE_A = 99, 100, 101

# fmt: off
WIDTHS = (
    "212222", "222122", "222221", "121223", "121322", "131222", "122213", "122312", "132212",
    "221213", "221312", "231212", "112232", "122132", "122231", "113222", "123122", "123221",
    "223211", "221132", "221231", "213212", "223112", "312131", "311222", "321122", "321221",
    "312212", "322112", "322211", "212123", "212321", "232121", "111323", "131123", "131321",
    "112313", "132113", "132311", "211313", "231113", "231311", "112133", "112331", "132131",
    "113123", "113321", "133121", "313121", "211331", "231131", "213113", "213311", "213131",
    "311123", "311321", "331121", "312113", "312311", "332111", "314111", "221411", "431111",
    "111224", "111422", "121124", "121421", "141122", "141221", "112214", "112412", "122114",
    "122411", "142112", "142211", "241211", "221114", "413111", "241112", "134111", "111242",
    "121142", "121241", "114212", "124112", "124211", "411212", "421112", "421211", "212141",
    "214121", "412121", "111143", "111341", "131141", "114113", "114311", "411113", "411311",
    "113141", "114131", "311141", "411131", "211412", "211214", "211232", "2331112",
)
# fmt: on


def check_value(values: Sequence[int]) -> int:
    """Check value of a start code and the values after it: their weighted sum modulo 103."""
    return (values[0] + sum(place * value for place, value in enumerate(values))) % 103


def values_of_bars(row: str) -> list[int]:
    """Symbol values of a row of modules, start, check and stop values included."""
    widths = "".join(str(len(list(run))) for _, run in groupby(row))
    symbols = [widths[at : at + 6] for at in range(0, len(widths) - 7, 6)]
    return [WIDTHS.index(symbol) for symbol in [*symbols, widths[-7:]]]


def text_of_values(values: Sequence[int]) -> str:
    """What the values between start and check say, in code sets A, B and C."""
    code_set, text = values[0], ""
    for value in values[1:-2]:
        if code_set == START_C and value < 100:
            text += f"{value:02d}"
        elif (
            value in (_CODE_C, _CODE_B, _CODE_A)
            and value != {103: 101, 104: 100, 105: 99}[code_set]
        ):
            code_set = {_CODE_C: START_C, _CODE_B: START_B, _CODE_A: START_A}[value]
        else:
            text += chr(value + 32) if value < 64 or code_set == START_B else chr(value - 64)
    return text
