"""Which cable goes on which stud of a bus bar."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cutlist.layout.cable_ends import BarEnd, CableTask, Stud, has_fixed_end

COST_STEP = 1e-8  # m: finer than anybody measures, coarse enough for sums of whole numbers


class TooFewStuds(ValueError):
    pass


def assigned_studs(
    tasks: Sequence[CableTask], bar: str, studs: Sequence[Stud], stack_limit: int, reserved: int
) -> dict[str, Stud]:
    """A stud for every cable that ends on this bar: the sum of straight distances is least.

    One cable a stud while there are studs, then stacked evenly up to the limit; `reserved` studs at the far end
    of the row stay free. Raises TooFewStuds.
    """
    here = [t for t in tasks if bar in {e.bar for e in (t.start, t.finish) if isinstance(e, BarEnd)}]
    free = list(studs)[: len(studs) - reserved] if reserved else list(studs)
    if len(free) * stack_limit < len(here) or (here and not free):
        raise TooFewStuds(
            f"{bar}: {len(here)} cables end here, but {len(free)} studs free for use hold {stack_limit} lugs each"
        )
    layers = -(-len(here) // max(len(free), 1))
    places = [stud for _ in range(layers) for stud in free]
    far = np.array([t.fixed_stud().point if has_fixed_end(t) else places[0].point for t in here])
    points = np.array([p.point for p in places])
    distance = np.linalg.norm(far[:, None, :] - points[None], axis=2)
    # a later layer is taken only when the first is full; names break ties by the order of tasks
    layer_cost = np.repeat(np.arange(layers), len(free)) * (distance.max(initial=0.0) * len(here) + 1.0)
    if not here:
        return {}
    columns = least_assignment(distance + layer_cost[None])
    return {task.name: places[c] for task, c in zip(here, columns, strict=True)}


def least_assignment(costs: np.ndarray) -> list[int]:
    """The column of each row, every column once at most: the sum of the costs is least, to 1e-8 of their unit.

    costs: (rows, columns) of finite numbers of 0 and more, no more rows than columns.
    """
    # scipy.optimize has the same, but takes a third of a second to load; its sparse matching does not always end
    from ortools.graph.python.linear_sum_assignment import SimpleLinearSumAssignment

    rows, columns = costs.shape
    # the solver wants as many rows as columns: the columns left over go to rows that cost nothing
    whole = np.zeros((columns, columns), dtype=np.int64)
    whole[:rows] = np.rint(costs / COST_STEP)
    solver = SimpleLinearSumAssignment()
    row, column = np.indices(whole.shape)
    solver.add_arcs_with_cost(row.ravel(), column.ravel(), whole.ravel())
    status = solver.solve()
    if status != solver.OPTIMAL:
        raise ArithmeticError(f"assignment of {rows} rows to {columns} columns: status {status}")
    return [solver.right_mate(i) for i in range(rows)]
