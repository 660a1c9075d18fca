"""Can all leads of a group be laid at one length, and at which?

The longest run sets the length. If a lead cannot be laid at it - between two studs some lengths cannot be had, or there
is no room - the next longer length is looked for that every lead can have; a lead that has none is named.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from geometry.apart import LaidCable, as_laid
from geometry.runs import NoRun, Request, Run
from geometry.space import Space
from geometry.supports import clamps_on
from geometry.surplus import grid_around, lay_among, lay_at_length
from geometry.surroundings import RoomGrid, Stamp, Surroundings

__all__ = ["EqualRuns", "as_laid", "equal_runs"]

STEPS_M = (0.005, 0.01, 0.02, 0.04, 0.07, 0.1, 0.15, 0.2, 0.3)
RAISED_AT_MOST = 4


@dataclass(frozen=True)
class EqualRuns:
    asked_m: float  # the length wanted: given, or that of the longest run
    target_m: float  # the length laid; longer than asked only if some lead cannot have what was asked
    runs: tuple[Run | NoRun, ...]  # in the order of the requests
    raised_by: tuple[str, ...]  # why it is longer, in words; empty: it is as asked
    crossing: tuple[str, ...]  # leads for which no place was found clear of the other cables: dress them by hand

    @property
    def failed(self) -> tuple[NoRun, ...]:
        return tuple(run for run in self.runs if isinstance(run, NoRun))


def equal_runs(
    space: Space,
    requests: Sequence[Request],
    runs: Sequence[Run],
    *,
    target_m: float | None = None,
    others: Sequence[LaidCable] = (),
    span_m: float | None = None,
    reach_m: float | None = None,
    told: Callable[[int, int], None] | None = None,
) -> EqualRuns:
    """All leads at one developed length, each by its gentlest way that keeps clear of those laid before it.

    `runs` are the shortest runs, in the order of the requests. `others` lie already and belong to no lead of the group.
    Leads with least surplus are laid first: they have the fewest ways. `told` hears how many are laid, of how many.
    Raises ValueError if there are no runs.
    """
    if not runs or len(runs) != len(requests):
        raise ValueError(f"{len(requests)} leads were asked for, {len(runs)} runs given")
    asked_m = max(run.length_m for run in runs) if target_m is None else target_m
    surroundings = Surroundings(space)
    grid = grid_around(surroundings, list(runs), max(asked_m - min(run.length_m for run in runs), 0.0))
    wanted_m = asked_m
    raised_by: list[str] = []
    for _ in range(RAISED_AT_MOST):
        laid, crossing = _all_at(space, requests, runs, wanted_m, tuple(others), span_m, reach_m, grid, told)
        failed = [(i, run.reason) for i, run in enumerate(laid) if isinstance(run, NoRun)]
        if not failed:
            return EqualRuns(asked_m, wanted_m, tuple(laid), tuple(raised_by), tuple(crossing))
        longer = [_next_length(space, requests[i], runs[i], wanted_m, span_m, reach_m, grid) for i, _ in failed]
        possible = [length_m for length_m in longer if length_m is not None]
        if len(possible) < len(failed):
            break
        next_m = max(possible)
        reasons = "; ".join(f"{requests[i].name}: {reason}" for i, reason in failed)
        raised_by.append(f"{wanted_m * 1000:.1f} mm -> {next_m * 1000:.1f} mm: {reasons}")
        wanted_m = next_m
    laid, crossing = _all_at(space, requests, runs, asked_m, tuple(others), span_m, reach_m, grid, told)
    return EqualRuns(asked_m, asked_m, tuple(laid), (), tuple(crossing))


def _all_at(
    space: Space,
    requests: Sequence[Request],
    runs: Sequence[Run],
    target_m: float,
    others: tuple[LaidCable, ...],
    span_m: float | None,
    reach_m: float | None,
    grid: RoomGrid,
    told: Callable[[int, int], None] | None,
) -> tuple[list[Run | NoRun], list[str]]:
    laid: list[Run | NoRun] = list(runs)
    crossing = []
    lying = [as_laid(request, run) for request, run in zip(requests, runs, strict=True)]
    stamps = [_stamp(grid, cable) for cable in (*lying, *others)]
    order = sorted(range(len(runs)), key=lambda i: (-runs[i].length_m, requests[i].name))
    for number, i in enumerate(order):
        # shortest runs of leads that come later are kept clear as well: most of each will stay where it is
        rest = (*(cable for j, cable in enumerate(lying) if j != i), *others)
        clear = grid.with_cables([stamp for j, stamp in enumerate(stamps) if j != i])
        found, across = lay_among(
            space, requests[i], runs[i], target_m, others=rest, span_m=span_m, reach_m=reach_m, grid=clear
        )
        if isinstance(found, NoRun):
            alone: Run | NoRun | None = across
            if alone is None:
                alone = lay_at_length(space, requests[i], runs[i], target_m, span_m=span_m, reach_m=reach_m, grid=grid)
            if isinstance(alone, Run):
                crossing.append(f"{requests[i].name}: {found.reason}")
                found = alone
            elif span_m is not None:
                # it can be laid, but not clamped that often: better laid and told of than not laid
                found, _ = lay_among(space, requests[i], runs[i], target_m, others=rest, grid=clear)
                if isinstance(found, Run) and reach_m is not None:
                    found = _clamped(grid.around, requests[i], found, span_m, reach_m)
        laid[i] = found
        if isinstance(found, Run):
            lying[i] = as_laid(requests[i], found)
            stamps[i] = _stamp(grid, lying[i])
        if told is not None:
            told(number + 1, len(runs))
    return laid, sorted(crossing)


def _clamped(around: Surroundings, request: Request, run: Run, span_m: float, reach_m: float) -> Run:
    rules = {"span_m": span_m, "reach_m": reach_m, "straight_m": request.cable.straight_m}
    return replace(run, clamps=clamps_on(around, run.curve, **rules)[0])


def _stamp(grid: RoomGrid, cable: LaidCable) -> Stamp:
    return grid.stamp(cable.curve.sampled(grid.pitch_m / 2), cable.radius_m)


def _next_length(
    space: Space,
    request: Request,
    run: Run,
    above_m: float,
    span_m: float | None,
    reach_m: float | None,
    grid: RoomGrid,
) -> float | None:
    """The least longer length, of those tried, at which this lead can be laid."""
    for step_m in STEPS_M:
        length_m = above_m + step_m
        found = lay_at_length(space, request, run, length_m, span_m=span_m, reach_m=reach_m, grid=grid)
        if isinstance(found, Run):
            return length_m
    return None
