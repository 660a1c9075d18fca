"""Every sheet of the workshop bank whole, as text, in millimetres and in feet and inches: what a person holds.

The texts in `golden/` are there to be read: whoever changes a sheet sees here what he changed, in both unit systems.
They prove no figure by themselves. Cut lengths, remainders in millimetres, lugs, prices and the surplus are worked by
hand in test_tables and test_cut_sheet, and test_agreement holds every figure against plan.json. Remainders in inches,
by hand, to the nearest eighth: black 9400 - 1463.675 = 7936.325 mm = 312.454 in = 26 ft 0 1/2; - 1463.675 = 6472.65 =
254.829 in = 21 ft 2 7/8; - 1390.65 = 5082 = 200.079 in = 16 ft 8 1/8. Red 9400 - 1489.075 = 7910.925 = 311.454 in = 25
ft 11 1/2; - 1463.675 = 6447.25 = 253.829 in = 21 ft 1 7/8; - 1463.675 = 4983.575 = 196.203 in = 16 ft 4 1/4; - 307.975
= 4675.6 = 184.079 in = 15 ft 4 1/8; - 307.975 = 4367.625 = 171.954 in = 14 ft 4.

`python -m tests.sheets.test_whole_sheets` writes them anew; read the difference before it is kept.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from cutlist.plan_types import Plan
from cutlist.sheets.cut_sheet import cut_sheet_pdf
from cutlist.sheets.labels import labels_pdf
from cutlist.sheets.order_sheet import order_pdf
from cutlist.sheets.page import plan_html
from cutlist.sheets.summary import summary_text
from cutlist.sheets.tables_csv import cuts_csv, order_csv
from tests.sheets.sample import workshop_plan
from tests.sheets.test_cut_sheet import pages
from tests.sheets.test_page import read

GOLDEN = Path(__file__).parent / "golden"
MARK = "marked"  # the plan's own mark changes with every figure in plan.json
# where a new line of a sheet begins, however the lines in its cells are broken
BEGINS = re.compile(
    r" (?=▸ |from [15]|done (?:cut|no|at) |ordered what |Offcut |Stop mark|Cuts, in|Laying, in|Terminations|This plan "
    r"|Right is|Order list|Other ways|Total of|Two for each|– [15]|lug [15]|heat-shrink shrink|fuse bolt|cushion "
    r"|whole spools|70 mm2 instead|[1-8] (?:S\d|inverter) |(?:S\d \w+|inverter \w+)(?: [12])? [AB] [+−∘]"
    r"|(?:negative|positive) bus bar, stud \d M|S\d[ab] \w+ M\d|inverter \w+ M\d)"
)


def paper(pdf: bytes) -> str:
    """The words of each page, a line for each line of its tables."""
    told = (re.sub(r"\s+", " ", page).strip() for page in pages(pdf))
    return "\n\n".join(f"[page {n}]\n" + BEGINS.sub("\n", text) for n, text in enumerate(told, start=1)) + "\n"


def page_tables(html: str) -> str:
    """Each table of the page with its caption, cells apart by " | "."""
    tables = read(html).tables.items()
    return "\n".join(f"{caption}\n" + "".join(f"  {' | '.join(line)}\n" for line in lines) for caption, lines in tables)


def sheets(plan: Plan) -> dict[str, str]:
    return {
        "terminal.txt": summary_text(plan),
        "cut-sheet.txt": paper(cut_sheet_pdf(plan, MARK)),
        "labels.txt": paper(labels_pdf(plan, MARK)),
        "order.txt": paper(order_pdf(plan, MARK)),
        "cuts.csv": cuts_csv(plan).replace("\r\n", "\n"),
        "order.csv": order_csv(plan).replace("\r\n", "\n"),
        "page.txt": page_tables(plan_html(plan, MARK)),
    }


@pytest.mark.parametrize("units", ["mm", "in"])
def test_every_sheet_whole(units, plan, inch_plan):
    for name, text in sheets(plan if units == "mm" else inch_plan).items():
        assert text == (GOLDEN / units / name).read_text(encoding="utf-8"), name


if __name__ == "__main__":
    for units in ("mm", "in"):
        (GOLDEN / units).mkdir(parents=True, exist_ok=True)
        for name, text in sheets(workshop_plan(units=units)).items():
            (GOLDEN / units / name).write_text(text, encoding="utf-8")
