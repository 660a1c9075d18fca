"""What a pair of places is measured by, one aim after the other: cost, then metres, then the target, or the drop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutlist.layout.place_costs import Classes, PlaceCosts
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

    def score(self, classes: Classes) -> Whole:
        cost = self.costs.costs(classes)
        return np.where(cost >= IMPOSSIBLE, IMPOSSIBLE, cost // SPLIT)


@dataclass(frozen=True)
class LeastMetres(LeastCost):
    """Micrometres of cable laid, among places that cost no more than `most`."""

    most: int

    def score(self, classes: Classes) -> Whole:
        cost = super().score(classes)
        return np.where(cost <= self.most, classes.total_um(self.costs.leads_bought), IMPOSSIBLE)


@dataclass(frozen=True)
class LeastTarget:
    """The longest lead, among places whose cuts are none longer than `most` allows."""

    costs: PlaceCosts
    most: Classes  # of one placement

    def lead_class(self, runs_m: Array) -> Whole:
        return self.costs.lead_um(runs_m)

    def feeder_class(self, pole: str, runs_m: Array) -> Whole:
        """Only whether it is within the limit: how far within does not matter."""
        limit = (self.most.positive if pole == "positive" else self.most.negative)[0]
        return np.where(self.costs.feeder_class(pole, runs_m) <= limit, limit, IMPOSSIBLE)

    def score(self, classes: Classes) -> Whole:
        fits = (self.costs.lead_class_of_um(classes.leads) <= self.most.leads).all(axis=1)
        fits &= (classes.positive < IMPOSSIBLE).all(axis=1) & (classes.negative < IMPOSSIBLE).all(axis=1)
        return np.where(fits, -(-classes.leads.sum(axis=1) // (2 * TARGET_STEP_UM)), IMPOSSIBLE)


@dataclass(frozen=True)
class LeastDrop(LeastCost):
    """How far the worst circuit is over its drop limit, in nanovolts (below nothing when it holds)."""

    def score(self, classes: Classes) -> Whole:
        over_v = self.costs.least_drop(classes)
        reachable = np.isfinite(over_v)
        steps = np.ceil(np.where(reachable, over_v, 0.0) / DROP_STEP_V).astype(np.int64)
        return np.where(reachable, steps, IMPOSSIBLE)
