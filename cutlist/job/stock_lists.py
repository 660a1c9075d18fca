"""Stock for cutting alone: a stock file, with or without its conductors, or a plain list in CSV.

    kind,conductor,colour,label,length mm,price kr,available,least mm,longest mm,book value
    remnant,50 mm2,red,R1,3400,,,,,
    spool,50 mm2,red,25 m spool,25000,287.50,4,,,
    by length,50 mm2,red,red by the metre,1000,13.80,,1000,20000,

Needed: kind, conductor, colour, label, length; of cable by length the length is the increment, and the price that of
one increment. What such a list cannot say, how cable is cut, comes from the command's options.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from cutlist.bank.stock import CuttingRules, Stock
from cutlist.job.build_stock import build_stock
from cutlist.job.csv_tables import Column, Sheet, read_sheet
from cutlist.job.faults import WHOLE_FILE, Fault, Mark, Page, in_line_order, shown
from cutlist.job.files import read_page
from cutlist.job.kinds import Choice
from cutlist.job.nodes import Listing, Node, Scalar, Table, read_tree
from cutlist.job.piece_lists import is_table
from cutlist.job.reader import ReadStock
from cutlist.job.stock_keys import STOCK_LIST
from cutlist.job.units import LENGTH, Unreadable, quantity

KINDS = {"remnant": "remnants", "spool": "spools", "by length": "by length"}
COLUMNS = (
    Column("kind", needed=True),
    Column("conductor", needed=True, also=("size",)),
    Column("colour", needed=True, also=("color",)),
    Column("label", needed=True, also=("name",)),
    Column("length", needed=True, length=True, also=("increment",)),
    Column("price", figure=True),
    Column("available", also=("quantity", "count")),
    Column("book value", figure=True),
    Column("least", length=True),
    Column("longest", length=True),
)


def read_stock_list(path: Path) -> ReadStock:
    """Stock to cut from. Never raises for anything that can be in a file."""
    text, page = read_page(path, "stock list")
    if text is None:
        return ReadStock(None, in_line_order(page.faults))
    root: Node | None
    if is_table(path, text):
        sheet = read_sheet(page, COLUMNS, "a stock list")
        root = None if sheet is None else _as_file(sheet, page)
    else:
        root = read_tree(text, page)
        for key, what in (("batteries", "a job file"), ("pieces", "a list of pieces")):
            if isinstance(root, Table) and key in root.entries and not page.faults:
                page.fault(
                    root.entries[key][0],
                    f"this is {what}, not stock",
                    "give the stock last: evenlead cut PIECES STOCK; or with --stock, to pool several jobs",
                )
                root = None
                break
    record = STOCK_LIST.read(root, page) if root is not None else None
    stock = build_stock(record, page) if record is not None else None
    if record is not None and stock is not None and stock.rules.larger_conductor_allowed and not stock.conductors:
        page.fault(
            record["cutting"].at("larger conductor"),
            "which conductor is larger is not known: the file has no conductors",
            "list them, with their sizes, under conductors",
        )
    return ReadStock(None if page.faults else stock, in_line_order(page.faults))


def _as_file(sheet: Sheet, page: Page) -> Table:
    """The rows as they would stand in a stock file."""
    cables: dict[tuple[str, str], dict[str, tuple[Mark, Node]]] = {}
    for row in sheet.rows:
        cells = dict(row.entries)
        lacking = [name for name in ("kind", "conductor", "colour") if name not in cells]
        if lacking:
            page.fault(row.mark, f"this row has no {' and no '.join(lacking)}", f"write the {lacking[0]}")
            continue
        kind = Choice(tuple(KINDS)).read(cells.pop("kind")[1], page)
        if kind is None:
            continue
        conductor, colour = cells.pop("conductor"), cells.pop("colour")
        if kind == "by length" and "length" in cells:
            cells["increment"] = cells.pop("length")
        key = (_text(conductor[1]), _text(colour[1]))
        cable = cables.setdefault(key, {"conductor": conductor, "colour": colour})
        mark, before = cable.get(KINDS[kind], (row.mark, Listing((), row.mark)))
        assert isinstance(before, Listing)
        cable[KINDS[kind]] = (mark, Listing((*before.items, Table(cells, row.mark)), mark))
    top = Mark(1, 1, 1000)
    entries: dict[str, tuple[Mark, Node]] = {
        "cable": (top, Listing(tuple(Table(c, c["conductor"][0]) for c in cables.values()), top))
    }
    currency = sheet.tails.get("price") or sheet.tails.get("book value")
    if currency is not None:
        entries["currency"] = (top, Scalar(currency[0], currency[1]))
    elif any("price" in row.entries for row in sheet.rows):
        page.fault(WHOLE_FILE, "there are prices, but no currency", "write it in the head of the column: price kr")
        entries["currency"] = (top, Scalar("?", top))
    return Table(entries, top)


def _text(node: Node) -> str:
    return node.text if isinstance(node, Scalar) else ""


def cutting_rules(stock: Stock | None, told: Mapping[str, str | None]) -> tuple[CuttingRules, list[Fault]]:
    """The stock's rules with what the command was told put over them. `told`: --kerf, --end-trim, --keep-above."""
    rules = stock.rules if stock is not None else CuttingRules()
    faults = []
    lengths: dict[str, int] = {}
    for option, text in told.items():
        if text is None:
            continue
        try:
            length_um = math.ceil(quantity(text, LENGTH) * 1_000_000)
        except Unreadable as fault:
            faults.append(Fault(option, 0, 0, fault.message, fault.mend))
            continue
        if length_um < 0:
            faults.append(Fault(option, 0, 0, f"{shown(text)} is negative", "look for a sign that slipped"))
        else:
            lengths[option] = length_um
    rules = replace(
        rules,
        kerf_um=lengths.get("--kerf", rules.kerf_um),
        end_trim_um=lengths.get("--end-trim", rules.end_trim_um),
        keep_above_um=lengths.get("--keep-above", rules.keep_above_um),
    )
    return rules, faults
