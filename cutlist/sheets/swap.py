"""A set of files replaced as one: at any moment the folder holds the whole old set or the whole new one.

How. The new files are written and flushed to a hidden folder inside the target. Then

1. each old file is joined into the hidden folder and its name in the target is replaced by a link through `now`, which
   points at the old files: what a reader sees has not changed;
2. `now` is pointed at the new files, by one rename: the moment of the switch, for all names at once;
3. each name is replaced by the new file itself, and the hidden folder is removed.

A run killed before 2 leaves the old set, after 2 the new one; links that are left over read as files, and the next
run, or `finish_swap`, tidies them. Where there was no old set, the names lead nowhere until the switch. Files of other
names are never touched. Two runs into one folder take turns.

Where the file system knows no symbolic links (some memory cards; Windows without the right to make them) the names are
replaced one after another: a kill in those few milliseconds can leave a mixture there, and the next run mends it.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Iterator, Mapping
from pathlib import Path

HIDDEN = ".evenlead-set"
NOW = "now"


def swap_in(files: Mapping[str, bytes], folder: Path) -> None:
    """Put these files (name to contents) into the folder as one.

    Raises OSError, with the file and the folder in words, when the folder cannot be made or written or is full; the
    old set is then untouched.
    """
    if folder.exists() and not folder.is_dir():
        raise NotADirectoryError(f"{folder} is a file, not a folder: nothing was written")
    made = not folder.exists()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise OSError(fault.errno, f"cannot make the folder {folder}: {fault.strerror}") from fault
    try:
        with _turn(folder):
            finish_swap(folder)
            try:
                _write_all(files, folder / HIDDEN / "new", folder)
                _switch(tuple(files), folder, folder / HIDDEN)
            finally:
                # after a fault before the switch this brings the old files back under their names
                finish_swap(folder)
    finally:
        if made and not any(folder.iterdir()):
            folder.rmdir()


def finish_swap(folder: Path) -> None:
    """Tidy what a killed run left: links become the files they point at, and the hidden folder goes."""
    hidden = folder / HIDDEN
    if not hidden.exists():
        return
    current = hidden / NOW
    if current.is_symlink():
        for name in sorted({p.name for part in ("old", "new") for p in (hidden / part).glob("*")}):
            _settle(folder / name, current / name, hidden)
        _flush_folder(folder)
    shutil.rmtree(hidden, ignore_errors=True)


def _write_all(files: Mapping[str, bytes], into: Path, folder: Path) -> None:
    for name, contents in files.items():
        try:
            into.mkdir(parents=True, exist_ok=True)
            with (into / name).open("wb") as file:
                file.write(contents)
                file.flush()
                os.fsync(file.fileno())
        except OSError as fault:
            size = f"{len(contents) / 1024:.0f} KiB"
            raise OSError(
                fault.errno, f"cannot write {name} ({size}) to {folder}: {fault.strerror}; the old set is untouched"
            ) from fault
    _flush_folder(into)


def _switch(names: tuple[str, ...], folder: Path, hidden: Path) -> None:
    old, new = hidden / "old", hidden / "new"
    old.mkdir()
    current = hidden / NOW
    try:
        current.symlink_to("old", target_is_directory=True)
    except (OSError, NotImplementedError):
        for name in names:
            (new / name).replace(folder / name)
        return
    for name in names:
        if (folder / name).exists():
            _join(folder / name, old / name)
    for name in names:
        _put_link(Path(HIDDEN) / NOW / name, folder / name, hidden)
    _put_link(Path("new"), current, hidden)
    _flush_folder(hidden)


def _settle(name: Path, source: Path, hidden: Path) -> None:
    """The link `name` becomes the file it points at, or nothing if that set has no such file."""
    if not name.is_symlink() or Path(os.readlink(name)).parts[:1] != (HIDDEN,):
        return
    if source.exists():
        beside = hidden / f"settling-{name.name}"
        beside.unlink(missing_ok=True)
        _join(source, beside)
        beside.replace(name)
    else:
        name.unlink()


def _join(source: Path, target: Path) -> None:
    """The same file under a second name; a copy where the file system has no hard links."""
    real = Path(os.path.realpath(source))
    try:
        os.link(real, target)
    except OSError:
        shutil.copy2(real, target)


def _put_link(points_at: Path, name: Path, hidden: Path) -> None:
    beside = hidden / "link"
    beside.unlink(missing_ok=True)
    beside.symlink_to(points_at, target_is_directory=name.name == NOW)
    beside.replace(name)


@contextlib.contextmanager
def _turn(folder: Path) -> Iterator[None]:
    """One run at a time; the lock goes with the process, however it ends."""
    try:
        import fcntl
    except ImportError:
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def _flush_folder(folder: Path) -> None:
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        # some file systems cannot flush a folder; the switch does not depend on it
        with contextlib.suppress(OSError):
            os.fsync(handle)
    finally:
        os.close(handle)
