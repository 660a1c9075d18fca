"""Two cables side by side where one would have to be too thick: both lie on the same two studs and are cut alike."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from cutlist.bank.job import Job
from cutlist.electrics.sizing import Combination
from cutlist.layout.run_lengths import Joined


def in_pairs(cables: Sequence[Joined], combination: Combination) -> tuple[Joined, ...]:
    """Every cable of a kind that is laid in pairs becomes two, "S1 positive a" and "S1 positive b"."""
    found: list[Joined] = []
    for cable in cables:
        if combination.count(cable.kind) == 1:
            found.append(cable)
        else:
            found += [replace(cable, name=f"{cable.name} {letter}", pair=cable.name) for letter in "ab"]
    return tuple(found)


def studs_hold(job: Job, cables: Sequence[Joined], combination: Combination) -> bool:
    """Whether no bus-bar stud gets more lugs than it may hold. `cables`: before they are laid in pairs."""
    most = {bar.name: bar.stack_limit for bar in job.bus_bars}
    lugs = Counter[tuple[str, int]]()
    for cable in cables:
        for stud in (cable.start, cable.finish):
            if stud.bar:
                lugs[stud.bar, stud.index] += combination.count(cable.kind)
    return all(number <= most[bar] for (bar, _), number in lugs.items())
