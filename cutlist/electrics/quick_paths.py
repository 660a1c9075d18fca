"""The branches that current passes between a string's batteries and a load, as signed rows of a matrix."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping

import numpy as np

from cutlist.bank.job import Job
from cutlist.electrics.network import Node
from cutlist.electrics.wiring import Wiring


def paths(job: Job, wiring: Wiring) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Signed branches between each string's batteries and each load, batteries left out."""
    network = wiring.network
    shared: dict[Node, list[tuple[Node, int, float]]] = {}
    for i, (part, branch) in enumerate(zip(wiring.parts, network.branches, strict=True)):
        if not part.string:
            shared.setdefault(branch.start, []).append((branch.finish, i, 1.0))
            shared.setdefault(branch.finish, []).append((branch.start, i, -1.0))
    found, strings, loads = [], [], []
    for s, string in enumerate(job.strings):
        own, bar_ends = _string_row(wiring, string.name)
        for n, load in enumerate(job.loads):
            row = np.zeros(len(network.branches))
            row[list(own)] = list(own.values())
            for pole, way in (("positive", 1.0), ("negative", -1.0)):
                for i, sign in _way(bar_ends[pole], (f"load {pole}", load.name), shared):
                    row[i] += way * sign
            found.append(row)
            strings.append(s)
            loads.append(n)
    return np.array(found), np.array(strings), np.array(loads)


def _string_row(wiring: Wiring, name: str) -> tuple[dict[int, float], dict[str, Node]]:
    """A string's branches but its batteries, signed so that discharge is positive, and the bar nodes at its ends."""
    at: dict[Node, list[int]] = {}
    for i, (part, branch) in enumerate(zip(wiring.parts, wiring.network.branches, strict=True)):
        if part.string == name:
            at.setdefault(branch.start, []).append(i)
            at.setdefault(branch.finish, []).append(i)
    ends = {pole: _bar_end(wiring, name, pole, at) for pole in ("positive", "negative")}
    row, node, seen = {}, ends["negative"], set()
    while node != ends["positive"]:
        i = next(i for i in at[node] if i not in seen)
        seen.add(i)
        branch = wiring.network.branches[i]
        if wiring.parts[i].stage != "battery":
            row[i] = 1.0 if branch.start == node else -1.0
        node = branch.finish if branch.start == node else branch.start
    return row, ends


def _bar_end(wiring: Wiring, name: str, pole: str, at: Mapping[Node, list[int]]) -> Node:
    bars = {c.finish for c in wiring.cables if c.string == name and c.kind == "lead" and c.pole == pole}
    bars |= {c.start for c in wiring.cables if c.string == name and c.kind == "lead" and c.pole == pole}
    names = {end[1] for end in bars if isinstance(end, tuple) and end[0] == "stud"}
    return next(node for node in at if isinstance(node, tuple) and node[0] in ("stud", "bar") and node[1] in names)


def _way(start: Node, finish: Node, shared: Mapping[Node, list[tuple[Node, int, float]]]) -> list[tuple[int, float]]:
    came: dict[Node, tuple[Node, int, float] | None] = {start: None}
    queue = deque([start])
    while queue:
        node = queue.popleft()
        if node == finish:
            break
        for other, branch, sign in shared.get(node, []):
            if other not in came:
                came[other] = (node, branch, sign)
                queue.append(other)
    way, step = [], came[finish]
    while step is not None:
        way.append((step[1], step[2]))
        step = came[step[0]]
    return way
