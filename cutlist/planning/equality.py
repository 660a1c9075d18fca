"""How equal is enough: what makes the strings share unevenly, and what errors in cutting and crimping do to it."""

from __future__ import annotations

from cutlist.bank.job import Job
from cutlist.electrics.bank_state import BankSolution
from cutlist.electrics.sharing import chance_outside, contributions, length_tolerance, usual_spread
from cutlist.electrics.string_model import sharing_of, string_model
from cutlist.findings import Finding
from cutlist.plan_types import Equality


def equality_of(job: Job, solution: BankSolution) -> Equality | None:
    """Of one solved state with all strings in service; None for one string, or if nothing flows."""
    sharing = sharing_of(solution)
    if sharing is None:
        return None
    model, share, spread = string_model(job, solution), job.limits.share, usual_spread(job)
    return Equality(
        largest_over_smallest=sharing.largest_over_smallest,
        causes=contributions(model),
        tolerance=length_tolerance(model, share),
        held_m=job.policy.round_up_um / 1e6,
        spread=spread,
        chance=chance_outside(model, spread, share),
    )


def equality_findings(equality: Equality | None) -> tuple[Finding, ...]:
    """Whether a lead that is off by one mark still keeps every string within its share."""
    if equality is None:
        return ()
    tolerance, held_m = equality.tolerance, equality.held_m
    message = (
        f"every lead may be {1000 * tolerance.length_m:.0f} mm off its length with each string within "
        f"{tolerance.share:.0%} of an even share; lengths are marked to {1000 * held_m:.3g} mm"
    )
    return (
        Finding(
            "length tolerance", "leads", "pass" if held_m <= tolerance.length_m else "fail", message, held_m,
            tolerance.length_m, "m", f"network of the bank; share from the job file; {tolerance.limited_by} first",
            "see which cause is largest: more careful cutting mends only the lengths",
        ),
    )  # fmt: skip
