"""The shortest run that clamps can hold, where the shortest run of all cannot be held."""

from __future__ import annotations

from dataclasses import dataclass

from geometry.bends import as_curve
from geometry.certify import Clearance, clearance
from geometry.clearances import Clearances
from geometry.curve import Curve
from geometry.footing import MARGIN_M, Footing, Track
from geometry.holding import Holding
from geometry.polish import FINE_SAMPLE_M, SAMPLE_M, polished, pushed_out
from geometry.structure import Structure
from geometry.supported_ways import SupportedWays
from geometry.supports import Unsupported, clamps_on
from geometry.surroundings import Surroundings
from geometry.ways import Way

LOOKED_AT = (1.12, 1.5, 2.2)  # times the shortest run: first near it, then further off
WAYS_TRIED = 4
LOOSER = (1.0, 1.8)  # times the span: where it cannot be kept the run is held as often as can be
REACH_SPARE_M = 3e-4  # runs are pulled taut with a little less reach and span than the rules allow
SPAN_SPARE_M = 0.012
LEEWAY_M = 2e-6


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
    for looser in LOOSER:
        span_m = looser * asked.span_m
        for further in LOOKED_AT[: None if looser == 1.0 else 1]:
            found = _best(around, clamping, structure, asked, span_m, further * shortest_m)
            if found is not None:
                return found
    return None


def _best(
    around: Clearances, clamping: Surroundings, structure: Structure, asked: Asked, span_m: float, most_m: float
) -> Held | None:
    search = SupportedWays(
        structure,
        asked.starts,
        asked.finishes,
        asked.standoff_m,
        asked.bend_radius_m,
        span_m=span_m - SPAN_SPARE_M,
        most_m=most_m,
    )
    best: Held | None = None
    seen: set[tuple[int, ...]] = set()
    for _ in range(2 * WAYS_TRIED):
        way = search.best()
        if way is None or (best is not None and 0.93 * way.length_m > best.curve.length_m):
            break
        if way.edges not in seen:
            seen.add(way.edges)
            held = _laid(around, clamping, structure, asked, way, span_m)
            if held is not None and (best is None or held.curve.length_m < best.curve.length_m):
                best = held
            if len(seen) >= (2 if best is not None else WAYS_TRIED):
                break
        search.shun(way, 0.05)
    return best


def _laid(
    around: Clearances, clamping: Surroundings, structure: Structure, asked: Asked, way: Way, span_m: float
) -> Held | None:
    """A way pulled as taut as its clamps allow, certified and clamped; None if that does not work out."""
    track = Track(way.start, way.finish, asked.standoff_m, asked.bend_radius_m)
    holding = Holding(structure, asked.reach_m - REACH_SPARE_M, span_m - SPAN_SPARE_M, asked.straight_m + 0.003)
    corners = pushed_out(track, way.corners)
    for margin_m, sample_m in ((MARGIN_M, SAMPLE_M), (2e-5, FINE_SAMPLE_M)):
        result = polished(around, track, corners, margin_m=margin_m, sample_m=sample_m, holding=holding)
        if result.trespass_m > margin_m / 2:
            continue
        try:
            curve = as_curve(result.run)
        except ValueError:
            continue
        found = clearance(around, track, curve, -LEEWAY_M)
        if found.certain_m < -LEEWAY_M or curve.least_bend_radius_m < asked.bend_radius_m - 1e-9:
            continue
        straight_m = asked.straight_m
        if clamps_on(clamping, curve, span_m=span_m, reach_m=asked.reach_m, straight_m=straight_m)[1]:
            continue
        _, missing = clamps_on(clamping, curve, span_m=asked.span_m, reach_m=asked.reach_m, straight_m=straight_m)
        return Held(curve, found, track, missing)
    return None
