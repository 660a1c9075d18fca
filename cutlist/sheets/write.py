"""The complete set of sheets, written to a folder as one."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from cutlist.plan_types import Plan
from cutlist.sheets.cut_list import cut_list_csv, cut_list_pdf
from cutlist.sheets.cut_sheet import cut_sheet_pdf
from cutlist.sheets.labels import labels_pdf
from cutlist.sheets.order_sheet import order_pdf
from cutlist.sheets.page import plan_html
from cutlist.sheets.plan_json import cuts_text, mark_of, plan_text
from cutlist.sheets.swap import swap_in
from cutlist.sheets.tables_csv import cuts_csv, order_csv
from cutlist.sheets.workbook import order_xlsx
from cutlist.stock.cut_list import CutList


def sheet_set(plan: Plan) -> dict[str, bytes]:
    """Every sheet by its file name. The same plan gives the same bytes."""
    text = plan_text(plan)
    mark = mark_of(text)
    with ThreadPoolExecutor(1) as beside:  # pages are printed by a library that leaves this thread alone meanwhile
        printed = [beside.submit(pdf, plan, mark) for pdf in (cut_sheet_pdf, labels_pdf, order_pdf)]
        page, workbook = plan_html(plan, mark), order_xlsx(plan)
        cut_sheet, labels, order = (sheet.result() for sheet in printed)
    return {
        "plan.json": text.encode(),
        "cut-sheet.pdf": cut_sheet,
        "labels.pdf": labels,
        "cuts.csv": cuts_csv(plan).encode(),
        "order.pdf": order,
        "order.xlsx": workbook,
        "order.csv": order_csv(plan).encode(),
        "plan.html": page.encode(),
    }


def write_set(plan: Plan, folder: Path) -> tuple[str, ...]:
    """Write all sheets into the folder, replacing an old set only as a whole; the names of the files.

    All sheets are made before the first is written. Raises OSError with the file and the folder in words when it
    cannot write: the old set is then untouched.
    """
    files = sheet_set(plan)
    swap_in(files, folder)
    return tuple(files)


def write_drawings(plan: Plan, folder: Path) -> tuple[str, ...]:
    """Write the drawings for other programs into the folder, as write_set does; the names of the files."""
    from cutlist.sheets.dxf import plan_dxf
    from cutlist.sheets.view_files import view_files

    files = {"drawing.dxf": plan_dxf(plan).encode()}
    files |= {name: text.encode() for name, text in view_files(plan).items()}
    swap_in(files, folder)
    return tuple(files)


def write_cuts(cuts: CutList, folder: Path) -> tuple[str, ...]:
    """Write the papers of a cut list into the folder, as write_set does; the names of the files."""
    text = cuts_text(cuts)
    mark = mark_of(text)
    files = {
        "cuts.json": text.encode(),
        "cut-sheet.pdf": cut_list_pdf(cuts, mark),
        "cuts.csv": cut_list_csv(cuts).encode(),
        "order.pdf": order_pdf(cuts, mark),
        "order.xlsx": order_xlsx(cuts),
        "order.csv": order_csv(cuts).encode(),
    }
    swap_in(files, folder)
    return tuple(files)
