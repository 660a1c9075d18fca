"""evenlead recut and evenlead stock take, whole, on one small list."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from cutlist.cli.main import evenlead

PIECES = "name,conductor,colour,length mm\nlong,50 mm2,red,4000\nmiddle,50 mm2,red,3000\nshort,50 mm2,red,1500\n"
STOCK = """\
# the purchaser's own words
currency: kr
cable: # by colour
  - conductor: 50 mm2
    colour: red
    remnants: # on the shelf
      - label: R1 # blue tape
        length: 4.4 m
        book value: 5
      - {label: "R2", length: 900 mm} # keep dry
    # the dealer
    spools:
      - {label: reel, length: 10 m, price: 100, available: 3}
cutting: {kerf: 3 mm, end trim: 20 mm, keep above: 800 mm, kept value per metre: 2.00}
"""
# By hand. R1 yields the 4000: 4400 - 20 - 4003 = 377, scrap. The reel yields 3000 and 1500: 10000 - 20 - 4506 = 5474,
# kept, worth 10.948. (All on the reel leaves 10000 - 20 - 8509 = 1471, worth 2.942, and R1, worth 8.80: 11.742 of value
# against 10.948 and the 5 of book value... so all on the reel is better: 100 - 2.942 - 8.80 + 5 < 100 - 10.948 + 5.)
TAKEN = STOCK.replace(
    '      - {label: "R2", length: 900 mm} # keep dry\n',
    '      - {label: "R2", length: 900 mm} # keep dry\n'
    "      - {label: rest of reel, length: 1471 mm, book value: 2.94}\n",
).replace("available: 3", "available: 2")


def run(*words: str | Path, answer: str = "") -> Result:
    return CliRunner().invoke(evenlead, [str(word) for word in words], standalone_mode=False, input=answer)


@pytest.fixture
def shed(tmp_path: Path) -> Path:
    (tmp_path / "pieces.csv").write_text(PIECES, encoding="utf-8")
    (tmp_path / "stock.yaml").write_text(STOCK, encoding="utf-8", newline="")
    result = run("cut", tmp_path / "pieces.csv", tmp_path / "stock.yaml", "--out", tmp_path / "out")
    assert (result.exception, result.return_value) == (None, 0)
    assert "label it rest of reel and keep it" in result.output
    return tmp_path


def test_taken_once_with_all_comments_and_a_backup(shed: Path) -> None:
    plan, stock = shed / "out" / "cuts.json", shed / "stock.yaml"
    asked = run("stock", "take", plan, stock, answer="n\n")
    assert asked.return_value == 1
    assert "+      - {label: rest of reel, length: 1471 mm, book value: 2.94}" in asked.output
    assert stock.read_text(encoding="utf-8") == STOCK
    assert run("stock", "take", plan, stock, answer="y\n").return_value == 0
    assert stock.read_text(encoding="utf-8") == TAKEN
    assert (shed / "stock.before.yaml").read_text(encoding="utf-8") == STOCK
    again = run("stock", "take", plan, stock, "--yes")
    assert again.return_value == 2
    assert 'remnant of 50 mm2 red "rest of reel": not there in the plan, 1.471 m in the stock file' in again.output
    assert stock.read_text(encoding="utf-8") == TAKEN
    assert sorted(p.name for p in shed.iterdir()) == ["out", "pieces.csv", "stock.before.yaml", "stock.yaml"]


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
@pytest.mark.parametrize("brackets", [False, True])
def test_remnants_go_and_get_shorter(tmp_path: Path, newline: str, brackets: bool) -> None:
    """No reel: R1 yields 3400 (4400 - 20 - 3403 = 977, worth 1.954), R2 880: 900 - 20 - 880 leaves nothing."""
    text = STOCK.replace("    spools:\n      - {label: reel, length: 10 m, price: 100, available: 3}\n", "")
    after = text.replace("4.4 m", "977 mm").replace("book value: 5", "book value: 1.95")
    after = after.replace('      - {label: "R2", length: 900 mm} # keep dry\n', "")
    if brackets:
        one = " [{label: R1, length: 4.4 m, book value: 5}, {label: R2, length: 900 mm}]\n"
        head, tail = text.index(" # on the shelf"), text.index("    # the dealer")
        text = text[:head] + one + text[tail:]
        after = text.replace(one, " [{label: R1, length: 977 mm, book value: 1.95}]\n")
        after = after.replace(one, "")
    (tmp_path / "stock.yaml").write_text(text, encoding="utf-8", newline=newline)
    (tmp_path / "p.csv").write_text("name,conductor,colour,length mm\na,50 mm2,red,3400\nb,50 mm2,red,880\n")
    assert run("cut", tmp_path / "p.csv", tmp_path / "stock.yaml", "--out", tmp_path / "o").return_value == 0
    result = run("stock", "take", tmp_path / "o" / "cuts.json", tmp_path / "stock.yaml", "--yes")
    assert result.return_value == 0, result.output
    assert (tmp_path / "stock.yaml").read_bytes() == after.replace("\n", newline).encode()


def test_a_miscut_and_the_stock_afterwards(shed: Path) -> None:
    """All three were to come off the reel. The 4000 came out at 3500; the reel still holds 4000 and 1500: 9980 - 3503 -
    4003 - 1503 = 971, kept. The 3000 from the miscut would leave scrap; from R1 it leaves 4400 - 20 - 3003 = 1377, and
    the miscut is kept. Kept were 1471 and R1, 2 (1.471 + 4.4) = 11.742; now 2 (0.971 + 1.377 + 3.5) = 11.696."""
    out = shed / "out"
    result = run("recut", out / "cuts.json", "--miscut", "long=3500 mm", "--out", shed / "again")
    assert (result.exception, result.return_value) == (None, 0)
    assert "nothing to buy\n  extra cost kr 0.05, with what the stock is worth less" in result.output
    assert "miscut of long (done)" in result.output
    assert run("stock", "take", shed / "again" / "cuts.json", shed / "stock.yaml", "--yes").return_value == 0
    assert "rest of reel, length: 971 mm" in (shed / "stock.yaml").read_text(encoding="utf-8")


def test_the_table_filled_in_by_the_rigger(shed: Path) -> None:
    table = shed / "out" / "cuts.csv"
    text = table.read_text(encoding="utf-8")
    rows = [row + {1: "x", 2: "2900 mm"}.get(i, "") for i, row in enumerate(text.splitlines())]
    table.write_text("\n".join(rows), encoding="utf-8")
    result = run("recut", shed / "out" / "cuts.json", "--done", table, "--out", shed / "again")
    assert result.return_value == 0, result.output
    document = json.loads((shed / "again" / "cuts.json").read_text(encoding="utf-8"))
    assert document["done"] == ["long", "miscut of middle"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--miscut", "long=3500"], '"3500" has no unit'),
        (["--miscut", "lnog=3500 mm"], 'there is no piece "lnog" in the plan'),
        (["--short", "reel"], '"reel" has no length'),
        (["--cut", "long", "--miscut", "long=3500 mm"], '"long" is told as cut and as miscut'),
        (["--done", "nothing.csv"], "there is no such list of cuts"),
    ],
)
def test_what_is_told_wrong(shed: Path, words: list[str], told: str) -> None:
    result = run("recut", shed / "out" / "cuts.json", *words)
    assert result.return_value == 2
    assert told in result.output
    assert "mend:" in result.output


def test_plans_that_are_none(shed: Path) -> None:
    (shed / "out" / "order.json").write_text("[1, 2", encoding="utf-8")
    document = json.loads((shed / "out" / "cuts.json").read_text(encoding="utf-8"))
    document["cut_plan"]["spools"][0]["cuts"][0]["length_um"] += 1000
    (shed / "tampered.json").write_text(json.dumps(document), encoding="utf-8")
    del document["stock"]["cables"]
    (shed / "half.json").write_text(json.dumps(document), encoding="utf-8")
    for path, told in (
        (shed / "out" / "order.json", "this is not JSON"),
        (shed / "tampered.json", 'piece "long" is cut 4001000 um long, asked for 4000000 um'),
        (shed / "half.json", 'stock: "cables" is missing'),
        (shed / "nothing.json", "there is no such plan"),
    ):
        result = run("stock", "take", path, shed / "stock.yaml", "--yes")
        assert (result.return_value, told in result.output) == (2, True), result.output
    assert (shed / "stock.yaml").read_text(encoding="utf-8") == STOCK
