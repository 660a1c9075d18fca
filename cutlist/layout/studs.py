"""Which cable goes on which stud of a bus bar."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from cutlist.layout.assignment import least_assignment
from cutlist.layout.cable_ends import BarEnd, CableTask, Stud, has_fixed_end
from cutlist.layout.place_problem import Array
from cutlist.layout.stud_fits import BarFit, Taking

Takes = Mapping[str, Taking]  # by kind of cable: the studs on which its lugs go


class TooFewStuds(ValueError):
    pass


def assigned_studs(
    tasks: Sequence[CableTask],
    bar: str,
    studs: Sequence[Stud],
    stack_limit: int,
    reserved: int,
    takes: Takes | None = None,
) -> dict[str, Stud]:
    """A stud for every cable that ends on this bar: the sum of straight distances is least.

    One cable a stud while there are studs, then stacked evenly up to the limit; `reserved` studs at the far end
    of the row stay free; where those would not take a lead, or the others not all cables, at both ends or the near one.
    `takes` None: every stud takes every lug. Raises TooFewStuds.
    """
    here = [t for t in tasks if bar in {e.bar for e in (t.start, t.finish) if isinstance(e, BarEnd)}]
    if takes is not None and any(takes.get(task.kind) is not None for task in here):
        return _on_unlike(here, bar, studs, stack_limit, reserved, takes)
    free = list(studs)[: len(studs) - reserved] if reserved else list(studs)
    if len(free) * stack_limit < len(here) or (here and not free):
        raise TooFewStuds(
            f"{bar}: {len(here)} cables end here, but {len(free)} studs free for use hold {stack_limit} lugs each"
        )
    if not here:
        return {}
    layers = -(-len(here) // max(len(free), 1))
    return _nearest(here, free, layers, np.zeros((len(here), len(free)), dtype=bool))


def _on_unlike(
    here: Sequence[CableTask], bar: str, studs: Sequence[Stud], stack_limit: int, reserved: int, takes: Takes
) -> dict[str, Stud]:
    every = range(len(studs))
    open_ = {task.kind: frozenset(every if (some := takes.get(task.kind)) is None else some) for task in here}
    fit = BarFit(len(studs), reserved, open_.get("lead", frozenset(every)), open_.get("feeder", frozenset(every)))
    leads = sum(task.kind == "lead" for task in here)
    layers = fit.lugs_needed(leads, len(here) - leads, 1, stack_limit)
    if layers is None:
        told = [f"the lugs of {kind}s go on {studs_text(sorted(some))}" for kind, some in sorted(open_.items())]
        kept = f", {reserved} studs are kept for later strings" if reserved else ""
        raise TooFewStuds(
            f"{bar}: {leads} leads and {len(here) - leads} feeders end here; {' and '.join(told)}, "
            f"{stack_limit} on each at most{kept}"
        )
    first = fit.firsts(leads, len(here) - leads, layers)[0]
    free = list(studs)[first : first + len(studs) - reserved]
    closed = np.array([[first + i not in open_[task.kind] for i in range(len(free))] for task in here])
    return _nearest(here, free, layers, closed)


def _nearest(here: Sequence[CableTask], free: Sequence[Stud], layers: int, closed: np.ndarray) -> dict[str, Stud]:
    """Of least distance in sum; `closed` (cables, studs) are taken by none as long as there is another way."""
    places = [stud for _ in range(layers) for stud in free]
    far = np.array([t.fixed_stud().point if has_fixed_end(t) else places[0].point for t in here])
    points = np.array([p.point for p in places])
    distance: Array = np.linalg.norm(far[:, None, :] - points[None], axis=2)
    # a later layer is taken only when the first is full; names break ties by the order of tasks
    layer_m = distance.max(initial=0.0) * len(here) + 1.0
    cost = distance + (np.repeat(np.arange(layers), len(free)) * layer_m)[None]
    cost = np.where(np.tile(closed, layers), (layers + 1) * layer_m * (len(here) + 1), cost)
    columns = least_assignment(cost)
    return {task.name: places[c] for task, c in zip(here, columns, strict=True)}


def studs_text(studs: Sequence[int]) -> str:
    """Studs counted from 0, as the rigger counts them.

    >>> studs_text([0]), studs_text([0, 2, 3]), studs_text([])
    ('stud 1', 'studs 1, 3 and 4', 'no stud')
    """
    names = [str(stud + 1) for stud in studs]
    if not names:
        return "no stud"
    return f"stud {names[0]}" if len(names) == 1 else f"studs {', '.join(names[:-1])} and {names[-1]}"
