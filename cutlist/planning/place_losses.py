"""What is lost on the way while the bus bars move: volts at one guess of the lengths, and more for every metre."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from cutlist.bank.cables import Conductor, Fuse
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.electrics.quick_bank import Combination, Prepared, prepare, worst_at_lengths, worst_of
from cutlist.electrics.wiring import CableSpec
from cutlist.layout.place_problem import Array, Circuit, ConductorChoice

FURTHER_M = 0.1  # lengths are changed by this to see what the drop does


class Losses:
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
