"""Which like batteries make up which string: exhaustive search, a row worked by hand, laws."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, permutations

import numpy as np
import pytest

from cutlist.layout.like_batteries import GroupingProblem, Strings, shortest_grouping, total_m
from cutlist.layout.matching import MATCHES

ALIKE = ("all leads alike", "each pole alike", "as routed")


def row_of_four(own: Strings, match: str) -> GroupingProblem:
    """Four batteries 1 m apart along x, both terminals at one spot; positive bar at x 0, negative bar at x 3."""
    x = np.arange(4.0)
    none = np.zeros(1)
    links_m = np.abs(x[:, None] - x[None])
    return GroupingProblem(own, ("like",) * 4, links_m, x[:, None], 3 - x[:, None], none, none, match)


def random_bank(seed: int, match: str, strings: int = 3, long: int = 2, kinds: tuple[str, ...] = ()) -> GroupingProblem:
    """Batteries anywhere in a cube of 2 m, three places for each bar."""
    at = np.random.default_rng(seed)
    count = strings * long
    plus, minus, one, other = (at.uniform(0, 2, (n, 3)) for n in (count, count, 3, 3))

    def apart(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        return np.asarray(np.linalg.norm(a[:, None] - b[None], axis=2))

    own = tuple(tuple(range(i * long, (i + 1) * long)) for i in range(strings))
    rest = at.uniform(0, 0.5, (2, 3))
    kinds = kinds or ("like",) * count
    return GroupingProblem(
        own, kinds, apart(minus, plus), apart(plus, one), apart(minus, other), rest[0], rest[1], match
    )


def every_grouping(left: tuple[int, ...], long: int) -> Iterator[Strings]:
    """All ways of making up strings, each once: the least battery left is in the first of them."""
    if not left:
        yield ()
        return
    for others in combinations(left[1:], long - 1):
        rest = tuple(battery for battery in left[1:] if battery not in others)
        for string in permutations((left[0], *others)):
            for further in every_grouping(rest, long):
                yield (string, *further)


@pytest.mark.parametrize("match", MATCHES)
@pytest.mark.parametrize(("strings", "long"), [(3, 2), (2, 3)])
def test_no_grouping_of_a_small_bank_takes_less(match: str, strings: int, long: int) -> None:
    """Against all: 15 pairings x 2 orders of each pair, 120; 10 halves x 6 orders of each, 360."""
    for seed in range(2):
        problem = random_bank(seed, match, strings, long)
        groupings = list(every_grouping(tuple(range(strings * long)), long))
        assert len(set(groupings)) == (120 if long == 2 else 360)
        least_m = min(total_m(problem, grouping) for grouping in groupings)
        found = shortest_grouping(problem)
        assert found.least_m <= least_m + 1e-9
        assert found.total_m == pytest.approx(total_m(problem, found.strings))
        if match in ALIKE:
            assert found.total_m == pytest.approx(least_m, abs=0.005)
            assert found.proved
        else:
            assert least_m - 1e-9 <= found.total_m <= found.own_m


def test_a_row_worked_by_hand() -> None:
    """As routed: a string from battery a to battery b takes a + |b - a| + 3 - b: 3 m if b lies beyond a, else more.

    The job's 3-0 and 2-1 take 3 + 3 + 3 and 2 + 1 + 2 = 14 m; two strings of 3 m are the least, 6 m.
    Each pole alike: two positives reach 1 m at least (batteries 0 and 1), so do the two negatives (2 and 3): 2 (1 + 1),
    and jumpers from {0, 1} to {2, 3} take 4 m in either pairing: 8 m. Any other ends reach 2 m: 8 m and two jumpers.
    All alike: 4 leads of 1 m and the same jumpers, 8 m.
    """
    turned = ((3, 0), (2, 1))
    routed = shortest_grouping(row_of_four(turned, "as routed"))
    assert (routed.own_m, routed.total_m) == pytest.approx((14, 6))
    for match in ("each pole alike", "all leads alike"):
        found = shortest_grouping(row_of_four(turned, match))
        assert found.total_m == pytest.approx(8)
        assert {string[0] for string in found.strings} == {0, 1}
        assert found.proved


def test_what_is_as_good_stays_as_the_job_has_it() -> None:
    """0-3 and 1-2 take the least, 8 m (above); so do 0-2 and 1-3."""
    for own in (((0, 3), (1, 2)), ((0, 2), (1, 3))):
        assert shortest_grouping(row_of_four(own, "all leads alike")).strings == own


def test_strings_keep_name_and_count_and_only_like_batteries_change_places() -> None:
    """Two strings of three of one type, three of two of another, numbered through one another."""
    kinds = ("six", "four", "six", "four", "six", "four", "six", "four", "six", "four", "six", "four")
    sixes, fours = (0, 2, 4, 6, 8, 10), (1, 3, 5, 7, 9, 11)
    own = (sixes[:3], fours[:2], sixes[3:], fours[2:4], fours[4:])
    for seed in range(3):
        problem = replace(random_bank(seed, "all leads alike", 6, 2, kinds), own=own)
        found = shortest_grouping(problem)
        assert [len(string) for string in found.strings] == [3, 2, 3, 2, 2]
        assert [kinds[string[0]] for string in found.strings] == ["six", "four", "six", "four", "four"]
        assert sorted(battery for string in found.strings for battery in string) == list(range(12))
        assert all(len({kinds[battery] for battery in string}) == 1 for string in found.strings)
        assert found.total_m <= found.own_m


def test_the_mirror_image_takes_the_same() -> None:
    """Turned round, what was from the positive to the negative end is from the negative to the positive one."""
    for seed in range(3):
        problem = random_bank(seed, "all leads alike", 4, 2)
        mirrored = replace(
            problem,
            own=tuple(string[::-1] for string in problem.own),
            links_m=problem.links_m.T,
            positive_m=problem.negative_m,
            negative_m=problem.positive_m,
            positive_rest_m=problem.negative_rest_m,
            negative_rest_m=problem.positive_rest_m,
        )
        assert shortest_grouping(problem).total_m == pytest.approx(shortest_grouping(mirrored).total_m, abs=0.005)


def test_a_link_without_a_way_is_not_taken() -> None:
    problem = row_of_four(((3, 0), (2, 1)), "as routed")
    walled = problem.links_m.copy()
    walled[0, 1:] = np.inf  # nothing can be joined to the negative of battery 0: it ends a string
    found = shortest_grouping(replace(problem, links_m=walled))
    assert 0 in {string[-1] for string in found.strings}
    assert np.isfinite(found.total_m)


def test_strings_of_one_battery_stay() -> None:
    problem = replace(row_of_four(((0,), (1,), (2,), (3,)), "all leads alike"))
    assert shortest_grouping(problem).strings == problem.own
