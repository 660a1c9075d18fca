"""Ways to make one run longer by a given amount, sifted on a rough grid and put in the order a rigger would choose.

Three kinds: a shape on one straight leg; a corner or a whole leg moved out; a way round that leaves one leg, runs
along at some distance and comes back to another. Each is exact in length before it is looked at; what is left here is
to see which are clear, held by structure, and gentle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.corners import Corners, Numbers, fits, lengths_m, samples, turning_rad, usable
from geometry.curve import cross
from geometry.surplus_shapes import SAMPLE_M, Profile, profiles
from geometry.surroundings import RoomGrid

QUARTER = math.pi / 2
LAYING_OFF_M = 0.10  # surplus keeps this from hot walls and walkways, or what the run itself keeps if that is less
PLACES_A_LEG = 12
SHARES = (0.0, 1 / 3, 2 / 3, 1.0)  # of a leg: where a way round may leave it or come back
TRACED = 240  # ways round that are traced through the grid, least turning first
KEPT = 60  # ways worth an exact look
FINE = 0.2  # of a cell: how wrong a value in proportion between cells may be

# What a rigger minds, in quarter turns of thick cable: a metre that hangs in the air; a metre of height (it sticks out
# of the run); surplus lying across other cables is not laid at all.
AIR_A_METRE = 4.0
HEIGHT_A_METRE = 1.0
SLANT_A_METRE = 4.0  # a corner moved far leaves long slanting legs
TIGHT_BEND = 0.3  # added for a quarter turn at the least radius, less in proportion for wider ones


@dataclass(frozen=True, eq=False)
class Way:
    """A run made longer, not yet proved clear."""

    cost: float
    name: str
    corners: Corners
    kind: tuple[str, int, int]  # ways of one kind lie alike: if some are blocked, the others mostly are


@dataclass(frozen=True)
class Asked:
    """What the sifting needs to know of the cable and the rules."""

    surplus_m: float
    radius_m: float
    standoff_m: float
    bend_radius_m: float
    straight_m: float
    near_m: float  # structure nearer than this holds the cable
    span_m: float  # infinity: not asked


def shapes_on_legs(corners: Corners, grid: RoomGrid, asked: Asked) -> list[Way]:
    """Bows, S-shapes, lobes and hairpins on every leg, at several places and to every side."""
    spans = usable(corners, asked.straight_m)
    legs = []
    for leg, (from_m, to_m) in enumerate(spans):
        if to_m - from_m > 2 * asked.bend_radius_m * 0.05:
            legs += [(profile, leg, from_m, to_m) for profile in profiles(to_m - from_m, asked.surplus_m,
                                                                       asked.bend_radius_m)]  # fmt: skip
    legs.sort(key=lambda item: (_bends_cost(item[0].turning_rad, asked.bend_radius_m / item[0].radius_m), item[1]))
    found: list[_Placed] = []
    for profile, leg, from_m, to_m in legs:
        least = _bends_cost(profile.turning_rad, asked.bend_radius_m / profile.radius_m)
        least += HEIGHT_A_METRE * profile.height_m
        if len(found) >= KEPT // 3 and found[KEPT // 3 - 1].cost < least:
            continue
        start = corners.points[leg]
        heading = corners.points[leg + 1] - start
        heading = heading / np.linalg.norm(heading)
        sides = _square_to(heading)
        spare_m = to_m - from_m - profile.chord_m
        count = 1 if spare_m < 1e-6 else max(2, min(PLACES_A_LEG, math.ceil(spare_m / asked.bend_radius_m) + 1))
        places = from_m + np.linspace(0.0, spare_m, count) if spare_m > 1e-6 else np.array([from_m])
        along = places[:, None, None, None] + profile.trace[None, None, :, 0:1]
        traced = start + along * heading + profile.trace[None, None, :, 1:2] * sides[None, :, None, :]
        good, air_m = _sifted(traced, grid, asked, profile.chord_m + asked.surplus_m)
        off_middle = np.abs(places - from_m - spare_m / 2) / max(to_m - from_m, 1e-9)
        costs = least + AIR_A_METRE * air_m + 0.02 * off_middle[:, None]
        found += [
            _Placed(float(costs[place, side]), profile, leg, float(places[place]), int(side), heading, sides[side])
            for place, side in np.argwhere(good)
        ]
        found = sorted(found, key=lambda placed: placed.cost)[:KEPT]
    return [placed.on(corners) for placed in found]


@dataclass(frozen=True, eq=False)
class _Placed:
    """A shape on a leg."""

    cost: float
    profile: Profile
    leg: int
    place_m: float  # along the leg, where the shape begins
    side: int
    heading: Numbers  # (3,) of the leg
    out: Numbers  # (3,) to the side

    def on(self, corners: Corners) -> Way:
        """The run with the shape in it."""
        profile, leg = self.profile, self.leg
        new = corners.points[leg] + (self.place_m + profile.corners[:, 0:1]) * self.heading
        new = new + profile.corners[:, 1:2] * self.out
        points = np.vstack([corners.points[: leg + 1], new, corners.points[leg + 1 :]])
        radii = np.concatenate([corners.radii[: leg + 1], profile.radii, corners.radii[leg + 1 :]])
        return Way(self.cost, profile.name, Corners(points, radii), (profile.name, leg, self.side))


def corners_moved(corners: Corners, grid: RoomGrid, asked: Asked) -> list[Way]:
    """One corner, a leg, or two legs in a row moved out until the length is right: often no bend is added."""
    count = len(corners.points)
    if count < 3:
        return []
    first = corners.points[1] - corners.points[0]
    last = corners.points[-1] - corners.points[-2]
    first, last = first / np.linalg.norm(first), last / np.linalg.norm(last)
    moved, ways_out, numbers = [], [], []
    for size in (1, 2, 3):
        for i in range(1, count - size):
            if i == 1 and i + size == count - 1:
                turns = [d for d in (first, -first, last, -last) if abs(abs(float(first @ last)) - 1) < 1e-9]
            elif i == 1:
                turns = [first, -first]
            elif i + size == count - 1:
                turns = [last, -last]
            else:
                turns = _all_round(corners.points[i + size - 1] - corners.points[i - 1])
            for turn in turns:
                mask = np.zeros(count)
                mask[i : i + size] = 1.0
                moved.append(mask)
                ways_out.append(turn)
                numbers.append(10 * i + size)
    if not moved:
        return []
    shift = np.array(moved)[:, :, None] * np.array(ways_out)[:, None, :]
    radii = np.tile(corners.radii, (len(shift), 1))
    target_m = corners.length_m + asked.surplus_m
    most_m = asked.surplus_m + 0.3

    def length_at(out_m: Numbers) -> Numbers:
        return lengths_m(corners.points + out_m[:, None, None] * shift, radii)

    out_m = _first_root(length_at, np.zeros(len(shift)), np.full(len(shift), most_m), target_m)
    points = corners.points + out_m[:, None, None] * shift
    good = np.isfinite(out_m)
    points = np.where(good[:, None, None], points, corners.points)
    # a corner moved past its stud would turn the lug round
    good &= ((points[:, 1] - points[:, 0]) @ first > 0) & ((points[:, -1] - points[:, -2]) @ last > 0)
    good &= fits(points, radii, asked.straight_m)
    return _general_ways(points[good], radii[good], np.array(numbers)[good], corners, grid, asked, "way round")


def ways_round(corners: Corners, grid: RoomGrid, asked: Asked) -> list[Way]:
    """Leave one leg square to it or along an axis, run along, and come back to a later leg."""
    made = _detours(corners, asked)
    if made is None:
        return []
    sections, section_radii, legs, levels = made
    out = levels[:, None] - np.einsum("cik,ck->ci", sections[:, [1, 4]], legs.ways_out)

    def section(rise_m: Numbers) -> Numbers:
        moved = sections.copy()
        moved[:, 2] = sections[:, 1] + (out[:, 0] + rise_m)[:, None] * legs.ways_out
        moved[:, 3] = sections[:, 4] + (out[:, 1] + rise_m)[:, None] * legs.ways_out
        return moved

    # moved out, both legs to the far side grow alike and no angle changes: the length is linear in the rise
    least_m = 2 * asked.bend_radius_m
    at_least_m = lengths_m(section(np.full(len(sections), least_m)), section_radii)
    rise_m = least_m + (legs.lengths_m + asked.surplus_m - at_least_m) / 2
    good = rise_m >= least_m
    points = section(np.where(good, rise_m, least_m))
    good &= fits(points, section_radii, 0.0)
    return _whole_ways(points[good], section_radii[good], legs.pairs[good], legs.turns[good], corners, grid, asked)


@dataclass(frozen=True, eq=False)
class _Pairs:
    pairs: NDArray[np.intp]  # (c, 2): the leg that is left, the leg that is met again
    ways_out: Numbers  # (c, 3) unit
    turns: NDArray[np.intp]  # (c,): number of the way out
    lengths_m: Numbers  # (c,): of the run between the ends of the section as it is


def _detours(corners: Corners, asked: Asked) -> tuple[Numbers, Numbers, _Pairs, Numbers] | None:
    """Sections (c, 6, 3) from the straight start of one leg to the straight end of a later one; all on one level."""
    spans = usable(corners, asked.straight_m)
    headings = np.diff(corners.points, axis=0)
    headings /= np.linalg.norm(headings, axis=1)[:, None]
    arcs_m = _arc_lengths(corners)
    axes = np.vstack([np.eye(3), -np.eye(3)])
    # all places on the two legs (4 each) with all ways out (6)
    at_one, at_two, turn = (grid.ravel() for grid in np.meshgrid(SHARES, SHARES, np.arange(6), indexing="ij"))
    turn = turn.astype(np.intp)
    sections, pairs, lengths = [], [], []
    for i in range(len(spans)):
        for j in range(i + 1, len(spans)):
            if spans[i, 1] < spans[i, 0] or spans[j, 1] < spans[j, 0]:
                continue
            begin, end = corners.points[i] + spans[i, 0] * headings[i], corners.points[j] + spans[j, 1] * headings[j]
            between_m = (spans[i, 1] - spans[i, 0]) + (spans[j, 1] - spans[j, 0]) + arcs_m[i + 1 : j + 1].sum()
            between_m += (spans[i + 1 : j, 1] - spans[i + 1 : j, 0]).sum()
            away_m = spans[i, 0] + at_one * (spans[i, 1] - spans[i, 0])
            back_m = spans[j, 0] + at_two * (spans[j, 1] - spans[j, 0])
            leave = corners.points[i] + away_m[:, None] * headings[i]
            meet = corners.points[j] + back_m[:, None] * headings[j]
            both_ends = np.broadcast_to(begin, leave.shape), np.broadcast_to(end, leave.shape)
            sections.append(np.stack([both_ends[0], leave, leave, meet, meet, both_ends[1]], axis=1))
            pairs.append(np.tile([i, j], (len(leave), 1)))
            lengths.append(np.full(len(leave), between_m))
    if not sections:
        return None
    whole = np.concatenate(sections)
    turns = np.tile(turn, len(sections))
    ways_out = axes[turns]
    levels = np.maximum((whole[:, 1] * ways_out).sum(axis=1), (whole[:, 4] * ways_out).sum(axis=1))
    radius = asked.bend_radius_m
    radii = np.tile([0.0, radius, radius, radius, radius, 0.0], (len(whole), 1))
    return whole, radii, _Pairs(np.concatenate(pairs), ways_out, turns, np.concatenate(lengths)), levels


def _arc_lengths(corners: Corners) -> Numbers:
    """Length (v,) of the bend at each corner, 0 at the ends."""
    arcs = np.zeros(len(corners.radii))
    for i in range(1, len(arcs) - 1):
        arcs[i] = corners.radii[i] * float(turning_rad(corners.points[None, i - 1 : i + 2])[0])
    return arcs


def _whole_ways(
    sections: Numbers,
    radii: Numbers,
    pairs: NDArray[np.intp],
    turns: NDArray[np.intp],
    corners: Corners,
    grid: RoomGrid,
    asked: Asked,
) -> list[Way]:
    if not len(sections):
        return []
    gentlest = np.argsort(turning_rad(sections), kind="stable")[:TRACED]
    sections, radii, pairs, turns = sections[gentlest], radii[gentlest], pairs[gentlest], turns[gentlest]
    long_m = float(lengths_m(sections, radii).max())
    traced = samples(sections, radii, max(8, math.ceil(long_m / SAMPLE_M)))
    good, air_m = _sifted(traced, grid, asked, lengths_m(sections, radii))
    ways = []
    for c in np.flatnonzero(good):
        i, j = pairs[c]
        points = np.vstack([corners.points[: i + 1], sections[c, 1:5], corners.points[j + 1 :]])
        all_radii = np.concatenate([corners.radii[: i + 1], radii[c, 1:5], corners.radii[j + 1 :]])
        added = float(turning_rad(points[None])[0]) - float(turning_rad(corners.points[None])[0])
        cost = _bends_cost(added, 1.0) + AIR_A_METRE * air_m[c]
        cost += HEIGHT_A_METRE * float(np.linalg.norm(sections[c, 2] - sections[c, 1]))
        kind = ("way round", int(i) * 100 + int(j), int(turns[c]))
        ways.append(Way(float(cost), "way round", Corners(points, all_radii), kind))
    return sorted(ways, key=lambda way: way.cost)[:KEPT]


def _general_ways(
    points: Numbers,
    radii: Numbers,
    numbers: NDArray[np.intp],
    corners: Corners,
    grid: RoomGrid,
    asked: Asked,
    name: str,
) -> list[Way]:
    if not len(points):
        return []
    whole_m = corners.length_m + asked.surplus_m
    traced = samples(points, radii, max(8, math.ceil(whole_m / SAMPLE_M)))
    margin = max(1, math.ceil(asked.straight_m / SAMPLE_M) + 1)  # the ends are as they were
    good, air_m = _sifted(traced[:, margin:-margin], grid, asked, np.full(len(points), whole_m))
    before = float(turning_rad(corners.points[None])[0])
    added = turning_rad(points) - before
    was_air = _sifted(samples(corners.points[None], corners.radii[None], 80), grid, asked, np.array([whole_m]))[1][0]
    ways = [
        Way(
            _bends_cost(max(float(added[c]), 0.0), 1.0)
            + AIR_A_METRE * max(float(air_m[c] - was_air), 0.0)
            + SLANT_A_METRE * float(np.abs(points[c] - corners.points).max()),
            name,
            Corners(points[c], radii[c]),
            ("moved", int(numbers[c]), 0),
        )
        for c in np.flatnonzero(good)
    ]
    return sorted(ways, key=lambda way: way.cost)[:KEPT]


def _sifted(
    traced: Numbers, grid: RoomGrid, asked: Asked, length_m: float | Numbers
) -> tuple[NDArray[np.bool_], Numbers]:
    """Which shapes (...,) traced by points (..., k, 3) may be clear, and how many metres of each hang in the air."""
    cells = grid.cells(traced)
    tolerance_m = grid.blur_m * 0.7
    clear = grid.slack[cells] > asked.standoff_m - tolerance_m
    clear &= grid.cables[cells] > asked.radius_m - tolerance_m
    inner = grid.laying[cells] > LAYING_OFF_M - tolerance_m
    edge = max(1, traced.shape[-2] // 6)  # the first and last part lie on the run itself
    good = np.asarray(clear.all(axis=-1) & inner[..., edge:-edge].all(axis=-1) & ~grid.outside(traced).any(axis=-1))
    passing = np.argwhere(good)
    if len(passing):  # a closer look at those that passed the rough one
        near = traced[tuple(passing.T)]
        fine = grid.between(grid.slack, near) > asked.standoff_m - FINE * grid.pitch_m
        fine &= grid.between(grid.cables, near) > asked.radius_m - FINE * grid.pitch_m
        good[tuple(passing.T)] = fine.all(axis=-1)
    held = grid.structure[cells] < asked.near_m + tolerance_m
    step = np.asarray(length_m) / traced.shape[-2]
    air_m = (~held).sum(axis=-1) * step
    if math.isfinite(asked.span_m):
        good &= _longest_gap(held) * step <= asked.span_m + SAMPLE_M
    return good, air_m


def _longest_gap(held: NDArray[np.bool_]) -> NDArray[np.intp]:
    """The longest row of samples (..., k) that nothing holds."""
    number = np.arange(held.shape[-1])
    last_held = np.maximum.accumulate(np.where(held, number, -1), axis=-1)
    return (number - last_held).max(axis=-1)


def _bends_cost(turning: float, tightness: float) -> float:
    """In quarter turns; tighter bends count more."""
    return turning / QUARTER * (1 + TIGHT_BEND * tightness)


def _first_root(length_at, low: Numbers, high: Numbers, target_m: float) -> Numbers:
    """Where a length reaches its target between low and high (c,); NaN where it does not."""
    hopeless = length_at(high) < target_m
    for _ in range(34):
        middle = (low + high) / 2
        short = length_at(middle) < target_m
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return np.where(hopeless, np.nan, (low + high) / 2)


def _square_to(heading: Numbers) -> Numbers:
    """Eight directions (8, 3) square to a heading, first those that follow the axes of the site."""
    least = np.eye(3)[int(np.argmin(np.abs(heading)))]
    one = least - (least @ heading) * heading
    one /= np.linalg.norm(one)
    two = cross(heading, one)
    half = math.sqrt(0.5)
    turns = [(1, 0), (0, 1), (-1, 0), (0, -1), (half, half), (half, -half), (-half, half), (-half, -half)]
    return np.array([a * one + b * two for a, b in turns])


def _all_round(chord: Numbers) -> list[Numbers]:
    """Directions in which a corner may move: the axes, and square to the chord between its neighbours."""
    length = float(np.linalg.norm(chord))
    square = list(_square_to(chord / length)) if length > 1e-9 else []
    return [*np.eye(3), *-np.eye(3), *square]
