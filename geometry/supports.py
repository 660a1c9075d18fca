"""Where is a run clamped, and where is a clamp missing?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.curve import Curve, Straight
from geometry.runs import Clamp
from geometry.surroundings import Numbers, Surroundings

Flags = NDArray[np.bool_]

STEP_M = 0.005  # places for clamps are looked for this far apart along the run
LOOKED_M = 0.25  # structure further off than this is not near


@dataclass(frozen=True)
class Unsupported:
    """A stretch longer than the span with no structure within reach."""

    from_m: float  # along the run: the last hold before it, a clamp or the stud
    to_m: float  # the next hold
    reach_needed_m: float  # the least reach that would give clamps enough between; infinity if nothing is near


def clamps_on(
    surroundings: Surroundings, curve: Curve, *, span_m: float, reach_m: float, straight_m: float = 0.0
) -> tuple[tuple[Clamp, ...], tuple[Unsupported, ...]]:
    """Clamps on a run at most `span_m` apart, the centreline at most `reach_m` from structure; and what is missing.

    A bolted lug holds its end. Clamps keep off the `straight_m` behind each lug, and off bends where a straight place
    does as well. As few clamps as can be, evened out between the places that force them.
    """
    whole_m = curve.length_m
    along = np.linspace(0.0, whole_m, max(2, int(np.ceil(whole_m / STEP_M)) + 1))
    points = curve.points_at(along)
    gaps, structures = surroundings.structure_gap(points, max(reach_m, LOOKED_M))
    within = (gaps <= reach_m) & (along >= straight_m) & (along <= whole_m - straight_m)
    straight = _on_straights(curve, along)
    chosen: list[int] = []
    missing: list[Unsupported] = []
    held_m = 0.0
    while whole_m - held_m > span_m + 1e-9:
        left = whole_m - held_m
        # even steps over what is left, so that the last two clamps do not sit side by side
        even_m = left / np.ceil(left / span_m - 1e-9)
        spots = np.flatnonzero(within & (along > held_m + STEP_M / 2) & (along <= held_m + span_m + 1e-9))
        if len(spots):
            chosen.append(_best_spot(spots, along, straight, held_m, even_m, span_m, within, whole_m))
        else:
            later = np.flatnonzero(within & (along > held_m + span_m))
            to_m = float(along[later[0]]) if len(later) else whole_m
            missing.append(Unsupported(held_m, to_m, _reach_needed(along, gaps, held_m, to_m, span_m)))
            if not len(later):
                break
            chosen.append(int(later[0]))
        held_m = float(along[chosen[-1]])
    return tuple(_clamp(surroundings, along, points, gaps, structures, i) for i in chosen), tuple(missing)


def longest_bare_m(surroundings: Surroundings, curve: Curve, *, reach_m: float, straight_m: float = 0.0) -> float:
    """The longest stretch between places where a clamp could be fixed; a run can be clamped if the span is no less."""
    whole_m = curve.length_m
    along = np.linspace(0.0, whole_m, max(2, int(np.ceil(whole_m / STEP_M)) + 1))
    gaps, _ = surroundings.structure_gap(curve.points_at(along), reach_m + 1e-3)
    within = (gaps <= reach_m) & (along >= straight_m) & (along <= whole_m - straight_m)
    return float(np.diff(np.concatenate([[0.0], along[within], [whole_m]])).max())


def unsupported_in_words(missing: Unsupported, span_m: float, reach_m: float) -> str:
    """One sentence for a person: where the clamp is missing and what would mend it."""
    stretch = f"{(missing.to_m - missing.from_m) * 1000:.0f} mm from {missing.from_m * 1000:.0f} mm on have no clamp"
    limits = f"(span {span_m * 1000:.0f} mm, reach {reach_m * 1000:.0f} mm)"
    if missing.reach_needed_m == float("inf"):
        return f"{stretch} {limits}: no structure is near"
    return f"{stretch} {limits}: it takes clamps that reach {missing.reach_needed_m * 1000:.0f} mm"


def _reach_needed(along: Numbers, gaps: Numbers, from_m: float, to_m: float, span_m: float) -> float:
    between = (along > from_m) & (along < to_m) & (gaps <= LOOKED_M)
    places, reaches = along[between], gaps[between]
    for reach_m in np.unique(reaches):
        held = np.concatenate([[from_m], places[reaches <= reach_m], [to_m]])
        if np.diff(held).max() <= span_m + 1e-9:
            return float(reach_m)
    return float("inf")


def _best_spot(
    spots: NDArray[np.intp],
    along: Numbers,
    straight: Flags,
    held_m: float,
    even_m: float,
    span_m: float,
    within: Flags,
    whole_m: float,
) -> int:
    """The furthest place, unless one nearer to the even step still lets the rest be held as well."""
    furthest = int(spots[-1])
    even = [int(i) for i in spots[along[spots] >= held_m + even_m * 0.75]]
    even.sort(key=lambda i: (not straight[i], abs(float(along[i]) - held_m - even_m), i))
    need = _holds_needed(float(along[furthest]), along, within, span_m, whole_m)
    for i in even[:12]:
        if _holds_needed(float(along[i]), along, within, span_m, whole_m) <= need:
            return i
    return furthest


def _holds_needed(held_m: float, along: Numbers, within: Flags, span_m: float, whole_m: float) -> tuple[int, int]:
    """(stretches without hold, clamps) still needed from here, always going as far as can be."""
    held_places = along[within]
    short, count = 0, 0
    while whole_m - held_m > span_m + 1e-9:
        last = int(np.searchsorted(held_places, held_m + span_m + 1e-9, side="right")) - 1
        if last < 0 or held_places[last] <= held_m + STEP_M / 2:
            short += 1
            last += 1
            while last < len(held_places) and held_places[last] <= held_m + STEP_M / 2:
                last += 1
            if last >= len(held_places):
                break
        held_m = float(held_places[last])
        count += 1
    return short, count


def _on_straights(curve: Curve, along: Numbers) -> Flags:
    ends = np.cumsum([piece.length_m for piece in curve.pieces])
    kinds = np.array([isinstance(piece, Straight) for piece in curve.pieces])
    return np.asarray(kinds[np.minimum(np.searchsorted(ends, along), len(kinds) - 1)], dtype=np.bool_)


def _clamp(
    surroundings: Surroundings, along: Numbers, points: Numbers, gaps: Numbers, structures: NDArray[np.intp], i: int
) -> Clamp:
    solid = surroundings.named(int(structures[i]))
    assert solid is not None  # a place within reach has its structure
    place = (float(points[i, 0]), float(points[i, 1]), float(points[i, 2]))
    return Clamp(float(along[i]), place, solid.name, float(gaps[i]))
