"""evenlead places: the best first, each further one no cheaper, and a line of the table for every place of the map."""

from __future__ import annotations

import csv
import re
from pathlib import Path

from click.testing import CliRunner

from cutlist.cli.main import evenlead
from tests.job.broken import write_job

TENDER = Path(__file__).parent.parent.parent / "examples" / "dredge-tender" / "job.yaml"


def test_ten_places_in_order_of_cost_and_the_map(tmp_path: Path) -> None:
    table = tmp_path / "map.csv"
    result = CliRunner().invoke(evenlead, ["places", str(TENDER), "--csv", str(table)], standalone_mode=False)
    assert result.return_value == 0, result.output
    costs = [float(c) for c in re.findall(r"^ *\d+ +([\d.]+) +\d\.\d{3} ", result.output, re.MULTILINE)][:10]
    assert len(costs) == 10
    assert costs == sorted(costs)
    rows = list(csv.DictReader(table.open(encoding="utf-8")))
    assert {row["pole"] for row in rows} == {"positive", "negative"}
    # no place of a coarse map betters what the search found by more than what it does not look for: half a per cent
    assert min(float(row["cost"]) for row in rows if row["cost"]) >= costs[0] * 0.995


def test_tables_and_pictures_agree_with_the_terminal(tmp_path: Path) -> None:
    """Every file is there, the best pair is the same everywhere, runs that turn out longer cost no less, and each map
    marks what was chosen; metres bought are what is laid, kept or scrap."""
    folder = tmp_path / "places"
    asked = ["places", str(TENDER), "--out", str(folder), "--longer", "20 mm", "--longer", "50 mm"]
    result = CliRunner().invoke(evenlead, asked, standalone_mode=False)
    assert result.return_value == 0, result.output
    tables = {path.stem: list(csv.DictReader(path.open(encoding="utf-8"))) for path in folder.glob("*.csv")}
    assert set(tables) == {"map", "places", "moves", "cost-and-drop", "cost-and-share", "longer"}
    best = tables["places"][0]
    assert f"{float(best['cost']):.2f}" in result.output
    assert [float(row["cost"]) for row in tables["places"]] == sorted(float(row["cost"]) for row in tables["places"])
    costs = [float(best["cost"]), *(float(row["cost"]) for row in tables["longer"])]
    assert costs == sorted(costs)
    for name in ("cost-and-drop", "cost-and-share"):
        assert [float(r["cost"]) for r in tables[name]] == sorted(float(r["cost"]) for r in tables[name])
    drops = [float(row["drop V"]) for row in tables["cost-and-drop"]]
    assert drops == sorted(drops, reverse=True)
    shares = [float(row["worst share"]) for row in tables["cost-and-share"]]
    assert shares == sorted(shares, reverse=True)
    for row in tables["places"]:
        assert 0 <= float(row["scrap mm"]) <= float(row["bought mm"])
    pictures = sorted(path.name for path in folder.glob("*.svg"))
    assert pictures == [
        f"starboard-dry-panel-{pole}-{what}.svg" for pole in ("negative", "positive") for what in ("cable", "cost")
    ]
    for name in pictures:
        picture = (folder / name).read_text(encoding="utf-8")
        for words in ("chosen", "bus bar on starboard dry panel</text>", "200 mm</text>", "deg, stud 1"):
            assert words in picture
    said = " ".join(result.output.split())
    assert (
        "the lugs of leads and feeders. Cable: leads and the feeders at the bus bars as they are cut. Bought, scrap:"
        in said
    )


def test_wrong_lengths_are_told_with_a_mend(tmp_path: Path) -> None:
    asked = ["places", str(TENDER), "--longer", "twenty", "--longer", "-5 mm", "--out", str(tmp_path / "p")]
    result = CliRunner().invoke(evenlead, asked, standalone_mode=False)
    assert result.return_value == 2
    assert result.output.count("--longer") >= 2
    assert "2 faults:" in result.output
    assert not (tmp_path / "p").exists()


def test_where_least_waste_is_asked_metres_stand_for_money(tmp_path: Path) -> None:
    """No column, heading or map of money; what longer runs and moved bars add to the cable bought in its place."""
    job = write_job(tmp_path, job=(("policy:", "policy:\n  objective: least waste"),))
    folder = tmp_path / "places"
    asked = ["places", str(job), "--out", str(folder), "--longer", "400 mm"]
    result = CliRunner().invoke(evenlead, asked, standalone_mode=False)
    assert result.return_value == 0, result.output
    said = " ".join(result.output.split())
    assert "missing" not in said
    assert "money" not in said
    assert "Longer by Bought More Drop V" in said
    assert "how much cable that adds to what is bought" in said
    assert "may turn out" in said
    assert "jumpers and other cables staying as they are, before more must be bought." in said
    assert {path.stem.rpartition("-")[2] for path in folder.glob("*.svg")} == {"cable"}
    tables = {path.stem: list(csv.DictReader(path.open(encoding="utf-8"))) for path in folder.glob("*.csv")}
    (longer,) = tables["longer"]
    assert float(longer["bought mm"]) >= float(tables["places"][0]["bought mm"])
    assert all(bool(row["more bought mm"]) != bool(row["why not"]) for row in tables["moves"])
