"""A set of files is replaced as one, whatever happens to the run that replaces it."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from cutlist.sheets import swap
from cutlist.sheets.swap import HIDDEN, finish_swap, swap_in

NAMES = ("a.json", "b.pdf", "c.csv", "d.csv", "e.html")


def a_set(word: str) -> dict[str, bytes]:
    return {name: f"{name} of {word}".encode() for name in NAMES}


def held(folder: Path) -> dict[str, bytes]:
    return {name: (folder / name).read_bytes() for name in NAMES if (folder / name).exists()}


def test_first_set_makes_the_folder_and_its_parents(tmp_path):
    swap_in(a_set("one"), tmp_path / "deep" / "plan")
    assert held(tmp_path / "deep" / "plan") == a_set("one")
    assert sorted(p.name for p in (tmp_path / "deep" / "plan").iterdir()) == sorted(NAMES)


def test_new_set_replaces_the_old_and_leaves_real_files_and_strangers(tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "1.jpg").write_bytes(b"jpg")
    swap_in(a_set("one"), tmp_path)
    swap_in(a_set("two"), tmp_path)
    assert held(tmp_path) == a_set("two")
    assert not any((tmp_path / name).is_symlink() for name in NAMES)
    assert (tmp_path / "notes.txt").read_text() == "mine"
    assert (tmp_path / "photos" / "1.jpg").read_bytes() == b"jpg"
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted([*NAMES, "notes.txt", "photos"])


def test_every_step_of_the_switch_shows_a_whole_set(tmp_path, monkeypatch):
    """Look at the folder at each rename that the switch makes: always all old or all new, and new from some step on."""
    swap_in(a_set("old"), tmp_path)
    seen = []
    real = Path.replace

    def watched(self, target):
        result = real(self, target)
        seen.append(held(tmp_path))
        return result

    monkeypatch.setattr(Path, "replace", watched)
    swap_in(a_set("new"), tmp_path)
    assert len(seen) == 2 * len(NAMES) + 1
    turn = seen.index(a_set("new"))
    assert seen[:turn] == [a_set("old")] * turn
    assert seen[turn:] == [a_set("new")] * (len(seen) - turn)


def test_a_run_that_stops_at_any_step_is_tidied_to_a_whole_set(tmp_path, monkeypatch):
    real = Path.replace
    for stop in range(2 * len(NAMES) + 1):
        folder = tmp_path / str(stop)
        swap_in(a_set("old"), folder)
        count = iter(range(1000))

        def stopping(self, target, count=count, stop=stop):
            if next(count) == stop:
                raise KeyboardInterrupt
            return real(self, target)

        with monkeypatch.context() as patched:
            patched.setattr(Path, "replace", stopping)
            with pytest.raises(KeyboardInterrupt):
                swap_in(a_set("new"), folder)
        finish_swap(folder)
        assert held(folder) in (a_set("old"), a_set("new"))
        assert sorted(p.name for p in folder.iterdir()) == sorted(NAMES)


CHILD = """
import sys
from pathlib import Path
from cutlist.sheets.swap import swap_in
names = {names!r}
print("ready", flush=True)
for turn in range(100000):
    swap_in({{n: f"{{n}} of {{turn}}".encode() * 2000 for n in names}}, Path(sys.argv[1]))
"""


def test_twenty_kills_at_random_moments(tmp_path):
    """A process writes set after set and is killed outright; each time the folder holds one whole set."""
    moments = random.Random(7)
    folder = tmp_path / "plan"
    for _ in range(20):
        child = subprocess.Popen(
            [sys.executable, "-c", CHILD.format(names=NAMES), str(folder)], stdout=subprocess.PIPE, text=True
        )
        assert child.stdout is not None
        child.stdout.readline()
        time.sleep(moments.uniform(0.0, 0.06))
        os.kill(child.pid, signal.SIGKILL)
        child.wait()
        child.stdout.close()
        found = held(folder)
        turns = {contents[: contents.index(name.encode(), 1)].split(b" of ")[1] for name, contents in found.items()}
        assert len(turns) <= 1
        assert len(found) in (0, len(NAMES))
    swap_in(a_set("last"), folder)
    assert held(folder) == a_set("last")
    assert not (folder / HIDDEN).exists()


def test_without_symbolic_links_the_set_is_still_replaced(tmp_path, monkeypatch):
    swap_in(a_set("old"), tmp_path)

    def none(*_, **__):
        raise OSError("no links here")

    monkeypatch.setattr(Path, "symlink_to", none)
    swap_in(a_set("new"), tmp_path)
    assert held(tmp_path) == a_set("new")
    assert not (tmp_path / HIDDEN).exists()


def test_without_hard_links_the_set_is_copied(tmp_path, monkeypatch):
    def none(*_, **__):
        raise OSError("no links here")

    monkeypatch.setattr(swap.os, "link", none)
    swap_in(a_set("old"), tmp_path)
    swap_in(a_set("new"), tmp_path)
    assert held(tmp_path) == a_set("new")


def test_a_file_in_the_way_is_named(tmp_path):
    (tmp_path / "plan").write_text("a file")
    with pytest.raises(NotADirectoryError, match="plan is a file"):
        swap_in(a_set("new"), tmp_path / "plan")


FULL = """
import resource, signal, sys
from pathlib import Path
from cutlist.sheets.swap import swap_in
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))
try:
    swap_in({"a.json": b"new", "b.pdf": b"x" * 100000}, Path(sys.argv[1]))
except OSError as fault:
    print(fault)
"""


def test_no_room_leaves_the_old_set_and_says_which_file(tmp_path):
    """The system's own limit on file size stands for a full disk: the write itself fails."""
    swap_in(a_set("old"), tmp_path)
    done = subprocess.run([sys.executable, "-c", FULL, str(tmp_path)], capture_output=True, text=True, check=True)
    assert "cannot write b.pdf (98 KiB)" in done.stdout
    assert "the old set is untouched" in done.stdout
    assert held(tmp_path) == a_set("old")
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(NAMES)


def test_a_first_run_that_fails_leaves_no_folder(tmp_path):
    folder = tmp_path / "plan"
    done = subprocess.run([sys.executable, "-c", FULL, str(folder)], capture_output=True, text=True, check=True)
    assert "cannot write b.pdf" in done.stdout
    assert not folder.exists()
