"""Whether lugs are listed for the studs that cables end on, where stock leaves only one conductor for these cables."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cutlist.bank.batteries import Terminal
from cutlist.bank.job import Policy
from cutlist.bank.stock import Stock
from cutlist.job.build_bank import BankPart
from cutlist.job.build_power import PowerPart
from cutlist.job.faults import Mark, Page, shown

End = tuple[str, tuple[str, ...], Mark]  # what it is, the threads of its studs


def lug_faults(bank: BankPart, power: PowerPart, policy: Policy, stock: Stock, page: Page) -> None:
    """Where there is a choice of conductors the plan tells; where no lugs are listed at all they are not known."""
    if not stock.lugs:
        return
    kinds = (
        ("lead", policy.conductors_lead, _lead_ends(bank, power)),
        ("jumper", policy.conductors_jumper, _jumper_ends(bank)),
        ("feeder", policy.conductors_feeder, _feeder_ends(power)),
    )
    told: set[tuple[str, tuple[str, ...], int]] = set()
    for kind, allowed, ends in kinds:
        names = [c.name for c in stock.conductors if not allowed or c.name in allowed]
        if len(names) != 1:
            continue
        for what, threads, mark in ends:
            about = (names[0], threads, mark.line)
            if about in told or any(stock.lug(names[0], thread) is not None for thread in threads):
                continue
            told.add(about)
            studs = " or ".join(dict.fromkeys(threads))
            page.fault(
                mark,
                f"a {kind} ends on {what}, and the stock file lists no lug for {names[0]} on {studs}; it can be of no "
                "other conductor",
                f"list a lug for {names[0]} on {studs}, or give it a stud for which one is listed"
                f"{_listed(stock, names[0])}",
            )


def _listed(stock: Stock, conductor: str) -> str:
    studs = sorted({lug.stud for lug in stock.lugs if lug.conductor == conductor})
    return f" ({', '.join(studs)})" if studs else ""


def _of(terminal: Terminal, mark: Mark) -> End:
    return f"terminal {shown(terminal.name)}", (terminal.stud,), mark


def _bars(power: PowerPart, names: Sequence[str] | None = None) -> Iterator[End]:
    for bar in power.bars:
        if names is None or bar.name in names:
            yield f"bus bar {shown(bar.name)}", bar.threads, power.stud_marks[bar.name]


def _lead_ends(bank: BankPart, power: PowerPart) -> Iterator[End]:
    yield from _bars(power)
    for string in bank.strings:
        yield _of(string.positive, bank.marks[string.batteries[0].name])
        yield _of(string.negative, bank.marks[string.batteries[-1].name])


def _jumper_ends(bank: BankPart) -> Iterator[End]:
    for string in bank.strings:
        for one, other in zip(string.batteries, string.batteries[1:], strict=False):
            yield _of(one.negative, bank.marks[one.name])
            yield _of(other.positive, bank.marks[other.name])


def _feeder_ends(power: PowerPart) -> Iterator[End]:
    used = {end for feeder in power.feeders for end in (feeder.start, feeder.finish)}
    yield from _bars(power, [name for kind, name in used if kind == "bus bar"])
    for device in power.devices:
        for kind, side in (("device source side", device.source_side), ("device load side", device.load_side)):
            if (kind, device.name) in used:
                yield _of(side, power.device_marks[device.name])
    for load in power.loads:
        for kind, pole in (("load positive", load.positive), ("load negative", load.negative)):
            if (kind, load.name) in used:
                yield _of(pole, power.load_marks[load.name])
