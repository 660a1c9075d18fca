"""Several jobs cut from one stock: what cutting them together saves against one after the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import partial

from cutlist.bank.stock import Stock
from cutlist.progress import Progress, silent
from cutlist.stock.cut_list import CutList, JobPieces, make_cut_list
from cutlist.stock.cut_plan import CannotCut
from cutlist.stock.stock_after import stock_after, worth


@dataclass(frozen=True)
class Pooled:
    """`alone`: each job by itself, in the order given, each from what the ones before it left in stock.

    `saved` is money spent on cable, less what the stock is worth in the end, against that; None where a price is
    missing, or where the jobs cannot be cut one after the other (`why_not`).
    """

    together: CutList
    alone: tuple[CutList, ...]
    saved: Decimal | None
    saved_um: int | None  # of cable bought
    why_not: str = ""
    interrupted: bool = False  # before the jobs were compared

    @property
    def proved(self) -> bool:
        """Whether both sides of the comparison are proved best."""
        return all(cuts.cut_plan.proved for cuts in (self.together, *self.alone))


def pool(
    name: str,
    units: str,
    jobs: Sequence[JobPieces],
    stock: Stock,
    *,
    time_limit_s: float | None = 10.0,
    progress: Progress = silent,
    keep_on_interrupt: bool = False,
) -> Pooled:
    """The jobs cut together, beside each alone. `time_limit_s` is for each of these cutting plans.

    Raises CannotCut if the stock cannot yield them together; ValueError for two jobs of the same name.
    """
    planned = partial(make_cut_list, time_limit_s=time_limit_s, progress=progress, keep_on_interrupt=keep_on_interrupt)
    together = planned(name, units, jobs, stock)
    alone: list[CutList] = []
    left = stock
    try:
        for job in jobs:
            if any(cuts.cut_plan.interrupted for cuts in (together, *alone)):
                return Pooled(together, tuple(alone), None, None, interrupted=True)
            cuts = planned(job.name, units, [job], left)
            left = stock_after(cuts.cut_plan, left, cuts.order)
            alone.append(cuts)
    except CannotCut as cannot:
        return Pooled(together, tuple(alone), None, None, f"{jobs[len(alone)].name}: {cannot.faults[0]}")
    saved_um = sum(cuts.cut_plan.bought_um for cuts in alone) - together.cut_plan.bought_um
    if any(cuts.cut_plan.missing_prices for cuts in (together, *alone)):
        return Pooled(together, tuple(alone), None, saved_um)
    apart = sum((cuts.cut_plan.spent for cuts in alone), -worth(left))
    pooled = together.cut_plan.spent - worth(stock_after(together.cut_plan, stock))
    return Pooled(together, tuple(alone), apart - pooled, saved_um)
