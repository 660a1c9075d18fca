"""Lists of pieces from people who have lengths already, in CSV or YAML.

    name,conductor,colour,length mm,count,stud A,stud B
    S1 positive,50 mm2,red,2350,2,M8,M10

Needed: conductor, colour, length. `count` pieces are alike; with a stud at an end, lugs and heat-shrink are ordered.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from cutlist.bank.stock import Stock
from cutlist.job.csv_tables import Column, read_sheet
from cutlist.job.faults import WHOLE_FILE, Fault, Page, in_line_order, nearest, shown
from cutlist.job.files import read_page
from cutlist.job.job_keys import STUD
from cutlist.job.kinds import NAME, ListOf, Whole
from cutlist.job.nodes import Listing, read_tree
from cutlist.job.records import Key, Keys, Record, unique
from cutlist.job.stock_keys import POSITIVE_LENGTH
from cutlist.stock.cut_list import JobPieces
from cutlist.stock.cut_plan import Piece
from cutlist.stock.groups import serves
from cutlist.stock.order import CableEnd

MOST_PIECES = 20_000
PIECE = Keys(
    "a piece",
    (
        Key("name", NAME, "as it is tagged; else piece 1, piece 2, ..."),
        Key("conductor", NAME, "as the stock calls it", needed=True),
        Key("colour", NAME, "of the insulation", needed=True),
        Key("length", POSITIVE_LENGTH, "as it is marked and cut", needed=True),
        Key("count", Whole(1, MOST_PIECES), "how many alike; 1"),
        Key("stud A", STUD, "that its first lug goes on; left out: no lug"),
        Key("stud B", STUD, "that its second lug goes on; left out: no lug"),
    ),
)
PIECES = Keys(
    "a list of pieces",
    (
        Key("name", NAME, "of the job; else the file's"),
        Key("pieces", ListOf(PIECE, least=1, most=MOST_PIECES), "what is to be cut", needed=True),
    ),
)
COLUMNS = (
    Column("name", also=("piece", "tag")),
    Column("conductor", needed=True, also=("size",)),
    Column("colour", needed=True, also=("color",)),
    Column("length", needed=True, length=True, also=("cut length",)),
    Column("count", also=("quantity", "qty", "number")),
    Column("stud A"),
    Column("stud B"),
)


@dataclass(frozen=True)
class ReadPieces:
    job: JobPieces | None  # None: it has faults
    faults: tuple[Fault, ...]


def read_pieces(path: Path, stock: Stock | None) -> ReadPieces:
    """A list of pieces. Never raises for anything that can be in a file.

    With a stock given, a conductor or colour that is not in it is a fault.
    """
    text, page = read_page(path, "list of pieces")
    if text is None:
        return ReadPieces(None, in_line_order(page.faults))
    name = path.stem
    if is_table(path, text):
        sheet = read_sheet(page, COLUMNS, "a list of pieces")
        records = None if sheet is None else _records(Listing(sheet.rows, WHOLE_FILE), page)
    else:
        root = read_tree(text, page)
        if isinstance(root, Listing):
            records = _records(root, page)
        else:
            whole = PIECES.read(root, page) if root is not None else None
            records = whole.get("pieces", ()) if whole is not None else None
            name = whole.get("name", name) if whole is not None else name
    if records is None:
        return ReadPieces(None, in_line_order(page.faults))
    unique(tuple(r for r in records if r["name"] is not None), "piece", page)
    if stock is not None:
        _stock_faults(records, stock, page)
    pieces, ends = _built([r for r in records if r.sound], page)
    if page.faults:
        return ReadPieces(None, in_line_order(page.faults))
    return ReadPieces(JobPieces(name, pieces, ends), ())


def is_table(path: Path, text: str) -> bool:
    """Whether this is CSV and not YAML: by the file's name, else by its first line."""
    if path.suffix.casefold() in (".csv", ".tsv"):
        return True
    if path.suffix.casefold() in (".yaml", ".yml", ".json"):
        return False
    head = text.lstrip().splitlines()[0]
    return ":" not in head and not head.startswith(("-", "{", "["))


def _records(rows: Listing, page: Page) -> tuple[Record, ...] | None:
    found: tuple[Record, ...] | None = ListOf(PIECE, least=1, most=MOST_PIECES).read(rows, page)
    return found


def _stock_faults(records: tuple[Record, ...], stock: Stock, page: Page) -> None:
    there = {(c.conductor, c.colour) for c in stock.cables}
    for record in records:
        conductor, colour = record["conductor"], record["colour"]
        if conductor is None or colour is None or _served(conductor, colour, stock):
            continue
        if conductor not in {c for c, _ in there}:
            message = f"there is no conductor {shown(conductor)} in the stock"
            page.fault(record.at("conductor"), message, nearest(conductor, {c for c, _ in there}, "conductors"))
        else:
            colours = {k for c, k in there if c == conductor}
            message = f"there is no {shown(colour)} {conductor} in the stock"
            page.fault(record.at("colour"), message, nearest(colour, colours, f"colours of {conductor}"))


def _served(conductor: str, colour: str, stock: Stock) -> bool:
    known = any(c.name == conductor for c in stock.conductors)
    return any(
        (c.conductor, c.colour) == (conductor, colour) or (known and serves(stock, c, conductor, colour))
        for c in stock.cables
    )


def _built(records: list[Record], page: Page) -> tuple[tuple[Piece, ...], tuple[CableEnd, ...]]:
    pieces: list[Piece] = []
    ends: list[CableEnd] = []
    lines: dict[str, int] = {}
    if sum(r.get("count", 1) for r in records) > MOST_PIECES:
        page.fault(WHOLE_FILE, f"more than {MOST_PIECES} pieces in all", "divide the list")
        return (), ()
    for number, record in enumerate(records, start=1):
        # up: a piece cut short is scrap
        length_um = math.ceil(record["length"] * 1_000_000)
        for name in _names(record, number):
            if name.casefold() in lines:
                page.fault(
                    record.at("name"),
                    f"piece {shown(name)} has the name of another, in line {lines[name.casefold()]}",
                    "give each a name of its own; those of a count are called 1, 2, ...",
                )
                continue
            lines[name.casefold()] = record.at("name").line
            pieces.append(Piece(name, record["conductor"], record["colour"], length_um))
            ends += [
                CableEnd(f"{name}, end {side}", name, record[f"stud {side}"])
                for side in "AB"
                if record[f"stud {side}"] is not None
            ]
    return tuple(pieces), tuple(ends)


def _names(record: Record, number: int) -> Iterator[str]:
    name = record.get("name", f"piece {number}")
    count = record.get("count", 1)
    if count == 1:
        yield name
    else:
        yield from (f"{name} {i}" for i in range(1, count + 1))
