"""
Small faults in SQL texts, one at a time.

After Tuya, Suárez-Cabal and de la Riva, "Mutating database queries", Information and Software
Technology 49(4), 2007: clauses, comparisons, logic, joins, aggregates and NULLs (the grouping is
from memory).
"""

from __future__ import annotations

import re
from collections.abc import Iterator

_SQL = re.compile(
    r"\b(SELECT|INSERT|UPDATE|DELETE|REPLACE INTO|FROM|WHERE|ORDER BY|PRAGMA|AND|UNION|JOIN|BEGIN"
    r"|VALUES|LIMIT|VACUUM|COMMIT|ROLLBACK|SAVEPOINT|RELEASE|WITH|ON CONFLICT|IN)\b"
)

# What is looked for, and what stands there instead. One fault for each place where it is found.
_FAULTS = tuple(
    (re.compile(pattern), instead)
    for pattern, instead in (
        (r"\bAND\b", "OR"),
        (r"(?<!INSERT )\bOR\b", "AND"),
        (r"(?<![<>|!])>(?!=)", ">="),
        (r"(?<![<>])<(?![=>])", "<="),
        (r">=", ">"),
        (r"<=", "<"),
        (r"(?<![<>!:])=", "<>"),
        (r"<>", "="),
        (r"\bmax\(", "min("),
        (r"\bmin\(", "max("),
        (r"\bsum\(", "max("),
        (r" DESC\b", ""),
        (r" ORDER BY [^()]*$", ""),
        (r"\bDISTINCT ", ""),
        (r"\bIS NULL\b", "IS NOT NULL"),
        (r"\bIS NOT NULL\b", "IS NULL"),
        (r"\bNOT (?=IN|EXISTS|LIKE|GLOB)", ""),
        (r"(?<!NOT )\bIN \(", "NOT IN ("),
        (r"(?<!NOT )\bEXISTS \(", "NOT EXISTS ("),
        (r"\bUNION ALL\b", "UNION"),
        (r"\bUNION (?!ALL)", "UNION ALL "),
        (r"\bLEFT JOIN\b", "JOIN"),
        (r"(?<!LEFT )\bJOIN\b", "LEFT JOIN"),
        (r" ON CONFLICT\b[^;]*$", ""),
        (r"\bINSERT OR [A-Z]+\b", "INSERT"),
        (r"(?<=[a-z_?0-9)] )\+(?= )", "-"),
        (r"(?<=[a-z_?0-9)] )-(?= )", "+"),
        (r"(?<![?\w.'])\d+\b", "7"),
    )
)


def is_sql(text: str) -> bool:
    """Whether a text is SQL, or a part of it: no other text holds its words in capitals."""
    return bool(_SQL.search(text))


def sql_faults(text: str) -> Iterator[str]:
    """The text with one fault each."""
    for pattern, instead in _FAULTS:
        for found in pattern.finditer(text):
            changed = text[: found.start()] + instead + text[found.end() :]
            if changed != text:
                yield changed
