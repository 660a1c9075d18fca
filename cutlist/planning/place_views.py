"""What the search for places shows beside its answer: maps of the faces, the naive way, the least drop."""

from __future__ import annotations

from dataclasses import dataclass, replace

from cutlist.bank.job import Job
from cutlist.layout.face_maps import MapPoint, face_map
from cutlist.layout.naive_places import naive_answer, pieces_built
from cutlist.layout.place_check import answer_faults, faults_in_places
from cutlist.place_types import FaceCost, LeastDrop, PlaceLandscape, PlaceSaving
from cutlist.planning.place_options import landscape_of
from cutlist.planning.searched_places import Searched

MAP_STEP_M = 0.05
MAP_RUNS_UM = 20_000  # runs are rounded up to this for the map: a few prices serve for all places


@dataclass(frozen=True)
class PlaceViews:
    """What needs nothing but the search, and can be worked out beside the building."""

    faults: tuple[str, ...]  # found by the checker that replays the search's proof
    face_costs: tuple[FaceCost, ...]
    landscape: PlaceLandscape | None
    saving: PlaceSaving | None


def views_of(job: Job, searched: Searched) -> PlaceViews:
    return PlaceViews(
        faults=faults_of(searched),
        face_costs=costs_on_faces(job, searched),
        landscape=landscape_of(job, searched),
        saving=saving_of(searched),
    )


def faults_of(searched: Searched) -> tuple[str, ...]:
    """Of the proof, and of the pair that is built: where least waste is sought the proof is of another."""
    problem, found = searched.question.problem, searched.found
    if searched.buys_least is None or found.best is None:
        return tuple(faults_in_places(problem, found))
    proved = replace(found, best=searched.buys_least)
    return (*faults_in_places(problem, proved), *answer_faults(problem, found.best))


def costs_on_faces(job: Job, searched: Searched) -> tuple[FaceCost, ...]:
    """What each place costs, the other bar where that suits it best; of both turns the cheaper."""
    faces = {face.name for face in job.site.faces}
    points = face_map(searched.question.problem, searched.costs, step_m=MAP_STEP_M, coarse_um=MAP_RUNS_UM)
    cheapest: dict[tuple[str, str, float, float], MapPoint] = {}
    for p in sorted(points, key=lambda p: (p.units is None, p.units or 0, p.longest_m)):
        cheapest.setdefault((p.pole, p.place.face, round(p.a_m, 6), round(p.b_m, 6)), p)
    return tuple(
        FaceCost(p.pole, p.place.face, p.a_m, p.b_m, p.cost, p.longest_m, p.limit, p.longest_lead, p.laid_um)
        for key, p in sorted(cheapest.items())
        if key[1] in faces
    )


def saving_of(searched: Searched) -> PlaceSaving | None:
    """The joint answer beside the naive one; None where one of them cannot be built."""
    problem, found = searched.question.problem, searched.found
    naive = naive_answer(problem, searched.costs) if found.best is not None else None
    if naive is None or found.best is None:
        return None
    return PlaceSaving(
        cost=found.cost,
        naive_cost=naive.money,
        laid_um=sum(p.length_um for p in pieces_built(problem, found.best)),
        naive_laid_um=naive.laid_um,
        bought_um=found.best.build.bought_mm * 1000,
        naive_bought_um=naive.bought_um,
        naive_positive=naive.placing.positive.place,
        naive_negative=naive.placing.negative.place,
        naive_lead=naive.placing.build.lead_conductor,
        naive_feeder=naive.placing.build.feeder_conductor,
        naive_holds_drop=naive.holds_drop,
    )


def least_drop_of(job: Job, searched: Searched) -> LeastDrop | None:
    """Only where the drop limit holds nowhere."""
    nearest = searched.found.nearest
    if nearest is None or searched.found.best is not None:
        return None
    circuits = searched.question.problem.circuits
    drops = zip(nearest.build.drops_v, circuits, strict=True)
    drop_v, circuit = max(drops, key=lambda pair: pair[0] - pair[1].drop_limit_v)
    return LeastDrop(
        drop_v / job.voltage_v,
        circuit.drop_limit_v / job.voltage_v,
        circuit.name,
        nearest.positive.place,
        nearest.negative.place,
        nearest.build.lead_conductor,
        nearest.build.feeder_conductor,
    )
