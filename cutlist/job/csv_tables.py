"""A list as people keep it in a spreadsheet: rows of a CSV file as they would stand in YAML.

The first row names the columns. A unit stands in the head of a column (`length mm`, `length (ft)`) or with each
figure. Commas, semicolons or tabs divide; after semicolons and tabs a decimal comma is read. Rows that are empty or
begin with # are left out.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches

from cutlist.findings import how_many
from cutlist.job.faults import Mark, Page, shown
from cutlist.job.nodes import Node, Scalar, Table
from cutlist.job.units import NUMBER_ALONE

MOST_ROWS = 20_000


@dataclass(frozen=True)
class Column:
    name: str
    needed: bool = False
    figure: bool = False  # a decimal comma may stand in it
    length: bool = False  # a unit may stand in its head
    also: tuple[str, ...] = ()  # other spellings of its head


@dataclass(frozen=True)
class Sheet:
    rows: tuple[Table, ...]
    tails: Mapping[str, tuple[str, Mark]]  # what follows the name of a column that takes no unit: price (kr)


def read_sheet(page: Page, columns: tuple[Column, ...], what: str) -> Sheet | None:
    """The rows of the page as tables, a key for each cell that is not empty; None, with the faults on the page."""
    divider = next((d for d in ("\t", ";") if d in page.lines[0]), ",")
    reader = csv.reader(page.lines, delimiter=divider, strict=True)
    rows: list[tuple[int, list[str]]] = []
    try:
        line = 1
        for row in reader:
            if any(cell.strip() for cell in row) and not row[0].lstrip().startswith("#"):
                rows.append((line, row))
            line = reader.line_num + 1
    except csv.Error as fault:
        page.fault(Mark(max(1, reader.line_num)), f"this is not CSV: {fault}", "save the sheet as CSV again")
        return None
    if len(rows) > MOST_ROWS:
        page.fault(Mark(rows[MOST_ROWS][0]), f"more than {MOST_ROWS} rows", "use the column count, or divide the list")
        return None
    if len(rows) < 2:
        page.fault(Mark(1), f"there is no row below the head of {what}", _first_row(columns))
        return None
    heads = _heads(rows[0], columns, what, page)
    if heads is None:
        return None
    tables = []
    for line, row in rows[1:]:
        if len(row) > len(rows[0][1]) and any(cell.strip() for cell in row[len(rows[0][1]) :]):
            page.fault(
                Mark(line, 1, 1000),
                f"{how_many(len(row), 'cell')} in a row under {how_many(len(rows[0][1]), 'head')}",
                "put a name that holds the dividing sign in quotation marks",
            )
            continue
        tables.append(_table(line, row, heads, divider, page))
    tails = {c.name: (tail, _mark(page, rows[0][0], tail)) for c, _, tail in heads if tail and not c.length}
    return Sheet(tuple(tables), tails)


Heads = list[tuple[Column, int, str]]  # column, its place, what follows its name


def _heads(row: tuple[int, list[str]], columns: tuple[Column, ...], what: str, page: Page) -> Heads | None:
    line, cells = row
    before = len(page.faults)
    found: Heads = []
    for place, cell in enumerate(cells):
        if not cell.strip():
            continue
        known = _known(cell, columns)
        if known is None:
            names = [c.name for c in columns]
            close = get_close_matches(cell.strip().casefold(), names, n=1)
            mend = f'did you mean "{close[0]}"?' if close else f"columns: {', '.join(names)}"
            page.fault(_mark(page, line, cell), f"{shown(cell.strip())} is no column of {what}", mend)
        elif any(column is known[0] for column, _, _ in found):
            page.fault(_mark(page, line, cell), f'column "{known[0].name}" stands twice', "keep one of them")
        else:
            found.append((known[0], place, known[1]))
    lacking = [c.name for c in columns if c.needed and not any(column is c for column, _, _ in found)]
    if lacking and len(page.faults) == before:
        page.fault(Mark(line, 1, 1000), f"column {', '.join(lacking)} is missing", _first_row(columns))
    return found if len(page.faults) == before else None


def _known(cell: str, columns: tuple[Column, ...]) -> tuple[Column, str] | None:
    """The column that a head names, and what follows the name."""
    text = " ".join(cell.replace("_", " ").split())
    spellings = sorted(((s, c) for c in columns for s in (c.name, *c.also)), key=lambda pair: -len(pair[0]))
    for spelling, column in spellings:
        if text.casefold().startswith(spelling.casefold()):
            tail = text[len(spelling) :]
            if not tail or not tail[0].isalnum():
                tail = tail.strip(" ,([])")
                if not tail or column.length or column.figure:
                    return column, tail
    return None


def _table(line: int, row: list[str], heads: Heads, divider: str, page: Page) -> Table:
    whole = Mark(line, 1, 1000)
    entries: dict[str, tuple[Mark, Node]] = {}
    for column, place, tail in heads:
        cell = row[place].strip() if place < len(row) else ""
        if not cell:
            continue
        text = cell
        if divider != "," and (column.figure or column.length):
            text = text.replace(",", ".")
        if column.length and tail and NUMBER_ALONE.fullmatch(text):
            text = f"{text} {tail}"
        entries[column.name] = (whole, Scalar(text, _mark(page, line, cell)))
    return Table(entries, whole)


def _first_row(columns: tuple[Column, ...]) -> str:
    heads = [f"{c.name} mm" if c.length else c.name for c in columns if c.needed]
    return f"first row: {','.join(heads)}"


def _mark(page: Page, line: int, cell: str) -> Mark:
    """Where this cell's text first stands in the line."""
    text = page.lines[line - 1] if line <= len(page.lines) else ""
    found = text.find(cell) if cell else -1
    return Mark(line, found + 1, len(cell)) if found >= 0 else Mark(line, 1, 1000)
