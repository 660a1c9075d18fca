"""evenlead cut, whole: what the people in the workshop see, and what they are told when a list is wrong."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from pypdf import PdfReader

from cutlist.cli.main import evenlead

PIECES = """\
name,conductor,colour,length mm,count
lead,50 mm2,red,2350,3
jumper,50 mm2,red,7 ft 8 1/2 in,
"""
STOCK = """\
kind,conductor,colour,label,length mm,price kr,available,longest
remnant,50 mm2,red,R1,2400,,,
spool,50 mm2,red,reel,7.5 m,80.00,2,
by length,50 mm2,red,by the metre,1 m,13.00,,5 m
"""
# By hand, kerf 5 mm, end trim 20 mm, rests of 1 m kept. The remnant holds one lead: 2400 - 20 = 2380, - 2350 - 5 = 25.
# Two leads and the jumper (92.5 in = 2349.5 mm) are left. One reel holds all three: 20 + 2350 + 5 + 2350 + 5 + 2349.5 =
# 7079.5 of 7500: 80 kr, leaves 7500 - 20 - 2355 = 5125, 2770, 415.5 (written 415: what is there comes down).
# By the metre three need 8 m, over the longest 5 m;
# two need 4.7255 m: 5 m; one 3 m: together 8 m: 104 kr. All four on two reels or on anything else costs more than 80.
TEXT = """\
pieces: 4 pieces, 9400 mm

Remnant 1 of 2: R1   50 mm2 red   2400 mm, trim 20 mm off its end first
  cut  tag            length mm  remains mm
    1  lead 1              2350          25
       offcut: scrap

Spool 2 of 2: reel   50 mm2 red   7500 mm, trim 20 mm off its end first
  cut  tag            length mm  remains mm
    2  lead 2              2350        5125
    3  lead 3              2350        2770
    4  jumper              2350         415
       offcut: scrap

Order
  what                     order  unit     price kr
  50 mm2 red, on hand: R1   none  remnant
  50 mm2 red, reel             1  spool       80.00

  total kr 80.00

How good it is
"""
RULES = ["--kerf", "5 mm", "--end-trim", "20 mm", "--keep-above", "1 m"]


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(evenlead, [str(word) for word in words], standalone_mode=False)


@pytest.fixture
def lists(tmp_path: Path) -> Path:
    (tmp_path / "pieces.csv").write_text(PIECES, encoding="utf-8")
    (tmp_path / "stock.csv").write_text(STOCK, encoding="utf-8")
    return tmp_path


def test_the_whole_text(lists: Path) -> None:
    result = run("cut", lists / "pieces.csv", lists / "stock.csv", *RULES)
    assert (result.exception, result.return_value) == (None, 0)
    assert result.output.startswith(TEXT)
    assert "80.00 kr, and no other way of cutting comes to less" in result.output[len(TEXT) :]


def test_papers_agree(lists: Path) -> None:
    assert run("cut", lists / "pieces.csv", lists / "stock.csv", *RULES, "--out", lists / "out").return_value == 0
    rows = list(csv.DictReader(io.StringIO((lists / "out" / "cuts.csv").read_text(encoding="utf-8"))))
    assert [(r["tag"], r["cut length mm"], r["remains mm"]) for r in rows] == [
        ("lead 1", "2350", "25"),
        ("lead 2", "2350", "5125"),
        ("lead 3", "2350", "2770"),
        ("jumper", "2349.5", "415.5"),
    ]
    document = json.loads((lists / "out" / "cuts.json").read_text(encoding="utf-8"))
    assert (document["format"], document["cut_plan"]["spent"]) == ("evenlead cuts 1", "80.00")
    paper = PdfReader(lists / "out" / "cut-sheet.pdf").pages[0].extract_text()
    assert all(word in paper for word in ("lead 1", "jumper", "415"))
    assert {p.name for p in (lists / "out").iterdir()} >= {"order.pdf", "order.xlsx", "order.csv"}


def test_yaml_says_the_same(lists: Path) -> None:
    (lists / "pieces.yaml").write_text(
        "name: pieces\npieces:\n"
        "  - {name: lead, conductor: 50 mm2, colour: red, length: 2350 mm, count: 3}\n"
        "  - {name: jumper, conductor: 50 mm2, colour: red, length: 7 ft 8 1/2 in}\n",
        encoding="utf-8",
    )
    (lists / "stock.yaml").write_text(
        "currency: kr\ncable:\n"
        "  - conductor: 50 mm2\n    colour: red\n"
        "    remnants: [{label: R1, length: 2400 mm}]\n"
        "    spools: [{label: reel, length: 7500 mm, price: 80.00, available: 2}]\n"
        "    by length: [{label: by the metre, increment: 1 m, price: 13.00, longest: 5 m}]\n"
        "cutting: {kerf: 5 mm, end trim: 20 mm, keep above: 1 m}\n",
        encoding="utf-8",
    )
    tables = run("cut", lists / "pieces.csv", lists / "stock.csv", *RULES).output
    assert run("cut", lists / "pieces.yaml", lists / "stock.yaml").output == tables


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("2350,3", "2350 kg,3", ["pieces.csv, line 2", '"2350 kg" is not a length', "mend: write it in mm, cm, m"]),
        ("lead,50 mm2,red", "lead,50 mm2,rde", ['no "rde" 50 mm2 in the stock', 'did you mean "red"']),
        ("jumper,", "lead 2,", ["pieces.csv, line 3", 'piece "lead 2" has the name of another, in line 2']),
        ("length mm", "length", ['"2350" has no unit', 'write "2350 mm"']),
        ("count", "cuont", ['"cuont" is no column of a list of pieces', 'did you mean "count"']),
    ],
)
def test_wrong_pieces(lists: Path, old: str, new: str, told: list[str]) -> None:
    (lists / "pieces.csv").write_text(PIECES.replace(old, new), encoding="utf-8")
    result = run("cut", lists / "pieces.csv", lists / "stock.csv", "--out", lists / "out")
    assert result.return_value == 2
    assert all(words in result.output for words in told), result.output
    assert not (lists / "out").exists()


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("remnant,", "remanent,", ["stock.csv, line 2", '"remanent" is not known here', 'did you mean "remnant"']),
        ("80.00", "eighty", ["stock.csv, line 3", '"eighty" is no amount of money']),
        ("price kr", "price", ["there are prices, but no currency", "price kr"]),
        ("2400,", "-2400,", ['"-2400 mm" is not above zero']),
    ],
)
def test_wrong_stock(lists: Path, old: str, new: str, told: list[str]) -> None:
    (lists / "stock.csv").write_text(STOCK.replace(old, new), encoding="utf-8")
    result = run("cut", lists / "pieces.csv", lists / "stock.csv")
    assert result.return_value == 2
    assert all(words in result.output for words in told), result.output


def test_nothing_long_enough_names_piece_and_longest_stock(lists: Path) -> None:
    (lists / "pieces.csv").write_text(PIECES.replace("2350,3", "7600,1"), encoding="utf-8")
    result = run("cut", lists / "pieces.csv", lists / "stock.csv", *RULES)
    assert result.return_value == 3
    assert (
        'no spool is long enough for "lead" (7.6 m); the longest is 7.5 m, of which 0.02 m is trimmed' in result.output
    )


def test_a_folder_or_a_picture_is_no_list(lists: Path) -> None:
    (lists / "picture.csv").write_bytes(b"\x89PNG\x00\x01")
    result = run("cut", lists / "picture.csv", lists)
    assert result.return_value == 2
    assert "a folder, not a stock list" in result.output
    assert "a binary file, not a list of pieces" in result.output


def test_a_decimal_comma_after_semicolons(lists: Path) -> None:
    (lists / "pieces.csv").write_text("conductor;colour;length m\n50 mm2;red;2,35\n", encoding="utf-8")
    result = run("cut", lists / "pieces.csv", lists / "stock.csv", *RULES)
    assert "piece 1" in result.output
    assert "2350          25" in result.output


def test_two_jobs_are_cut_together(lists: Path) -> None:
    """Each job, of one lead and three, alone: the first takes the remnant, the second a reel; together the same."""
    (lists / "other.csv").write_text("name,conductor,colour,length mm\nlead,50 mm2,red,2350\n", encoding="utf-8")
    (lists / "pieces.csv").write_text(PIECES.replace("2350,3", "2350,2"), encoding="utf-8")
    result = run("cut", lists / "other.csv", lists / "pieces.csv", "--stock", lists / "stock.csv", *RULES)
    assert result.return_value == 0
    assert "other: lead " in result.output
    assert "  other alone: kr 0.00 for cable, 0 mm to buy\n  pieces alone: kr 80.00 for cable, 7500 mm" in result.output
    assert "cutting together saves kr 0.00" in result.output
    assert run("cut", lists / "other.csv", lists / "other.csv", "--stock", lists / "stock.csv").return_value == 2
