"""The smallest sufficient change: a quadratic goal under linear demands, for a dozen unknowns.

Source: C. L. Lawson and R. J. Hanson, Solving Least Squares Problems (1974), chapter 23: least distance
programming by non-negative least squares. Written for small problems, with no solver library to load.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geometry.kernel import COMPILED, non_negative

Numbers = NDArray[np.float64]


def least_change(hessian: Numbers, gradient: Numbers, demands: Numbers, least: Numbers) -> Numbers | None:
    """The x (n,) with least x.H.x / 2 + g.x among those with demands @ x >= least; None if there is none.

    Raises numpy.linalg.LinAlgError if the hessian is not positive definite.

    >>> least_change(np.eye(2), np.array([-1.0, 0.0]), np.array([[0.0, 1.0]]), np.array([2.0])).round(9).tolist()
    [1.0, 2.0]
    """
    inverse = np.linalg.inv(np.linalg.cholesky(hessian))  # H = C C', y = C' x + inverse g
    free = inverse @ gradient
    if not len(demands):
        return -inverse.T @ free
    matrix = demands @ inverse.T
    bound = least + matrix @ free
    scale = np.maximum(np.linalg.norm(matrix, axis=1), 1e-12)
    matrix, bound = matrix / scale[:, None], bound / scale
    stacked = np.column_stack([matrix, bound])
    weights = _non_negative(stacked @ stacked.T, bound)
    if weights is None:
        return None
    rest = weights @ stacked
    rest[-1] -= 1.0
    if rest[-1] > -1e-12:
        return None
    return inverse.T @ (-rest[:-1] / rest[-1] - free)


def _non_negative(square: Numbers, linear: Numbers) -> Numbers | None:
    """The u >= 0 with least u.Q.u / 2 - c.u; None if it does not settle."""
    if COMPILED:
        return non_negative(square, linear)
    count = len(linear)
    weights = np.zeros(count)
    chosen: list[int] = []
    slope = linear.copy()
    tolerance = 1e-11 * (1.0 + float(np.abs(linear).max()))
    barred = np.zeros(count, dtype=bool)
    for _ in range(3 * count + 10):
        open_slope = np.where(barred, -np.inf, slope)
        open_slope[chosen] = -np.inf
        best = int(open_slope.argmax())
        if open_slope[best] <= tolerance:
            return weights
        chosen.append(best)
        while True:
            part = square[np.ix_(chosen, chosen)]
            part[np.diag_indices(len(chosen))] += 1e-13
            wanted = np.linalg.solve(part, linear[chosen])
            if wanted[-1] <= 0 and chosen[-1] == best:  # rounding only: it cannot help
                chosen.pop()
                barred[best] = True
                break
            low = wanted <= 0
            if not low.any():
                weights[:] = 0.0
                weights[chosen] = wanted
                barred[:] = False
                break
            now = weights[chosen]
            share = float((now[low] / np.maximum(now[low] - wanted[low], 1e-300)).min())
            moved = now + share * (wanted - now)
            weights[chosen] = moved
            keep = ~(low & (moved <= 1e-15))
            if keep.all():
                keep[int(np.flatnonzero(low)[now[low].argmin()])] = False
            weights[[c for c, k in zip(chosen, keep, strict=True) if not k]] = 0.0
            chosen = [c for c, k in zip(chosen, keep, strict=True) if k]
            if not chosen:
                break
        slope = linear - square @ weights
    return None
