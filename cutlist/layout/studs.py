"""Which cable goes on which stud of a bus bar."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cutlist.layout.assignment import least_assignment
from cutlist.layout.cable_ends import BarEnd, CableTask, Stud, has_fixed_end


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
