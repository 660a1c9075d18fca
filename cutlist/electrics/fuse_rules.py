"""The rules every fuse is held against: between what must flow and what the conductor allows, and what it can break."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cutlist.bank.cables import Fuse
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.findings import Finding
from cutlist.reference.tables import Row, limit_rows

NOISE = 1e-7  # of a solved current: a fuse exactly as large as asked is large enough
HIGH_VOLTAGE_V = 50.0  # from here up 33 CFR 183.455(c)(2) holds instead of (c)(1)


@dataclass(frozen=True)
class Need:
    """What must flow through a string, the worst of normal use and any string out: for long, and for a moment."""

    lasting_a: float
    surge_a: float


def family(job: Job, stock: Stock) -> tuple[Fuse, ...]:
    """The fuses of stock that the job allows for strings."""
    wanted = job.policy.string_fuse_family
    return tuple(f for f in stock.fuses if not wanted or f.family == wanted)


def fit_fuse(job: Job, fuses: Sequence[Fuse], need: Need, allowed_a: float, through_a: float = 0.0) -> Fuse | None:
    """The smallest fuse that carries what must flow and still protects the conductor; None if there is none.

    One that carries the surge without its curve being known is preferred, then one known to interrupt `through_a`,
    then the smaller, then the cheaper. Source: 33 CFR 183.455(c), and 80 % of rating for continuous load.
    """
    volts = max(job.voltage_v, max(s.emf_v for s in job.strings))
    least_a = need.lasting_a / rule_value("continuous current, share of fuse rating")
    ratings = sorted({f.rating_a for f in fuses})
    fitting = [
        f
        for f in fuses
        if f.voltage_v >= volts
        and f.rating_a >= least_a * (1 - NOISE)
        and f.rating_a <= highest_rating_a(job, ratings, allowed_a)
    ]

    def order(f: Fuse) -> tuple:
        breaks = f.interrupt_a is not None and f.interrupt_a >= through_a
        return (f.rating_a < need.surge_a, not breaks, f.rating_a, f.price is None, f.price or 0, f.family)

    return min(fitting, key=order, default=None)


def highest_rating_a(job: Job, ratings: Sequence[float], allowed_a: float) -> float:
    """The highest fuse rating that still protects a conductor which may carry `allowed_a`.

    Under 50 V 150 % of it; from 50 V up 100 %, or the next standard rating (of `ratings`) if none equals it, to 150 %.
    """
    if job.voltage_v < HIGH_VOLTAGE_V:
        return rule_value("rating under 50 V, share of table ampacity") * allowed_a
    exact = rule_value("rating from 50 V up, share of table ampacity") * allowed_a
    most = rule_value("rating from 50 V up, next standard size, share of table ampacity") * allowed_a
    above = min((r for r in ratings if r >= exact), default=exact)
    return above if above <= most else exact


def rating_source(job: Job) -> str:
    """Of the share above."""
    volts = "under 50 V" if job.voltage_v < HIGH_VOLTAGE_V else "from 50 V up"
    return str(rule(f"rating {volts}, share of table ampacity")["source"])


def interrupt_finding(item: str, interrupt_a: float | None, through_a: float) -> Finding:
    rule_name = "interrupt rating"
    if interrupt_a is None:
        message = f"{item} may have to interrupt {through_a:.0f} A; its interrupt rating is not given"
        return Finding(rule_name, item, "unknown", message, through_a, None, "A", mend="give it, from the fuse's label")
    message = f"{item} may have to interrupt {through_a:.0f} A and can interrupt {interrupt_a:.0f} A"
    status = "pass" if through_a <= interrupt_a else "fail"
    source = "bank's own fault current by network; interrupt rating from the stock or job file"
    return Finding(rule_name, item, status, message, through_a, interrupt_a, "A", source, "a fuse of a stronger family")


def fuse_distance_limit(job: Job) -> tuple[float, str]:
    """(metres along the cable from the source, source): the job's own, else 33 CFR 183.455(b)(1)."""
    if job.limits.fuse_distance_m is not None:
        return job.limits.fuse_distance_m, "job file"
    row = rule("distance from the source")
    return float(row["value"]), row["source"]


def rule(name: str) -> Row:
    """A rule of reference/protection_rules that may be a limit; ValueError if it may not."""
    for row in limit_rows("protection_rules"):
        if row["rule"] == name:
            return row
    raise ValueError(f'"{name}" is not known well enough to be a limit')


def rule_value(name: str) -> float:
    return float(rule(name)["value"])
