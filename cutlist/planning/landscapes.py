"""What other places of the bus bars of a job would cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np

from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.electrics.bank_solution import solve_states
from cutlist.layout.cable_ends import cable_tasks
from cutlist.layout.landscape import Landscape, landscape
from cutlist.layout.naive_places import pieces_built
from cutlist.layout.placings import Placing
from cutlist.layout.run_lengths import joined, lugs_m
from cutlist.place_types import PlaceLandscape, PlaceOption
from cutlist.planning.build import fuses_of
from cutlist.planning.grouping import regrouped
from cutlist.planning.place_options import STEP_M, option_of, told
from cutlist.planning.results import string_shares
from cutlist.planning.searched_places import Searched, places_of, searched_for, searched_places
from cutlist.planning.wires import cable_specs
from cutlist.progress import Progress
from cutlist.stock.spool_cuts import CannotCut, cut

CUT_TIME_S = 1.0  # for the scrap of one option


@dataclass(frozen=True)
class Longer:
    """The best places if every run turned out so much longer."""

    by_m: float
    option: PlaceOption | None  # None: no places hold the limits then


@dataclass(frozen=True)
class Places:
    """What `evenlead places` tells."""

    searched: Searched
    map: Landscape
    landscape: PlaceLandscape
    longer: tuple[Longer, ...]


def job_landscape(job: Job, stock: Stock, progress: Progress, longer_m: Sequence[float] = ()) -> Places | str:
    """Or why there is none."""
    job, _ = regrouped(job, stock)
    searched = searched_places(job, stock, cable_tasks(job), progress)
    if isinstance(searched, str):
        return searched
    if searched.found.best is None:
        return searched.found.why_not
    progress("other places")
    problem, costs = searched.question.problem, searched.costs
    around = landscape(problem, searched.found, step_m=STEP_M, costs=costs)
    plain = told(job, searched, around)
    progress("their scrap and shares")
    options = tuple(_weighed(job, stock, searched, p, o) for p, o in zip(around.best, plain.options, strict=True))
    front = tuple(
        _weighed(job, stock, searched, point.placing, option_of(job, searched, point.placing)) for point in around.front
    )
    found = replace(plain, options=options, cost_and_drop=front, cost_and_share=_evener([*options, *front]))
    longer = []
    for by_m in longer_m:
        progress(f"runs {1000 * by_m:g} mm longer")
        further = searched_for(replace(problem, longer_m=problem.longer_m + by_m), costs)
        placed = further.best
        longer.append(Longer(by_m, None if placed is None else option_of(job, searched, placed)))
    return Places(searched, around, found, tuple(longer))


def _weighed(job: Job, stock: Stock, searched: Searched, placed: Placing, option: PlaceOption) -> PlaceOption:
    """With what is worked out only on demand: the scrap of its cuts and the share of its strings."""
    pieces = pieces_built(searched.question.problem, placed)
    try:
        plan = cut(pieces, searched.question.problem.stock, time_limit_s=CUT_TIME_S)
        scrap_um: int | None = plan.waste_um
    except CannotCut:
        scrap_um = None
    return replace(option, scrap_um=scrap_um, uneven=_uneven(job, stock, placed))


def _uneven(job: Job, stock: Stock, placed: Placing) -> float | None:
    """How far the worst string's share is from even, as a share of an even one; leads as cut, the bars' own resistance
    and the place of each stud counted."""
    if len(job.strings) < 2:
        return None
    places, studs = places_of(job, placed)
    cables = joined(job, cable_tasks(job), places, studs)
    names = {
        "lead": placed.build.lead_conductor,
        "feeder": placed.build.feeder_conductor or placed.build.lead_conductor,
    }
    chosen = {kind: next(c for c in stock.conductors if c.name == name) for kind, name in names.items()}
    chosen["jumper"] = chosen["lead"]
    lead_um = dict(zip(("positive", "negative"), placed.build.lead_cuts_um, strict=True))
    lengths_m = {
        c.name: lead_um[c.pole] / 1e6 + lugs_m(stock, c, chosen["lead"])
        if c.kind == "lead"
        else float(np.linalg.norm(np.subtract(c.start.point, c.finish.point)))
        for c in cables
    }
    specs = cable_specs(job, cables, chosen, lengths_m, {})
    fuses = fuses_of(job, stock, specs)
    solution = solve_states(job, specs, fuses=fuses)[0]
    return max(abs(share.departure) for share in string_shares(job, solution, fuses))


def _evener(options: Sequence[PlaceOption]) -> tuple[PlaceOption, ...]:
    """Least cost first, each with a more even share than the one before."""
    known = [o for o in options if o.uneven is not None]
    known.sort(key=lambda o: (o.cost or Decimal(0), o.bought_um, o.uneven))
    front: list[PlaceOption] = []
    for option in known:
        before = front[-1].uneven if front else None
        if before is None or (option.uneven is not None and option.uneven < before - 1e-4):
            front.append(option)
    return tuple(front)
