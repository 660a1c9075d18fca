"""What a pair of bus-bar places costs: only the longest lead and the feeders decide, as whole cuts.

With all leads alike a placement is known to the stock by a few whole numbers: the cut of the leads, the cut of each
feeder. The cost is a step function of them and never falls when one of them grows (a plan for longer pieces
yields the shorter ones too, and the drop grows with length).

A run length is therefore replaced by its class: the longest run with the same cuts, in whole micrometres.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass
from decimal import Decimal
from itertools import product

import numpy as np

from cutlist.layout.place_problem import Array, ConductorChoice, PlaceProblem
from cutlist.stock.price_table import IMPOSSIBLE, SPLIT, Whole, distinct_rows, least_costs, measure_for

Asked = tuple[str, tuple[int, ...], bytes]  # conductor, how many of each kind, their lengths
Pairs = tuple[tuple[str, str], ...] | None  # of conductors; None: all
POLES = ("positive", "negative")
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
            if problem.together(lead, feeder)
        ]
        used = {c.name for c in (*problem.lead_conductors, *problem.feeder_conductors)}
        cables = [c for c in problem.stock.cables if c.conductor in used]
        every = (*problem.lead_conductors, *problem.feeder_conductors)
        prices = [price for c in every for price in (c.other_price, c.shared_price)]
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
        self._known: dict[str, tuple[dict[tuple[int, ...], int], Whole, Array]] = {
            pole: (
                {},
                np.empty((len(self.choices), 0), dtype=np.int64),
                np.empty((len(self.choices), len(problem.circuits), 0)),
            )
            for pole in POLES
        }
        self._pairs = problem.pairs  # that the choices are of
        self._cases: dict[Pairs, PlaceCosts] = {}

    def of_case(self, case: PlaceProblem) -> PlaceCosts:
        """Those of some of the conductors, in the same units; remembered too."""
        if case.pairs == self._pairs:
            return self.with_limits(case)
        if case.pairs not in self._cases:
            self._cases[case.pairs] = PlaceCosts(case)
        return self._cases[case.pairs].with_limits(case)

    def with_limits(self, problem: PlaceProblem) -> PlaceCosts:
        """The same prices for a problem that differs in its drop limits or places only; what is known is shared."""
        other = copy(self)
        other.problem = problem
        return other

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

    def costs(self, positive: Whole, negative: Whole) -> Whole:
        """Least cost (m, n) of each class of the positive pole (m, 1 + feeders) beside each of the negative (n, ...).

        Over the conductors that hold the drop limit; IMPOSSIBLE where none does, or where the stock cannot serve.
        """
        return self._cheapest(self._paired(positive, negative))

    def _cheapest(self, pairing: _Pairing, chosen: Whole | None = None) -> Whole:
        """Least cost (m, n); into `chosen` goes the number of the conductors that cost it."""
        found = np.full(pairing.shape, IMPOSSIBLE, dtype=np.int64)
        limits = [circuit.drop_limit_v + 1e-9 for circuit in self.problem.circuits]
        for number in range(len(self.choices)):
            total = pairing.costs[0][number][pairing.ids[0]] + pairing.costs[1][number][pairing.ids[1]]
            for circuit, limit_v in enumerate(limits):
                total[pairing.drop_v(number, circuit) > limit_v] = IMPOSSIBLE
            if chosen is not None:
                chosen[total < found] = number
            np.minimum(found, total, out=found)
        return found

    def scrap_um(self, positive: Whole, negative: Whole) -> tuple[Whole, Whole]:
        """What ends up in no piece, and what is bought (each (m, n), um), when as little is bought as can be; both
        IMPOSSIBLE where nothing serves. For problems whose cost is metres."""
        chosen = np.zeros((len(positive), len(negative)), dtype=np.int64)
        cost = self._cheapest(self._paired(positive, negative), chosen)
        scrap, bought = (np.full(cost.shape, IMPOSSIBLE, dtype=np.int64) for _ in range(2))
        leads = self._leads(positive, negative)
        for number, (lead, feeder) in enumerate(self.choices):
            of = (chosen == number) & (cost < IMPOSSIBLE)
            used_um = np.full(cost.shape, self._other_um, dtype=np.int64)
            for pole, rows, longest in zip(POLES, (positive, negative), leads, strict=True):
                used_um += self.leads_bought * self.cut_um(longest, _allowance(lead, pole))
                ends_um = np.zeros(len(rows), dtype=np.int64)
                for i, end in enumerate(self.problem.feeders_of(pole)):
                    assert feeder is not None  # a problem with feeders has conductors for them
                    ends_um += self.cut_um(rows[:, 1 + i], end.allowance_um + _allowance(feeder, pole))
                used_um += ends_um[:, None] if pole == POLES[0] else ends_um[None, :]
            scrap[of] = np.maximum(cost[of] % SPLIT * 1000 - used_um[of], 0)
            bought[of] = cost[of] // SPLIT
        return scrap, bought

    @property
    def _other_um(self) -> int:
        """Of what is cut from the same spools whatever the places."""
        colours = {self.problem.colour_of(pole) for pole in POLES}
        return sum(p.count * p.length_um for p in self.problem.other_pieces if p.colour in colours)

    def least_over(self, positive: Whole, negative: Whole) -> Array:
        """Volts (m, n): how far the worst circuit is over its limit at best (negative: within), if stock can serve."""
        pairing = self._paired(positive, negative)
        best = np.full(pairing.shape, np.inf)
        for number in range(len(self.choices)):
            stocked = pairing.costs[0][number][pairing.ids[0]] + pairing.costs[1][number][pairing.ids[1]] < IMPOSSIBLE
            worst = np.full(pairing.shape, -np.inf if self.problem.circuits else 0.0)
            for circuit, rule in enumerate(self.problem.circuits):
                np.maximum(worst, pairing.drop_v(number, circuit) - rule.drop_limit_v, out=worst)
            np.minimum(best, np.where(stocked, worst, np.inf), out=best)
        return best

    def total_um(self, positive: Whole, negative: Whole) -> Whole:
        """Micrometres of run (m, n) in all leads bought and all feeders."""
        leads = self._leads(positive, negative)
        feeders = positive[:, 1:].sum(axis=1)[:, None] + negative[:, 1:].sum(axis=1)[None, :]
        return self.leads_bought * (leads[0] + leads[1]) + feeders

    def _leads(self, positive: Whole, negative: Whole) -> tuple[Whole, Whole]:
        shape = (len(positive), len(negative))
        first, second = (np.broadcast_to(x, shape) for x in (positive[:, :1], negative[:, 0][None, :]))
        if not self.problem.poles_alike:
            return first, second
        longer = np.maximum(first, second)
        return longer, longer

    def _paired(self, positive: Whole, negative: Whole) -> _Pairing:
        """What each pole must build in each pair: few things, since many pairs ask for the same."""
        tables, ids = [], []
        for pole, rows, leads in zip(POLES, (positive, negative), self._leads(positive, negative), strict=True):
            values, rank = np.unique(leads, return_inverse=True)
            feeders, which = distinct_rows(rows[:, 1:])
            rank = rank.reshape(leads.shape)
            beside = which[:, None] if pole == "positive" else which[None, :]
            asked = np.zeros((len(values), len(feeders)), dtype=bool)
            asked[rank, beside] = True
            lead, feeder = np.nonzero(asked)
            number = np.zeros(asked.shape, dtype=np.int64)
            number[lead, feeder] = np.arange(len(lead))
            tables.append(self._pole_table(pole, np.column_stack([values[lead], feeders[feeder]])))
            ids.append(number[rank, beside])
        return _Pairing((ids[0], ids[1]), (tables[0][0], tables[1][0]), (tables[0][1], tables[1][1]), self._other_v)

    def build(self, positive: Whole, negative: Whole, *, least_drop: bool = False) -> Build:
        """The cheapest conductors of one class (1, 1 + feeders) of each pole; of equal cost those of least drop.

        With `least_drop` the drop decides first and no drop limit is asked for. Raises ValueError if the class
        cannot be built.
        """
        pairing = self._paired(positive, negative)
        ranked = []
        for number in range(len(self.choices)):
            cost = int(pairing.costs[0][number][0] + pairing.costs[1][number][0])
            drops = tuple(float(pairing.drop_v(number, c)[0, 0]) for c in range(len(self.problem.circuits)))
            over = [v - circuit.drop_limit_v for v, circuit in zip(drops, self.problem.circuits, strict=True)]
            worst = max(over, default=0.0)
            if cost < IMPOSSIBLE and (least_drop or worst <= 1e-9):
                ranked.append(((worst, cost, number) if least_drop else (cost, worst, number), cost, drops))
        if not ranked:
            raise ValueError("no conductor in stock serves these runs within the drop limit")
        (_, _, number), cost, drops = min(ranked)
        lead, feeder = self.choices[number]
        leads = [int(table[0, 0]) for table in self._leads(positive, negative)]
        lead_cuts = [int(self.cut_um(np.array(x), _allowance(lead, p))) for x, p in zip(leads, POLES, strict=True)]
        ends = {"positive": iter(positive[0, 1:]), "negative": iter(negative[0, 1:])}
        feeder_cuts = []
        for end in self.problem.feeders:
            assert feeder is not None  # a problem with feeders has conductors for them
            feeder_cuts.append(int(self.cut_um(next(ends[end.pole]), end.allowance_um + _allowance(feeder, end.pole))))
        return Build(
            self.measure.money(cost),
            cost % SPLIT if self.measure.first == "money" else cost // SPLIT // 1000,
            lead.name,
            feeder.name if feeder else "",
            (lead_cuts[0], lead_cuts[1]),
            tuple(feeder_cuts),
            drops,
        )

    @property
    def _other_v(self) -> list[float]:
        return [circuit.other_v for circuit in self.problem.circuits]

    def _pole_table(self, pole: str, rows: Whole) -> tuple[Whole, Array]:
        """Cost (choices, q) and drop (choices, circuits, q) of a pole's classes (q, 1 + feeders); remembered."""
        numbers, costs, drops = self._known[pole]
        keys = [tuple(row) for row in rows.tolist()]
        missing = [i for i, key in enumerate(keys) if key not in numbers]
        if missing:
            done: dict[Asked, Whole] = {}  # leads alone cost the same beside any feeder
            fresh = [self._fresh(pole, lead, feeder, rows[missing], done) for lead, feeder in self.choices]
            numbers.update((keys[i], len(numbers)) for i in missing)
            costs = np.hstack([costs, np.stack([cost for cost, _ in fresh])])
            drops = np.concatenate([drops, np.stack([drop for _, drop in fresh])], axis=2)
            self._known[pole] = (numbers, costs, drops)
        order = [numbers[key] for key in keys]
        return costs[:, order], drops[:, :, order]

    def _fresh(
        self,
        pole: str,
        lead: ConductorChoice,
        feeder: ConductorChoice | None,
        rows: Whole,
        done: dict[Asked, Whole],
    ) -> tuple[Whole, Array]:
        problem = self.problem
        ends = problem.feeders_of(pole)
        leads_um = self.cut_um(rows[:, 0], _allowance(lead, pole))
        feeders_um = np.empty((len(rows), len(ends)), dtype=np.int64)
        for i, end in enumerate(ends):
            assert feeder is not None  # a problem with feeders has conductors for them
            feeders_um[:, i] = self.cut_um(rows[:, 1 + i], end.allowance_um + _allowance(feeder, pole))
        drops = np.empty((len(problem.circuits), len(rows)))
        for number, circuit in enumerate(problem.circuits):
            leads_a = problem.current_a if circuit.leads_a is None else circuit.leads_a
            drops[number] = leads_a * leads_um / 1e6 * lead.ohm_per_m / len(problem.strings)
            for i, end in enumerate(ends):
                if feeder is not None and end.name in circuit.feeders:
                    drops[number] += circuit.feeder_a(end) * feeders_um[:, i] / 1e6 * feeder.ohm_per_m
            if feeder is not None and pole == POLES[0]:  # once for both poles
                drops[number] += circuit.fixed_am * feeder.ohm_per_m
        cost = np.full(len(rows), IMPOSSIBLE, dtype=np.int64)
        fits = np.flatnonzero((rows < NEVER).all(axis=1))
        if len(fits):
            cost[fits] = self._pieces_cost(pole, lead, feeder, leads_um[fits], feeders_um[fits], done)
        return cost, drops

    def _pieces_cost(
        self,
        pole: str,
        lead: ConductorChoice,
        feeder: ConductorChoice | None,
        leads_um: Whole,
        feeders_um: Whole,
        done: dict[Asked, Whole],
    ) -> Whole:
        """Pieces of one pole: leads, feeders and what else is cut from the same spools, by conductor."""
        problem = self.problem
        total = np.zeros(len(leads_um), dtype=np.int64)
        with_feeders = feeder is not None and feeders_um.shape[1] > 0
        others = [
            (feeder.name if piece.as_feeders and feeder is not None else piece.conductor, piece)
            for piece in problem.other_pieces
            if piece.colour == problem.colour_of(pole)
        ]
        moving = {lead.name, *([feeder.name] if feeder is not None and with_feeders else [])}
        for name in sorted(moving | {name for name, _ in others}):
            counts: list[int] = []
            lengths: list[Whole] = []
            if name == lead.name:
                counts.append(self.leads_bought)
                lengths.append(leads_um[:, None])
            if feeder is not None and with_feeders and name == feeder.name:
                counts += [1] * feeders_um.shape[1]
                lengths.append(feeders_um)
            for conductor, piece in others:
                if conductor == name:
                    counts.append(piece.count)
                    lengths.append(np.full((len(leads_um), 1), piece.length_um, dtype=np.int64))
            asked = np.hstack(lengths)
            key = (name, tuple(counts), asked.tobytes())
            if key not in done:
                cable = problem.stock.cable(name, problem.colour_of(pole))
                done[key] = least_costs(cable, problem.stock.rules, self.measure, counts, asked)
            total += done[key]
        if self.measure.first == "money" and pole == "positive":  # what comes with the conductors, once
            total += self.measure.units(problem.other_price(lead, feeder)) * SPLIT
        return np.where(total >= IMPOSSIBLE, IMPOSSIBLE, total)


@dataclass(frozen=True, eq=False)
class _Pairing:
    """Pairs (m, n) by what each pole must build: ids (m, n) into the costs and drops of the few distinct things."""

    ids: tuple[Whole, Whole]
    costs: tuple[Whole, Whole]  # (choices, q) of each pole
    drops: tuple[Array, Array]  # (choices, circuits, q)
    other_v: list[float]

    @property
    def shape(self) -> tuple[int, ...]:
        return self.ids[0].shape

    def drop_v(self, choice: int, circuit: int) -> Array:
        parts = [drop[choice, circuit][ids] for drop, ids in zip(self.drops, self.ids, strict=True)]
        return np.asarray(parts[0] + parts[1] + self.other_v[circuit])


def _allowance(choice: ConductorChoice, pole: str) -> int:
    return choice.positive_allowance_um if pole == "positive" else choice.negative_allowance_um
