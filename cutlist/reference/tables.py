"""Published figures as tables: one CSV file each, a status and a source on every row.

`status` is one of "verified-2-sources", "verified-1-source", "computed", "common-practice", "from-memory".
A row from memory may describe or estimate; it may never be a limit, so `limit_rows` leaves it out.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from importlib import resources
from types import MappingProxyType

STATUSES = ("verified-2-sources", "verified-1-source", "computed", "common-practice", "from-memory")

Row = Mapping[str, str]


@cache
def rows(table: str) -> tuple[Row, ...]:
    """All rows of one table, in file order, as text.

    Raises ValueError if there is no such table, or if a row is short or carries no known status or no source.

    >>> rows("copper")[0]["value"]
    '0.017241'
    """
    file = resources.files("cutlist.reference").joinpath(f"{table}.csv")
    if not file.is_file():
        raise ValueError(f'no reference table "{table}"')
    found = []
    lines = file.read_text(encoding="utf-8").splitlines()
    for number, row in enumerate(csv.DictReader(lines), start=2):
        if None in row or None in row.values():
            raise ValueError(f"{table}.csv, line {number}: not as many cells as the header")
        if row["status"] not in STATUSES or not row["source"]:
            raise ValueError(f"{table}.csv, line {number}: a row needs a known status and a source")
        found.append(MappingProxyType(row))
    return tuple(found)


def limit_rows(table: str) -> tuple[Row, ...]:
    """The rows that may be a limit: all but those from memory."""
    return tuple(row for row in rows(table) if row["status"] != "from-memory")


@cache
def row_where(table: str, column: str, value: str) -> Row:
    """The one row whose `column` reads `value`; ValueError names what there is instead."""
    found = [row for row in rows(table) if row[column] == value]
    if len(found) != 1:
        known = ", ".join(dict.fromkeys(row[column] for row in rows(table)))
        raise ValueError(f'{table}: no single row with {column} "{value}"; there is {known}')
    return found[0]


@cache
def constant(table: str, column: str, value: str) -> float:
    """The figure in the `value` column of the row whose `column` reads `value`.

    >>> constant("copper", "quantity", "temperature coefficient at 20 C")
    0.00393
    """
    return float(row_where(table, column, value)["value"])
