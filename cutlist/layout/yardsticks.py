"""What a pair of places is measured by, one aim after the other: cost, then metres, then the target, or the drop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutlist.layout.place_costs import NEVER, PlaceCosts
from cutlist.layout.place_pairs import Yardstick
from cutlist.layout.place_problem import Array
from cutlist.stock.price_table import IMPOSSIBLE, SPLIT, Whole

TARGET_STEP_UM = 100  # targets nearer than this are the same to a rigger
DROP_STEP_V = 1e-9


@dataclass(frozen=True)
class LeastCost:
    """Money (or metres bought) in the stock's whole units."""

    costs: PlaceCosts

    def lead_class(self, runs_m: Array) -> Whole:
        return self.costs.lead_class(runs_m)

    def feeder_class(self, pole: str, runs_m: Array) -> Whole:
        return self.costs.feeder_class(pole, runs_m)

    def scores(self, positive: Whole, negative: Whole) -> Whole:
        cost = self.costs.costs(positive, negative)
        return np.where(cost >= IMPOSSIBLE, IMPOSSIBLE, cost // SPLIT)


@dataclass(frozen=True)
class Coarse:
    """The same with runs rounded to a coarser step, so that fewer prices are asked: down never scores too much, up
    never too little.
    """

    yard: Yardstick
    step_um: int
    up: bool

    def lead_class(self, runs_m: Array) -> Whole:
        return self._rounded(self.yard.lead_class(runs_m))

    def feeder_class(self, pole: str, runs_m: Array) -> Whole:
        return self._rounded(self.yard.feeder_class(pole, runs_m))

    def scores(self, positive: Whole, negative: Whole) -> Whole:
        return self.yard.scores(positive, negative)

    def _rounded(self, whole_um: Whole) -> Whole:
        steps = -(-whole_um // self.step_um) if self.up else whole_um // self.step_um
        return np.where(whole_um < NEVER, steps * self.step_um, whole_um)


@dataclass(frozen=True)
class LeastMetres(LeastCost):
    """Micrometres of cable laid, among places that cost no more than `most`."""

    most: int

    def scores(self, positive: Whole, negative: Whole) -> Whole:
        cost = super().scores(positive, negative)
        return np.where(cost <= self.most, self.costs.total_um(positive, negative), IMPOSSIBLE)


@dataclass(frozen=True)
class LeastTarget:
    """The longest lead, among places whose cuts are none longer than those of the given classes."""

    costs: PlaceCosts
    leads: tuple[int, int]  # classes allowed, of each pole
    feeders: tuple[Whole, Whole]

    def lead_class(self, runs_m: Array) -> Whole:
        return self.costs.lead_um(runs_m)

    def feeder_class(self, pole: str, runs_m: Array) -> Whole:
        """Only whether it is within the limit: how far within does not matter."""
        limit = self.feeders[0 if pole == "positive" else 1]
        return np.where(self.costs.feeder_class(pole, runs_m) <= limit, 0, IMPOSSIBLE)

    def scores(self, positive: Whole, negative: Whole) -> Whole:
        fits = [
            (self.costs.lead_class_of_um(rows[:, 0]) <= most) & (rows[:, 1:] < IMPOSSIBLE).all(axis=1)
            for rows, most in zip((positive, negative), self.leads, strict=True)
        ]
        longest = np.maximum(positive[:, :1], negative[:, 0][None, :])
        return np.where(fits[0][:, None] & fits[1][None, :], -(-longest // TARGET_STEP_UM), IMPOSSIBLE)


@dataclass(frozen=True)
class LeastDrop(LeastCost):
    """How far the worst circuit is over its drop limit, in nanovolts (below nothing when it holds)."""

    def scores(self, positive: Whole, negative: Whole) -> Whole:
        over_v = self.costs.least_over(positive, negative)
        reachable = np.isfinite(over_v)
        steps = np.ceil(np.where(reachable, over_v, 0.0) / DROP_STEP_V).astype(np.int64)
        return np.where(reachable, steps, IMPOSSIBLE)
