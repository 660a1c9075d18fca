"""Can a folder be made or written to? Asked before the work, so that nobody waits for it in vain."""

from __future__ import annotations

import os
from pathlib import Path


def folder_fault(folder: Path, option: str) -> str | None:
    """Why files cannot be put there, with a mend; None if nothing speaks against it. `option`: how it was named."""
    mend = f"mend: name another folder: {option}"
    try:
        nearest = next(p for p in (folder, *folder.absolute().parents) if p.exists())
    except OSError as fault:
        return f"{folder}: {fault.strerror}: nothing was written\n{mend}"
    if not nearest.is_dir():
        where = "it is a file, not a folder" if nearest == folder else f"{nearest} is a file, not a folder"
        return f"{folder}: {where}: nothing was written\n{mend}"
    if not os.access(nearest, os.W_OK | os.X_OK):
        return f"{folder}: nothing may be written in {nearest}\nmend: look at its permissions, or {mend[6:]}"
    return None


def write_fault(folder: Path, fault: OSError, option: str) -> str:
    """What went wrong while writing, and a mend."""
    reason = fault.strerror or str(fault)
    return f"{folder}: {reason}\nmend: make room or look at its permissions, or name another folder: {option}"
