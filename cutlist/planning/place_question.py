"""The job as the question 'where do the bus bars go?': what moves with them, what does not, what it costs and drops.

What does not move is routed first: its cut lengths are those of the plan. What the conductors lose is read from the
whole network at one guess of the lengths and taken as linear in them; the plan that is built is solved in full.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np

from cutlist.bank.bus_bars import BarPlace, BusBar
from cutlist.bank.cables import Conductor, Fuse
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.electrics.quick_bank import Combination, Prepared, prepare, worst_at_lengths, worst_of
from cutlist.electrics.sizing import size
from cutlist.electrics.wiring import CableSpec
from cutlist.layout.cable_ends import BarEnd, CableTask, cross
from cutlist.layout.field_runs import FieldRuns
from cutlist.layout.matching import rounded_up_um
from cutlist.layout.place_problem import (
    Array,
    BarRow,
    Circuit,
    ConductorChoice,
    FeederEnd,
    OtherPieces,
    PlaceProblem,
    RunLengths,
    StringEnds,
)
from cutlist.layout.run_lengths import Joined, joined, lugs_m, run_requests, shortest_runs
from cutlist.layout.scene import space_with_bank
from cutlist.layout.studs import TooFewStuds
from cutlist.planning.build import chosen_combination, fuses_of, guessed_lengths, thinnest
from cutlist.planning.wires import cable_specs
from geometry.runs import CableShape, NoRun

ALIKE = ("all leads alike", "each pole alike")  # matches of which the longest lead alone decides
MOST_STATES = 1_500  # of a price table: kinds of piece are counted as alike beyond that
FURTHER_M = 0.1  # lengths are changed by this to see what the drop does


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
    combination = chosen_combination(size(job, stock, specs, fuses=fuses))
    if max(combination.lead_count, combination.jumper_count, combination.feeder_count) > 1:
        return "cables are laid in pairs"
    conductors = {kind: combination.conductor(kind) for kind in combination.kinds}
    fixed = _fixed_runs(job, stock, tasks, cables, conductors)
    if isinstance(fixed, str):
        return fixed
    lengths_m.update(fixed)
    specs = cable_specs(job, cables, conductors, lengths_m, {})
    moving = [t for t in tasks if t.kind == "feeder" and t.name not in fixed]
    losses = _Losses(
        job, stock, specs, fuses_of(job, stock, specs), combination, [t.name for t in moving], tuple(fixed)
    )
    if not losses.known:
        return "the air is too hot for the insulation of every conductor allowed"
    positive, negative = job.positive_bar, job.negative_bar
    lead_choices = tuple(_lead_choice(job, stock, cables, c) for c in losses.leads)
    feeder_choices = tuple(_feeder_choice(stock, cables, c) for c in losses.feeders)
    colours = (job.colours.positive, job.colours.negative)
    problem = PlaceProblem(
        strings=tuple(StringEnds(s.name, s.positive.point, s.negative.point) for s in job.strings),
        feeders=tuple(_feeder_end(job, stock, task, cables, losses) for task in moving),
        circuits=losses.circuits(lead_choices, feeder_choices),
        faces=job.site.faces,
        bars=(_row(positive, len(job.strings), moving), _row(negative, len(job.strings), moving)),
        stock=replace(stock, cables=tuple(c for c in stock.cables if c.colour in colours)),
        lead_conductors=lead_choices,
        feeder_conductors=feeder_choices,
        current_a=job.continuous_a,
        runs=_runs(job, tasks, losses),
        pairs=losses.pairs,
        positive_colour=job.colours.positive,
        negative_colour=job.colours.negative,
        separation_m=separation_m(stock, job),
        round_up_um=job.policy.round_up_um,
        longer_m=job.policy.longer_m,
        poles_alike=job.policy.match == "all leads alike",
        other_pieces=_other_pieces(job, stock, cables, conductors, fixed),
    )
    return PlaceQuestion(_fewer_kinds(problem), _unproved(job, stock), _first_piece_um(job))


def middle_place(job: Job, bar: BusBar) -> BarPlace:
    """The middle of the first face named, along it; the first place stated when there is none: a naive choice."""
    if not bar.faces:
        return bar.places[0]
    face = job.site.face(bar.faces[0])
    x, y, z = (
        o + face.width_m / 2 * u + face.height_m / 2 * v for o, u, v in zip(face.origin, face.u, face.v, strict=True)
    )
    return BarPlace((x, y, z), face.v if 0 not in bar.turns else face.u, cross(face.u, face.v), face.name)


def separation_m(stock: Stock, job: Job) -> float:
    """Between the two rows of studs: the bars' half-widths and a lug from each side, end to end.

    Common practice, no published source: lugs of the two poles must not reach each other.
    """
    studs = {bar.stud for bar in job.bus_bars}
    lug_m = max((lug.barrel_to_skin_m for lug in stock.lugs if lug.stud in studs), default=0.03)
    return (job.positive_bar.width_m + job.negative_bar.width_m) / 2 + 2 * lug_m


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


def _row(bar: BusBar, strings: int, moving: Sequence[CableTask]) -> BarRow:
    here = strings + sum(1 for t in moving if bar.name in {e.bar for e in (t.start, t.finish) if isinstance(e, BarEnd)})
    used = max(bar.studs - bar.reserved_studs, 1)
    return BarRow(
        pole=bar.pole,
        studs=bar.studs,
        pitch_m=bar.pitch_m,
        lugs_per_stud=min(bar.stack_limit, -(-here // used)),  # stacked only as far as studs are short
        turns=bar.turns,
        faces=bar.faces,
        places=bar.places,
        reserved_studs=bar.reserved_studs,
    )


def _allowance_um(job: Job, stock: Stock, cables: Sequence[Joined], conductor: Conductor) -> int:
    """Cut length = run less this; of unlike lugs the longest, so that no cut is thought too long."""
    lugs = max((lugs_m(stock, c, conductor) for c in cables), default=0.0)
    return round((lugs - 2 * job.policy.end_allowance_m) * 1e6)


def _first_piece_um(job: Job) -> int:
    """Of a positive lead that is cut in two for its fuse; else nothing."""
    if job.policy.string_fuse != "in line":
        return 0
    return rounded_up_um(job.policy.string_fuse_distance_m, job.policy.round_up_um)


def _lead_choice(job: Job, stock: Stock, cables: Sequence[Joined], conductor: Conductor) -> ConductorChoice:
    poles = {pole: [c for c in cables if c.kind == "lead" and c.pole == pole] for pole in ("positive", "negative")}
    return ConductorChoice(
        conductor.name,
        conductor.ohm_per_km_20c / 1000,
        _allowance_um(job, stock, poles["positive"], conductor) + _first_piece_um(job),
        _allowance_um(job, stock, poles["negative"], conductor),
        _lugs_price(stock, [*poles["positive"], *poles["negative"]], conductor),
    )


def _feeder_choice(stock: Stock, cables: Sequence[Joined], conductor: Conductor) -> ConductorChoice:
    feeders = [c for c in cables if c.kind == "feeder"]
    return ConductorChoice(
        conductor.name, conductor.ohm_per_km_20c / 1000, other_price=_lugs_price(stock, feeders, conductor)
    )


def _lugs_price(stock: Stock, cables: Sequence[Joined], conductor: Conductor) -> Decimal:
    """Of the lugs at both ends beyond what is on hand, one by one; nothing for those without a price."""
    total = Decimal(0)
    studs = [end.stud for c in cables for end in (c.start, c.finish)]
    for stud in sorted(set(studs)):
        lug = stock.lug(conductor.name, stud)
        if lug is not None and lug.price is not None:
            total += lug.price * max(0, studs.count(stud) - lug.on_hand)
    return total


def _feeder_end(job: Job, stock: Stock, task: CableTask, cables: Sequence[Joined], losses: _Losses) -> FeederEnd:
    bar = next(end.bar for end in (task.start, task.finish) if isinstance(end, BarEnd))
    cable = next(c for c in cables if c.name == task.name)
    allowance_um = max(_allowance_um(job, stock, [cable], conductor) for conductor in losses.feeders)
    pole = next(b.pole for b in job.bus_bars if b.name == bar)
    return FeederEnd(task.name, pole, task.fixed_stud().point, 0.0, allowance_um=allowance_um)


class _Losses:
    """What is lost to the worst string and load, in normal use and in a surge, and how it changes with each length."""

    def __init__(
        self,
        job: Job,
        stock: Stock,
        specs: Sequence[CableSpec],
        fuses: Mapping[str, Fuse],
        chosen: Combination,
        moving: Sequence[str],
        fixed: Sequence[str],
    ) -> None:
        self.job, self.specs, self.moving = job, specs, moving
        self.fixed = [s.name for s in specs if s.kind == "feeder" and s.name in set(fixed)]
        prepared = prepare(job, specs, fuses=fuses)
        allowed = [
            replace(chosen, lead=lead, feeder=feeder)
            for lead in _allowed(stock, job.policy.conductors_lead, chosen.lead)
            for feeder in _allowed(stock, job.policy.conductors_feeder, chosen.feeder)
        ]
        bears = worst_of(prepared, allowed)
        carries = (bears.use.max(axis=1) <= 1) & (bears.heat.max(axis=1) <= 1)
        kept = [c for c, fine in zip(allowed, carries, strict=True) if fine] or [chosen]
        self.chosen = chosen if chosen in kept else kept[0]
        self.leads = tuple({c.lead.name: c.lead for c in kept}.values())
        self.feeders = tuple({c.feeder.name: c.feeder for c in kept}.values())
        self.pairs = tuple((c.lead.name, c.feeder.name) for c in kept)
        self.base, self.longer = self._measured(prepared)
        self.known = bool(np.isfinite(self.base).all())

    def _measured(self, prepared: Prepared) -> tuple[Array, Array]:
        """Volts lost at the guess (circuits,), and more for a metre of leads, or of one feeder (lengths, circuits)."""
        rows = [prepared.length_m]
        lead = np.array([s.kind == "lead" and s.finish != ("fuse battery side", s.string) for s in self.specs])
        rows.append(prepared.length_m + FURTHER_M * lead)
        for name in (*self.moving, *self.fixed):
            rows.append(prepared.length_m + FURTHER_M * np.array([s.name == name for s in self.specs]))
        worst = worst_at_lengths(prepared, self.chosen, np.array(rows))
        volts = np.column_stack([worst.drop, worst.surge_drop]) * self.job.voltage_v
        if not np.isfinite(volts).all():
            return np.full(2, np.inf), np.zeros((len(volts) - 1, 2))
        return volts[0], (volts[1:] - volts[0]) / FURTHER_M

    def circuits(self, leads: Sequence[ConductorChoice], feeders: Sequence[ConductorChoice]) -> tuple[Circuit, ...]:
        limits = (("in normal use", self.job.limits.drop), ("in a surge", self.job.limits.surge_drop))
        lead = next(c for c in leads if c.name == self.chosen.lead.name)
        feeder = next(c for c in feeders if c.name == self.chosen.feeder.name)
        length_m = {s.name: s.length_m for s in self.specs}
        lead_m = max(s.length_m for s in self.specs if s.kind == "lead")
        allowance_m = (lead.positive_allowance_um + lead.negative_allowance_um) / 1e6
        found = []
        for number, (name, limit) in enumerate(limits):
            if limit is None or not self.base[number] > 0:
                continue
            slopes = np.maximum(self.longer[:, number], 0.0)
            leads_a = slopes[0] / 2 * len(self.job.strings) / lead.ohm_per_m
            feeders_a = dict(zip((*self.moving, *self.fixed), slopes[1:] / feeder.ohm_per_m, strict=True))
            fixed_am = sum(feeders_a[f] * length_m[f] for f in self.fixed)
            counted_v = slopes[0] * (lead_m - allowance_m / 2) + fixed_am * feeder.ohm_per_m
            counted_v += sum(feeders_a[f] * length_m[f] for f in self.moving) * feeder.ohm_per_m
            found.append(
                Circuit(
                    name,
                    tuple(self.moving),
                    limit * self.job.voltage_v,
                    float(self.base[number] - counted_v),
                    float(leads_a),
                    tuple((f, float(feeders_a[f])) for f in self.moving),
                    float(fixed_am),
                )
            )
        return tuple(found)


def _allowed(stock: Stock, names: Sequence[str], chosen: Conductor) -> list[Conductor]:
    return [c for c in stock.conductors if not names or c.name in names] or [chosen]


def _runs(job: Job, tasks: Sequence[CableTask], losses: _Losses) -> RunLengths:
    conductor = min((*losses.leads, *losses.feeders), key=lambda c: (c.outside_diameter_m, c.name))
    shape = CableShape(conductor.outside_diameter_m / 2, job.policy.clearance_m, conductor.bend_radius_m, 0.0)
    ends = [t.fixed_stud().point for t in tasks if any(isinstance(end, BarEnd) for end in (t.start, t.finish))]
    used = {name for bar in job.bus_bars for name in bar.faces}
    return FieldRuns(space_with_bank(job), shape, np.array(ends), [f for f in job.site.faces if f.name in used])


def _other_pieces(
    job: Job,
    stock: Stock,
    cables: Sequence[Joined],
    conductors: Mapping[str, Conductor],
    fixed: Mapping[str, float],
) -> tuple[OtherPieces, ...]:
    colours = {"positive": job.colours.positive, "negative": job.colours.negative, "link": job.colours.link}
    counts: dict[tuple[str, str, int, bool], int] = {}
    for cable in cables:
        if cable.name in fixed:
            conductor = conductors[cable.kind]
            reach_m = fixed[cable.name] + job.policy.longer_m + 2 * job.policy.end_allowance_m
            cut_um = rounded_up_um(max(reach_m - lugs_m(stock, cable, conductor), 0.0), job.policy.round_up_um)
            key = (conductor.name, colours[cable.pole], cut_um, cable.kind == "feeder")
            counts[key] = counts.get(key, 0) + 1
    first_um = _first_piece_um(job)
    if first_um:
        key = (conductors["lead"].name, colours["positive"], first_um, False)
        counts[key] = counts.get(key, 0) + len(job.strings)
    return tuple(
        OtherPieces(name, colour, length_um, count, as_feeders)
        for (name, colour, length_um, as_feeders), count in sorted(counts.items())
    )


def _fewer_kinds(problem: PlaceProblem) -> PlaceProblem:
    """Pieces of nearly the same length counted as the shorter of them, until the price table is small: never dearer."""
    pieces = list(problem.other_pieces)
    for pole in ("positive", "negative"):
        colour = problem.colour_of(pole)
        moving = (len(problem.strings) + 1) * 2 ** len(problem.feeders_of(pole))
        while True:
            mine = [p for p in pieces if p.colour == colour]
            states = moving * int(np.prod([p.count + 1 for p in mine], dtype=float))
            if states <= MOST_STATES:
                break
            pairs = [
                (a, b)
                for a in mine
                for b in mine
                if a is not b
                and (a.conductor, a.as_feeders) == (b.conductor, b.as_feeders)
                and a.length_um <= b.length_um
            ]
            if not pairs:
                break
            a, b = min(pairs, key=lambda ab: ((ab[1].length_um - ab[0].length_um) * ab[1].count, ab[0].length_um))
            pieces = [p for p in pieces if p is not a and p is not b]
            pieces.append(replace(a, count=a.count + b.count))
    return replace(problem, other_pieces=tuple(pieces))
