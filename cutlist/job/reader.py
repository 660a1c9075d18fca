"""A job file and the stock file it names become a `Job` and a `Stock`, or all their faults in one go."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from cutlist.bank.batteries import Terminal
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.electrics.power_loads import guessed_power
from cutlist.job.bank_rules import bank_faults
from cutlist.job.bar_rules import bar_faults
from cutlist.job.build_bank import Points, UnreadPoints, build_bank, terminal
from cutlist.job.build_job import build_colours, build_limits, build_policy, colour_faults
from cutlist.job.build_power import build_power
from cutlist.job.build_site import build_site
from cutlist.job.build_stock import build_stock
from cutlist.job.coordinate_scale import wrong_unit
from cutlist.job.face_room import flush_faults
from cutlist.job.faults import WHOLE_FILE, Fault, Mark, Page, in_line_order
from cutlist.job.files import read_page
from cutlist.job.fixed_bars import fixed_bar_faults
from cutlist.job.geometry_rules import geometry_faults
from cutlist.job.job_keys import COORDINATE_UNITS, JOB
from cutlist.job.lug_rules import lug_faults
from cutlist.job.nodes import Node, Scalar, Table, read_tree
from cutlist.job.points_file import read_points
from cutlist.job.records import Record, unique
from cutlist.job.stock_keys import STOCK
from cutlist.job.stud_rules import stud_faults


@dataclass(frozen=True)
class ReadStock:
    stock: Stock | None  # None: it has faults
    faults: tuple[Fault, ...]


@dataclass(frozen=True)
class ReadJob:
    job: Job | None  # None: it has faults
    stock: Stock | None
    faults: tuple[Fault, ...]  # of the job file in line order, then of the point file, then of the stock file
    stock_path: Path | None = None


def read_stock(path: Path) -> ReadStock:
    """A stock file by itself. Never raises for anything that can be in a file, or for a file that is none."""
    text, page = read_page(path, "stock file")
    record = None
    if text is not None:
        root = read_tree(text, page)
        if isinstance(root, Table) and "battery types" in root.entries:
            mark = root.entries["battery types"][0]
            page.fault(mark, "this is a job file, not a stock file", "name the stock file: stock: stock.yaml")
        elif root is not None:
            record = STOCK.read(root, page)
    stock = build_stock(record, page) if record is not None else None
    return ReadStock(None if page.faults else stock, in_line_order(page.faults))


def read_job(path: Path) -> ReadJob:
    """A job file and the files it names. Never raises for anything that can be in a file.

    All faults are found: of the text, of names and units, and of the rules that need no solving. What is read
    soundly is still checked when something else is not.
    """
    text, page = read_page(path, "job file")
    root = read_tree(text, page) if text is not None else None
    if root is None:
        return ReadJob(None, None, in_line_order(page.faults))
    if isinstance(root, Table) and "conductors" in root.entries and "batteries" not in root.entries:
        mark = root.entries["conductors"][0]
        page.fault(mark, "this is a stock file, not a job file", "name the job file: its stock file is read with it")
        return ReadJob(None, None, in_line_order(page.faults))
    page.coordinate_unit = _coordinate_unit(root)
    record = JOB.read(root, page)
    if record is None:
        return ReadJob(None, None, in_line_order(page.faults))
    stock_path, stock, stock_faults = _stock(record, path, page)
    if wrong_unit(record.marks.get("coordinates"), page):
        return ReadJob(None, None, (*in_line_order(page.faults), *stock_faults), stock_path)
    points, point_faults = _points(record, path.parent, page)
    job = _build(record, points, stock, page)
    faults = (*in_line_order(page.faults), *point_faults, *stock_faults)
    if job is not None and stock is not None and job.policy.objective is not None:
        # what the job asks for goes before what the stock file asks for
        least_waste = job.policy.objective == "least waste"
        stock = replace(stock, rules=replace(stock.rules, least_waste=least_waste))
    return ReadJob(None if faults else job, None if faults else stock, faults, stock_path)


def _build(record: Record, points: Points, stock: Stock | None, page: Page) -> Job | None:
    site = build_site(record["site"], page)
    bank = build_bank(record, points, site.marks, page)
    power = build_power(record, points, site, page)
    limits = build_limits(record["limits"])
    policy = build_policy(record["policy"], stock, page)
    colours = build_colours(record["colours"])
    if stock is not None:
        jumpers = any(string.jumpers for string in bank.strings)
        colour_faults(colours, jumpers, stock, record.at("colours" if record["colours"] else "stock"), page)
    geometry_faults(site, bank, power, stock, page)
    flush_faults(site, bank, power, stock, policy, page)
    fixed_bar_faults(site, power, stock, policy, page)
    # a stud for every later string, unless the job says how many are kept for them
    power.bars = [replace(b, reserved_studs=b.reserved_studs or policy.later_strings) for b in power.bars]
    bank_faults(site, bank, power, policy.later_strings, page)
    bar_faults(record, site, power, limits, policy, page)
    if stock is not None:
        stud_faults(bank, power, policy, stock, page)
        lug_faults(bank, power, policy, stock, page)
    if page.faults or limits is None:
        return None
    job = Job(
        name=record["name"],
        units=record.get("units", "mm"),
        ambient_c=float(record["ambient"]),
        rules=record["rules"],
        limits=limits,
        site=site.site,
        batteries=tuple(bank.batteries),
        strings=tuple(bank.strings),
        bus_bars=tuple(sorted(power.bars, key=lambda bar: bar.pole, reverse=True)),  # positive first
        loads=tuple(power.loads),
        feeders=tuple(power.feeders),
        devices=tuple(power.devices),
        policy=policy,
        colours=colours,
        notes=record.get("notes", ()),
        later=tuple(bank.later),
    )
    return guessed_power(job)


def _coordinate_unit(root: Node) -> str:
    """Read before everything else, since every coordinate depends on it; a wrong one is reported in its turn."""
    entry = root.entries.get("coordinates") if isinstance(root, Table) else None
    if entry is None:
        return ""
    unit = entry[1].text.strip() if isinstance(entry[1], Scalar) else ""
    # with a unit that is not known, bare numbers are not faults too
    return unit if unit in COORDINATE_UNITS else "mm"


def _points(record: Record, folder: Path, page: Page) -> tuple[Points, tuple[Fault, ...]]:
    points: dict[str, Terminal | None] = {}
    given: Record | None = record["points"]
    if given is None:
        return points if "points" not in record.marks else UnreadPoints(), ()
    faults: tuple[Fault, ...] = ()
    if given["file"] is not None:
        text, csv_page = read_page(folder / given["file"], "point file")
        found = read_points(csv_page) if text is not None else None
        points = UnreadPoints() if found is None else found
        if text is None and csv_page.faults:
            _lost(given.at("file"), csv_page.faults[0], page)
        else:
            faults = in_line_order(csv_page.faults)
    for name, item in unique(given.get("list", ()), "point", page).items():
        if dict.__contains__(points, name):
            page.fault(item.at("name"), f'point "{name}" is in the point file too', "keep one of them")
        points[name] = terminal(item, name, page)
    return points, faults


def _stock(record: Record, path: Path, page: Page) -> tuple[Path | None, Stock | None, tuple[Fault, ...]]:
    name = record["stock"]
    if name is None:
        return None, None, ()
    stock_path = path.parent / name
    if _same_file(stock_path, path):
        page.fault(
            record.at("stock"), "the job names itself as its stock file", "name the stock file: stock: stock.yaml"
        )
        return None, None, ()
    read = read_stock(stock_path)
    if read.stock is None and len(read.faults) == 1 and read.faults[0].line == WHOLE_FILE.line:
        # nothing in it could be read: the fault is best shown where the file is named
        _lost(record.at("stock"), read.faults[0], page)
        return stock_path, None, ()
    return stock_path, read.stock, read.faults


def _lost(mark: Mark, fault: Fault, page: Page) -> None:
    page.fault(mark, f"{fault.file}: {fault.message}", fault.mend)


def _same_file(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except (OSError, ValueError):
        return False
