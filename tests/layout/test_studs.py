"""Which cable goes on which stud, against every way of doing it."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import permutations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutlist.layout.cable_ends import BarEnd, CableTask, Stud
from cutlist.layout.studs import TooFewStuds, assigned_studs
from geometry.runs import Point

BAR = "positive bus bar"

# millimetres, as a survey has them: whole numbers, so that equal distances are common
points = st.tuples(*[st.integers(-3000, 3000).map(lambda mm: mm / 1000)] * 3)


def stud(name: str, point: Point) -> Stud:
    return Stud(name, point, ((1.0, 0.0, 0.0),), "M8", "", None, (0.0, 0.0, 1.0))


def leads(ends: list[Point]) -> list[CableTask]:
    return [
        CableTask(f"S{i} positive", "lead", "positive", f"S{i}", stud(f"S{i}", end), BarEnd(BAR))
        for i, end in enumerate(ends)
    ]


@settings(deadline=None)
@given(st.lists(points, min_size=1, max_size=5), st.lists(points, min_size=5, max_size=6, unique=True))
def test_the_sum_of_distances_is_the_least_of_all_ways(ends: list[Point], places: list[Point]) -> None:
    studs = [stud(f"stud {i}", p) for i, p in enumerate(places)]
    found = assigned_studs(leads(ends), BAR, studs, stack_limit=4, reserved=0)
    assert len({s.at for s in found.values()}) == len(ends)
    apart = np.linalg.norm(np.array(ends)[:, None] - np.array(places)[None], axis=2)
    least = min(apart[range(len(ends)), way].sum() for way in map(list, permutations(range(len(places)), len(ends))))
    total = sum(apart[i, studs.index(found[f"S{i} positive"])] for i in range(len(ends)))
    assert total <= least + 1e-7


def test_feeders_that_lie_on_one_line_come_to_an_end() -> None:
    """A row of studs right under the ceiling, its cables all far below: weights that differ in the last digits."""
    row = [stud(f"stud {i}", (2.7, -0.3 + 0.03 * i, 2.38)) for i in range(6)]
    ends = [(0.3, 0.25, 0.9), (1.5, 0.25, 0.9), (0.3, 0.25, 0.3), (1.1, 0.25, 0.3), (1.9, 0.25, 0.3)]
    ends.append((2.65, -0.775, 1.2))
    found = assigned_studs(leads(ends), BAR, row, stack_limit=4, reserved=0)
    assert sorted(s.at for s in found.values()) == [s.at for s in row]


@pytest.mark.parametrize("ends", [[0.0, 1.0], [1.0, 0.0]])
def test_on_one_line_cables_do_not_cross(ends: list[float]) -> None:
    """From 0 and 1 m to studs at 2 and 3 m: 3 + 1 m crossed, 2 + 2 m not; the sums are alike, the longest is not."""
    row = [stud("stud 1", (2.0, 0.0, 0.0)), stud("stud 2", (3.0, 0.0, 0.0))]
    found = assigned_studs(leads([(x, 0.0, 0.0) for x in ends]), BAR, row, stack_limit=4, reserved=0)
    assert [found[f"S{i} positive"].point[0] - x for i, x in enumerate(ends)] == [2.0, 2.0]


@settings(deadline=None, max_examples=60)
@given(st.data())
def test_on_unlike_studs_against_every_way(data: st.DataObject) -> None:
    """Leads and feeders each on the studs that take them: the fewest lugs on one stud, then the least sum of distances,
    among all ways of the first row of studs in use that serves."""
    count = data.draw(st.integers(1, 4))
    places = data.draw(st.lists(points, min_size=count, max_size=count, unique=True))
    ends = data.draw(st.lists(points, min_size=1, max_size=4))
    kinds = data.draw(st.lists(st.sampled_from(["lead", "feeder"]), min_size=len(ends), max_size=len(ends)))
    some = st.sets(st.integers(0, count - 1), min_size=1).map(lambda found: tuple(sorted(found)))
    takes = {"lead": data.draw(some), "feeder": data.draw(some)}
    reserved, limit = data.draw(st.integers(0, count - 1)), data.draw(st.integers(1, 3))
    studs = [stud(f"stud {i}", p) for i, p in enumerate(places)]
    tasks = [replace(task, kind=kind) for task, kind in zip(leads(ends), kinds, strict=True)]
    apart = np.linalg.norm(np.array(ends)[:, None] - np.array(places)[None], axis=2)
    expected = None
    for layers in range(1, limit + 1):
        for first in range(reserved + 1):
            used = range(first, first + count - reserved)
            if any(i not in used and "lead" in kinds and i not in takes["lead"] for i in range(count)):
                continue
            open_ = [[i for i in used if i in takes[kind]] for kind in kinds]
            ways = [w for w in product(*open_) if all(w.count(i) <= layers for i in w)]
            if ways and expected is None:
                # of ways with as few second and third lugs the nearest
                expected = min(sorted((_stacked(w), apart[range(len(w)), list(w)].sum()) for w in ways))
    if expected is None:
        with pytest.raises(TooFewStuds, match=BAR):
            assigned_studs(tasks, BAR, studs, limit, reserved, takes)
        return
    found = assigned_studs(tasks, BAR, studs, limit, reserved, takes)
    way = tuple(studs.index(found[task.name]) for task in tasks)
    assert all(i in takes[kind] for i, kind in zip(way, kinds, strict=True))
    assert _stacked(way) == expected[0]
    assert apart[range(len(way)), list(way)].sum() <= expected[1] + 1e-7


def _stacked(way: tuple[int, ...]) -> int:
    """Lugs on others, a third counted twice."""
    return sum(n * (n - 1) // 2 for n in Counter(way).values())
