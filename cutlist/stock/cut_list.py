"""Pieces of one or several jobs, the stock they are cut from, and how: what the workshop's papers are printed from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from cutlist.bank.stock import Stock
from cutlist.progress import Progress, silent
from cutlist.stock.alternates import Alternate
from cutlist.stock.check import faults_in
from cutlist.stock.cut_plan import CutPlan, Piece
from cutlist.stock.later_leads import LaterLeads
from cutlist.stock.order import CableEnd, FuseUse, Order, SundryUse, order_list
from cutlist.stock.spool_cuts import cut


@dataclass(frozen=True)
class JobPieces:
    """What one job asks of the stock. The names of its pieces are its own."""

    name: str
    pieces: tuple[Piece, ...]
    ends: tuple[CableEnd, ...] = ()  # those that take a lug
    fuses: tuple[FuseUse, ...] = ()  # spares among them
    sundries: tuple[SundryUse, ...] = ()


@dataclass(frozen=True)
class CutList:
    """Pieces, the stock before the first cut, and the plan. `done`: names of the cuts that are made already."""

    name: str
    units: str  # "mm" or "in": of the papers
    jobs: tuple[JobPieces, ...]  # pieces have names unique over all of them
    stock: Stock
    cut_plan: CutPlan
    order: Order
    done: tuple[str, ...] = ()
    miscut: tuple[str, ...] = ()  # names of cuts that came out in a wrong length; each is a remnant of that name
    round_up_um: int | None = None  # lengths come rounded as they are wanted
    later_strings: int = 0
    alternates: tuple[Alternate, ...] = ()

    @property
    def later_leads(self) -> LaterLeads | None:
        """Pieces say nothing of strings still to come."""
        return None

    @property
    def pieces(self) -> tuple[Piece, ...]:
        return tuple(piece for job in self.jobs for piece in job.pieces)

    def job_of(self, piece: str) -> str:
        """Name of the job a piece belongs to; "" for a miscut."""
        return next((job.name for job in self.jobs if any(p.name == piece for p in job.pieces)), "")


def make_cut_list(
    name: str,
    units: str,
    jobs: Sequence[JobPieces],
    stock: Stock,
    *,
    time_limit_s: float | None = 10.0,
    progress: Progress = silent,
    keep_on_interrupt: bool = False,
) -> CutList:
    """All pieces cut together at least cost, and what has to be bought.

    Several jobs' pieces are told apart by their job's name before their own. Raises CannotCut when the stock cannot
    yield the pieces, ValueError when two jobs have the same name.
    """
    told_apart = apart(jobs)
    pieces = [piece for job in told_apart for piece in job.pieces]
    plan = cut(pieces, stock, time_limit_s=time_limit_s, progress=progress, keep_on_interrupt=keep_on_interrupt)
    wrong = faults_in(plan, pieces, stock)
    if wrong:  # the solver and its checker disagree: never print such a plan
        raise AssertionError("; ".join(wrong))
    return CutList(name, units, told_apart, stock, plan, order_of(plan, told_apart, stock))


def order_of(plan: CutPlan, jobs: Sequence[JobPieces], stock: Stock) -> Order:
    return order_list(
        plan,
        stock,
        ends=[end for job in jobs for end in job.ends],
        fuses=[fuse for job in jobs for fuse in job.fuses],
        sundries=[sundry for job in jobs for sundry in job.sundries],
        spare_fuses=0,  # each job has counted its own
    )


def apart(jobs: Sequence[JobPieces]) -> tuple[JobPieces, ...]:
    """The same jobs, with every name led by its job's where there are several.

    Raises ValueError when two jobs have the same name.
    """
    names = [job.name for job in jobs]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise ValueError(f'two jobs are called "{twice[0]}"')
    return tuple(jobs) if len(jobs) < 2 else tuple(_led(job) for job in jobs)


def _led(job: JobPieces) -> JobPieces:
    def led(name: str) -> str:
        return f"{job.name}: {name}"

    return JobPieces(
        job.name,
        tuple(replace(p, name=led(p.name)) for p in job.pieces),
        tuple(replace(e, name=led(e.name), piece=led(e.piece)) for e in job.ends),
        tuple(replace(f, name=led(f.name)) for f in job.fuses),
        tuple(replace(s, why=led(s.why)) for s in job.sundries),
    )


def gap_share(cost: Decimal, least: Decimal) -> Decimal | None:
    """How far above its bound a cost may lie, as a share of the cost; None where that says nothing.

    >>> gap_share(Decimal(200), Decimal(199))
    Decimal('0.005')
    """
    return (cost - least) / cost if cost > 0 else None
