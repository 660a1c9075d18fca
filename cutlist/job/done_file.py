"""What the rigger says is cut: words on the command line, or cuts.csv with its column `done` filled in."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from cutlist.job.csv_tables import Column, read_sheet
from cutlist.job.faults import Fault, in_line_order, shown
from cutlist.job.files import read_page
from cutlist.job.nodes import Scalar
from cutlist.job.units import LENGTH, Unreadable, quantity
from cutlist.stock.recut import Miscut, Short

YES = ("x", "yes", "done", "ok", "✓")
COLUMNS = (Column("tag", needed=True), Column("done", needed=True))
HEADS = {
    *("cut", "spool", "conductor", "colour", "job", "cable number", "cable", "string", "pole", "cut length mm"),
    *("cut length ft in", "instead of", "remains mm", "a at", "a lug", "a strip", "b at", "b lug", "b strip"),
    *("b against a", "heat-shrink", "fuse"),
}


def read_done(path: Path) -> tuple[list[str], list[Miscut], tuple[Fault, ...]]:
    """Names of the pieces cut, and those that came out at another length, from a filled-in cuts.csv."""
    text, page = read_page(path, "list of cuts")
    if text is None:
        return [], [], in_line_order(page.faults)
    known = tuple(Column(head) for head in HEADS)
    sheet = read_sheet(page, (*COLUMNS, *known), "a list of cuts")
    done: list[str] = []
    miscuts: list[Miscut] = []
    for row in sheet.rows if sheet is not None else ():
        tag, told = (row.entries.get(key) for key in ("tag", "done"))
        if tag is None or told is None:
            continue
        name, mark, word = tag[1], told[1].mark, told[1]
        assert isinstance(name, Scalar)
        assert isinstance(word, Scalar)
        if word.text.casefold() in YES:
            done.append(name.text)
            continue
        length_um = _um(word.text)
        if isinstance(length_um, Unreadable):
            page.fault(mark, f"{shown(word.text)} is neither x nor a length", "write x, or the length it came out at")
        else:
            miscuts.append(Miscut(name.text, length_um))
    return done, miscuts, in_line_order(page.faults)


def told_lengths(option: str, words: Sequence[str]) -> tuple[list[tuple[str, int]], list[Fault]]:
    """`NAME=LENGTH` as often as it is given."""
    found, faults = [], []
    for word in words:
        name, sign, text = word.rpartition("=")
        length_um = _um(text) if sign else Unreadable(f"{shown(word)} has no length", f'write {option} "NAME=1200 mm"')
        if isinstance(length_um, Unreadable):
            faults.append(Fault(option, 0, 0, length_um.message, length_um.mend))
        else:
            found.append((name.strip(), length_um))
    return found, faults


def shorts_of(told: Sequence[tuple[str, int]]) -> list[Short]:
    return [Short(name, length_um) for name, length_um in told]


def _um(text: str) -> int | Unreadable:
    """Down: what is there is never more than it is."""
    try:
        return int(quantity(text.strip(), LENGTH) * 1_000_000 // 1)
    except Unreadable as fault:
        return fault
