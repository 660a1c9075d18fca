"""Terminals measured one by one, from a CSV file as people keep it in a spreadsheet.

    name,x mm,y mm,z mm,lug,stud
    P1a+,400,-900,300,+x -x,M8

The unit stands in the head of a column, or with each figure. Commas, semicolons or tabs divide; after semicolons
and tabs a decimal comma is read.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping

from cutlist.bank.batteries import Terminal
from cutlist.findings import how_many
from cutlist.job.build_bank import terminal
from cutlist.job.faults import Mark, Page, shown
from cutlist.job.job_keys import LOOSE_TERMINAL
from cutlist.job.kinds import (
    NAME,
)
from cutlist.job.nodes import Listing, Node, Scalar, Table
from cutlist.job.units import NUMBER_ALONE

MOST_ROWS = 5_000
WITH_FRACTION = re.compile(r"[+-]?(?:\d+(?:\s+|-))?\d+\s*/\s*\d+|[+-]?\d*\s*[½¼¾⅛⅜⅝⅞]")  # of an inch
COLUMNS = ("name", "x", "y", "z", "lug", "stud", "torque", "on")
NEEDED = ("name", "x", "y", "z", "lug", "stud")
WITH_UNIT = ("x", "y", "z", "torque")
HEAD = re.compile(r"(name|x|y|z|lug|stud|torque|on)(?:\s+direction)?[\s(\[]*([^)\]]*)[)\]]?", re.IGNORECASE)


def read_points(page: Page) -> dict[str, Terminal | None] | None:
    """The terminals on the page by name, None where one is faulty; None if not even their names can be read.

    Faults are noted on the page.
    """
    divider = next((d for d in ("\t", ";") if d in page.lines[0]), ",")
    try:
        rows = list(csv.reader(page.lines, delimiter=divider, strict=True))
    except csv.Error as fault:
        page.fault(Mark(1), f"this is not CSV: {fault}", "save the sheet as CSV again")
        return None
    columns = _columns(rows[0], page)
    if columns is None:
        return None
    if len(rows) > MOST_ROWS:
        page.fault(Mark(MOST_ROWS), f"more than {MOST_ROWS} rows", "keep one site to a file")
        return None
    points: dict[str, Terminal | None] = {}
    last = max(i for name, (i, _) in columns.items() if name in NEEDED)
    lines: dict[str, int] = {}
    for number, row in enumerate(rows[1:], start=2):
        if not any(cell.strip() for cell in row):
            continue
        if len(row) <= last:
            _short_row(row, number, last + 1, columns, page, points)
            continue
        cells = {name: (row[i].strip() if i < len(row) else "", unit) for name, (i, unit) in columns.items()}
        name = NAME.read(Scalar(cells["name"][0], _mark(page, number, cells["name"][0])), page)
        record = LOOSE_TERMINAL.read(_table(cells, number, divider, page), page)
        if name is None:
            continue
        if name in points:
            page.fault(
                _mark(page, number, name),
                f"point {shown(name)} stands in line {lines[name]} already",
                "keep one of them",
            )
            continue
        points[name], lines[name] = terminal(record, name, page) if record is not None else None, number
    return points


def _short_row(
    row: list[str],
    line: int,
    wanted: int,
    columns: Mapping[str, tuple[int, str]],
    page: Page,
    points: dict[str, Terminal | None],
) -> None:
    """One fault for all that is missing; the name, if it is there, is known."""
    at = columns["name"][0]
    if at < len(row) and row[at].strip():
        points.setdefault(row[at].strip(), None)
    message = f"this row has {how_many(len(row), 'cell')}; {wanted} are wanted"
    page.fault(Mark(line, 1, 1000), message, "fill in what is missing, or take the row out")


def _columns(head: list[str], page: Page) -> Mapping[str, tuple[int, str]] | None:
    """Each known column: where it is, and the unit in its head."""
    columns: dict[str, tuple[int, str]] = {}
    for i, cell in enumerate(head):
        found = HEAD.fullmatch(cell.strip())
        if not found:
            page.fault(
                _mark(page, 1, cell), f"{shown(cell)} is no column of a point file", f"columns: {', '.join(COLUMNS)}"
            )
            return None
        columns[found[1].lower()] = (i, found[2].strip())
    lacking = [name for name in NEEDED if name not in columns]
    if lacking:
        page.fault(
            Mark(1, 1, 1000), f"column {', '.join(lacking)} is missing", "first row: name,x mm,y mm,z mm,lug,stud"
        )
        return None
    return columns


def _table(cells: Mapping[str, tuple[str, str]], line: int, divider: str, page: Page) -> Table:
    """The row as it would stand in a job file."""

    def scalar(name: str, text: str) -> Scalar:
        unit = cells[name][1]
        if name in WITH_UNIT and divider != ",":
            text = text.replace(",", ".")
        if unit and (NUMBER_ALONE.fullmatch(text) or WITH_FRACTION.fullmatch(text)):
            text = f"{text} {unit}"
        return Scalar(text, _mark(page, line, cells[name][0]))

    whole = Mark(line, 1, 1000)
    entries: dict[str, tuple[Mark, Node]] = {}
    entries["at"] = (whole, Listing(tuple(scalar(axis, cells[axis][0]) for axis in "xyz"), whole))
    words = cells["lug"][0].replace("|", " ").replace(";", " ").replace("[", " ").replace("]", " ").split()
    lug = tuple(scalar("lug", word) for word in words)
    entries["lug"] = (whole, lug[0] if len(lug) == 1 else Listing(lug, _mark(page, line, cells["lug"][0])))
    for name in ("stud", "torque", "on"):
        if name in cells and (cells[name][0] or name == "stud"):
            entries[name] = (whole, scalar(name, cells[name][0]))
    return Table(entries, whole)


def _mark(page: Page, line: int, cell: str) -> Mark:
    """Where this cell's text first stands in the line."""
    text = page.lines[line - 1] if line <= len(page.lines) else ""
    found = text.find(cell) if cell else -1
    return Mark(line, found + 1, len(cell)) if found >= 0 else Mark(line, 1, 1000)
