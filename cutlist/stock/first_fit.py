"""First-fit decreasing: quick plans, never proved; what every other method must beat."""

from __future__ import annotations

from cutlist.stock.problem import Cuts, Pattern, Problem, without_surplus


def first_fit(problem: Problem) -> Cuts | None:
    """The best of several first-fit-decreasing plans, one for each kind of spool as the one bought by preference.

    Longest piece first, onto the first spool with room; remnants are opened first, smallest that fits first; in the
    end each bought spool is exchanged for the cheapest that holds its pieces. None if the stock did not suffice
    this way (which does not prove that it cannot).
    """
    best: Cuts | None = None
    bought = _worth_trying(problem)
    for preferred in bought:
        for remnants_first in (True, False):
            plan = _first_fit(problem, preferred, remnants_first)
            if plan is not None and (best is None or plan.cost(problem) < best.cost(problem)):
                best = plan
    return best


def _worth_trying(problem: Problem) -> list[int]:
    """At most 24 lines (8 for many pieces), spread over the capacities: by the metre there can be hundreds."""
    lines = sorted(range(len(problem.lines)), key=lambda t: (problem.lines[t].capacity, problem.lines[t].cost, t))
    most = 24 if problem.total_pieces <= 60 else 8
    if len(lines) <= most:
        return lines
    return [lines[round(i * (len(lines) - 1) / (most - 1))] for i in range(most)]


def _first_fit(problem: Problem, preferred: int, free_first: bool) -> Cuts | None:
    lines = problem.lines
    left = [line.available if line.available is not None else problem.total_pieces for line in lines]
    can_yield = [set(types) for types in problem.may_yield]
    by_cost = sorted(range(len(lines)), key=lambda t: (lines[t].cost / max(lines[t].capacity, 1), lines[t].cost, t))
    by_size = sorted(range(len(lines)), key=lambda t: (lines[t].capacity, lines[t].cost, t))
    free = [t for t in by_size if lines[t].cost == 0] if free_first else []
    opened: list[int] = []
    room: list[int] = []
    counts: list[dict[int, int]] = []

    def put(spool: int, i: int, most: int) -> int:
        if i not in can_yield[lines[opened[spool]].family]:
            return 0
        n = min(most, room[spool] // problem.widths[i])
        if n > 0:
            room[spool] -= n * problem.widths[i]
            counts[spool][i] = counts[spool].get(i, 0) + n
        return n

    for i, width in enumerate(problem.widths):
        todo = problem.demands[i]
        for spool in range(len(opened)):
            if todo == 0:
                break
            if room[spool] >= width:
                todo -= put(spool, i, todo)
        while todo:
            line = next(
                (
                    t
                    for t in (*free, preferred, *by_cost)
                    if left[t] > 0 and lines[t].capacity >= width and i in can_yield[lines[t].family]
                ),
                None,
            )
            if line is None:
                return None
            left[line] -= 1
            opened.append(line)
            room.append(lines[line].capacity)
            counts.append({})
            todo -= put(len(opened) - 1, i, todo)
    return _exchanged(problem, opened, counts, left)


def _exchanged(problem: Problem, opened: list[int], counts: list[dict[int, int]], left: list[int]) -> Cuts:
    """Each spool exchanged for the cheapest one that holds its pieces and may yield them; fullest first."""
    widths = [sum(problem.widths[i] * n for i, n in c.items()) for c in counts]
    can_yield = [set(types) for types in problem.may_yield]
    uses: dict[Pattern, int] = {}
    for spool in sorted(range(len(opened)), key=lambda s: (-widths[s], s)):
        line = opened[spool]
        choices = [
            t
            for t, other in enumerate(problem.lines)
            if (left[t] > 0 or t == line)
            and other.capacity >= widths[spool]
            and can_yield[other.family] >= set(counts[spool])
        ]
        best = min(choices, key=lambda t: (problem.cost_of(t, widths[spool]), t != line, t))
        if best != line:
            left[best] -= 1
            left[line] += 1
        pattern = Pattern(best, tuple(sorted(counts[spool].items())))
        uses[pattern] = uses.get(pattern, 0) + 1
    return without_surplus(problem, uses)
