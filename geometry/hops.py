"""Where a run meets another cable: can a small change of the run take it past, over or beside it?

Cables that only cross need no lanes: one hops over the other where they meet. The other cables stand as thin rods
among the solids, each kept off by both radii. A stretch of the run is pulled taut among them from a first guess that
lies on one side of the cable in its way; the sides are tried in turn, and the change that costs least is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from geometry.apart import LaidCable, nearest_cable
from geometry.corners import Corners, corners_of, rounded
from geometry.curve import Curve
from geometry.polish import FINE_SAMPLE_M
from geometry.runs import Request, Run
from geometry.sidesteps import guesses, leg_of
from geometry.surplus import least_slack, passed_holes
from geometry.surroundings import Surroundings
from geometry.taut_past_rods import pulled

MOST_HOPS = 16
MENDS = 4
MOST_LONGER_M = 0.1  # a run is not made longer than this to clear others: dressed by hand it costs less
WINDOW = 2  # legs to either side of the place that may change; the rest of the run stays
SMALL_M = 0.01  # a hop that costs no more is good enough
SHAVED_M = 5e-5  # a run may be this much nearer than asked, as the router's own


@dataclass
class Effort:
    """How many pulls may still be made: where many cables cross in little room there is no end of ways to try."""

    pulls: int
    known: dict[tuple[object, ...], Corners | None] = field(default_factory=dict)  # what came of each pull: some recur


def hopped(
    surroundings: Surroundings,
    request: Request,
    run: Run,
    others: tuple[LaidCable, ...],
    guess: Corners | None = None,
    heeded: Sequence[LaidCable] = (),
    *,
    effort: Effort,
    give_in: bool = False,
) -> tuple[Run | None, tuple[str, ...]]:
    """The run with small changes that take it past each cable in its way in turn, and the cables it still lies in.

    With a guess it starts from the run pulled taut from those corners among the cables `heeded`. If it cannot be taken
    past a cable there is no run; or, giving in, it lies in that cable and goes on past the others.
    """
    cable = request.cable
    loose_m = cable.straight_m + cable.bend_radius_m
    corners = corners_of(run.curve)
    met = {other.name: other for other in heeded}  # pulled taut among these alone, not among all
    lies_in: list[str] = []
    if guess is not None:
        taut = pulled(surroundings, request, guess, 0, len(guess.points) - 2, tuple(met.values()))
        if taut is not None:
            corners = taut
        elif not give_in:
            return None, ()
    for _ in range(MOST_HOPS):
        curve = rounded(corners)
        apart_m, name, at_m = nearest_cable(curve, loose_m, 0.0, curve.length_m, others, cable.radius_m)
        if apart_m >= 0:
            found = _finished(surroundings, request, run, corners, others, tuple(met.values()))
            return found, tuple(lies_in)
        met[name] = next(other for other in others if other.name == name)
        better = _past(surroundings, request, corners, curve, at_m, met[name], tuple(met.values()), effort)
        if better is not None and better.length_m <= run.length_m + MOST_LONGER_M:
            corners = better
            continue
        if not give_in:
            return None, ()
        del met[name]
        others = tuple(other for other in others if other.name != name)
        lies_in.append(name)
    return None, ()


def _past(
    surroundings: Surroundings,
    request: Request,
    corners: Corners,
    curve: Curve,
    at_m: float,
    met: LaidCable,
    heeded: tuple[LaidCable, ...],
    effort: Effort,
) -> Corners | None:
    """The run past one cable at one place, changed within a window of a few legs."""
    if effort.pulls <= 0:
        return None
    corners, leg = leg_of(corners, curve, at_m, request.cable.bend_radius_m)
    from_leg, to_leg = max(leg - WINDOW, 0), min(leg + WINDOW, len(corners.points) - 2)
    best: Corners | None = None
    for guess, more in guesses(corners, curve, at_m, leg, met, request.cable.radius_m):
        effort.pulls -= 1
        key = (request.name, guess.points.tobytes(), guess.radii.tobytes(), from_leg, to_leg + more,
               tuple((other.name, other.radius_m, other.curve.table.tobytes()) for other in heeded))  # fmt: skip
        if key not in effort.known:
            effort.known[key] = pulled(surroundings, request, guess, from_leg, to_leg + more, heeded)
        made = effort.known[key]
        if made is not None and (best is None or made.length_m < best.length_m):
            best = made
            if made.length_m < curve.length_m + SMALL_M:
                break
    return best


def _finished(
    surroundings: Surroundings,
    request: Request,
    run: Run,
    corners: Corners,
    others: tuple[LaidCable, ...],
    heeded: tuple[LaidCable, ...],
) -> Run | None:
    """The corners as a run, if it is clear of every solid and cable when measured exactly; pulled finely if need be."""
    cable = request.cable
    loose_m = cable.straight_m + cable.bend_radius_m
    for mended in range(MENDS + 1):
        curve = rounded(corners)
        slack = least_slack(surroundings, request, curve)
        if slack[0] >= cable.standoff_m - SHAVED_M and curve.least_bend_radius_m >= cable.bend_radius_m - 1e-9:
            apart_m = nearest_cable(curve, loose_m, 0.0, curve.length_m, others, cable.radius_m)[0] if mended else 0.0
            return as_run(surroundings, request, run, curve, slack) if apart_m >= 0 else None
        # the coarse pull has missed something between its samples
        corners, leg = leg_of(corners, curve, slack[1], cable.bend_radius_m)
        from_leg, to_leg = max(leg - WINDOW, 0), min(leg + WINDOW, len(corners.points) - 2)
        taut = pulled(surroundings, request, corners, from_leg, to_leg, heeded, FINE_SAMPLE_M)
        if taut is None:
            return None
        corners = taut
    return None


def as_run(
    surroundings: Surroundings, request: Request, run: Run, curve: Curve, slack: tuple[float, float, str]
) -> Run:
    """The run along another curve; `slack` as `least_slack` tells it."""
    at = curve.points_at([slack[1]])[0]
    return replace(
        run,
        curve=curve,
        least_clearance_m=slack[0] - request.cable.radius_m,
        least_clearance_at=(float(at[0]), float(at[1]), float(at[2])),
        least_clearance_to=slack[2],
        penetrations=passed_holes(surroundings.space, curve),
        clamps=(),
    )
