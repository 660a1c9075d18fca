"""evenlead places: the best first, each further one no cheaper, and a line of the table for every place of the map."""

from __future__ import annotations

import csv
import re
from pathlib import Path

from click.testing import CliRunner

from cutlist.cli.main import evenlead

TENDER = Path(__file__).parent.parent.parent / "examples" / "dredge-tender" / "job.yaml"


def test_ten_places_in_order_of_cost_and_the_map(tmp_path: Path) -> None:
    table = tmp_path / "map.csv"
    result = CliRunner().invoke(evenlead, ["places", str(TENDER), "--csv", str(table)], standalone_mode=False)
    assert result.return_value == 0, result.output
    costs = [float(c) for c in re.findall(r"^ *\d+ +([\d.]+)  drop", result.output, re.MULTILINE)]
    assert len(costs) == 10
    assert costs == sorted(costs)
    rows = list(csv.DictReader(table.open(encoding="utf-8")))
    assert {row["pole"] for row in rows} == {"positive", "negative"}
    # no place of a coarse map betters what the search found by more than what it does not look for: half a per cent
    assert min(float(row["cost"]) for row in rows if row["cost"]) >= costs[0] * 0.995
