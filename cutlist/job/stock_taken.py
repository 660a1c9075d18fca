"""A plan's cable, lugs and fuses taken from the stock file: worked out, shown, and only then written, with a backup."""

from __future__ import annotations

import difflib
import os
import shutil
from dataclasses import dataclass
from pathlib import Path

from cutlist.bank.stock import Stock
from cutlist.job.faults import WHOLE_FILE, Fault
from cutlist.job.reader import ReadStock, read_stock
from cutlist.job.stock_lists import read_stock_list
from cutlist.job.stock_text import CannotEdit, edited
from cutlist.stock.cut_list import CutList
from cutlist.stock.stock_after import WHOLE_MM, on_hand_differences, stock_after


@dataclass(frozen=True)
class Taking:
    """What would be written. `old` and `new`: whole contents of the file; the same when nothing changes."""

    path: Path
    old: bytes
    new: bytes

    def difference(self) -> str:
        """The lines that change, as - before and + after."""
        old, new = (raw.decode("utf-8-sig").splitlines() for raw in (self.old, self.new))
        name = self.path.name
        return "\n".join(difflib.unified_diff(old, new, f"{name} now", f"{name} afterwards", lineterm="", n=1))


def taking(cuts: CutList, path: Path) -> tuple[Taking | None, tuple[Fault, ...]]:
    """The stock file once all of the list is cut. Faults when the list was made from another state of it."""
    read = _read(path)
    if read.stock is None:
        return None, read.faults
    differences = on_hand_differences(cuts.stock, read.stock)
    if differences:
        mend = "if this plan is taken already, that is right; else plan again with the stock as it is"
        return None, tuple(
            Fault(path.name, 0, 0, f"the plan was made from another stock: {text}", mend) for text in differences
        )
    after = stock_after(cuts.cut_plan, read.stock, cuts.order, mark_um=WHOLE_MM)
    old = path.read_bytes()
    bom = b"\xef\xbb\xbf" if old.startswith(b"\xef\xbb\xbf") else b""
    try:
        new = bom + edited(old.decode("utf-8-sig"), read.stock, after).encode()
    except (CannotEdit, ValueError) as fault:
        return None, (_by_hand(path, str(fault), read.stock, after),)
    wrong = _read_again(path, new)
    if wrong is None or wrong != after:
        return None, (_by_hand(path, "changed, it would not read as it should", read.stock, after),)
    return Taking(path, old, new), ()


def write_taking(found: Taking) -> Path:
    """Write the file anew beside a backup of the old one, whose path is returned.

    Raises OSError when it cannot; the file is then as it was. A file changed since it was read is left alone.
    """
    path = found.path.resolve()
    if path.read_bytes() != found.old:
        raise OSError(f"{found.path} was changed by somebody meanwhile: nothing was written")
    number = 1
    while True:
        tail = "" if number == 1 else f"-{number}"
        backup = path.with_name(f"{path.stem}.before{tail}{path.suffix}")
        try:
            with backup.open("xb") as file:
                file.write(found.old)
                file.flush()
                os.fsync(file.fileno())
            break
        except FileExistsError:
            number += 1
    beside = path.with_name(f".{path.name}.new")
    try:
        with beside.open("wb") as file:
            file.write(found.new)
            file.flush()
            os.fsync(file.fileno())
        shutil.copymode(path, beside)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
    return backup


def _read(path: Path) -> ReadStock:
    """A stock file, or one for cutting alone, which may leave out its conductors; of CSV the list is the whole."""
    if path.suffix.casefold() in (".csv", ".tsv", ".txt"):
        mend = "correct the list by hand: what remains stands on the cut sheet"
        return ReadStock(None, (Fault(path.name, 0, 0, "only a stock file in YAML is changed", mend),))
    read = read_stock(path)
    return read if read.stock is not None else read_stock_list(path)


def _read_again(path: Path, new: bytes) -> Stock | None:
    beside = path.with_name(f".{path.name}.trial{path.suffix}")
    try:
        beside.write_bytes(new)
        return _read(beside).stock
    finally:
        beside.unlink(missing_ok=True)


def _by_hand(path: Path, why: str, before: Stock, after: Stock) -> Fault:
    changes = "; ".join(on_hand_differences(before, after)).replace(" in the plan", " now")
    changes = changes.replace(" in the stock file", " afterwards")
    return Fault(path.name, WHOLE_FILE.line, 0, f"it cannot be changed safely: {why}", f"change by hand: {changes}")
