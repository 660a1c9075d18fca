"""What cables cost, near enough to compare: metres at stock's best price, and lugs. Cuts are planned elsewhere."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from cutlist.bank.job import Job
from cutlist.bank.stock import CableStock, Stock
from cutlist.electrics.network import Node
from cutlist.electrics.quick_bank import Combination
from cutlist.electrics.wiring import CableSpec


def colour_of(job: Job, cable: CableSpec) -> str:
    if cable.kind == "jumper":
        return job.colours.link
    return job.colours.positive if cable.pole == "positive" else job.colours.negative


Studs = tuple[str, ...]  # threads that one cable end may go on


@dataclass(frozen=True)
class Amounts:
    """What each kind of cable needs, whatever its conductor: metres by colour, cable ends by the studs for them."""

    metres: dict[str, dict[str, float]]
    ends: dict[str, dict[Studs, int]]


def amounts_of(job: Job, cables: Sequence[CableSpec]) -> Amounts:
    metres: dict[str, dict[str, float]] = {}
    ends: dict[str, dict[Studs, int]] = {}
    for cable in cables:
        by_colour, by_stud = metres.setdefault(cable.kind, {}), ends.setdefault(cable.kind, {})
        colour = colour_of(job, cable)
        by_colour[colour] = by_colour.get(colour, 0.0) + cable.length_m
        for node in (cable.start, cable.finish):
            studs = studs_at(job, node)
            if studs:
                by_stud[studs] = by_stud.get(studs, 0) + 1
    return Amounts(metres, ends)


def estimated_cost(stock: Stock, amounts: Amounts, combination: Combination) -> Decimal | None:
    """Metres to buy at the best price per metre, and lugs: what is on hand is taken off. Cuts are not planned here.

    None if a price or the cable itself is missing.
    """
    metres: dict[tuple[str, str], float] = {}
    ends: dict[tuple[str, str], int] = {}
    for kind in combination.kinds:
        name, count = combination.conductor(kind).name, combination.count(kind)
        for colour, wanted_m in amounts.metres.get(kind, {}).items():
            metres[(name, colour)] = metres.get((name, colour), 0.0) + wanted_m * count
        for studs, number in amounts.ends.get(kind, {}).items():
            stud = stud_for(stock, name, studs)
            ends[(name, stud)] = ends.get((name, stud), 0) + number * count
    return _total(stock, metres, ends)


def cost_of_cables(job: Job, stock: Stock, cables: Sequence[CableSpec]) -> Decimal | None:
    """The same estimate for cables with conductors of their own."""
    metres: dict[tuple[str, str], float] = {}
    ends: dict[tuple[str, str], int] = {}
    for cable in cables:
        key = (cable.conductor.name, colour_of(job, cable))
        metres[key] = metres.get(key, 0.0) + cable.length_m * cable.paralleled
        for node in (cable.start, cable.finish):
            studs = studs_at(job, node)
            if studs:
                stud = stud_for(stock, cable.conductor.name, studs)
                ends[(cable.conductor.name, stud)] = ends.get((cable.conductor.name, stud), 0) + cable.paralleled
    return _total(stock, metres, ends)


def _total(
    stock: Stock, metres: Mapping[tuple[str, str], float], ends: Mapping[tuple[str, str], int]
) -> Decimal | None:
    total = Decimal(0)
    for (name, colour), wanted_m in metres.items():
        held = stock.cable(name, colour)
        if held is None:
            return None
        short_m = wanted_m - sum(r.length_um for r in held.remnants) / 1e6
        if short_m > 0:
            per_m = price_per_m(held)
            if per_m is None:
                return None
            total += Decimal(str(round(short_m, 6))) * per_m
    for (name, stud), number in ends.items():
        lug = stock.lug(name, stud)
        if lug is not None and lug.price is not None:
            total += lug.price * max(0, number - lug.on_hand)
    return total


def price_per_m(held: CableStock) -> Decimal | None:
    """The best price of one metre, by spool or by length; None if nothing is priced."""
    spools = [s.price * 1_000_000 / s.length_um for s in held.spools if s.price is not None]
    lengths = [b.price * 1_000_000 / b.increment_um for b in held.by_length if b.price is not None]
    return min([*spools, *lengths], default=None)


def stud_for(stock: Stock, conductor: str, studs: Studs) -> str:
    """Of the studs that a cable end may go on the first that a lug is listed for; the first where none is."""
    return next((stud for stud in studs if stock.lug(conductor, stud) is not None), studs[0])


def studs_at(job: Job, node: Node) -> Studs:
    """The stud a cable end goes on: ("M10",); none where it is a fuse's own.

    Of a bus bar with unlike studs every thread there is, that of its own stud first: which stud a lug goes on is
    settled with its conductor.
    """
    if isinstance(node, tuple) and node[0] == "stud":
        threads = next(b.threads for b in job.bus_bars if b.name == node[1])
        return tuple(dict.fromkeys((threads[node[2]], *threads)))
    stud = _own_stud(job, node)
    return (stud,) if stud else ()


def _own_stud(job: Job, node: Node) -> str:
    if isinstance(node, str):
        for battery in job.batteries:
            for terminal in (battery.positive, battery.negative):
                if terminal.name == node:
                    return terminal.stud
    elif isinstance(node, tuple):
        kind, name = node[0], node[1]
        for device in job.devices:
            if (kind, name) == ("device source side", device.name):
                return device.source_side.stud
            if (kind, name) == ("device load side", device.name):
                return device.load_side.stud
        for load in job.loads:
            if (kind, name) == ("load positive", load.name):
                return load.positive.stud
            if (kind, name) == ("load negative", load.name):
                return load.negative.stud
    return ""
