"""plan.json and cuts.json read again: to pool jobs, to cut the rest anew, to take a plan's cable from the stock."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

from cutlist.bank.stock import Stock
from cutlist.job.faults import WHOLE_FILE, Fault, Page, page_of
from cutlist.job.plain_json import Wrong, built
from cutlist.stock.cut_list import CutList, JobPieces
from cutlist.stock.cut_plan import CutPlan, Piece, SpoolUse
from cutlist.stock.list_check import faults_in_list
from cutlist.stock.order import CableEnd, FuseUse, Order, OrderLine, SundryUse

LARGEST_BYTES = 50_000_000
PLAN_FORMAT = "evenlead plan 1"
CUTS_FORMAT = "evenlead cuts 1"
NOT_IN_STOCK = " (not in the stock file)"


@dataclass(frozen=True)
class ReadCuts:
    cuts: CutList | None  # None: it has faults
    faults: tuple[Fault, ...]


@dataclass(frozen=True)
class _End:
    at: str
    stud: str


@dataclass(frozen=True)
class _Cut:
    name: str
    length_um: int


@dataclass(frozen=True)
class _Cable:
    """What of a planned cable bears on cutting."""

    name: str
    string: str
    conductor: str
    colour: str
    start: _End
    finish: _End
    cuts: tuple[_Cut, ...]


@dataclass(frozen=True)
class _Fuse:
    stud: str


@dataclass(frozen=True)
class _Share:
    string: str
    fuse: _Fuse | None


def read_cuts(path: Path) -> ReadCuts:
    """A plan.json or cuts.json. Never raises for anything that can be in a file."""
    page = page_of(path.name, "")
    document = _document(path, page)
    cuts = None
    if document is not None:
        try:
            cuts = cut_list_of(document)
        except Wrong as wrong:
            page.fault(WHOLE_FILE, str(wrong), "it is not as evenlead wrote it: make the plan again")
        else:
            for sentence in faults_in_list(cuts):
                page.fault(WHOLE_FILE, sentence, "it is not as evenlead wrote it: make the plan again")
    return ReadCuts(None if page.faults else cuts, tuple(page.faults))


def cut_list_of(document: dict[str, Any]) -> CutList:
    """The cut list in a document of either form. Raises Wrong."""
    stock: Stock = built(Stock, document.get("stock"), "stock")
    raw_plan = document.get("cut_plan")
    spools = built(tuple[SpoolUse, ...], raw_plan.get("spools") if isinstance(raw_plan, dict) else None, "cut_plan")
    # the groups with their proofs stay behind: they are of the day the plan was made
    plan = CutPlan(stock.currency, spools, ())
    order: Order = built(Order, document.get("order"), "order")
    if document.get("format") == CUTS_FORMAT:
        return CutList(
            built(str, document.get("name"), "name"),
            built(str, document.get("units"), "units"),
            built(tuple[JobPieces, ...], document.get("jobs"), "jobs"),
            stock,
            plan,
            order,
            built(tuple[str, ...], document.get("done"), "done"),
            built(tuple[str, ...], document.get("miscut"), "miscut"),
        )
    job = document.get("job") if isinstance(document.get("job"), dict) else {}
    assert isinstance(job, dict)
    name = built(str, job.get("name"), "job.name")
    return CutList(name, built(str, job.get("units"), "job.units"), (_job(name, document, order),), stock, plan, order)


def _job(name: str, document: dict[str, Any], order: Order) -> JobPieces:
    cables: tuple[_Cable, ...] = built(tuple[_Cable, ...], document.get("cables"), "cables")
    shares: tuple[_Share, ...] = built(tuple[_Share, ...], document.get("shares"), "shares")
    holders = {s.string: s.fuse.stud for s in shares if s.fuse is not None}
    pieces = tuple(Piece(cut.name, c.conductor, c.colour, cut.length_um) for c in cables for cut in c.cuts)
    ends = []
    for c in cables:
        ends.append(CableEnd(f"{c.name}, {c.start.at}", c.cuts[0].name, c.start.stud))
        if len(c.cuts) > 1 and c.string in holders:
            ends += [CableEnd(f"{c.name}, fuse holder, piece {x.name}", x.name, holders[c.string]) for x in c.cuts]
        ends.append(CableEnd(f"{c.name}, {c.finish.at}", c.cuts[-1].name, c.finish.stud))
    fuses = tuple(use for line in order.lines if line.kind == "fuse" for use in _fuses(line))
    sundries = tuple(
        SundryUse(name, line.description.removesuffix(NOT_IN_STOCK), line.needed)
        for line in order.lines
        if line.kind == "sundry"
    )
    return JobPieces(name, pieces, tuple(ends), fuses, sundries)


def _fuses(line: OrderLine) -> tuple[FuseUse, ...]:
    """As many uses as the line counts, spares among them."""
    found = re.fullmatch(r"fuse (.+) ([0-9.e+]+) A", line.description.removesuffix(NOT_IN_STOCK))
    if found is None:
        raise Wrong("order", f'"{line.description}" is no fuse')
    names = [why for why in line.why if not re.fullmatch(r"spare|\d+ spares", why)]
    names += ["spare"] * (line.needed - len(names))
    return tuple(FuseUse(name, found[1], float(Decimal(found[2]))) for name in names)


def _document(path: Path, page: Page) -> dict[str, Any] | None:
    try:
        if not path.is_file():
            page.fault(WHOLE_FILE, "there is no such plan", f"looked for it in {path.parent}: name its plan.json")
            return None
        if path.stat().st_size > LARGEST_BYTES:
            page.fault(WHOLE_FILE, f"a plan above {LARGEST_BYTES / 1e6:g} MB is not read", "look at what fills it")
            return None
        document = json.loads(path.read_bytes())
    except OSError as fault:
        page.fault(WHOLE_FILE, f"it cannot be read: {fault.strerror}", "look at its name and its permissions")
        return None
    except (ValueError, RecursionError) as fault:
        page.fault(WHOLE_FILE, f"this is not JSON: {fault}", "name the plan.json or cuts.json that evenlead wrote")
        return None
    if not isinstance(document, dict) or document.get("format") not in (PLAN_FORMAT, CUTS_FORMAT):
        page.fault(
            WHOLE_FILE,
            f'this is no plan: its "format" is neither "{PLAN_FORMAT}" nor "{CUTS_FORMAT}"',
            "name the plan.json that `evenlead plan` wrote, or the cuts.json of `evenlead cut`",
        )
        return None
    return document
