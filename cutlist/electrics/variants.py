"""One network, many sets of figures at once: outages, sweeps, scatter.

Branches in series are first folded into one chain, so that only nodes where current can divide remain; then all
variants are solved together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutlist.electrics.network import Network, components, ends, node_index

CHUNK_BYTES = 32_000_000  # matrices held at a time


@dataclass(frozen=True)
class Folded:
    """The topology of a network with its chains folded; figures are given to `solve_variants`."""

    names: tuple[str, ...]  # branches, in the order of all branch arrays
    source_names: tuple[str, ...]
    chain_of: np.ndarray  # (branches,) chain that holds the branch
    sign: np.ndarray  # (branches,) +1 if the branch points the way of its chain, else -1
    start: np.ndarray  # (chains,) node where the chain starts
    finish: np.ndarray  # (chains,)
    source_start: np.ndarray  # (sources,)
    source_finish: np.ndarray  # (sources,)
    nodes: int  # nodes left; node 0 is held at 0 V
    resistance_ohm: np.ndarray  # (branches,) the network's own figures
    emf_v: np.ndarray  # (branches,)
    current_a: np.ndarray  # (sources,)

    def column(self, name: str) -> int:
        return self.names.index(name)


@dataclass(frozen=True)
class VariantStates:
    currents_a: np.ndarray  # (variants, branches)
    voltages_v: np.ndarray  # (variants, nodes left)


def fold(network: Network) -> Folded:
    """Fold every row of branches that current must pass one after another into a chain.

    Raises ValueError if the network is in more than one part.
    """
    index = node_index(network)
    start, finish = ends(network, index)
    if len(set(components(len(index), start, finish).tolist())) > 1:
        raise ValueError("the network is in several parts that no branch joins")
    at_node: list[list[int]] = [[] for _ in index]
    for branch, (a, b) in enumerate(zip(start.tolist(), finish.tolist(), strict=True)):
        at_node[a].append(branch)
        at_node[b].append(branch)
    kept = {0} | {i for i, branches in enumerate(at_node) if len(branches) != 2}
    kept |= {index[node] for s in network.sources for node in (s.start, s.finish)}

    chain_of = np.full(len(start), -1, dtype=np.intp)
    sign = np.ones(len(start))
    chain_ends: list[tuple[int, int]] = []
    for first in sorted(kept):
        for branch in at_node[first]:
            if chain_of[branch] >= 0:
                continue
            node, at = first, branch
            while True:
                chain_of[at] = len(chain_ends)
                sign[at] = 1.0 if start[at] == node else -1.0
                node = int(finish[at] if start[at] == node else start[at])
                if node in kept:
                    break
                at = next(b for b in at_node[node] if b != at)
            chain_ends.append((first, node))
    renumber = {node: i for i, node in enumerate(sorted(kept))}
    return Folded(
        names=tuple(b.name for b in network.branches),
        source_names=tuple(s.name for s in network.sources),
        chain_of=chain_of,
        sign=sign,
        start=np.array([renumber[a] for a, _ in chain_ends], dtype=np.intp),
        finish=np.array([renumber[b] for _, b in chain_ends], dtype=np.intp),
        source_start=np.array([renumber[index[s.start]] for s in network.sources], dtype=np.intp),
        source_finish=np.array([renumber[index[s.finish]] for s in network.sources], dtype=np.intp),
        nodes=len(kept),
        resistance_ohm=np.array([b.resistance_ohm for b in network.branches]),
        emf_v=np.array([b.emf_v for b in network.branches]),
        current_a=np.array([s.current_a for s in network.sources]),
    )


def solve_variants(
    folded: Folded,
    *,
    resistance_ohm: np.ndarray | None = None,
    emf_v: np.ndarray | None = None,
    current_a: np.ndarray | None = None,
) -> VariantStates:
    """The state of each variant.

    Arrays are (variants, branches) for `resistance_ohm` and `emf_v`, (variants, sources) for `current_a`; what is
    None or has one row holds for all variants. A resistance of inf opens the branch. Raises ValueError if a chain
    has no resistance at all.
    """
    ohm = np.atleast_2d(folded.resistance_ohm if resistance_ohm is None else resistance_ohm)
    emf = np.atleast_2d(folded.emf_v if emf_v is None else emf_v)
    amps = np.atleast_2d(folded.current_a if current_a is None else current_a)
    variants = max(len(ohm), len(emf), len(amps))
    chain_ohm = _sum_by_chain(folded, ohm)
    if not np.all(chain_ohm > 0):
        raise ValueError("a chain of branches has no resistance: its current cannot be told")
    chain_siemens = np.broadcast_to(1 / chain_ohm, (variants, len(folded.start)))
    chain_emf = np.broadcast_to(_sum_by_chain(folded, emf * folded.sign), (variants, len(folded.start)))
    amps = np.broadcast_to(amps, (variants, amps.shape[1]))
    chunk = max(1, CHUNK_BYTES // (8 * folded.nodes**2))
    parts = [
        _solve_chunk(folded, chain_siemens[i : i + chunk], chain_emf[i : i + chunk], amps[i : i + chunk])
        for i in range(0, variants, chunk)
    ]
    chain_amps = np.concatenate([part[0] for part in parts])
    volts = np.concatenate([part[1] for part in parts])
    return VariantStates(chain_amps[:, folded.chain_of] * folded.sign, volts)


def _sum_by_chain(folded: Folded, figures: np.ndarray) -> np.ndarray:
    order = np.argsort(folded.chain_of, kind="stable")
    firsts = np.flatnonzero(np.diff(folded.chain_of[order], prepend=-1))
    return np.add.reduceat(figures[:, order], firsts, axis=1)


def _solve_chunk(
    folded: Folded, siemens: np.ndarray, emf: np.ndarray, amps: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    k, n = len(siemens), folded.nodes
    ends = _incidence(n, folded.start, folded.finish)  # (chains, nodes but the first)
    matrix = (ends.T[None] * siemens[:, None, :]) @ ends
    pushed = -(siemens * emf) @ ends - amps @ _incidence(n, folded.source_start, folded.source_finish)
    # A node that every open switch has cut off carries no current: hold it at 0 V instead of nowhere.
    diagonal = np.einsum("kii->ki", matrix)
    diagonal[diagonal == 0] = 1.0
    volts = np.zeros((k, n))
    if n > 1:
        volts[:, 1:] = np.linalg.solve(matrix, pushed[:, :, None])[:, :, 0]
    chain_amps = siemens * (volts[:, folded.start] - volts[:, folded.finish] + emf)
    return chain_amps, volts


def _incidence(nodes: int, start: np.ndarray, finish: np.ndarray) -> np.ndarray:
    """(items, nodes but the first): +1 where an item starts, -1 where it ends."""
    ends = np.zeros((len(start), nodes))
    rows = np.arange(len(start))
    np.add.at(ends, (rows, start), 1.0)
    np.add.at(ends, (rows, finish), -1.0)
    return ends[:, 1:]
