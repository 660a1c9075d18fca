"""A broken job is refused with every fault: file, line, excerpt, mend. Each case breaks a sound job one way."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest
from click.testing import CliRunner

from cutlist.cli.check import check
from tests.job.broken import Edit, line_of, read_broken, sentences, write_job


@dataclass(frozen=True)
class Case:
    name: str
    edits: tuple[Edit, ...]
    at: str  # text that stands in the line at fault
    says: str  # part of the message
    mend: str  # part of the mend
    file: str = "job.yaml"
    stock: tuple[Edit, ...] = ()


CASES = (
    Case("wrong unit", (("ambient: 25 °C", "ambient: 25 kg"),), "ambient:", '"kg" is no unit', "°C"),
    Case("no unit", (("drop: 3 %", "drop: 3"),), "drop: 3", '"3" has no unit', '"3 %"'),
    Case(
        "unknown key", (("  share: 10 %", "  shares: 10 %"),), "shares:", '"shares" is no key', 'did you mean "share"'
    ),
    Case("missing key", (("rules: copper by ambient", "notes: [x]"),), "name:", 'lacks "rules"', "add rules"),
    Case("dangling battery", (("[A1, A2]", "[A1, A9]"),), "[A1, A9]", 'no battery "A9"', 'batteries there are: "A1"'),
    Case(
        "dangling type",
        (("A1, type: AGM 12 V", "A1, type: AGM 12"),),
        "{name: A1",
        'no battery type "AGM 12"',
        "AGM 12 V",
    ),
    Case(
        "dangling face",
        (("on: [end wall]", "on: [end walls]"),),
        "end walls",
        'no mounting face "end walls"',
        "end wall",
    ),
    Case(
        "dangling feeder end",
        (("to: inverter negative", "to: inverter minus"),),
        "to: inverter minus",
        'there is no "inverter minus"',
        "inverter negative",
    ),
    Case(
        "dangling conductor",
        (("  string fuse: at", "  lead conductors: [50 mm2]\n  string fuse: at"),),
        "lead conductors",
        'no conductor "50 mm2" in the stock file',
        "35 mm2",
    ),
    Case(
        "colour that is not in stock",
        (("negative: black, link", "negative: yellow, link"),),
        "colours:",
        'negative cables are "yellow"',
        'colours in stock: "black", "red"',
    ),
    Case("dangling fuse family", (("fuse family: class T", "fuse family: class J"),), "class J", "class J", "class T"),
    Case(
        "dangling solid", (("on: inverter}", "on: invertor}"),), "  - name: inverter", '"invertor"', "solid of the site"
    ),
    Case(
        "duplicate battery",
        (("{name: A2", "{name: A1"),),
        "{name: A1, type: AGM 12 V, at: [410",
        "a name that line",
        "own",
    ),
    Case(
        "duplicate key",
        (("ambient: 25 °C", "ambient: 25 °C\nname: again"),),
        "name: again",
        "stands here twice",
        "keep one",
    ),
    Case(
        "names alike but for capitals",
        (("{name: B, batteries", "{name: a, batteries"),),
        "{name: a,",
        "has the name of another",
        "name of its own",
    ),
    Case("battery twice", (("[B1, B2]}", "[B1, A1]}"),), "[B1, A1]", 'battery "A1" is in line', "in one string"),
    Case("battery in no string", (("batteries: [A1, A2]", "batteries: [A1]"),), "{name: A2", "in no string", "add it"),
    Case(
        "battery inside an obstacle",
        (("at: [410, 370, 20]", "at: [410, 370, 10]"),),
        "{name: A2",
        'battery "A2" stands 10 mm deep in solid "tray"',
        "[410, 370, 20]",  # the only way out, 10 mm up
    ),
    Case(
        "batteries overlap",
        (("air gap: 20}", "pitch: 300}"),),
        "names: [B1, B2]",
        'battery "B2" stands 30 mm deep in battery "B1"',  # 330 wide at a pitch of 300
        "stands free at",
    ),
    Case(
        "terminal inside a solid",
        (("positive: {at: [920, 60, 560]", "positive: {at: [1790, 100, 560]"),),
        "  - name: inverter",
        'terminal "inverter positive" at [1790, 100, 560] lies inside "end panel", 10 mm deep',
        "is free",
    ),
    Case(
        "terminal in no compartment",
        (("positive: {at: [920, 60, 560]", "positive: {at: [920, -60, 560]"),),
        "  - name: inverter",
        "is in no compartment",
        "compartment",
    ),
    Case(
        "feeder named as a lead",
        (("{name: A, batteries", "{name: inverter, batteries"),),
        "- {name: inverter positive, pole",
        'the name of a cable of string "inverter"',
        "another name",
    ),
    Case(
        "load named as a battery",
        (
            ("{name: A2, type", "{name: inverter2, type"),
            ("[A1, A2]", "[A1, inverter2]"),
            ("  - name: inverter\n", "  - name: inverter2\n"),
            ("to: inverter positive", "to: inverter2 positive"),
            ("to: inverter negative", "to: inverter2 negative"),
        ),
        "  - name: inverter2",
        "is the name of a battery",
        "name of its own",
    ),
    Case(
        "terminal faces a wall",
        (
            ("positive: {at: [920, 60, 560], lug: [+y, up, down]", "positive: {at: [1765, 100, 560], lug: +x"),
            ("stud points: +x", "stud points: up"),
        ),
        "  - name: inverter",
        'terminal "inverter positive" faces "end panel" in 15 mm; its lug needs 37 mm',  # 1780 - 1765
        "let the lug point -x or +y or -y",
    ),
    Case(
        "string of unlike batteries",
        (
            (
                "battery types:",
                "battery types:\n  - {name: other, chemistry: gel, voltage: 12 V, capacity: 95 Ah, resistance: 4 mohm}",
            ),
            (
                "{name: A2, type: AGM 12 V, at: [410, 370, 20]}",
                "{name: A2, type: other, positive: {at: [470, 400, 255], "
                "lug: level, stud: M8}, negative: {at: [680, 400, 255], lug: level, stud: M8}}",
            ),
        ),
        "{name: A, batteries",
        "unlike batteries",
        "one type to a string",
    ),
    Case(
        "strings of unequal voltage",
        (
            ("{name: B, batteries: [B1, B2]}", "{name: B, batteries: [B1, B2]}\n  - {name: C, batteries: [B3]}"),
            ("names: [B1, B2]", "names: [B1, B2, B3]"),
            ("air gap: 20", "air gap: 5"),
            (
                "tray, box: {from: [40, 330, 0], to: [1460, 570, 20]}",
                "tray, box: {from: [40, 330, 0], to: [1790, 570, 20]}",
            ),
            ("to: [1800, 600, 750]", "to: [2800, 600, 750]"),
            ("end panel, box: {from: [1780, 60, 200], to: [1800", "end panel, box: {from: [2780, 60, 200], to: [2800"),
            ("corner: [1750,", "corner: [2750,"),
        ),
        "{name: C, batteries",
        'string "C" has 12 V, the others 24 V',
        "one voltage",
    ),
    Case(
        "bar without enough studs",
        (("    studs: 4", "    studs: 1\n    lugs per stud: 2"),),
        "  - name: positive bus bar",
        "2 leads and 1 feeder end here",
        "2 studs or more",  # 3 cables, 2 lugs a stud
    ),
    Case(
        "bar longer than its face",
        (("    pitch: 40", "    pitch: 160"),),
        "  - name: positive bus bar",
        "take 480 mm",  # 3 x 160; the face has 500 less its edges of 30
        "larger face",
    ),
    Case(
        "two bars of one pole",
        (("{name: negative bus bar, pole: negative", "{name: negative bus bar, pole: positive"),),
        "name: negative bus bar",
        "second positive bus bar",
        "one of each pole",
    ),
    Case(
        "feeder of the wrong pole",
        (("inverter negative, pole: negative", "inverter negative, pole: positive"),),
        "name: inverter negative",
        "is negative",
        "one pole",
    ),
    Case(
        "load that nothing joins",
        (("  - {name: inverter negative, pole: negative, from: negative bus bar, to: inverter negative}\n", ""),),
        "  - name: inverter",
        "no feeder joins its negative terminal",
        "add a feeder",
    ),
    Case("negative length", (("  clearance: 5 mm", "  clearance: -5 mm"),), "clearance:", "is negative", "sign"),
    Case(
        "no thickness",
        (("to: [1460, 570, 20]", "to: [1460, 330, 20]"),),
        "{name: tray",
        "no thickness",
        "opposite corners",
    ),
    Case(
        "huge number", (("clearance: 5 mm", "clearance: 1e300 mm"),), "clearance:", "beyond anything", "slipped digit"
    ),
    Case("not a number", (("capacity: 95 Ah", "capacity: nan Ah"),), "capacity:", "is not a number", "12 Ah"),
    Case("infinity", (("resistance: 4 mohm", "resistance: .inf"),), "resistance: .inf", "is not a number", "mohm"),
    Case("thousands comma", (("clearance: 5 mm", "clearance: 1,005 mm"),), "clearance:", "sure of", "without marks"),
    Case("two coordinates", (("at: [60, 370, 20]", "at: [60, 370]"),), "{name: A1", "2 values", "[0, 0, 0]"),
    Case(
        "not a choice", (("match: all leads alike", "match: all lead alike"),), "match:", "not known", "all leads alike"
    ),
    Case(
        "neither yes nor no",
        (("one string out: yes", "one string out: maybe"),),
        "one string out",
        "neither",
        "yes or no",
    ),
    Case("broken studs", (("    studs: 4", "    studs: four"),), "studs: four", "not a whole number", "1 to 200"),
    Case(
        "a value where a list is wanted", (("on: [end wall]", "on: end wall"),), "on: end wall", "a list", "[a, b, c]"
    ),
    Case("nothing written", (("ambient: 25 °C", "ambient:"),), "ambient:", "nothing stands", "write a temperature"),
    Case("anchor", (("at: [60, 370, 20]", "at: &spot [60, 370, 20]"),), "&spot", "anchor", "write it out"),
    Case("tag", (("name: Two", "name: !!python/name:os.system Two"),), "!!python", "is a tag", "take it out"),
    Case("tab", (("  drop: 3 %", "\tdrop: 3 %"),), "\tdrop", "not YAML", "spaces where the tab is"),
    Case("not YAML", (("limits:", "limits: [1, {"),), "", "not YAML", "key: value"),
    Case("second document", (("limits:", "---\nlimits:"),), "---", "second document", "one document to a file"),
    Case("invisible character", (("name: Two", "name: T\u202ewo"),), "name: T", "U+202E", "Two strings"),
    Case(
        "long name",
        (("{name: A, batteries", "{name: " + "A" * 300 + ", batteries"),),
        "AAAA",
        "300 characters",
        "at most 60",
    ),
    Case(
        "stock file that is not there",
        (("stock: stock.yaml", "stock: stok.yaml"),),
        "stok",
        "no such stock file",
        "looked",
    ),
    Case("stock file that is a folder", (("stock: stock.yaml", "stock: ."),), "stock: .", "a folder", "ordinary file"),
    Case(
        "stock file that is the job", (("stock: stock.yaml", "stock: job.yaml"),), "stock: job", "itself", "stock.yaml"
    ),
    Case(
        "stock file that is a device", (("stock: stock.yaml", "stock: /dev/zero"),), "/dev/zero", "a device", "ordinary"
    ),
    Case(
        "empty stock",
        (),
        "conductors:",
        "0 items",
        "from 1",
        "stock.yaml",
        (
            ("conductors: #", "conductors: [] #"),
            (
                "  - {name: 35 mm2, size: 35 mm2, strands: class 5, "
                "outside diameter: 12.5 mm, bend radius: 4 x OD, insulation: 105 °C}",
                "",
            ),
        ),
    ),
    Case("unknown size", (), "size: 34", "34", "35 mm2", "stock.yaml", (("size: 35 mm2", "size: 34 mm2"),)),
    Case(
        "thinner than its copper",
        (),
        "name: 35 mm2",
        "thinner than the bare copper",
        "over the insulation",
        "stock.yaml",
        (("outside diameter: 12.5 mm", "outside diameter: 5 mm"),),
    ),
    Case(
        "price with its currency",
        (),
        "price: 240",
        "no amount of money",
        "12.50",
        "stock.yaml",
        (("price: 240.00", "price: 240 kr"),),
    ),
    Case(
        "underlined thousands",
        (),
        "price: 2_40",
        "no amount of money",
        "12.50",
        "stock.yaml",
        (("price: 240.00", "price: 2_40"),),
    ),
    Case("no currency", (), "price: 240.00", "no currency", "currency:", "stock.yaml", (("currency: coins", ""),)),
    Case(
        "lug of no conductor",
        (),
        "conductor: 36",
        'no conductor "36 mm2"',
        "35 mm2",
        "stock.yaml",
        (("{conductor: 35 mm2, stud", "{conductor: 36 mm2, stud"),),
    ),
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_broken_job_is_refused_at_its_line(case: Case, tmp_path: Path) -> None:
    path = write_job(tmp_path, case.edits, case.stock)
    done = CliRunner().invoke(check, [str(path)], standalone_mode=False)
    assert done.exception is None
    assert done.return_value == 2
    read = read_broken(tmp_path, case.edits, case.stock)
    assert read.job is None
    assert read.stock is None
    fits = [f for f in read.faults if case.says in f.message and case.mend in f.mend and f.file == case.file]
    assert fits, [fault.text() for fault in read.faults]
    fault = fits[0]
    if case.at:
        assert fault.line == line_of(tmp_path / case.file, case.at)
        excerpt, carets = fault.text().split("\n")[1:3]
        assert excerpt.startswith(f"{fault.line:5d} | ")
        assert set(carets.strip()) == {"^"}
    assert fault.text().startswith(f"{case.file}, line {fault.line}: ")
    assert fault.text() in done.output


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_one_slip_is_not_blamed_on_much_else(case: Case, tmp_path: Path) -> None:
    """One break gives one fault, or one more where two lines contradict each other."""
    faults = read_broken(tmp_path, case.edits, case.stock).faults
    assert 1 <= len(faults) <= 3, sentences(faults)


def test_all_faults_in_one_go_and_in_line_order(tmp_path: Path) -> None:
    read = read_broken(
        tmp_path,
        (
            ("ambient: 25 °C", "ambient: 25"),
            ("drop: 3 %", "drop: 3 mm"),
            ("resistance: 4 mohm", "resistence: 4 mohm"),
            ("at: [410, 370, 20]", "at: [300, 370, 20]"),
            ("{name: B, batteries: [B1, B2]}", "{name: B, batteries: [B1, B7]}"),
            ("to: inverter negative", "to: converter negative"),
        ),
        (("price: 240.00", "price: dear"), ("hole to skin: 37 mm", "hole to skin: 3 mm")),
    )
    job = [fault for fault in read.faults if fault.file == "job.yaml"]
    stock = [fault for fault in read.faults if fault.file == "stock.yaml"]
    assert read.faults == (*job, *stock)
    assert [f.line for f in job] == sorted(f.line for f in job)
    assert [f.line for f in stock] == sorted(f.line for f in stock)
    for said in (
        "has no unit",
        "not a share",
        '"resistence" is no key',
        'lacks "resistance"',
        '"B7"',
        '"converter negative"',
    ):
        assert any(said in message for message in sentences(tuple(job))), said
    for said in ("no amount of money", "begin inside the barrel"):
        assert any(said in message for message in sentences(tuple(stock))), said


def test_places_are_checked_though_something_else_is_wrong(tmp_path: Path) -> None:
    read = read_broken(tmp_path, (("ambient: 25 °C", "ambient: 25"), ("at: [410, 370, 20]", "at: [300, 370, 20]")))
    assert any("stands 90 mm deep" in message for message in sentences(read.faults))  # 60 + 330 - 300


def test_a_fault_reads_as_laid_down(tmp_path: Path) -> None:
    """File, line, what; the line with its mark; the mend."""
    (fault,) = read_broken(tmp_path, (("ambient: 25 °C", "ambient: 25"),)).faults
    assert line_of(tmp_path / "job.yaml", "ambient: 25") == 12
    assert fault.text() == (
        'job.yaml, line 12: "25" has no unit\n'
        "   12 | ambient: 25\n"
        "                 ^^\n"
        'mend: write "25 °C" if that is meant; units are °C or °F'
    )
