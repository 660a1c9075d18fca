"""Like batteries change places in a job: less cable, and every paper says which battery is in which string."""

from __future__ import annotations

from pathlib import Path

import pytest

import cutlist
from cutlist.plan_types import Plan
from cutlist.sheets.cut_sheet import cut_sheet_data
from cutlist.sheets.labels import label_rows
from cutlist.sheets.page_work import laying_part
from cutlist.sheets.plan_json import plan_dict
from cutlist.sheets.rows import laying_rows
from cutlist.sheets.summary import summary_text
from cutlist.sheets.termination_rows import termination_rows
from tests.job.broken import write_job

CROSSED = ("  - {name: A, batteries: [A1, A2]}\n  - {name: B, batteries: [B1, B2]}", "")
SWAP = ("  match: all leads alike", "  like batteries swap: yes\n  match: all leads alike")


def planned(folder: Path, swap: bool) -> Plan:
    strings = "  - {name: A, batteries: [A1, B2]}\n  - {name: B, batteries: [B1, A2]}"
    edits = ((CROSSED[0], strings), *((SWAP,) if swap else ()))
    made = cutlist.make_plan(*cutlist.read_job(write_job(folder, edits)))
    assert isinstance(made, Plan)
    return made


@pytest.fixture(scope="module")
def plans(tmp_path_factory: pytest.TempPathFactory) -> tuple[Plan, Plan]:
    """As the job lists its strings, and with like batteries swapped."""
    return planned(tmp_path_factory.mktemp("own"), False), planned(tmp_path_factory.mktemp("swap"), True)


def test_the_plan_built_has_less_cable(plans: tuple[Plan, Plan]) -> None:
    own, swapped = plans
    assert own.regrouped is None
    assert swapped.regrouped is not None
    assert swapped.regrouped.changed
    assert swapped.cut_plan.cut_um < own.cut_plan.cut_um
    # of the job's own: A1 negative at x 330 to B2 positive at 1170, B1 negative at 1030 to A2 positive at 470
    lengths_m = [c.shortest.length_m for c in own.cables if c.kind == "jumper"]
    assert lengths_m[0] > 0.84 - 1e-6
    assert lengths_m[1] > 0.56 - 1e-6


def test_names_counts_and_places_stay(plans: tuple[Plan, Plan]) -> None:
    own, swapped = plans
    assert [s.name for s in swapped.job.strings] == ["A", "B"]
    assert [len(s.batteries) for s in swapped.job.strings] == [2, 2]
    assert swapped.job.batteries == own.job.batteries
    assert sorted(b.name for s in swapped.job.strings for b in s.batteries) == ["A1", "A2", "B1", "B2"]


def test_every_paper_says_it(plans: tuple[Plan, Plan]) -> None:
    swapped = plans[1]
    assert swapped.regrouped is not None
    first = next(s for s in swapped.regrouped.strings if s.changed)
    words = f"{first.string} is {', '.join(first.laid)} (the job lists {', '.join(first.stated)})"
    assert words in summary_text(swapped)
    assert words in laying_part(swapped)
    sheet = cut_sheet_data(swapped, "mark")
    assert ["String, made up anew", words] in sheet["facts"]
    assert words in sheet["cautions"]["laying"][0]
    moved = [b for s in swapped.regrouped.strings for b in s.laid if b not in s.stated]
    assert moved
    for battery in moved:
        stated = next(s.string for s in swapped.regrouped.strings if battery in s.stated)
        ends = [label.at for label in label_rows(swapped) if label.at.startswith(battery)]
        ends += [end for row in laying_rows(swapped) for end in (row.start, row.finish) if end.startswith(battery)]
        ends += [row.at for row in termination_rows(swapped) if row.at.startswith(battery)]
        assert len(ends) == 3 * 2
        assert all(end.endswith(f", swapped: listed in {stated}") for end in ends)
    others = [label.at for label in label_rows(plans[0])]
    assert not any("swapped" in at for at in others)
    told = plan_dict(swapped)["regrouped"]["strings"]
    assert [tuple(s["laid"]) for s in told] == [tuple(b.name for b in s.batteries) for s in swapped.job.strings]
