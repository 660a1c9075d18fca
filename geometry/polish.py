"""Pull a rounded polyline taut: the shortest run near a first guess, clear of everything, with bends that fit.

Each step measures where the run comes near something, predicts how length, fit and clearance change with every
corner, and makes the best small change that the prediction allows (sequential quadratic programming). Whatever
comes out is certified elsewhere; nothing here is trusted.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from geometry.bends import Rounded, rounded
from geometry.clearances import Clearances, Indices, Numbers
from geometry.footing import MARGIN_GROWS_OVER_M, MARGIN_M, Track
from geometry.holding import Holding, Holds, stretches_m
from geometry.kernel import MOST_CORNERS
from geometry.least_change import least_change

SAMPLE_M = 0.015  # along the run, before refining
FINE_SAMPLE_M = 0.004
WATCHED_M = 0.05  # clearances within this of what is asked are watched
MOST_TURN_RAD = 2.3  # of one bend; a sharper one gets a second corner from the guess
WIDEST_BENDS = 12.0  # in least bend radii
LEAST_PRICE, MOST_PRICE = 3.0, 30.0  # metres of length that one metre of trespass costs
NUDGE_M = 1e-6  # by which every unknown is changed to see what follows
HAIR_M = 2e-6  # legs are this much longer than their bends need: rounding must not make them overlap
WORTH_M = 1e-5  # a step that gains less is idle
ASTRAY_M = 0.003  # a run that trespasses further is first brought back, at any length
TRIED_STEPS = 10  # before a run may be given up; the same number stands in the kernel
NEVER_HOPELESS_M = 1e6
_RULES = (
    WATCHED_M,
    MOST_TURN_RAD,
    WIDEST_BENDS,
    LEAST_PRICE,
    MOST_PRICE,
    NUDGE_M,
    HAIR_M,
    WORTH_M,
    ASTRAY_M,
)  # in the order in which the compiled polish takes them; then what is hopeless


@dataclass(frozen=True, eq=False)
class Polished:
    run: Rounded
    trespass_m: float  # worst shortfall of clearance, fit or straight; 0 when all are met


@dataclass(frozen=True, eq=False)
class _Measured:
    run: Rounded
    length_m: float
    trespass_m: float
    pieces: Indices  # watched places
    shares: Numbers
    solids: Indices
    spare: Numbers  # clearance less what is asked
    holds: Holds | None = None  # places for clamps, if they are asked for


def polished(
    around: Clearances,
    track: Track,
    corners: Numbers,
    *,
    radii: Numbers | None = None,
    margin_m: float = MARGIN_M,
    sample_m: float = SAMPLE_M,
    steps: int = 40,
    wide: bool = True,
    holding: Holding | None = None,
    hopeless_m: float = NEVER_HOPELESS_M,
) -> Polished:
    """The run from a first guess: corners (k, 3) between the studs, the first and last on the lugs' lines, k >= 2.

    It is given up once it trespasses by more than `hopeless_m` and half of the steps so far have not halved that.
    With `holding` it is pulled no tauter than clamps can hold it.
    """
    shape = _Shape(track, len(corners))
    least_radius = np.full(len(corners), track.bend_radius_m)
    values = shape.values(corners, least_radius if radii is None else radii)
    if around.packed is not None and len(corners) <= MOST_CORNERS and holding is None:
        rules = (track.standoff_m, track.bend_radius_m, margin_m, sample_m, MARGIN_GROWS_OVER_M, *_RULES, hopeless_m)
        values = np.array(values)
        trespass_m = around.packed.polish(len(corners), values, _ends(track), _own(track), rules, steps, wide)
        values[shape.places :] = np.maximum(values[shape.places :], track.bend_radius_m)
        return Polished(shape.run(values[None]), trespass_m)
    reach_m = track.standoff_m + WATCHED_M + 0.1
    path = np.vstack([track.start.point, corners, track.finish.point])
    near = around.near(_dense(path), reach_m)
    centre = path
    now = _measure(around, track, shape, values, near, margin_m, sample_m, holding)
    best, best_values = now, values
    damping, idle, loose, price = 1.0, 0, 0, MOST_PRICE
    past: list[float] = []
    for step in range(steps):
        past.append(best.trespass_m)
        if step >= TRIED_STEPS and best.trespass_m > max(hopeless_m, past[step // 2] / 2):
            break
        astray = now.trespass_m > ASTRAY_M
        change, missed_m = _change(around, track, shape, values, now, damping, price, wide, astray, holding)
        if change is None:
            damping *= 8
            if damping > 1e7:
                break
            continue
        if missed_m > 1e-6 and not astray:
            price = min(3 * price, MOST_PRICE)
        largest = float(np.abs(change[: shape.places]).max())
        if largest > 0.1:
            change = change * (0.1 / largest)
        values = values + change
        moved = shape.vertices(values[None])[0]
        if np.abs(moved - centre).max() > 0.08:
            near, centre = around.near(_dense(moved), reach_m), moved
            best = _measure(around, track, shape, best_values, near, margin_m, sample_m, holding)
        now = _measure(around, track, shape, values, near, margin_m, sample_m, holding)
        gain = price * (best.trespass_m - now.trespass_m)
        if best.trespass_m <= ASTRAY_M:
            gain += best.length_m - now.length_m
        if gain > 0:
            best, best_values, loose = now, values, 0
            damping = max(damping / 5, 0.05)
            idle = idle + 1 if gain < WORTH_M else 0
            if now.trespass_m < 1e-4:
                price = LEAST_PRICE
        elif loose < 2 and now.trespass_m < 2 * ASTRAY_M:
            # along something round a good step first trespasses a little: see what the next one makes of it
            loose += 1
        else:
            idle += 1
            now, values, loose = best, best_values, 0
            damping *= 8
        if (idle >= 3 and best.trespass_m < 1e-5) or idle >= 8:
            break
    values = best_values
    values[shape.places :] = np.maximum(values[shape.places :], track.bend_radius_m)
    return Polished(shape.run(values[None]), best.trespass_m)


def _ends(track: Track) -> Numbers:
    feet = (track.start, track.finish)
    return np.concatenate([np.concatenate([f.point, f.way, [f.straight_m, f.lift_off_m]]) for f in feet])


def _own(track: Track) -> tuple[tuple[Indices, Numbers], tuple[Indices, Numbers]]:
    return (track.start.own, track.start.lies), (track.finish.own, track.finish.lies)


class _Shape:
    """The unknowns of a run of k corners, and the run they describe.

    Unknowns: how far along its lug's line the first corner lies, the corners between, the last, the k radii.
    """

    def __init__(self, track: Track, corners: int) -> None:
        self.track = track
        self.corners = corners
        self.places = 3 * corners - 4
        self.count = self.places + corners
        start, finish = track.start, track.finish
        self.base = np.zeros((corners + 2, 3))
        self.base[:2], self.base[-2:] = start.point, finish.point
        self.map = np.zeros((self.places, corners + 2, 3))
        self.map[0, 1] = start.way
        self.map[-1, -2] = finish.way
        for i in range(1, self.places - 1):
            corner, axis = divmod(i - 1, 3)
            self.map[i, corner + 2, axis] = 1.0

    def values(self, corners: Numbers, radii: Numbers) -> Numbers:
        track = self.track
        first = float((corners[0] - track.start.point) @ track.start.way)
        last = float((corners[-1] - track.finish.point) @ track.finish.way)
        return np.concatenate([[first], corners[1:-1].ravel(), [last], radii])

    def vertices(self, values: Numbers) -> Numbers:
        return self.base + np.tensordot(values[:, : self.places], self.map, axes=1)

    def run(self, values: Numbers) -> Rounded:
        """Of values (B, count)."""
        return rounded(self.vertices(values), np.maximum(values[:, self.places :], 1e-6))

    def fits(self, run: Rounded, values: Numbers) -> Numbers:
        """Demands (B, f) that are met when not below zero: straights long enough, bends not too sharp."""
        straights = run.straights - HAIR_M
        straights[:, 0] += values[:, 0] - run.legs[:, 0] - self.track.start.straight_m
        straights[:, -1] += values[:, self.places - 1] - run.legs[:, -1] - self.track.finish.straight_m
        return np.concatenate([straights, self.track.bend_radius_m * (MOST_TURN_RAD - run.turns)], axis=1)

    def hessian(self, run: Rounded) -> Numbers:
        """Of the polyline's length, in the unknown places; the radii's is left to the damping."""
        ways, legs = run.ways[0], np.maximum(run.legs[0], 0.02)
        spread = np.diff(self.map, axis=1)  # how each leg changes with each unknown
        across = spread - np.einsum("pji,ji->pj", spread, ways)[..., None] * ways
        return np.einsum("pji,qji,j->pq", across, across, 1 / legs)


def _measure(
    around: Clearances,
    track: Track,
    shape: _Shape,
    values: Numbers,
    near: Indices,
    margin_m: float,
    sample_m: float,
    holding: Holding | None = None,
) -> _Measured:
    if holding is not None:
        bare = _measure(around, track, shape, values, near, margin_m, sample_m)
        holds = holding.best_holds(bare.run)
        return replace(bare, trespass_m=max(bare.trespass_m, holds.missed_m), holds=holds)
    run = shape.run(values[None])
    fit = shape.fits(run, values[None])[0]
    length_m = float(run.length_m[0])
    pieces, shares = _samples(run, sample_m)
    if not len(near):
        return _Measured(run, length_m, max(0.0, -float(fit.min())), *_nowhere())
    piece_m, before_m = _extents(run)
    points = run.points(pieces, shares)[0]
    along = before_m[pieces] + shares * piece_m[pieces]
    gaps = around.distances(points, near)
    needed = np.column_stack([track.needed(along, length_m, np.full(len(along), s), margin_m) for s in near])
    spare = gaps - needed
    # of every piece and solid: both ends, and every place nearer than its neighbours
    last = np.append(pieces[1:] != pieces[:-1], True)
    first = np.append(True, last[:-1])
    close = spare < WATCHED_M
    dip = close.copy()
    dip[first | last] = False
    dip[1:] &= spare[1:] <= spare[:-1]
    dip[:-1] &= spare[:-1] < spare[1:]
    if not close.any():
        return _Measured(run, length_m, max(0.0, -float(fit.min())), *_nowhere())
    at, to = np.nonzero(dip)
    place_share, place_spare = _refined(
        around, track, run, pieces[at], shares[at], near[to], spare[at, to], margin_m, sample_m
    )
    ends, ends_to = np.nonzero((spare < WATCHED_M / 2) & (first | last)[:, None])
    all_pieces = np.concatenate([pieces[at], pieces[ends]])
    all_shares = np.concatenate([place_share, shares[ends]])
    all_solids = np.concatenate([near[to], near[ends_to]])
    all_spare = np.concatenate([place_spare, spare[ends, ends_to]])
    least_m = float(spare.min()) if not len(all_spare) else min(float(all_spare.min()), float(spare.min()))
    trespass = max(0.0, -float(fit.min()), -least_m)
    return _Measured(run, length_m, trespass, all_pieces, all_shares, all_solids, all_spare)


def _nowhere() -> tuple[Indices, Numbers, Indices, Numbers]:
    return np.zeros(0, dtype=np.intp), np.zeros(0), np.zeros(0, dtype=np.intp), np.zeros(0)


def _refined(
    around: Clearances,
    track: Track,
    run: Rounded,
    pieces: Indices,
    shares: Numbers,
    solids: Indices,
    spare: Numbers,
    margin_m: float,
    sample_m: float,
) -> tuple[Numbers, Numbers]:
    """The nearest places, sought between the samples."""
    piece_m, before_m = _extents(run)
    length_m = float(run.length_m[0])
    width = np.minimum(1.0, sample_m / np.maximum(piece_m[pieces], 1e-9))
    for _ in range(2):
        tried = np.clip(shares + np.linspace(-0.75, 0.75, 7)[:, None] * width, 0.0, 1.0)
        flat_pieces, flat = np.tile(pieces, 7), tried.ravel()
        flat_solids = np.tile(solids, 7)
        points = run.points(flat_pieces, flat)[0]
        along = before_m[flat_pieces] + flat * piece_m[flat_pieces]
        needed = track.needed(along, length_m, flat_solids, margin_m)
        found = (around.pair_distances(points, flat_solids) - needed).reshape(7, -1)
        best = found.argmin(axis=0)
        columns = np.arange(len(pieces))
        better = found[best, columns] < spare
        shares = np.where(better, tried[best, columns], shares)
        spare = np.where(better, found[best, columns], spare)
        width = width / 4
    return shares, spare


def _change(
    around: Clearances,
    track: Track,
    shape: _Shape,
    values: Numbers,
    now: _Measured,
    damping: float,
    price: float,
    wide: bool,
    astray: bool,
    holding: Holding | None = None,
) -> tuple[Numbers | None, float]:
    """The best small change of the unknowns, and by how much it should still trespass; None: no such change."""
    count = shape.count
    spread = np.vstack([values[None], values + NUDGE_M * np.eye(count)])
    runs = shape.run(spread)
    fits = shape.fits(runs, spread)
    lengths = runs.length_m
    gradient = np.zeros(count) if astray else (lengths[1:] - lengths[0]) / NUDGE_M
    demands = [(fits[1:] - fits[0]).T / NUDGE_M]
    least = [-fits[0]]
    if len(now.pieces):
        places = runs.points(now.pieces, now.shares)
        slopes = around.slopes(places[0], now.solids)
        demands.append(np.einsum("bni,ni->nb", places[1:] - places[0], slopes) / NUDGE_M)
        least.append(-now.spare)
    if holding is not None and now.holds is not None:
        holds = now.holds
        held = runs.points(holds.pieces, holds.shares)
        demands.append(-np.einsum("bni,ni->nb", held[1:] - held[0], holds.slopes) / NUDGE_M)
        least.append(-holds.spare)
        apart = stretches_m(runs, holds)
        demands.append(-(apart[1:] - apart[0]).T / NUDGE_M)
        least.append(apart[0] - holding.most_m(apart.shape[1]))
    own = np.eye(count)[shape.places :]
    radii = values[shape.places :]
    smallest = track.bend_radius_m
    demands += [own, -own]
    least += [smallest - radii, radii - (smallest * WIDEST_BENDS if wide else smallest)]
    matrix, bound = np.vstack(demands), np.concatenate(least)
    # one more unknown: how far all demands together are missed, at a price
    slack = np.ones((len(matrix), 1))
    slack[-2 * shape.corners :] = 0.0
    matrix = np.vstack([np.hstack([matrix, slack]), np.append(np.zeros(count), 1.0)])
    bound = np.append(bound, 0.0)
    hessian = np.zeros((count + 1, count + 1))
    if not astray:
        hessian[: shape.places, : shape.places] = shape.hessian(now.run)
    hessian[np.diag_indices(count)] += damping
    hessian[shape.places : count, shape.places : count] += 0.2 * np.eye(shape.corners)
    hessian[count, count] = 1.0
    found = least_change(hessian, np.append(gradient, price), matrix, bound)
    if found is None or not np.isfinite(found).all():
        return None, 0.0
    return found[:-1], max(0.0, float(found[-1]))


def _samples(run: Rounded, sample_m: float) -> tuple[Indices, Numbers]:
    lengths, _ = _extents(run)
    counts = np.clip(np.ceil(np.maximum(lengths, 0.0) / sample_m).astype(int) + 1, 2, 400)
    pieces = np.repeat(np.arange(len(lengths)), counts)
    firsts = np.repeat(np.cumsum(counts) - counts, counts)
    return pieces, (np.arange(len(pieces)) - firsts) / np.repeat(counts - 1, counts)


def _extents(run: Rounded) -> tuple[Numbers, Numbers]:
    """Length of each piece and how far from the start it begins; legs and arcs in turn."""
    lengths = np.empty(2 * run.radii.shape[1] + 1)
    lengths[0::2] = run.straights[0]
    lengths[1::2] = run.radii[0] * run.turns[0]
    return lengths, np.cumsum(lengths) - lengths


def _dense(path: Numbers) -> Numbers:
    steps = np.linspace(0.0, 1.0, 9)[:-1, None, None]
    points = path[None, :-1] + steps * (path[1:] - path[:-1])[None]
    return np.vstack([points.reshape(-1, 3), path[-1:]])


def pushed_out(track: Track, corners: Numbers) -> Numbers:
    """The corners of a taut way moved outwards, so that their wide bends pass where sharp corners did.

    A taut way turns close to an edge. Rounded with the cable's radius it would cut through the edge, and through a
    thin plate so far that it comes out at the other side.
    """
    if len(corners) == 1:
        corners = np.vstack([corners, track.finish.launch + 0.02 * track.bend_radius_m * track.finish.way])
    sharp_m = min(track.standoff_m, track.bend_radius_m)
    moved = corners.copy()
    for _ in range(3):
        path = np.vstack([track.start.point, moved, track.finish.point])
        ways = np.diff(path, axis=0)
        ways /= np.maximum(np.linalg.norm(ways, axis=1), 1e-9)[:, None]
        inward = ways[1:] - ways[:-1]
        half_cosine = np.sqrt(np.maximum((1 + np.einsum("ij,ij->i", ways[1:], ways[:-1])) / 2, 0.05))
        off_m = (track.bend_radius_m - sharp_m) * (1 / half_cosine - 1)
        inward /= np.maximum(np.linalg.norm(inward, axis=1), 1e-9)[:, None]
        moved[1:-1] = (corners - off_m[:, None] * inward)[1:-1]
    return moved
