"""Sound small job and stock files, to be broken one way at a time."""

from __future__ import annotations

from pathlib import Path

from cutlist.job.faults import Fault
from cutlist.job.reader import ReadJob, read_job
from cutlist.job.starter import starter_text

Edit = tuple[str, str]  # text that stands there once, what is put in its place


def edited(text: str, edits: tuple[Edit, ...]) -> str:
    for old, new in edits:
        assert text.count(old) >= 1, f"{old!r} is not in the file"
        text = text.replace(old, new, 1)
    return text


def write_job(folder: Path, job: tuple[Edit, ...] = (), stock: tuple[Edit, ...] = ()) -> Path:
    """The starter job with these edits, in a folder of its own."""
    (folder / "stock.yaml").write_text(edited(starter_text("stock.yaml"), stock), encoding="utf-8")
    path = folder / "job.yaml"
    path.write_text(edited(starter_text("job.yaml"), job), encoding="utf-8")
    return path


def read_broken(folder: Path, job: tuple[Edit, ...] = (), stock: tuple[Edit, ...] = ()) -> ReadJob:
    return read_job(write_job(folder, job, stock))


def line_of(path: Path, text: str) -> int:
    """The first line that holds this text, counted from 1."""
    lines = path.read_text(encoding="utf-8").split("\n")
    return next(i for i, line in enumerate(lines, start=1) if text in line)


def sentences(faults: tuple[Fault, ...]) -> list[str]:
    return [fault.message for fault in faults]
