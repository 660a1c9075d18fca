"""Which studs of a bus bar with unlike studs take which lugs, and whether there are enough of each.

A cable end sits only on a stud for which a lug of its conductor is listed. Which studs those are hangs on the
conductors chosen: a question of places is therefore asked once for each group of conductors whose lugs go on the same
studs.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from cutlist.bank.bus_bars import BusBar
from cutlist.bank.stock import Stock
from cutlist.layout.place_problem import BarRow, ConductorChoice, PlaceProblem

Taking = tuple[int, ...] | None  # studs counted from 0 along the whole bar; None: any of them
POLES = ("positive", "negative")


def studs_for(stock: Stock, bar: BusBar, conductor: str) -> Taking:
    """The studs on which this conductor's lugs go."""
    return bar.studs_taking(stock.threads_of(conductor))


@dataclass(frozen=True)
class BarFit:
    """What the studs of a bar take, its conductors chosen. Studs are counted from 0 along the whole bar."""

    studs: int
    reserved: int  # at the ends of the row, kept free for later strings: each takes the lug of a lead
    leads: frozenset[int]
    feeders: frozenset[int]

    def firsts(self, leads: int, feeders: int, lugs_per_stud: int) -> tuple[int, ...]:
        """The first stud in use of every stretch of studs that holds so many leads and feeders.

        Each kind needs room on the studs that take it, and both together on the studs that take either: with two kinds
        that is enough (Hall's theorem).
        """
        found = []
        for first in range(self.reserved + 1):
            used = frozenset(range(first, first + self.studs - self.reserved))
            if not frozenset(range(self.studs)) - used <= self.leads:
                continue
            on = (used & self.leads, used & self.feeders) if feeders else (used & self.leads, frozenset())
            room = [lugs_per_stud * len(some) for some in (on[0], on[1], on[0] | on[1])]
            if leads <= room[0] and feeders <= room[1] and leads + feeders <= room[2]:
                found.append(first)
        return tuple(found)

    def lugs_needed(self, leads: int, feeders: int, least: int, most: int) -> int | None:
        """The fewest lugs on one stud, from `least` to `most`, with which all find room; None: not even with `most`."""
        return next((n for n in range(least, most + 1) if self.firsts(leads, feeders, n)), None)


def fit_on(bar: BusBar, leads: Taking, feeders: Taking) -> BarFit:
    return BarFit(bar.studs, bar.reserved_studs, _all(leads, bar.studs), _all(feeders, bar.studs))


def _all(taking: Taking, studs: int) -> frozenset[int]:
    return frozenset(range(studs) if taking is None else taking)


def fit_of(problem: PlaceProblem, pole: str) -> BarFit | None:
    """What the studs of a pole's bar take of the conductors allowed, any of them; None: all of it, as like studs do."""
    bar = problem.bar(pole)
    pairs = pairs_of(problem)
    leads = [lead.studs_on(pole) for lead, _ in pairs]
    feeders = [feeder.studs_on(pole) for _, feeder in pairs if feeder is not None and problem.feeders_of(pole)]
    if all(taking is None for taking in (*leads, *feeders)):
        return None
    return BarFit(bar.studs, bar.reserved_studs, _any_of(leads, bar.studs), _any_of(feeders, bar.studs))


def _any_of(some: Iterable[Taking], studs: int) -> frozenset[int]:
    return frozenset().union(*(_all(taking, studs) for taking in some))


def firsts_of(problem: PlaceProblem, pole: str) -> tuple[int, ...]:
    """The first stud in use of every stretch of the bar that serves; with like studs all of them do."""
    bar, fit = problem.bar(pole), fit_of(problem, pole)
    if fit is None:
        return tuple(range(bar.reserved_studs + 1))
    return fit.firsts(len(problem.strings), len(problem.feeders_of(pole)), bar.lugs_per_stud)


Pair = tuple[ConductorChoice, ConductorChoice | None]


def pairs_of(problem: PlaceProblem) -> list[Pair]:
    """The conductors of leads and feeders that may be built together; without feeders those of the leads."""
    feeders: Sequence[ConductorChoice | None] = problem.feeder_conductors if problem.feeders else (None,)
    return [(lead, feeder) for lead in problem.lead_conductors for feeder in feeders if problem.together(lead, feeder)]


def cases(problem: PlaceProblem) -> tuple[PlaceProblem, ...]:
    """The question once for each group of conductors whose lugs go on the same studs; itself where studs are alike.

    In each case lugs are stacked only as far as the studs that take them are short. Groups for which there are too few
    are there too.
    """
    groups: dict[tuple[Taking, ...], list[Pair]] = {}
    for lead, feeder in pairs_of(problem):
        groups.setdefault(tuple(_key(problem, lead, feeder)), []).append((lead, feeder))
    like = all(taking is None for key in groups for taking in key)
    if like and all(bar.most_lugs is None for bar in problem.bars):
        return (problem,)
    return tuple(_case(problem, pairs) for pairs in groups.values())


def case_with(problem: PlaceProblem, lead: str, feeder: str) -> PlaceProblem:
    """The case that these conductors belong to, the feeders' "" where there are none."""
    return next(
        case
        for case in cases(problem)
        if any((a.name, b.name if b else "") == (lead, feeder) for a, b in pairs_of(case))
    )


def _key(problem: PlaceProblem, lead: ConductorChoice, feeder: ConductorChoice | None) -> Iterator[Taking]:
    for pole in POLES:
        yield lead.studs_on(pole)
        yield feeder.studs_on(pole) if feeder is not None and problem.feeders_of(pole) else None


def _case(problem: PlaceProblem, pairs: Sequence[Pair]) -> PlaceProblem:
    case = replace(problem, pairs=tuple((lead.name, feeder.name if feeder else "") for lead, feeder in pairs))
    return replace(case, bars=(_stacked(case, case.bars[0]), _stacked(case, case.bars[1])))


def _stacked(case: PlaceProblem, bar: BarRow) -> BarRow:
    if bar.most_lugs is None:
        return bar
    every = _all(None, bar.studs)
    fit = fit_of(case, bar.pole) or BarFit(bar.studs, bar.reserved_studs, every, every)
    ends = len(case.strings), len(case.feeders_of(bar.pole))
    return replace(bar, lugs_per_stud=fit.lugs_needed(*ends, bar.lugs_per_stud, bar.most_lugs) or bar.most_lugs)
