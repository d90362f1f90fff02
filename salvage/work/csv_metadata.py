"""
What the tables of an export are, in the words of CSV on the Web.

W3C, "Metadata Vocabulary for Tabular Data", recommendation of 17 December 2015: a table group
(section 5.3) of tables (5.4) with their schema (5.5), columns (5.6) and datatypes (5.11). Texts are
``string`` and an empty cell stands for no value, as the vocabulary has it unless told otherwise.
"""

from __future__ import annotations

from collections.abc import Sequence

from salvage.canonical import Json
from salvage.store.table_shape import Column, Reference, TableShape
from salvage.work.export_words import TABLE_WORDS, words_of_column

CONTEXT = "http://www.w3.org/ns/csvw"
"""Names the vocabulary; it is a name, which nothing fetches."""

FILES_TABLE: dict[str, Json] = {
    "url": "files.csv",
    "dc:description": "Photos, drawings and papers, the name each had, and what it belongs to.",
    "tableSchema": {
        "columns": [
            {"name": "file", "titles": "file", "datatype": "string"},
            {"name": "name", "titles": "name", "datatype": "string"},
            {"name": "media_type", "titles": "media_type", "datatype": "string"},
            {"name": "byte_count", "titles": "byte_count", "datatype": "integer"},
            {"name": "belongs_to", "titles": "belongs_to", "datatype": "string"},
        ],
        "primaryKey": "file",
    },
}


def describe_tables(shapes: Sequence[TableShape], *, title: str) -> dict[str, Json]:
    """
    The metadata of all tables.

    Args:
        shapes: With the columns that are told alone; a key that lost a column is none.
        title: Of the whole.
    """
    told = {shape.name: {column.name for column in shape.columns} for shape in shapes}
    tables = [_table(shape, told) for shape in shapes]
    return {"@context": CONTEXT, "dc:title": title, "tables": [*tables, FILES_TABLE]}


def url_of(table: str) -> str:
    """Where a table lies in the folder."""
    return f"tables/{table}.csv"


def _table(shape: TableShape, told: dict[str, set[str]]) -> dict[str, Json]:
    schema: dict[str, Json] = {"columns": [_column(column) for column in shape.columns]}
    if shape.key and told[shape.name].issuperset(shape.key):
        schema["primaryKey"] = list(shape.key)
    # A reference that may be empty is none in the vocabulary: every row must find its other row.
    never_empty = {column.name for column in shape.columns if not column.may_be_null}
    links = [
        _link(link)
        for link in shape.references
        if never_empty.issuperset(link.columns)
        and told.get(link.table, set()).issuperset(link.there)
    ]
    if links:
        schema["foreignKeys"] = links
    return {
        "url": url_of(shape.name),
        "dc:description": TABLE_WORDS[shape.name],
        "tableSchema": schema,
    }


def _link(link: Reference) -> dict[str, Json]:
    return {
        "columnReference": list(link.columns),
        "reference": {"resource": url_of(link.table), "columnReference": list(link.there)},
    }


def _column(column: Column) -> dict[str, Json]:
    words = words_of_column(column.name)
    about: dict[str, Json] = {"dc:description": words} if words else {}
    kind = "integer" if column.is_whole else "string"
    # An empty text is a value in our tables and none in the vocabulary's, so only numbers are
    # required.
    needed: dict[str, Json] = {"required": True} if _is_needed(column) else {}
    return {"name": column.name, "titles": column.name, **about, "datatype": kind, **needed}


def _is_needed(column: Column) -> bool:
    return column.is_whole and not column.may_be_null
