"""The general network against published cases, closed forms, another library, and the laws it must obey."""

import itertools
import json
import math
from pathlib import Path

import networkx
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutlist.electrics.check import faults_in
from cutlist.electrics.network import Branch, Network, NetworkState, Source, solve
from cutlist.electrics.variants import fold, solve_variants

CASES = sorted(p for p in (Path(__file__).parent / "networks").glob("*.json") if "expected" not in p.name)


def network_of(case):
    """A case's EMF is positive when current leaves its plus end, so as a branch it runs from node_b to node_a."""
    branches, sources = [], []
    for e in case["elements"]:
        if e["type"] == "emf":
            branches.append(Branch(e["id"], e["node_b"], e["node_a"], 0.0, e["value"]))
        elif e["type"] == "resistor":
            branches.append(Branch(e["id"], e["node_a"], e["node_b"], e["value"]))
        else:
            sources.append(Source(e["id"], e["node_a"], e["node_b"], e["value"]))
    return Network(tuple(branches), tuple(sources), case["ground"])


@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_published_cases(path):
    """Solved by nodal analysis, a circuit simulator and a loop solve that agree to 1e-8 (networks/README)."""
    case = json.loads(path.read_text())
    expected = json.loads(path.with_suffix(".expected.json").read_text())
    network = network_of(case)
    state = solve(network)
    assert faults_in(network, state) == []
    for name, amps in expected["branch_currents_a"].items():
        assert state.currents_a[name] == pytest.approx(amps, rel=5e-9, abs=1e-9)  # given to 9 digits
    for node, volts in expected["node_voltages_v"].items():
        assert state.voltages_v[node] == pytest.approx(volts, rel=5e-9, abs=1e-11)
    folded = fold(network)
    amps = solve_variants(folded).currents_a[0]
    for name in folded.names:
        assert amps[folded.column(name)] == pytest.approx(state.currents_a[name], rel=1e-9, abs=1e-9)


def row_of(n, battery_ohm, link_ohm, plus, minus, load_a=100.0, emf_v=12.8):
    """n batteries side by side, neighbours joined by links on both rails; load from plus rail to minus rail."""
    batteries = [Branch(f"b{k}", ("n", k), ("p", k), battery_ohm, emf_v) for k in range(n)]
    links = [Branch(f"{rail}{k}", (rail, k), (rail, k + 1), link_ohm) for rail in "pn" for k in range(n - 1)]
    return Network((*batteries, *links), (Source("load", ("p", plus), ("n", minus), load_a),), ("n", minus))


def battery_amps(network):
    state = solve(network)
    assert faults_in(network, state) == []
    return [state.currents_a[b.name] for b in network.branches if b.emf_v]


@given(r=st.floats(1e-4, 1e-2), link=st.floats(1e-5, 1e-2))
def test_two_batteries_tapped_at_one_end(r, link):
    """Both links lie in the far battery's path: I1 r = I2 (r + 2 l), I1 + I2 = 100."""
    near, far = battery_amps(row_of(2, r, link, 0, 0))
    assert far / near == pytest.approx(r / (r + 2 * link), rel=1e-7)
    assert near + far == pytest.approx(100)


@given(r=st.floats(1e-4, 1e-2), link=st.floats(1e-5, 1e-2))
def test_three_batteries_tapped_diagonally(r, link):
    """By symmetry I1 = I3. From plus to the middle of the minus rail by battery 1 (r, then a link carrying I1) and by
    battery 2 (a link carrying I2 + I3, then r): (r + l) I1 = l (I2 + I1) + r I2, so I2 / I1 = r / (r + l)."""
    first, middle, last = battery_amps(row_of(3, r, link, 0, 2))
    assert first == pytest.approx(last, rel=1e-7)
    assert middle / first == pytest.approx(r / (r + link), rel=1e-7)


@pytest.mark.parametrize("n", [2, 3, 5, 8, 40])
@pytest.mark.parametrize("ratio", [0.02, 0.3, 2.0])
def test_rows_follow_hyperbolic_cosines(n, ratio):
    """Between two neighbours the voltage law gives r I(k) + 0 = r I(k+1) + l (P(k) + N(k)), with P and N the link
    currents. Subtracting two neighbouring meshes leaves I(k+1) - 2 I(k) + I(k-1) = (2 l / r) I(k), whose solutions
    are cosh with cosh a = 1 + l / r; a load at one end makes it even about the far battery, k = n + 1/2."""
    r = 0.002
    a = math.acosh(1 + ratio)
    same = np.array([math.cosh(a * (n - k + 0.5)) for k in range(1, n + 1)])
    assert battery_amps(row_of(n, r, ratio * r, 0, 0)) == pytest.approx(100 * same / same.sum(), rel=1e-7, abs=1e-8)
    across = np.array([math.cosh(a * (k - (n + 1) / 2)) for k in range(1, n + 1)])
    assert battery_amps(row_of(n, r, ratio * r, 0, n - 1)) == pytest.approx(
        100 * across / across.sum(), rel=1e-7, abs=1e-8
    )


def test_examples_from_a_public_forum():
    """'Calculation of parallel string battery currents' (2022), Examples 16 and 17: four batteries of 1 milliohm,
    links of 1 and 0.1 milliohm, tapped diagonally (read on one page, to 0.1 A)."""
    assert battery_amps(row_of(4, 1e-3, 1e-3, 0, 3)) == pytest.approx([37.5, 12.5, 12.5, 37.5], rel=1e-9)
    assert battery_amps(row_of(4, 1e-3, 1e-4, 0, 3)) == pytest.approx([27.3, 22.7, 22.7, 27.3], abs=0.05)


@pytest.mark.parametrize("n", [2, 4, 7])
def test_bank_resistance_against_networkx(n):
    """Equal EMFs: what the bank sags under load is the load times the resistance between its terminals with the
    EMFs shorted, which networkx works out from the graph Laplacian."""
    network = row_of(n, 0.003, 0.0004, 0, n - 1)
    graph = networkx.MultiGraph()
    for b in network.branches:
        graph.add_edge(b.start, b.finish, weight=b.resistance_ohm)
    ohm = networkx.resistance_distance(graph, ("p", 0), ("n", n - 1), weight="weight", invert_weight=True)
    state = solve(network)
    assert 12.8 - state.voltages_v[("p", 0)] == pytest.approx(100 * ohm, rel=1e-9)


@st.composite
def random_networks(draw):
    """A ring of 3 to 8 nodes with chords, so that every part is joined; resistances over five decades."""
    n = draw(st.integers(3, 8))
    ohm = st.floats(1e-5, 1.0)
    pairs = [(k, (k + 1) % n) for k in range(n)]
    pairs += draw(st.lists(st.sampled_from(list(itertools.combinations(range(n), 2))), max_size=10))
    branches = [
        Branch(f"b{i}", a, b, draw(ohm), draw(st.sampled_from([0.0, 2.1, 12.8]))) for i, (a, b) in enumerate(pairs)
    ]
    sources = [
        Source(f"s{i}", *draw(st.sampled_from(list(itertools.permutations(range(n), 2)))), draw(st.floats(-200, 200)))
        for i in range(draw(st.integers(0, 3)))
    ]
    return Network(tuple(branches), tuple(sources), 0)


def scale_of(*states):
    return max(1e-6, *(abs(a) for state in states for a in state.currents_a.values()))


@given(random_networks())
def test_every_solution_obeys_the_laws(network):
    assert faults_in(network, solve(network)) == []


@given(random_networks())
def test_folded_and_plain_solutions_agree(network):
    plain = solve(network)
    folded = fold(network)
    amps = solve_variants(folded).currents_a[0]
    for name, value in zip(folded.names, amps, strict=True):
        assert value == pytest.approx(plain.currents_a[name], abs=1e-7 * scale_of(plain))


@given(random_networks(), st.floats(-3, 3))
def test_superposition_and_scaling(network, factor):
    """A linear network: EMFs alone plus sources alone, scaled, give the scaled whole."""
    no_sources = Network(network.branches, (), 0)
    no_emf = Network(
        tuple(Branch(b.name, b.start, b.finish, b.resistance_ohm) for b in network.branches), network.sources, 0
    )
    scaled = Network(
        tuple(Branch(b.name, b.start, b.finish, b.resistance_ohm, factor * b.emf_v) for b in network.branches),
        tuple(Source(s.name, s.start, s.finish, factor * s.current_a) for s in network.sources),
        0,
    )
    a, b, whole = solve(no_sources), solve(no_emf), solve(scaled)
    for branch in network.branches:
        together = factor * (a.currents_a[branch.name] + b.currents_a[branch.name])
        assert whole.currents_a[branch.name] == pytest.approx(together, abs=1e-6 * scale_of(a, b, whole))


@given(random_networks(), st.integers(0, 7))
def test_an_open_branch_carries_nothing_and_is_as_good_as_absent(network, which):
    which %= len(network.branches)
    if which < len({b.start for b in network.branches}):  # keep the ring: open a chord only
        which = len(network.branches) - 1
    dropped = network.branches[which]
    opened = Branch(dropped.name, dropped.start, dropped.finish, math.inf, dropped.emf_v)
    with_open = solve(Network((*network.branches[:which], opened, *network.branches[which + 1 :]), network.sources, 0))
    assert with_open.currents_a[dropped.name] == 0
    try:
        without = solve(Network((*network.branches[:which], *network.branches[which + 1 :]), network.sources, 0))
    except ValueError:
        return
    for name, amps in without.currents_a.items():
        assert amps == pytest.approx(with_open.currents_a[name], abs=1e-6 * scale_of(without))


def test_sparse_and_dense_agree():
    """A row of 300 batteries is solved sparse; cosh says what each carries (see above)."""
    n, r, ratio = 300, 0.002, 0.001
    a = math.acosh(1 + ratio)
    wanted = np.array([math.cosh(a * (n - k + 0.5)) for k in range(1, n + 1)])
    assert battery_amps(row_of(n, r, ratio * r, 0, 0)) == pytest.approx(100 * wanted / wanted.sum(), rel=1e-7, abs=1e-7)


def test_what_cannot_be_solved_is_named():
    wire = Branch("a", 0, 1, 1.0)
    with pytest.raises(ValueError, match="no way back for the current of far load"):
        solve(Network((wire, Branch("c", 2, 3, 1.0)), (Source("far load", 1, 2, 5.0),), 0))
    with pytest.raises(ValueError, match="two elements are called a"):
        solve(Network((wire, Branch("a", 1, 0, 1.0))))
    with pytest.raises(ValueError, match="is no branch"):
        solve(Network((Branch("bad", 0, 1, -1.0),)))
    with pytest.raises(ValueError, match="loop"):
        solve(Network((wire, Branch("x", 0, 1, 0.0), Branch("y", 0, 1, 0.0))))


def test_a_part_that_nothing_joins_is_solved_on_its_own():
    """2 V over 1 + 3 ohm: 0.5 A, whatever else there is."""
    state = solve(Network((Branch("a", 0, 1, 1.0), Branch("e", 8, 9, 1.0, 2.0), Branch("r", 9, 8, 3.0)), (), 0))
    assert state.currents_a["r"] == pytest.approx(0.5)
    assert state.currents_a["a"] == 0


def test_the_checker_sees_a_wrong_state():
    network = row_of(3, 0.003, 0.0003, 0, 2)
    good = solve(network)
    for name in good.currents_a:
        bent = NetworkState(good.voltages_v, good.currents_a | {name: good.currents_a[name] * 1.001 + 0.01})
        assert faults_in(network, bent)
    for node in good.voltages_v:
        bent = NetworkState(good.voltages_v | {node: good.voltages_v[node] + 1e-3}, good.currents_a)
        assert faults_in(network, bent)


def test_many_variants_are_each_solved_as_if_alone():
    network = row_of(4, 0.003, 0.0003, 0, 3)
    folded = fold(network)
    rng = np.random.default_rng(7)
    ohm = folded.resistance_ohm * rng.uniform(0.5, 2, (50, len(folded.names)))
    amps = rng.uniform(50, 150, (50, 1))
    states = solve_variants(folded, resistance_ohm=ohm, current_a=amps)
    for row in (0, 17, 49):
        alone = solve(
            Network(
                tuple(
                    Branch(b.name, b.start, b.finish, float(r), b.emf_v)
                    for b, r in zip(network.branches, ohm[row], strict=True)
                ),
                (Source("load", ("p", 0), ("n", 3), float(amps[row, 0])),),
                network.ground,
            )
        )
        assert states.currents_a[row] == pytest.approx([alone.currents_a[n] for n in folded.names], rel=1e-7)
