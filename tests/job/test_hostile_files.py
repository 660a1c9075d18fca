"""Files made to do harm: refused with a reason, within 10 s of the processor and 1 GB, with no traceback."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cutlist.job.faults import Fault
from cutlist.job.files import LARGEST_BYTES
from cutlist.job.nodes import DEEPEST, MOST_NODES
from cutlist.job.reader import read_job, read_stock
from cutlist.job.starter import starter_text
from tests.job.broken import edited, read_broken, write_job

MOST_SECONDS = 10  # of the processor: what else runs beside the test does not count
PATIENCE_S = 90  # by the clock: something waits that should not
MOST_BYTES = 1_000_000_000


# The whole command in a child of a process that has loaded it already: loading takes longer than refusing does.
REFUSER = """
import json, os, resource, signal, sys
import cutlist.cli.check, cutlist.job.reader
from cutlist.cli import main
seconds, patience_s, most_bytes = map(int, sys.argv[1:])
for line in sys.stdin:
    path, said = json.loads(line)
    child = os.fork()
    if not child:
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
        resource.setrlimit(resource.RLIMIT_AS, (most_bytes, most_bytes))
        signal.alarm(patience_s)
        os.dup2(os.open(os.devnull, os.O_RDWR), 0)
        os.dup2(0, 1)
        os.dup2(os.open(said, os.O_WRONLY | os.O_CREAT, 0o600), 2)
        sys.argv = ["evenlead", "check", path]
        main.main()
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""
Checked = Callable[[Path], str]


@pytest.fixture(scope="module")
def checked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Checked]:
    """What the whole command says about a file it must refuse, run with 1 GB of memory and 10 s of processor."""
    said = tmp_path_factory.mktemp("said") / "said"
    limits = [str(x) for x in (MOST_SECONDS, PATIENCE_S, MOST_BYTES)]
    with subprocess.Popen(
        [sys.executable, "-c", REFUSER, *limits],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=Path(__file__).parents[2],
        # a thread pool's stacks would be counted as memory
        env={**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"},
    ) as refuser:
        assert refuser.stdin is not None
        assert refuser.stdout is not None
        to, back = refuser.stdin, refuser.stdout

        def check(path: Path) -> str:
            said.unlink(missing_ok=True)
            print(json.dumps([str(path), str(said)]), file=to, flush=True)
            status = back.readline().strip()
            text = said.read_text(encoding="utf-8")
            assert status == "2", text
            assert "Traceback" not in text
            assert "mend: " in text
            return text

        yield check
        to.close()


def bomb() -> str:
    rows = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    rows += [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 10)}]" for i in range(1, 12)]
    return "\n".join(rows)


HOSTILE: dict[str, tuple[Callable[[], str | bytes], str]] = {
    "alias bomb": (bomb, "anchor or alias"),
    "20 MB of nesting": (lambda: "[" * 20_000_000, "20.0 MB"),
    "nesting within the size limit": (lambda: "[" * (LARGEST_BYTES - 10), "nested deeper than"),
    "nested tables": (lambda: "\n".join(" " * i + "a:" for i in range(1000)), "nested deeper than"),
    "a million entries": (lambda: "[" + "1," * (LARGEST_BYTES // 2 - 10) + "]", "entries"),
    "one long line": (lambda: "name: " + "x" * (LARGEST_BYTES - 100), "too long"),
    "one long quoted line": (lambda: 'name: "' + "x" * (LARGEST_BYTES - 100) + '"', "too long"),
    "quotation mark that never closes": (lambda: 'name: "' + "x\n" * 300_000, "not YAML"),
    "blanks": (lambda: " " * (LARGEST_BYTES - 10), "empty"),
    "colons": (lambda: ": " * 300_000, "deeper"),
    "question marks": (lambda: "? " * 300_000, "deeper"),
    "dashes": (lambda: "- " * 300_000, "deeper"),
    "a million keys": (lambda: "\n".join(f"k{i}: 1" for i in range(70_000)), "entries"),
    "unknown keys without end": (lambda: "\n".join(f"k{i}: 1" for i in range(19_000)), "and 1"),
    "binary": (lambda: bytes(range(256)) * 1000, "binary file"),
    "latin-1": (lambda: "name: Fähre\n".encode("latin-1"), "not UTF-8"),
    "UTF-16": (lambda: "name: a\n".encode("utf-16"), "UTF-16"),
    "empty": (lambda: "", "empty"),
    "only comments": (lambda: "# nothing\n", "nothing but comments"),
    "one word": (lambda: "hello", "a job is wanted here"),
    "list": (lambda: "- a\n- b", "a job is wanted here"),
    "control characters": (lambda: "name: a\x07b", "may not stand in YAML"),
    "number that fills the memory": (lambda: "ambient: 1e999999999 °C", "beyond anything"),
    "power that fills the memory": (lambda: "ambient: 1 K**99999999", "no unit"),
    "python object": (lambda: "name: !!python/object/apply:os.system ['true']", "is a tag"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_job_is_refused(name: str, tmp_path: Path, checked: Checked) -> None:
    make, says = HOSTILE[name]
    made = make()
    path = tmp_path / "job.yaml"
    path.write_bytes(made if isinstance(made, bytes) else made.encode("utf-8"))
    assert says in checked(path)


def test_a_crowd_of_batteries_in_one_spot(tmp_path: Path, checked: Checked) -> None:
    """Every pair overlaps: said in time, and not millions of times."""
    row = "  - row: {{names: [{names}], type: AGM 12 V, at: [760, 370, 20], along: x, pitch: 0.01}}\n"
    rows = "".join(row.format(names=", ".join(f"X{k}_{i}" for i in range(400))) for k in range(5))
    path = write_job(tmp_path, (("\nbatteries:\n", "\nbatteries:\n" + rows),))
    assert "deep in battery" in checked(path)


def test_a_wall_of_holes(tmp_path: Path, checked: Checked) -> None:
    wall = "    - {{name: w{k}, box: {{from: [1490, 0, 0], to: [1500, 600, 750]}}, holes: [{holes}]}}\n"
    hole = "{{name: h{k}x{i}, centre: [1500, {i}, 100], diameter: 0.5}}"
    walls = "".join(wall.format(k=k, holes=", ".join(hole.format(k=k, i=i) for i in range(10, 50))) for k in range(30))
    path = write_job(
        tmp_path,
        (("  mounting faces:", "  bulkheads:\n" + walls + "  mounting faces:"), ("ambient: 25 °C", "ambient: 25")),
    )
    assert "has no unit" in checked(path)


def test_many_cornered_prisms(tmp_path: Path, checked: Checked) -> None:
    corners = ", ".join(f"[{i}, {100 + i % 2}]" for i in range(38)) + ", [37, 0], [0, 0]"
    prism = "    - {{name: p{k}, prism: {{axis: z, outline: [{corners}], from: 0, to: 1}}}}\n"
    solids = "".join(prism.format(k=k, corners=corners) for k in range(290))
    path = write_job(tmp_path, (("    - {name: tray", solids + "    - {name: tray"), ("ambient: 25 °C", "ambient: 25")))
    assert "has no unit" in checked(path)


@pytest.mark.parametrize("which", ["job", "stock"])
@pytest.mark.parametrize("what", ["pipe", "folder", "/dev/zero", "/dev/stdin", "/dev/tty", "loop"])
def test_what_is_no_ordinary_file(which: str, what: str, tmp_path: Path, checked: Checked) -> None:
    target = tmp_path / "thing"
    if what == "pipe":
        os.mkfifo(target)
    elif what == "folder":
        target.mkdir()
    elif what == "loop":
        target.symlink_to(target)
    else:
        target = Path(what)
    path = target if which == "job" else write_job(tmp_path, (("stock: stock.yaml", f"stock: {target}"),))
    said = checked(path)
    assert "ordinary file" in said or "cannot be read" in said


def test_a_stock_file_that_names_itself(tmp_path: Path) -> None:
    read = read_broken(tmp_path, (), (("currency: coins", "currency: coins\nstock: stock.yaml"),))
    assert [(fault.file, fault.message) for fault in read.faults] == [
        ("stock.yaml", '"stock" is no key of a stock file')
    ]


def test_a_stock_file_where_the_job_is_wanted(tmp_path: Path) -> None:
    write_job(tmp_path)
    assert [fault.message for fault in read_job(tmp_path / "stock.yaml").faults] == [
        "this is a stock file, not a job file"
    ]
    assert [f.message for f in read_stock(tmp_path / "job.yaml").faults] == ["this is a job file, not a stock file"]


def test_a_link_to_the_job_as_its_stock_file(tmp_path: Path) -> None:
    path = write_job(tmp_path)
    (tmp_path / "stock.yaml").unlink()
    (tmp_path / "stock.yaml").symlink_to(path)
    assert [fault.message for fault in read_job(path).faults] == ["the job names itself as its stock file"]


NAMES = [
    "<script>alert(1)</script>",
    "=cmd()|'/c calc'!A1",
    "#import",
    "+1+1",
    "@SUM(A1)",
    "\"quoted\" and 'quoted'",
    "$x^2$ \\ % _ {b}",
    "שלום",  # right to left, as letters
    "../../etc/passwd",
    "x" * 60,
    "null",
    "no",
    "1e3",
    "🔋 bank",
]


@pytest.mark.parametrize("name", NAMES)
def test_names_are_kept_to_the_letter(name: str, tmp_path: Path) -> None:
    quoted = "'" + name.replace("'", "''") + "'"
    read = read_broken(
        tmp_path,
        (
            ("name: Two strings in a locker", f"name: {quoted}"),
            ("- {name: A, batteries", f"- {{name: {quoted}, batteries"),
        ),
    )
    assert [fault.text() for fault in read.faults] == []
    assert read.job is not None
    assert read.job.name == name
    assert read.job.strings[0].name == name


@pytest.mark.parametrize("strange", ["\u202e", "\u2066", "\u200b", "\ufeff", "\u2028", "\u00ad"])
def test_unseen_characters_are_refused_and_spelled_out(strange: str, tmp_path: Path) -> None:
    read = read_broken(tmp_path, (("name: Two strings", f"name: Two{strange}strings"),))
    assert read.job is None
    assert all(strange not in fault.text() for fault in read.faults)


def test_a_byte_order_mark_is_no_harm(tmp_path: Path) -> None:
    path = write_job(tmp_path)
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    assert read_job(path).faults == ()


def test_windows_line_ends_are_no_harm(tmp_path: Path) -> None:
    path = write_job(tmp_path)
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    assert read_job(path).faults == ()


def test_what_cannot_be_opened(tmp_path: Path) -> None:
    assert "no such job file" in read_job(tmp_path / "none.yaml").faults[0].message
    assert "no such stock file" in read_stock(tmp_path / "none.yaml").faults[0].message
    assert read_job(Path("a\0b")).faults[0].message.startswith("the job file cannot be read")


def test_the_limits_leave_room_for_a_large_site(tmp_path: Path) -> None:
    """A thousand solids are read, in a time a person does not notice twice (shared machine: 5 s)."""
    solids = "".join(
        f"    - {{name: s{i}, box: {{from: [{2 * i}, 600, 600], to: [{2 * i + 1}, 620, 620]}}, clamp: no}}\n"
        for i in range(1000)
    )
    path = write_job(tmp_path, (("  solids:", "  solids: #"), ("    - {name: tray", solids + "    - {name: tray")))
    assert path.stat().st_size < LARGEST_BYTES / 5
    start = time.perf_counter()
    read = read_job(path)
    assert time.perf_counter() - start < 5
    assert read.job is not None
    assert len(read.job.site.space.obstacles) == 1004
    assert DEEPEST > 8
    assert MOST_NODES > 2 * 15_000


PIECES = st.sampled_from(
    [
        "[",
        "]",
        "{",
        "}",
        ": ",
        ", ",
        "- ",
        "\n",
        "  ",
        "\t",
        "'",
        '"',
        "|",
        ">",
        "&a ",
        "*a",
        "!!x ",
        "#",
        "% ",
        "?",
        "nan",
        "-",
    ]
)


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(where=st.integers(0, 4_000), cut=st.integers(0, 40), put=st.lists(PIECES | st.text(max_size=4), max_size=6))
def test_no_slip_of_the_hand_crashes_the_reader(where: int, cut: int, put: list[str], tmp_path: Path) -> None:
    """A law: whatever is typed over a sound file, it is a job or a list of faults with their lines."""
    text = starter_text("job.yaml")
    (tmp_path / "stock.yaml").write_text(starter_text("stock.yaml"), encoding="utf-8")
    path = tmp_path / "job.yaml"
    typed = (text[:where] + "".join(put) + text[where + cut :]).encode("utf-8", errors="surrogatepass")
    path.write_bytes(typed)
    read = read_job(path)
    assert (read.job is None) == bool(read.faults)
    for fault in read.faults:
        assert isinstance(fault, Fault)
        assert fault.mend
        assert fault.text().startswith(fault.file)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(where=st.integers(0, 2_500), cut=st.integers(0, 40), put=st.lists(PIECES, max_size=6))
def test_no_slip_of_the_hand_crashes_the_stock_reader(where: int, cut: int, put: list[str], tmp_path: Path) -> None:
    text = starter_text("stock.yaml")
    path = tmp_path / "stock.yaml"
    path.write_text(text[:where] + "".join(put) + text[where + cut :], encoding="utf-8")
    read = read_stock(path)
    assert (read.stock is None) == bool(read.faults)


def test_edits_are_really_made() -> None:
    with pytest.raises(AssertionError):
        edited("abc", (("x", "y"),))
