"""The shortest run that clamps can hold, where the shortest run of all cannot be held."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from geometry.bends import as_curve
from geometry.certify import Clearance, clearance
from geometry.clearances import Clearances
from geometry.curve import Curve
from geometry.footing import MARGIN_M, Footing, Track
from geometry.holding import Holding
from geometry.polish import FINE_SAMPLE_M, SAMPLE_M, Polished, polished, pushed_out
from geometry.structure import Structure
from geometry.supported_ways import SupportedWays
from geometry.supports import Unsupported, clamps_on
from geometry.surroundings import Surroundings
from geometry.ways import Way

LOOKED_AT = (1.12, 1.3, 1.6, 2.2)  # times the shortest run: first near it, then further off
FURTHER_M = 1.0  # longer than the shortest run by more than this is no way round, except within the first look
WAYS_TRIED = 4
LOOSER = (1.4, 2.0)  # times the span: where it cannot be kept the run is held as often as can be
REACH_SPARE_M = 1.5e-3  # runs are pulled taut with a little less reach and span than the rules allow
SPAN_SPARE_M = 0.012
FINE_MARGIN_M = 2e-5
LEEWAY_M = 2e-6
HOPELESS_M = 1e-3  # what trespasses so far will not pass the exact look


@dataclass(frozen=True, eq=False)
class Held:
    curve: Curve
    clearance: Clearance
    track: Track
    missing: tuple[Unsupported, ...]  # empty: clamps can be fixed everywhere the rules ask for them


@dataclass(frozen=True, eq=False)
class Asked:
    """One cable between its studs, and how it is to be held."""

    starts: list[Footing]
    finishes: list[Footing]
    standoff_m: float
    bend_radius_m: float
    straight_m: float
    span_m: float
    reach_m: float


def supported_run(around: Clearances, clamping: Surroundings, asked: Asked, shortest_m: float) -> Held | None:
    """The shortest run found that clamps can hold; if there is none, the one with least hanging too far.

    None if nothing better than the shortest run, of `shortest_m`, was found.
    """
    structure = Structure(around, asked.reach_m)
    if not len(structure.solids):
        return None
    searches: list[SupportedWays] = []
    furthest_m = max(LOOKED_AT[0] * shortest_m, shortest_m + FURTHER_M)
    for further in LOOKED_AT:
        most_m = min(further * shortest_m, furthest_m)
        if searches and searches[-1].most_m == most_m:
            break
        searches.append(_search(structure, asked, asked.span_m, most_m))
        found = _best(around, clamping, searches[-1], asked, asked.span_m)
        if found is not None:
            return found
    for search in searches:
        if max(search.over_m) > 0 and math.isfinite(max(search.over_m)):
            search.let_hang()
            found = _best(around, clamping, search, asked, asked.span_m)
            if found is not None:
                return found
    for looser in LOOSER:
        search = _search(structure, asked, looser * asked.span_m, searches[0].most_m)
        if math.isfinite(max(search.over_m)):
            search.let_hang()
            found = _best(around, clamping, search, asked, looser * asked.span_m)
            if found is not None:
                return found
    return None


def _search(structure: Structure, asked: Asked, span_m: float, most_m: float) -> SupportedWays:
    return SupportedWays(
        structure,
        asked.starts,
        asked.finishes,
        asked.standoff_m,
        asked.bend_radius_m,
        span_m=span_m - SPAN_SPARE_M,
        most_m=most_m,
    )


def _best(
    around: Clearances, clamping: Surroundings, search: SupportedWays, asked: Asked, span_m: float
) -> Held | None:
    """The shorter of the first two ways that work out."""
    best: Held | None = None
    seen: set[tuple[int, ...]] = set()
    for _ in range(2 * WAYS_TRIED):
        way = search.best()
        if way is None or (best is not None and 0.93 * way.length_m > best.curve.length_m):
            break
        if way.edges not in seen:
            seen.add(way.edges)
            held = _laid(around, clamping, search, asked, way, span_m)
            if held is not None and (best is None or held.curve.length_m < best.curve.length_m):
                best = held
            if len(seen) >= (2 if best is not None else WAYS_TRIED):
                break
        search.shun(way, 0.05)
    return best


def _laid(
    around: Clearances,
    clamping: Surroundings,
    search: SupportedWays,
    asked: Asked,
    way: Way,
    span_m: float,
) -> Held | None:
    """A way pulled as taut as its clamps allow, certified and clamped; None if that does not work out."""
    track = Track(way.start, way.finish, asked.standoff_m, asked.bend_radius_m)
    straight_m, over_m = asked.straight_m, search.let_m
    holding = Holding(
        search.structure, asked.reach_m - REACH_SPARE_M, span_m - SPAN_SPARE_M, straight_m + 0.003, over_m
    )
    for result in _pulled_taut(around, track, way, holding):
        if result.trespass_m > HOPELESS_M:
            continue
        try:
            curve = as_curve(result.run)
        except ValueError:
            continue
        found = clearance(around, track, curve, -LEEWAY_M)
        if found.certain_m < -LEEWAY_M or curve.least_bend_radius_m < asked.bend_radius_m - 1e-9:
            continue
        _, hanging = clamps_on(clamping, curve, span_m=span_m, reach_m=asked.reach_m, straight_m=straight_m)
        if all(_is_let(gap, curve.length_m, span_m, over_m) for gap in hanging):
            rules = {"span_m": asked.span_m, "reach_m": asked.reach_m, "straight_m": straight_m}
            return Held(curve, found, track, clamps_on(clamping, curve, **rules)[1])
    return None


def _pulled_taut(around: Clearances, track: Track, way: Way, holding: Holding) -> Iterator[Polished]:
    """Once; and again from where that ended, or from the way as it is if it ended nowhere."""
    corners = pushed_out(track, way.corners)
    first = polished(around, track, corners, margin_m=MARGIN_M, sample_m=SAMPLE_M, holding=holding)
    yield first
    near = first.trespass_m <= HOPELESS_M
    corners, radii = (first.run.vertices[0, 1:-1], first.run.radii[0]) if near else (way.corners, None)
    yield polished(around, track, corners, radii=radii, margin_m=FINE_MARGIN_M, sample_m=FINE_SAMPLE_M, holding=holding)


def _is_let(gap: Unsupported, whole_m: float, span_m: float, over_m: tuple[float, float]) -> bool:
    """Whether it hangs only where its stud is too far from structure, and no further than it must."""
    hangs_m = gap.to_m - gap.from_m - span_m
    at_start = gap.from_m < 1e-9 and hangs_m <= over_m[0]
    at_finish = gap.to_m > whole_m - 1e-9 and hangs_m <= over_m[1]
    return at_start or at_finish
