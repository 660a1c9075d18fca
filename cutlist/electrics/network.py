"""A direct-current network: branches with resistance and EMF, current sources, and the one state they settle in.

General: it knows nothing of batteries. Nodes are any hashable keys.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np

Node = Hashable

DENSE_NODES = 150  # below this a plain solve is quicker than a sparse one, and scipy need not be loaded


@dataclass(frozen=True)
class Branch:
    """Resistance and EMF in series; the EMF drives current from `start` to `finish` through the branch.

    Positive current flows from `start` to `finish`. Resistance 0 is an ideal EMF or a bare link, inf an open switch.
    """

    name: str
    start: Node
    finish: Node
    resistance_ohm: float
    emf_v: float = 0.0


@dataclass(frozen=True)
class Source:
    """A fixed current from `start` to `finish` through the source: a load from its positive to its negative."""

    name: str
    start: Node
    finish: Node
    current_a: float


@dataclass(frozen=True)
class Network:
    branches: tuple[Branch, ...]
    sources: tuple[Source, ...] = ()
    ground: Node = None  # the node at 0 V; None: the first branch's start


@dataclass(frozen=True)
class NetworkState:
    voltages_v: dict[Node, float]
    currents_a: dict[str, float]  # of branches and sources, by name


@dataclass(frozen=True, eq=False)
class Prepared:
    """A network but for its resistances: what is worked out once however often they change.

    Which branches have no resistance and which are open must stay as it was.
    """

    network: Network
    index: dict[Node, int]
    start: np.ndarray
    finish: np.ndarray
    emf_v: np.ndarray
    injected_a: np.ndarray
    ideal: np.ndarray  # branches of resistance 0
    grounds: np.ndarray  # nodes held at 0 V
    rows: np.ndarray  # of the matrix's entries, of which `kept` remain
    columns: np.ndarray
    kept: np.ndarray


def solve(network: Network) -> NetworkState:
    """Voltages of all nodes and currents of all branches.

    Nodal analysis with one extra unknown for each branch of resistance 0. Parts that no branch joins to the ground
    are solved with their first node at 0 V. Raises ValueError if names repeat, a resistance is negative or not a
    number, a source drives current into a part it cannot come back from, or links of no resistance form a loop.
    """
    return solve_with(prepared(network), np.array([b.resistance_ohm for b in network.branches]))


def prepared(network: Network) -> Prepared:
    """Raises ValueError as `solve` does, but for loops of no resistance."""
    _check(network)
    index = node_index(network)
    start, finish = ends(network, index)
    ohm = np.array([b.resistance_ohm for b in network.branches])
    injected_a = injections(network, index)
    ideal = np.flatnonzero(ohm == 0)
    grounds = _grounds(network, index, start, finish, ohm, injected_a)
    extra = len(index) + np.arange(len(ideal))
    # current balance per node, then the voltage law per ideal branch
    rows = np.concatenate([start, finish, start, finish, start[ideal], finish[ideal], extra, extra])
    columns = np.concatenate([start, finish, finish, start, extra, extra, start[ideal], finish[ideal]])
    emf_v = np.array([b.emf_v for b in network.branches])
    kept = ~np.isin(rows, grounds)
    return Prepared(network, index, start, finish, emf_v, injected_a, ideal, grounds, rows, columns, kept)


def solve_with(ready: Prepared, ohm: np.ndarray) -> NetworkState:
    """The state with these resistances (branches,), of which the same are 0 and inf as before.

    Raises ValueError if links of no resistance form a loop.
    """
    start, finish, emf, ideal, grounds = ready.start, ready.finish, ready.emf_v, ready.ideal, ready.grounds
    siemens = np.divide(1.0, ohm, out=np.zeros_like(ohm), where=(ohm > 0) & np.isfinite(ohm))
    n, m = len(ready.index), len(ideal)
    right = np.zeros(n + m)
    right[:n] = ready.injected_a
    np.add.at(right, start, -siemens * emf)
    np.add.at(right, finish, siemens * emf)
    right[n:] = -emf[ideal]
    right[grounds] = 0.0
    one = np.ones(m)
    entries = np.concatenate([siemens, siemens, -siemens, -siemens, one, -one, one, -one])[ready.kept]
    # 0 V in place of each ground's balance
    rows, columns = (np.concatenate([x[ready.kept], grounds]) for x in (ready.rows, ready.columns))
    found = _linear_solve(n + m, rows, columns, np.concatenate([entries, np.ones(len(grounds))]), right)
    volts = found[:n]
    amps = siemens * (volts[start] - volts[finish] + emf)
    amps[ideal] = found[n:]
    currents = {b.name: a for b, a in zip(ready.network.branches, amps.tolist(), strict=True)}
    currents |= {s.name: s.current_a for s in ready.network.sources}
    return NetworkState(dict(zip(ready.index, volts.tolist(), strict=True)), currents)


def node_index(network: Network) -> dict[Node, int]:
    """A number for each node, in order of first mention; the ground is 0."""
    index: dict[Node, int] = {}
    if network.ground is not None:
        index[network.ground] = 0
    items: tuple[Branch | Source, ...] = (*network.branches, *network.sources)
    for item in items:
        index.setdefault(item.start, len(index))
        index.setdefault(item.finish, len(index))
    return index


def ends(network: Network, index: dict[Node, int]) -> tuple[np.ndarray, np.ndarray]:
    start = np.array([index[b.start] for b in network.branches], dtype=np.intp)
    finish = np.array([index[b.finish] for b in network.branches], dtype=np.intp)
    return start, finish


def injections(network: Network, index: dict[Node, int]) -> np.ndarray:
    """Current the sources push into each node."""
    injected = np.zeros(len(index))
    for source in network.sources:
        injected[index[source.start]] -= source.current_a
        injected[index[source.finish]] += source.current_a
    return injected


def _check(network: Network) -> None:
    names = [b.name for b in network.branches] + [s.name for s in network.sources]
    if len(set(names)) != len(names):
        twice = sorted({name for name in names if names.count(name) > 1})
        raise ValueError(f"two elements are called {', '.join(twice)}")
    for branch in network.branches:
        if not branch.resistance_ohm >= 0 or not math.isfinite(branch.emf_v):
            raise ValueError(f"{branch.name}: {branch.resistance_ohm} ohm with {branch.emf_v} V is no branch")


def _grounds(
    network: Network,
    index: dict[Node, int],
    start: np.ndarray,
    finish: np.ndarray,
    ohm: np.ndarray,
    injected: np.ndarray,
) -> np.ndarray:
    """One node of each separate part, to be held at 0 V; the network's ground for its own part."""
    part = components(len(index), start[np.isfinite(ohm)], finish[np.isfinite(ohm)])
    total = np.bincount(part, weights=injected, minlength=len(index))
    scale = 1e-9 * (1 + np.abs(injected).max(initial=0.0))
    stranded = np.flatnonzero(np.abs(total) > scale)
    if stranded.size:
        names = [node for node, i in index.items() if part[i] in stranded]
        sources = [s.name for s in network.sources if s.start in names or s.finish in names]
        raise ValueError(f"no way back for the current of {', '.join(sources)}")
    return np.unique(part, return_index=True)[1]


def components(n: int, start: np.ndarray, finish: np.ndarray) -> np.ndarray:
    """For each node the lowest-numbered node it is joined to."""
    parent = list(range(n))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for a, b in zip(start.tolist(), finish.tolist(), strict=True):
        ra, rb = root(a), root(b)
        if ra != rb:
            parent[max(ra, rb)] = min(ra, rb)
    return np.array([root(i) for i in range(n)], dtype=np.intp)


def _linear_solve(
    size: int, rows: np.ndarray, columns: np.ndarray, values: np.ndarray, right: np.ndarray
) -> np.ndarray:
    looped = "links of no resistance form a loop: their currents cannot be told"
    if size <= DENSE_NODES:
        matrix = np.zeros((size, size))
        np.add.at(matrix, (rows, columns), values)
        try:
            return np.linalg.solve(matrix, right)
        except np.linalg.LinAlgError:
            raise ValueError(looped) from None
    from scipy.sparse import csc_matrix
    from scipy.sparse.linalg import splu

    try:
        return splu(csc_matrix((values, (rows, columns)), shape=(size, size))).solve(right)
    except RuntimeError:
        raise ValueError(looped) from None


def parallel(ohms: Sequence[float]) -> float:
    """Resistance of several in parallel."""
    return 1 / sum(1 / ohm for ohm in ohms) if all(ohms) else 0.0
