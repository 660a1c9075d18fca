"""Where the joint search puts the bus bars, and what its bound says of the plan that was built there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from cutlist.bank.bus_bars import BarPlace
from cutlist.bank.job import Job
from cutlist.bank.site import MountingFace
from cutlist.bank.stock import Stock
from cutlist.layout.bus_bar_places import Places, find_places, serves
from cutlist.layout.cable_ends import BarEnd, CableTask
from cutlist.layout.cells import seats_of
from cutlist.layout.least_scrap import alike_um, least_scrap, scrap_told
from cutlist.layout.place_costs import POLES, PlaceCosts
from cutlist.layout.place_problem import PlaceProblem
from cutlist.layout.placings import Placing
from cutlist.layout.run_lengths import joined, run_requests, shortest_runs
from cutlist.layout.scene import space_with_bank
from cutlist.plan_types import Infeasible
from cutlist.planning.place_question import PlaceQuestion, faces_for, not_searched, place_question
from cutlist.progress import Progress, silent
from geometry.runs import NoRun

FINEST_M = 0.005  # what a person can mark
WITHIN = 0.0035  # share of the cost: what could be better by less is not looked for
FEW_CABLES, FEW_PLACES = 8, 6_000  # of both bars: such small jobs are searched for what is better by ever so little
CLOSER, CLOSER_OF_SMALL = 40, 2_000  # cells of a pole that may hold such places
FURTHER_APART_M = (0.0, 0.05, 0.1)  # where cables find no way between two bars, these are set so much further apart
ELSEWHERE_M = 0.04  # a row of studs keeps so far from the middle of a bar that could not be built
LET_OUT_M, MOST_LET_OUT_M = 0.02, 20.0  # limits on runs that hold nowhere: first step, and when to give up
LEADS = ""  # as the name of what is longer than allowed: all leads together
MOST_PAIRS = 3  # built in full
SCRAP_STEP_M = 0.01


@dataclass(frozen=True)
class Searched:
    question: PlaceQuestion
    costs: PlaceCosts
    found: Places  # at the least distance between the bars: its bound holds for every pair of places
    buys_least: Placing | None = None  # where least waste is sought: the pair that the bound speaks of
    over_m: float = 0.0  # limits on runs hold nowhere: they were let out by this much, and no place was found with less

    @property
    def placing(self) -> Placing:
        """The best pair; where the drop limit holds nowhere the one that misses it least."""
        placed = self.found.best or self.found.nearest
        assert placed is not None  # else nothing was searched
        return placed


@dataclass(frozen=True)
class Pair:
    places: Mapping[str, BarPlace]  # by name of the bar
    studs: Mapping[tuple[str, str], int]  # of each (cable, bar)


def searched_places(job: Job, stock: Stock, tasks: Sequence[CableTask], progress: Progress) -> Searched | str:
    """Places, studs, lengths, conductors and spools decided together; or why that cannot be done."""
    why_not = not_searched(job)
    if why_not:
        return why_not
    progress("measuring runs to the mounting faces")
    question = place_question(job, stock, tasks)
    if isinstance(question, str):
        return question
    progress("placing bus bars")
    costs = PlaceCosts(question.problem)
    found = searched_for(question.problem, costs, progress)
    if found.best is None and found.nearest is None:
        return _least_over(question, costs, progress) or found.why_not
    if found.best is not None and question.problem.stock.rules.least_waste:
        progress("looking for places that leave less over")
        return _with_less_scrap(question, costs, found, found.best)
    return Searched(question, costs, found)


def _with_less_scrap(question: PlaceQuestion, costs: PlaceCosts, found: Places, best: Placing) -> Searched:
    """With the places that leave least over; what was found buys least, which is what its bound speaks of."""
    problem = question.problem
    least = least_scrap(problem, costs, scrap_step_m(problem))
    if least is not None and least[0].less_than(scrap_told(costs, best), alike_um(problem)):
        found = replace(found, best=least[1])
    return Searched(question, costs, found, best)


def scrap_step_m(problem: PlaceProblem) -> float:
    """Between places looked at for what they leave over."""
    return FINEST_M if is_small(problem) else SCRAP_STEP_M


def _least_over(question: PlaceQuestion, costs: PlaceCosts, progress: Progress) -> Searched | None:
    """Where limits on runs hold at no place: the places that need them let out least. None: it is not for them."""
    problem = question.problem
    if problem.longest_lead_m is None and all(f.longest_m is None for f in problem.feeders):
        return None
    progress("looking how far limits on runs must be let out")
    low_m, high_m = 0.0, LET_OUT_M
    while not serves(_let_out(problem, high_m), costs, FINEST_M):
        low_m, high_m = high_m, 3 * high_m
        if high_m > MOST_LET_OUT_M:
            return None
    while high_m - low_m > FINEST_M:
        middle_m = (low_m + high_m) / 2
        low_m, high_m = (
            (low_m, middle_m) if serves(_let_out(problem, middle_m), costs, FINEST_M) else (middle_m, high_m)
        )
    let_out = replace(question, problem=_let_out(problem, high_m))
    found = searched_for(let_out.problem, costs)
    return Searched(let_out, costs, found, over_m=high_m) if found.best is not None else None


def _let_out(problem: PlaceProblem, by_m: float) -> PlaceProblem:
    longest_m = problem.longest_lead_m
    return replace(
        problem,
        longest_lead_m=None if longest_m is None else longest_m + by_m,
        feeders=tuple(f if f.longest_m is None else replace(f, longest_m=f.longest_m + by_m) for f in problem.feeders),
    )


def searched_for(problem: PlaceProblem, costs: PlaceCosts, progress: Progress = silent) -> Places:
    """The search as every plan makes it: as close as what a person can mark, closer on cost for small jobs."""
    closer = CLOSER_OF_SMALL if is_small(problem) else CLOSER
    return find_places(problem, finest_m=FINEST_M, within=WITHIN, closer=closer, costs=costs, progress=progress)


def is_small(problem: PlaceProblem) -> bool:
    """So few cables and so little room that every place may be looked at closely, and some be routed."""
    if 2 * len(problem.strings) + len(problem.feeders) > FEW_CABLES:
        return False
    try:
        seats = [seat for pole in POLES for seat in seats_of(problem, pole)]
    except ValueError:  # a bar without a stud to spare: whoever looks for places says so
        return False
    steps = [[(high - low) / FINEST_M + 1 for low, high in zip(s.low, s.high, strict=True)] for s in seats]
    return sum(across * up for across, up in steps) <= FEW_PLACES


@dataclass(frozen=True)
class Missed:
    """A pair that could not be built as it should be: a cable found no way, or surplus no room."""

    pair: Pair
    crowded: tuple[str, ...] = ()  # bars at which the surplus of a lead found no room
    # beyond the limit: of each feeder by name, of LEADS the longest
    over_m: Mapping[str, float] = field(default_factory=dict)

    @property
    def no_way(self) -> bool:
        return not self.crowded and not self.over_m


def next_pair(job: Job, stock: Stock, searched: Searched, missed: Sequence[Missed]) -> Pair | None:
    """The best pair. Where those before could not be built, the best one off what the chosen cables touch whose bars
    stand further apart; where surplus found no room at a bar, whose bar stands elsewhere; where cables were laid longer
    than allowed, with as much shorter runs. None: enough was tried.
    """
    if not missed:
        return Pair(*places_of(job, searched.placing))
    if searched.buys_least is not None:  # waste comes after what can be built
        plain = Pair(*places_of(job, searched.buys_least))
        if all(plain != miss.pair for miss in missed):
            return plain
    problem, build = searched.question.problem, searched.placing.build
    chosen = [c for c in stock.conductors if c.name in (build.lead_conductor, build.feeder_conductor)]
    faces = faces_for(job, [max(chosen, key=lambda c: c.outside_diameter_m)])
    for miss in missed:
        faces = tuple(without(face, [miss.pair.places[bar] for bar in miss.crowded]) for face in faces)
    # where bars further apart stand no other way than before, both stand elsewhere
    off = tuple(without(face, [place for miss in missed for place in miss.pair.places.values()]) for face in faces)
    steps_m = FURTHER_APART_M[sum(miss.no_way for miss in missed) :]
    problem = _shorter(problem, missed)
    for further_m, free in (*((step_m, faces) for step_m in steps_m), (0.0, off)) if len(missed) < MOST_PAIRS else ():
        roomy = replace(problem, separation_m=problem.separation_m + further_m, faces=free)
        found = searched_for(roomy, searched.costs)
        placed = found.best or found.nearest
        pair = Pair(*places_of(job, placed)) if placed is not None else None
        if pair is not None and all(pair != miss.pair for miss in missed):
            return pair
    return None


def _shorter(problem: PlaceProblem, missed: Sequence[Missed]) -> PlaceProblem:
    """The problem with its limits on runs lower by what was missed."""
    over_m = {name: sum(miss.over_m.get(name, 0.0) for miss in missed) for miss in missed for name in miss.over_m}
    longest_m = problem.longest_lead_m
    return replace(
        problem,
        longest_lead_m=None if longest_m is None else longest_m - over_m.get(LEADS, 0.0),
        feeders=tuple(
            f if f.longest_m is None else replace(f, longest_m=f.longest_m - over_m.get(f.name, 0.0))
            for f in problem.feeders
        ),
    )


def without(face: MountingFace, places: Sequence[BarPlace]) -> MountingFace:
    """The face without the surroundings of these places on it."""
    zones = []
    for place in places:
        if place.face == face.name:
            off = np.array(place.centre) - np.array(face.origin)
            a, b = float(off @ np.array(face.u)), float(off @ np.array(face.v))
            zones.append((a - ELSEWHERE_M, b - ELSEWHERE_M, a + ELSEWHERE_M, b + ELSEWHERE_M))
    return replace(face, forbidden=(*face.forbidden, *zones))


def unreachable(
    job: Job, stock: Stock, tasks: Sequence[CableTask], pair: Pair, searched: Searched
) -> Infeasible | None:
    """The first feeder from a bus bar that finds no way with the bars so placed; a look that costs little."""
    build = searched.placing.build
    conductor = next((c for c in stock.conductors if c.name == build.feeder_conductor), None)
    feeders = [t for t in tasks if t.kind == "feeder" and any(isinstance(end, BarEnd) for end in (t.start, t.finish))]
    if conductor is None or not feeders:
        return None
    names = {t.name for t in feeders}
    cables = [c for c in joined(job, tasks, pair.places, pair.studs) if c.name in names]
    space = space_with_bank(job, [(bar, pair.places[bar.name]) for bar in job.bus_bars])
    for request in run_requests(job, stock, cables, {"feeder": conductor}):
        (run,) = shortest_runs(job, space, [request], explain=False)
        if isinstance(run, NoRun):
            return Infeasible(run.name, run.reason, run.obstacle, run.missing_m)
    return None


def places_of(job: Job, best: Placing) -> tuple[dict[str, BarPlace], dict[tuple[str, str], int]]:
    """The place of each bus bar by its name, and the stud of each (cable, bar)."""
    places, studs = {}, {}
    for bar, layout in ((job.positive_bar, best.positive), (job.negative_bar, best.negative)):
        places[bar.name] = layout.place
        studs.update({(f"{string} {layout.pole}", bar.name): stud for string, stud in layout.string_studs})
        studs.update({(feeder, bar.name): stud for feeder, stud in layout.feeder_studs})
    return places, studs
