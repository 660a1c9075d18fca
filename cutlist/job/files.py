"""Text of a file that somebody names, whatever it turns out to be."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from cutlist.job.faults import WHOLE_FILE, Page, page_of

# a pipe without a writer, or a terminal, must not hold us up
NOT_WAITING = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0) | getattr(os, "O_BINARY", 0)
LARGEST_BYTES = 1_000_000  # a site of 1 000 solids takes about 150 000
TOO_LARGE = "a site of 1 000 solids takes about 0.15 MB: look at what fills it"
EMPTY = {
    "job file": "`evenlead new DIR` writes a commented job file to start from",
    "stock file": "`evenlead new DIR` writes a commented stock file to start from",
    "point file": "its first row is name,x mm,y mm,z mm,lug,stud; then one terminal a row",
}


def read_page(path: Path, kind: str) -> tuple[str | None, Page]:
    """The text of an ordinary UTF-8 file, and the page on which its faults are noted; no text if there is one.

    `kind` says what it should be: "job file".
    """
    page = page_of(path.name, "")
    raw, (reason, mend) = read_bytes(path, kind)
    if raw is None:
        page.fault(WHOLE_FILE, reason, mend)
        return None, page
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        page.fault(WHOLE_FILE, "the file is UTF-16, not UTF-8", "save it as UTF-8")
        return None, page
    if b"\x00" in raw:
        page.fault(WHOLE_FILE, f"this is a binary file, not a {kind}", f"name a text file: the {kind}")
        return None, page
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = raw.count(b"\n", 0, fault.start) + 1
        page = page_of(path.name, raw.decode("utf-8", errors="replace"))
        page.fault(
            WHOLE_FILE,
            f"byte {raw[fault.start]:#04x} in line {line} is not UTF-8: saved in another coding, or no text at all",
            "save it as UTF-8",
        )
        return None, page
    page = page_of(path.name, text)
    page.folder = path.parent
    if not text.strip():
        page.fault(WHOLE_FILE, "the file is empty", EMPTY.get(kind, f"name the {kind} that was meant"))
        return None, page
    return text, page


def read_bytes(
    path: Path, kind: str, largest: int = LARGEST_BYTES, too_large: str = TOO_LARGE
) -> tuple[bytes | None, tuple[str, str]]:
    """What the file holds, of ordinary files only: a pipe would keep us waiting, a device has no end.

    None, with the fault and its mend, if it cannot be read or has more bytes than `largest`.
    """
    try:
        handle = os.open(path, os.O_RDONLY | NOT_WAITING)
    except FileNotFoundError:
        return None, (f"there is no such {kind}", f"looked for it in {path.parent}")
    except (OSError, ValueError) as fault:
        reason = fault.strerror if isinstance(fault, OSError) and fault.strerror else "its name is none"
        return None, (f"the {kind} cannot be read: {reason}", "look at its name and its permissions")
    try:
        facts = os.fstat(handle)
        if not stat.S_ISREG(facts.st_mode):
            what = "a folder" if stat.S_ISDIR(facts.st_mode) else "a device or a pipe"
            return None, (f"this is {what}, not a {kind}", f"name an ordinary file: the {kind}")
        if facts.st_size > largest:
            size = f"the file has {facts.st_size / 1e6:.1f} MB; a {kind} above {largest / 1e6:g} MB is not read"
            return None, (size, too_large)
        with os.fdopen(os.dup(handle), "rb") as file:
            return file.read(largest), ("", "")
    finally:
        os.close(handle)
