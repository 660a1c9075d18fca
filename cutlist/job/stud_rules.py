"""Whether the studs of a bus bar go with the lugs in stock: of unlike studs not every one takes every lug."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

from cutlist.bank.bus_bars import BusBar
from cutlist.bank.job import Policy
from cutlist.bank.stock import Stock
from cutlist.job.build_bank import BankPart
from cutlist.job.build_power import PowerPart
from cutlist.job.faults import Page, shown
from cutlist.layout.stud_fits import BarFit, fit_on, studs_for
from cutlist.layout.studs import studs_text

Pair = tuple[str, str]  # conductors of leads, of feeders
MOST_STACKED = 4  # lugs on one stud: more is against common practice, no published source


def stud_faults(bank: BankPart, power: PowerPart, policy: Policy, stock: Stock, page: Page) -> None:
    """A bar on which the leads and feeders find no studs whichever conductors are taken.

    What finds no lug in stock for any stud of a bar is told of with the sizes of conductors.
    """
    leads = len(bank.string_marks)
    lead_names, feeder_names = (
        [c.name for c in stock.conductors if not names or c.name in names]
        for names in (policy.conductors_lead, policy.conductors_feeder)
    )
    pairs: set[Pair] = set(product(lead_names, feeder_names))
    left = pairs
    for bar in (bar for bar in power.bars if bar.unlike and pairs):
        asked = _Asked(bar, leads, sum(("bus bar", bar.name) in (f.start, f.finish) for f in power.feeders))
        if (bar.studs - bar.reserved_studs) * bar.stack_limit < asked.leads + asked.feeders:
            continue  # too few studs of any thread: told already
        good = {pair for pair in pairs if asked.lugs_needed(stock, pair) is not None}
        if not good:
            page.fault(power.stud_marks[bar.name], *_too_few(asked, stock, sorted(pairs)))
        elif not good & left:
            page.fault(
                power.stud_marks[bar.name],
                f"bus bar {shown(bar.name)}: the conductors whose lugs find studs on it find none on the other bus bar",
                "list lugs for the studs of both bus bars in the stock file",
            )
        left = left & good or left


@dataclass(frozen=True)
class _Asked:
    bar: BusBar
    leads: int
    feeders: int

    def fit(self, stock: Stock, pair: Pair) -> BarFit:
        return fit_on(self.bar, studs_for(stock, self.bar, pair[0]), studs_for(stock, self.bar, pair[1]))

    def lugs_needed(self, stock: Stock, pair: Pair) -> int | None:
        return self.fit(stock, pair).lugs_needed(self.leads, self.feeders, 1, self.bar.stack_limit)


def _too_few(asked: _Asked, stock: Stock, pairs: list[Pair]) -> tuple[str, str]:
    """What is short with the conductors that come nearest, and how to mend it."""
    _, words, mend = min((_shortage(asked, stock, pair) for pair in pairs), key=lambda short: short[0])
    return f"bus bar {shown(asked.bar.name)}: {words}", mend


def _shortage(asked: _Asked, stock: Stock, pair: Pair) -> tuple[int, str, str]:
    """With the studs in use that suit best: how many ends find no room, which they are, and how to mend it."""
    bar, fit = asked.bar, asked.fit(stock, pair)
    found = []
    for first in range(bar.reserved_studs + 1):
        used = frozenset(range(first, first + bar.studs - bar.reserved_studs))
        kept = frozenset(range(bar.studs)) - used - fit.leads
        if kept:
            words = f"{studs_text(sorted(kept))}, to be kept for later strings, would take no lug of a lead ({pair[0]})"
            mend = "end the row with studs that take the leads' lugs, or list lugs for them in the stock file"
            found.append((bar.studs * bar.stack_limit + len(kept), words, mend))
            continue
        for count, what, name, on in (
            (asked.leads, "lead", pair[0], used & fit.leads),
            (asked.feeders, "feeder", pair[1], used & fit.feeders),
            (asked.leads + asked.feeders, "lead and feeder", " and ".join(dict.fromkeys(pair)), used),
        ):
            short = count - bar.stack_limit * len(on & (fit.leads | fit.feeders))
            if short > 0:
                found.append((short, *_short_of(bar, count, what, name, sorted(on & (fit.leads | fit.feeders)))))
                break
    return min(found, key=lambda short: short[0])


def _short_of(bar: BusBar, count: int, what: str, conductor: str, on: list[int]) -> tuple[str, str]:
    limit = bar.stack_limit
    ends = f"{what.replace(' and ', 's and ')}{'s' if count != 1 else ''}"
    threads = list(dict.fromkeys(bar.threads[stud] for stud in on))
    others = [thread for thread in dict.fromkeys(bar.threads) if thread not in threads]
    lugs = f"{limit} lug{'s' if limit != 1 else ''}"
    holds = f"which holds {lugs}" if len(on) == 1 else f"which hold {lugs} each"
    kept = f", {bar.reserved_studs} kept for later strings" if bar.reserved_studs else ""
    words = f"{count} {ends} ({conductor}) go only on {studs_text(on)} ({' and '.join(threads)}), {holds}{kept}"
    mends = [f"make {-(-count // limit)} studs {threads[0]}"] if threads else []
    if on and count <= MOST_STACKED * len(on):
        mends.append(f"allow lugs per stud: {-(-count // len(on))}")
    if others:
        mends.append(f"list a lug for {conductor} on {' or '.join(others)} in the stock file")
    return words, ", or ".join(mends)
