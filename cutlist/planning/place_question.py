"""The job as the question 'where do the bus bars go?': what moves with them, what does not, what it costs and drops.

What does not move is routed first: its cut lengths are those of the plan. What the conductors lose is read from the
whole network at one guess of the lengths and taken as linear in them; the plan that is built is solved in full.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from cutlist.bank.bus_bars import BarPlace, BusBar, row_along
from cutlist.bank.cables import Conductor
from cutlist.bank.job import Job
from cutlist.bank.site import MountingFace
from cutlist.bank.stock import Stock
from cutlist.electrics.sizing import size
from cutlist.layout.cable_ends import BarEnd, CableTask, cross, stud_of
from cutlist.layout.field_runs import FieldRuns, Kind
from cutlist.layout.place_problem import (
    BarRow,
    Circuit,
    FeederEnd,
    PlaceProblem,
    RunLengths,
    StringEnds,
)
from cutlist.layout.run_lengths import Joined, joined, run_requests, shortest_runs, straight_m
from cutlist.layout.scene import space_with_bank
from cutlist.layout.studs import TooFewStuds
from cutlist.layout.taken_zones import free_faces
from cutlist.planning.build import chosen_combination, fuses_of, guessed_lengths, thinnest
from cutlist.planning.place_losses import Losses
from cutlist.planning.place_pieces import (
    allowances_um,
    feeder_choice,
    fewer_kinds,
    first_piece_um,
    lead_choice,
    longest_run_m,
    other_pieces,
)
from cutlist.planning.place_rules import lowest_z_m, same_face, separation_m, stated_places
from cutlist.planning.stud_choice import studs_suffice
from cutlist.planning.wires import cable_specs
from geometry.lug_fields import Source
from geometry.runs import CableShape, NoRun

COARSEST_STEP_M, FINEST_STEP_M = 0.05, 0.01  # between the points of the faces to which runs are measured
POINTS = 120  # of them on all faces where that is finer than the coarsest
MOST_POINTS = 1_500  # where it is not
ALIKE = ("all leads alike", "each pole alike")  # matches of which the longest lead alone decides


@dataclass(frozen=True)
class PlaceQuestion:
    problem: PlaceProblem
    unproved: str  # why the answer's bound is none for the whole plan; "" when it is one
    first_piece_um: int  # of a positive lead that is cut in two for its fuse


def not_searched(job: Job) -> str:
    """Why the places of this job are not searched together with lengths, conductors and spools; "" if they are."""
    if not any(bar.faces for bar in job.bus_bars):
        return "the places are stated one by one"
    if job.policy.match not in ALIKE:
        return f"with leads matched '{job.policy.match}' cost does not follow from the longest lead"
    return ""


def place_question(job: Job, stock: Stock, tasks: Sequence[CableTask]) -> PlaceQuestion | str:
    """Or the reason why there is none: a fixed cable cannot be laid, or the studs do not suffice."""
    middle = {bar.name: middle_place(job, bar) for bar in job.bus_bars}
    try:
        cables = joined(job, tasks, middle)
    except TooFewStuds as fault:
        return str(fault)
    lengths_m = guessed_lengths(cables)
    specs = cable_specs(job, cables, thinnest(stock), lengths_m, {})
    fuses = fuses_of(job, stock, specs)
    try:
        sizing = size(job, stock, specs, fuses=fuses, allowed=lambda c: studs_suffice(job, stock, tasks, c))
    except ValueError as fault:
        return str(fault)
    combination = chosen_combination(sizing)
    if max(combination.lead_count, combination.jumper_count, combination.feeder_count) > 1:
        return "cables are laid in pairs"
    conductors = {kind: combination.conductor(kind) for kind in combination.kinds}
    fixed = _fixed_runs(job, stock, tasks, cables, conductors)
    if isinstance(fixed, str):
        return fixed
    lengths_m.update(fixed)
    specs = cable_specs(job, cables, conductors, lengths_m, {})
    moving = [t for t in tasks if t.kind == "feeder" and t.name not in fixed]
    losses = Losses(job, stock, specs, fuses_of(job, stock, specs), combination, [t.name for t in moving], tuple(fixed))
    if not losses.known:
        return "the air is too hot for the insulation of every conductor allowed"
    positive, negative = job.positive_bar, job.negative_bar
    lead_choices = tuple(lead_choice(job, stock, cables, c) for c in losses.leads)
    feeder_choices = tuple(feeder_choice(job, stock, cables, c) for c in losses.feeders)
    strings = tuple(StringEnds(s.name, s.positive.point, s.negative.point) for s in job.strings)
    if job.policy.lengthen_now:
        strings += tuple(StringEnds(s.name, s.positive.point, s.negative.point, later=True) for s in job.later)
    colours = (job.colours.positive, job.colours.negative)
    problem = PlaceProblem(
        strings=strings,
        feeders=tuple(_feeder_end(job, stock, task, cables, losses) for task in moving),
        circuits=_as_of_today(losses.circuits(lead_choices, feeder_choices), strings),
        faces=faces_for(job, (*losses.leads, *losses.feeders)),
        bars=(_row(job, positive, strings, moving), _row(job, negative, strings, moving)),
        stock=replace(stock, cables=tuple(c for c in stock.cables if c.colour in colours)),
        lead_conductors=lead_choices,
        feeder_conductors=feeder_choices,
        current_a=job.continuous_a,
        runs=_runs(job, stock, tasks, losses),
        pairs=losses.pairs,
        positive_colour=job.colours.positive,
        negative_colour=job.colours.negative,
        separation_m=separation_m(stock, job),
        same_face=same_face(job),
        longest_lead_m=longest_run_m(
            job,
            job.limits.longest_lead_m,
            _lead_allowances_um(job, stock, cables, losses.leads),
        ),
        round_up_um=job.policy.round_up_um,
        longer_m=job.policy.longer_m,
        poles_alike=job.policy.match == "all leads alike",
        other_pieces=other_pieces(job, stock, cables, conductors, fixed),
    )
    return PlaceQuestion(fewer_kinds(problem), _unproved(job, stock), first_piece_um(job))


def _lead_allowances_um(job: Job, stock: Stock, cables: Sequence[Joined], conductors: Sequence[Conductor]) -> list[int]:
    """What may be taken off the run of a lead, whichever stud of unlike ones it is on."""
    if not any(bar.unlike for bar in job.bus_bars):
        choices = [lead_choice(job, stock, cables, c) for c in conductors]
        return [a for c in choices for a in (c.positive_allowance_um, c.negative_allowance_um)]
    leads = [c for c in cables if c.kind == "lead"]
    first_um = {"positive": first_piece_um(job), "negative": 0}
    return [
        a + first_um[c.pole]
        for conductor in conductors
        for c in leads
        for a in allowances_um(job, stock, [c], conductor)
    ]


def _threads(stock: Stock, bar: BusBar, conductor: Conductor) -> list[str]:
    """Of the bar's studs those that take the conductor's lugs; all where none does."""
    listed = stock.threads_of(conductor.name)
    return sorted(set(bar.threads) & listed if bar.unlike and not listed.isdisjoint(bar.threads) else set(bar.threads))


def middle_place(job: Job, bar: BusBar) -> BarPlace:
    """The middle of the first face named, along it; the first place stated when there is none: a naive choice."""
    if not bar.faces:
        return bar.places[0]
    face = job.site.face(bar.faces[0])
    x, y, z = (
        o + face.width_m / 2 * u + face.height_m / 2 * v for o, u, v in zip(face.origin, face.u, face.v, strict=True)
    )
    turn = 0 if 0 in bar.turns else bar.turns[0]
    return BarPlace((x, y, z), row_along(face.u, face.v, turn), cross(face.u, face.v), face.name)


def faces_for(job: Job, conductors: Sequence[Conductor]) -> tuple[MountingFace, ...]:
    """The site's faces without the parts where the thinnest of these cables could not leave a stud."""
    standoff_m = min(c.outside_diameter_m for c in conductors) / 2 + job.policy.clearance_m
    body_m = max(max(bar.pitch_m, bar.width_m) for bar in job.bus_bars) / 2
    return free_faces(space_with_bank(job), job.site.faces, standoff_m, body_m)


def _unproved(job: Job, stock: Stock) -> str:
    if job.colours.positive == job.colours.negative:
        return "both poles are cut from the same cable, which the search prices apart"
    rules = stock.rules
    if rules.larger_conductor_allowed or rules.other_colour_allowed:
        return "a piece may be cut from another conductor or colour, which the search does not price"
    if job.policy.paralleled:
        return "cables may be laid in pairs, which the search does not price"
    return ""


def _fixed_runs(
    job: Job,
    stock: Stock,
    tasks: Sequence[CableTask],
    cables: Sequence[Joined],
    conductors: Mapping[str, Conductor],
) -> dict[str, float] | str:
    """Metres of the shortest run of every cable that no bus bar moves; or which cannot be laid, and why."""
    names = {t.name for t in tasks if not any(isinstance(end, BarEnd) for end in (t.start, t.finish))}
    fixed = [c for c in cables if c.name in names]
    runs = shortest_runs(job, space_with_bank(job), run_requests(job, stock, fixed, conductors))
    for run in runs:
        if isinstance(run, NoRun):
            return f"{run.name}: {run.reason}"
    return {run.name: run.length_m for run in runs if not isinstance(run, NoRun)}


def _as_of_today(circuits: Sequence[Circuit], strings: Sequence[StringEnds]) -> tuple[Circuit, ...]:
    """The search spreads the leads' current over all strings: until the later ones come, today's carry it alone."""
    more = len(strings) / sum(1 for s in strings if not s.later)
    return tuple(c if c.leads_a is None else replace(c, leads_a=c.leads_a * more) for c in circuits)


def _row(job: Job, bar: BusBar, strings: Sequence[StringEnds], moving: Sequence[CableTask]) -> BarRow:
    """A later string that is placed with the others takes one of the studs kept for it."""
    reserved = max(bar.reserved_studs - sum(1 for s in strings if s.later), 0)
    here = len(strings) + sum(
        1 for t in moving if bar.name in {e.bar for e in (t.start, t.finish) if isinstance(e, BarEnd)}
    )
    used = max(bar.studs - reserved, 1)
    return BarRow(
        pole=bar.pole,
        studs=bar.studs,
        pitch_m=bar.pitch_m,
        lugs_per_stud=min(bar.stack_limit, -(-here // used)),  # stacked only as far as studs are short
        most_lugs=bar.stack_limit if bar.unlike else None,
        turns=bar.turns,
        faces=bar.faces,
        places=stated_places(job, bar),
        reserved_studs=reserved,
        lowest_z_m=lowest_z_m(job),
    )


def _feeder_end(job: Job, stock: Stock, task: CableTask, cables: Sequence[Joined], losses: Losses) -> FeederEnd:
    bar = next(end.bar for end in (task.start, task.finish) if isinstance(end, BarEnd))
    cable = next(c for c in cables if c.name == task.name)
    every_um = [a for conductor in losses.feeders for a in allowances_um(job, stock, [cable], conductor)]
    pole = next(b.pole for b in job.bus_bars if b.name == bar)
    limit_m = next((f.longest_m for f in job.feeders if f.name == task.name), None)
    longest_m = longest_run_m(job, limit_m, every_um)
    return FeederEnd(task.name, pole, task.fixed_stud().point, 0.0, longest_m, allowance_um=max(every_um))


def _runs(job: Job, stock: Stock, tasks: Sequence[CableTask], losses: Losses) -> RunLengths:
    """Leads and feeders each as the least stiff of their conductors and the shortest of their lugs let them go."""
    kinds = []
    for kind, conductors in (("lead", losses.leads), ("feeder", losses.feeders)):
        mine = [t for t in tasks if t.kind == kind and any(isinstance(end, BarEnd) for end in (t.start, t.finish))]
        ends = [(t.fixed_stud(), t.pole) for t in mine]
        if kind == "lead":
            ends += [(stud_of(later.positive), "positive") for later in job.later]
            ends += [(stud_of(later.negative), "negative") for later in job.later]
        if not ends:
            continue
        shape = CableShape(
            min(c.outside_diameter_m for c in conductors) / 2,
            job.policy.clearance_m,
            min(c.bend_radius_m for c in conductors),
            0.0,
        )
        sources = {}
        for stud, pole in ends:
            bar = next(bar for bar in job.bus_bars if bar.pole == pole)
            # of unlike studs the one whose lug lets the cable bend first: no run is told too long
            least_m = min(
                straight_m(job, stock, (stud.stud, thread), conductor)
                for conductor in conductors
                for thread in _threads(stock, bar, conductor)
            )
            sources[stud.point] = Source(stud.end, least_m)
        kinds.append(Kind(shape, tuple(sources.values())))
    used = {name for bar in job.bus_bars for name in bar.faces}
    turns = sorted({turn % 180 for bar in job.bus_bars for turn in bar.turns})
    faces = [f for f in job.site.faces if f.name in used]
    area_m2 = len(turns) * sum(f.width_m * f.height_m for f in faces)
    # very large faces: as many points as can be measured in a minute or two, further apart
    coarsest_m = max(COARSEST_STEP_M, math.sqrt(area_m2 / MOST_POINTS))
    step_m = min(max(math.sqrt(area_m2 / POINTS), FINEST_STEP_M), coarsest_m)
    return FieldRuns(space_with_bank(job), kinds, faces, turns, step_m)
