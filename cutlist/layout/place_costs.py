"""What a pair of bus-bar places costs: only the longest lead and the feeders decide, as whole cuts.

With all leads alike a placement is known to the stock by a few whole numbers: the cut of the leads, the cut of each
feeder. The cost is a step function of them and never falls when one of them grows (a plan for longer pieces
yields the shorter ones too, and the drop grows with length); only the objective 'least waste' breaks that law.

A run length is therefore replaced by its class: the longest run with the same cuts, in whole micrometres.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import product

import numpy as np
from numpy.typing import NDArray

from cutlist.layout.place_problem import Array, ConductorChoice, PlaceProblem
from cutlist.stock.price_table import IMPOSSIBLE, SPLIT, Whole, least_costs, measure_for

NEVER = 1 << 40  # the class of a run that is too long for a rule, or not known
SAME_MARK = 1e-6  # an excess of this share of a rounding step does not count: it is the last bit of a square root


@dataclass(frozen=True)
class Build:
    """What one class of places is built of, at least cost."""

    money: Decimal | None  # None: not counted in money
    bought_mm: int
    lead_conductor: str
    feeder_conductor: str  # "" without feeders
    lead_cuts_um: tuple[int, int]  # positive, negative
    feeder_cuts_um: tuple[int, ...]  # in the order of the problem's feeders
    drops_v: tuple[float, ...]  # of each circuit


@dataclass(frozen=True)
class Classes:
    """Classes of q placements: leads (q, 2) of the positive and the negative pole, feeders (q, k) of each."""

    leads: Whole
    positive: Whole
    negative: Whole

    def __len__(self) -> int:
        return len(self.leads)

    def total_um(self, leads_bought: int) -> Whole:
        return leads_bought * self.leads.sum(axis=1) + self.positive.sum(axis=1) + self.negative.sum(axis=1)


class PlaceCosts:
    """The price of every class, worked out when asked for and remembered."""

    def __init__(self, problem: PlaceProblem) -> None:
        self.problem = problem
        self.leads_bought = sum(1 for s in problem.strings if not s.later)
        self.feeder_choices: Sequence[ConductorChoice | None] = (
            problem.feeder_conductors if problem.feeders else (None,)
        )
        self.choices = [
            (lead, feeder)
            for lead, feeder in product(problem.lead_conductors, self.feeder_choices)
            if feeder is None or problem.pairs is None or (lead.name, feeder.name) in problem.pairs
        ]
        used = {c.name for c in (*problem.lead_conductors, *problem.feeder_conductors)}
        cables = [c for c in problem.stock.cables if c.conductor in used]
        prices = [c.other_price for c in (*problem.lead_conductors, *problem.feeder_conductors)]
        self.measure = measure_for(cables, problem.stock.rules, prices)
        step = problem.round_up_um
        leads = problem.lead_conductors
        allowances = {a for c in leads for a in (c.positive_allowance_um, c.negative_allowance_um)}
        self._lead_marks = sorted({a % step for a in allowances})
        self._feeder_marks = {
            feeder.name: sorted(
                {(feeder.allowance_um + _allowance(c, feeder.pole)) % step for c in problem.feeder_conductors}
            )
            for feeder in problem.feeders
        }
        self._known: dict[tuple[str, str, str], dict[tuple[int, ...], int]] = {}

    @property
    def monotone(self) -> bool:
        """Whether a longer run never costs less."""
        return self.measure.first != "waste"

    def lead_class(self, runs_m: Array) -> Whole:
        """The longest run (um) with the same lead cuts; NEVER beyond the longest lead allowed."""
        return self.lead_class_of_um(self.lead_um(runs_m))

    def lead_um(self, runs_m: Array) -> Whole:
        """Runs in whole micrometres, extra length included; NEVER beyond the longest lead allowed."""
        return self._whole_um(runs_m, self.problem.longest_lead_m)

    def feeder_class(self, pole: str, runs_m: Array) -> Whole:
        """The same for the feeders of a pole, in the last axis."""
        feeders = self.problem.feeders_of(pole)
        found = np.empty(np.shape(runs_m), dtype=np.int64)
        for i, feeder in enumerate(feeders):
            whole = self._whole_um(runs_m[..., i], feeder.longest_m)
            found[..., i] = np.where(whole < NEVER, self._up(whole, self._feeder_marks[feeder.name]), NEVER)
        return found

    def _whole_um(self, runs_m: Array, longest_m: float | None) -> Whole:
        step = self.problem.round_up_um
        runs = np.asarray(runs_m, dtype=float)
        known = np.isfinite(runs)
        if longest_m is not None:
            known &= runs <= longest_m + 1e-9
        micrometres = (np.where(known, runs, 0.0) + self.problem.longer_m) * 1e6
        whole = np.ceil(micrometres - step * SAME_MARK).astype(np.int64)
        return np.where(known, whole, NEVER)

    def lead_class_of_um(self, whole_um: Whole) -> Whole:
        """The class of a lead whose run is known in whole micrometres, extra length and rules included."""
        return np.where(whole_um < NEVER, self._up(whole_um, self._lead_marks), NEVER)

    def _up(self, whole_um: Whole, marks_um: Sequence[int]) -> Whole:
        step = self.problem.round_up_um
        return whole_um + np.min([(mark - whole_um) % step for mark in marks_um], axis=0)

    def cut_um(self, class_um: Whole, allowance_um: int) -> Whole:
        step = self.problem.round_up_um
        return np.maximum(-(-(class_um - allowance_um) // step) * step, 0)

    def costs(self, classes: Classes) -> Whole:
        """Least cost (q,) over the conductors that hold the drop limit; IMPOSSIBLE where none does, or stock lacks."""
        found = np.full(len(classes), IMPOSSIBLE, dtype=np.int64)
        for lead, feeder in self.choices:
            np.minimum(found, self._cost_of(lead, feeder, classes), out=found)
        return found

    def money_of(self, cost: int) -> Decimal | None:
        return None if cost >= IMPOSSIBLE else self.measure.money(cost)

    def drops(self, classes: Classes, lead: ConductorChoice, feeder: ConductorChoice | None) -> Array:
        """Volts (circuits, q) lost in leads, feeders and what lies beyond."""
        problem = self.problem
        lead_m = sum(self.cut_um(classes.leads[:, i], _allowance(lead, pole)) for i, pole in enumerate(POLES)) / 1e6
        lead_v = problem.current_a * lead_m * lead.ohm_per_m / max(len(problem.strings), 1)
        feeder_v = {}
        for pole, table in zip(POLES, (classes.positive, classes.negative), strict=True):
            for i, end in enumerate(problem.feeders_of(pole)):
                assert feeder is not None  # a problem with feeders has conductors for them
                cut_m = self.cut_um(table[:, i], end.allowance_um + _allowance(feeder, pole)) / 1e6
                feeder_v[end.name] = end.current_a * cut_m * feeder.ohm_per_m
        rows = [
            lead_v + sum(feeder_v[name] for name in circuit.feeders) + circuit.other_v for circuit in problem.circuits
        ]
        return np.array(rows).reshape(len(rows), len(classes))

    def build(self, classes: Classes, *, least_drop: bool = False) -> Build:
        """The cheapest conductors of one class; of equal cost those of least drop, then in the order given.

        With `least_drop` the drop decides first and no drop limit is asked for. Raises ValueError if the class
        cannot be built.
        """
        ranked = []
        for number, (lead, feeder) in enumerate(self.choices):
            cost_of = self._stocked_cost if least_drop else self._cost_of
            cost = int(cost_of(lead, feeder, classes)[0])
            if cost < IMPOSSIBLE:
                drops = tuple(float(v) for v in self.drops(classes, lead, feeder)[:, 0])
                worst = max(drops, default=0.0)
                ranked.append(
                    ((worst, cost, number) if least_drop else (cost, worst, number), cost, drops, lead, feeder)
                )
        if not ranked:
            raise ValueError("no conductor in stock serves these runs within the drop limit")
        _, cost, drops, lead, feeder = min(ranked, key=lambda r: r[0])
        cuts = [int(self.cut_um(classes.leads[:, i], _allowance(lead, p))[0]) for i, p in enumerate(POLES)]
        columns = {pole: iter(range(len(self.problem.feeders_of(pole)))) for pole in POLES}
        feeder_cuts = []
        for end in self.problem.feeders:
            table = classes.positive if end.pole == "positive" else classes.negative
            assert feeder is not None  # a problem with feeders has conductors for them
            allowance = end.allowance_um + _allowance(feeder, end.pole)
            feeder_cuts.append(int(self.cut_um(table[:, next(columns[end.pole])], allowance)[0]))
        return Build(
            self.measure.money(cost),
            cost % SPLIT,
            lead.name,
            feeder.name if feeder else "",
            (cuts[0], cuts[1]),
            tuple(feeder_cuts),
            drops,
        )

    def least_drop(self, classes: Classes) -> Array:
        """Volts (q,): how far the worst circuit is over its limit at best (negative: within it), if stock can serve."""
        best = np.full(len(classes), np.inf)
        limits = np.array([circuit.drop_limit_v for circuit in self.problem.circuits])[:, None]
        for lead, feeder in self.choices:
            over = (self.drops(classes, lead, feeder) - limits).max(axis=0)
            stocked = self._stocked_cost(lead, feeder, classes) < IMPOSSIBLE
            np.minimum(best, np.where(stocked, over, np.inf), out=best)
        return best

    def _cost_of(self, lead: ConductorChoice, feeder: ConductorChoice | None, classes: Classes) -> Whole:
        allowed = _within_rules(classes)
        if self.problem.circuits:
            limits = np.array([circuit.drop_limit_v for circuit in self.problem.circuits])[:, None]
            allowed &= (self.drops(classes, lead, feeder) <= limits + 1e-9).all(axis=0)
        found = np.full(len(classes), IMPOSSIBLE, dtype=np.int64)
        rows = np.flatnonzero(allowed)
        if len(rows):
            chosen = Classes(classes.leads[rows], classes.positive[rows], classes.negative[rows])
            found[rows] = self._stocked_cost(lead, feeder, chosen)
        return found

    def _stocked_cost(self, lead: ConductorChoice, feeder: ConductorChoice | None, classes: Classes) -> Whole:
        """What the pieces cost, whatever the drop."""
        total = np.zeros(len(classes), dtype=np.int64)
        for i, (pole, table) in enumerate(zip(POLES, (classes.positive, classes.negative), strict=True)):
            total += self._pole_cost(pole, lead, feeder, classes.leads[:, i], table)
        if self.measure.first == "money":
            other = lead.other_price + (feeder.other_price if feeder else 0)
            total += self.measure.units(other) * SPLIT
        return np.where(total >= IMPOSSIBLE, IMPOSSIBLE, total)

    def _pole_cost(
        self, pole: str, lead: ConductorChoice, feeder: ConductorChoice | None, leads_um: Whole, feeders_um: Whole
    ) -> Whole:
        """Pieces of one pole: leads, feeders and what else is cut from the same spools, by conductor."""
        known = self._known.setdefault((pole, lead.name, feeder.name if feeder else ""), {})
        distinct, back = np.unique(np.column_stack([leads_um, feeders_um]), axis=0, return_inverse=True)
        keys = [tuple(row) for row in distinct.tolist()]
        missing = [i for i, key in enumerate(keys) if key not in known]
        if missing:
            fresh = self._fresh_pole_cost(pole, lead, feeder, distinct[missing])
            known.update(zip([keys[i] for i in missing], fresh.tolist(), strict=True))
        return np.array([known[key] for key in keys], dtype=np.int64)[back.reshape(-1)]

    def _fresh_pole_cost(self, pole: str, lead: ConductorChoice, feeder: ConductorChoice | None, rows: Whole) -> Whole:
        problem = self.problem
        ends = problem.feeders_of(pole)
        lead_cuts = self.cut_um(rows[:, :1], _allowance(lead, pole))
        feeder_cuts = np.empty((len(rows), len(ends)), dtype=np.int64)
        for i, end in enumerate(ends):
            assert feeder is not None
            feeder_cuts[:, i] = self.cut_um(rows[:, 1 + i], end.allowance_um + _allowance(feeder, pole))
        total = np.zeros(len(rows), dtype=np.int64)
        for name in sorted({lead.name, *([feeder.name] if feeder and ends else [])}):
            counts: list[int] = []
            lengths: list[NDArray[np.int64]] = []
            if name == lead.name:
                counts.append(self.leads_bought)
                lengths.append(lead_cuts)
            if feeder and name == feeder.name and ends:
                counts += [1] * len(ends)
                lengths.append(feeder_cuts)
            for piece in problem.other_pieces:
                if (piece.conductor, piece.colour) == (name, problem.colour_of(pole)):
                    counts.append(piece.count)
                    lengths.append(np.full((len(rows), 1), piece.length_um, dtype=np.int64))
            cable = problem.stock.cable(name, problem.colour_of(pole))
            total += least_costs(cable, problem.stock.rules, self.measure, counts, np.hstack(lengths))
        return np.where(total >= IMPOSSIBLE, IMPOSSIBLE, total)


POLES = ("positive", "negative")


def _allowance(choice: ConductorChoice, pole: str) -> int:
    return choice.positive_allowance_um if pole == "positive" else choice.negative_allowance_um


def _within_rules(classes: Classes) -> NDArray[np.bool_]:
    every = np.hstack([classes.leads, classes.positive, classes.negative])
    return np.asarray((every < NEVER).all(axis=1))
