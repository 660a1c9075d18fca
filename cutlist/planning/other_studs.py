"""Cables that are drawn through studs, or under lugs, of terminals they do not end on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from cutlist.bank.bus_bars import BarPlace
from cutlist.bank.job import Job
from cutlist.findings import Finding, how_many
from cutlist.layout.posts import SOURCE, every_post
from geometry.check_posts import Passing, posts_passed
from geometry.runs import Request, Run
from geometry.space import Space

RULE = "cables pass other studs"
MEND = (
    "model a solid over the stud (its cap or boot) so that the run goes round it, let the lug of this cable point "
    "another way, or join terminals that lie beside each other"
)


def other_stud_findings(
    job: Job, space: Space, places: Mapping[str, BarPlace], requests: Sequence[Request], runs: Sequence[Run]
) -> tuple[Finding, ...]:
    """A cable whose skin would lie in a live stud cannot be built, and fails; one that is only in the lug is a note."""
    posts = every_post(job, space, places)
    findings = [
        _finding(run.name, request.cable.radius_m, passing)
        for request, run in zip(requests, runs, strict=True)
        for passing in posts_passed(run.curve, request.cable.radius_m, posts)
    ]
    if not findings:
        text = f"{how_many(len(runs), 'cable')} clear of every stud, and of the lug on it, that they do not end on"
        findings.append(Finding(RULE, "all cables", "pass", text, source=SOURCE))
    return tuple(findings)


def _finding(cable: str, radius_m: float, passing: Passing) -> Finding:
    post, off_m, into = passing.post, passing.off_m, passing.into_post
    where = ", ".join(f"{1000 * value:.0f}" for value in passing.place)
    what, what_of = ("runs into the live stud of", "the stud") if into else ("touches the lug on", "the lug")
    text = (
        f"{cable} {what} {post.name}: its middle is {1000 * off_m:.1f} mm from {what_of} at ({where}) mm, "
        f"{1000 * radius_m:.1f} mm needed, {1000 * (radius_m - off_m):.1f} mm short"
    )
    status = "fail" if into else "note"
    item = f"{cable} past {post.name}"
    return Finding(RULE, item, status, text, off_m, radius_m, "m", SOURCE, MEND, at_least=True)
