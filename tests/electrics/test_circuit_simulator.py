"""A second opinion on whole banks from ngspice, a general-purpose circuit simulator, where it is installed."""

import math
import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from cutlist import read_job
from cutlist.electrics.bank_solution import solve_bank
from cutlist.electrics.network import Network
from cutlist.electrics.wiring import CableSpec
from tests.electrics.banks import bank, battery_type, cables_of, conductor, fuse, with_shunt

NGSPICE = shutil.which("ngspice")
EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*/job.yaml"))
needs_ngspice = pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed (Debian package ngspice)")


def deck_of(network: Network) -> tuple[str, dict[str, str]]:
    """The network as the simulator reads it, and its name for each branch.

    A zero-volt source in every branch measures its current, from start to finish.
    """
    nodes: dict[object, str] = {network.ground: "0"} if network.ground is not None else {network.branches[0].start: "0"}
    for item in (*network.branches, *network.sources):
        for node in (item.start, item.finish):
            nodes.setdefault(node, f"n{len(nodes)}")
    lines, names = ["* bank"], {}
    for i, branch in enumerate(network.branches):
        names[branch.name] = f"vm{i}"
        if math.isinf(branch.resistance_ohm):
            continue
        lines.append(f"vm{i} {nodes[branch.start]} m{i} dc 0")
        lines.append(f"ve{i} e{i} m{i} dc {branch.emf_v!r}")  # current inside runs from m to e
        ohm = branch.resistance_ohm or 1e-9
        lines.append(f"r{i} e{i} {nodes[branch.finish]} {ohm!r}")
    for i, source in enumerate(network.sources):
        lines.append(f"i{i} {nodes[source.start]} {nodes[source.finish]} dc {source.current_a!r}")
    lines += [".options reltol=1e-9 abstol=1e-12 vntol=1e-12", ".control", "set numdgt=14", "op"]
    lines += [f"print i({name})" for name in names.values() if any(x.startswith(f"{name} ") for x in lines)]
    return "\n".join([*lines, "quit", ".endc", ".end", ""]), names


def simulated(network: Network, folder: Path) -> dict[str, float]:
    deck, names = deck_of(network)
    file = folder / "bank.cir"
    file.write_text(deck)
    out = subprocess.run(
        [str(NGSPICE), "-b", str(file)], capture_output=True, text=True, timeout=60, check=False
    ).stdout
    found = {m[1]: float(m[2]) for m in re.finditer(r"i\((vm\d+)\) = (\S+)", out)}
    return {branch: found.get(name, 0.0) for branch, name in names.items()}


def agree(network, state, folder):
    amps = simulated(network, folder)
    most = max(abs(a) for a in state.currents_a.values())
    for branch in network.branches:
        assert amps[branch.name] == pytest.approx(state.currents_a[branch.name], rel=1e-6, abs=1e-6 * most), branch.name


@needs_ngspice
@pytest.mark.parametrize("out", [(), ("S2",)])
def test_a_bank_with_everything(tmp_path, out):
    policy = replace(bank().policy, string_fuse="at battery")
    job = with_shunt(bank(4, 3, bar=(0.02, 0.003), policy=policy, battery=battery_type(resistance_ohm=0.002)))
    fuses = {s.name: fuse(100) for s in job.strings}
    cables = cables_of(job, conductor("50 mm2"), lead_m={"S1 positive": 0.7, "S4 negative": 3.3}, tap=(4, 0))
    solved = solve_bank(job, cables, fuses=fuses, out=out, emf_v={"S3B1": 12.7})
    agree(solved.wiring.network, solved.network_state, tmp_path)


@needs_ngspice
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.parent.name)
def test_example_banks(path, tmp_path):
    """The examples' batteries, bars, devices and loads, leads as long as the straight way between studs and bar."""
    job, stock = read_job(path)
    wire = stock.conductors[0]
    cables = []
    for pole in ("positive", "negative"):
        bar = job.positive_bar if pole == "positive" else job.negative_bar
        for k, string in enumerate(job.strings):
            end = getattr(string, pole)
            stud = ("stud", bar.name, k % bar.studs)
            name = f"{string.name} {pole}"
            cables.append(CableSpec(name, "lead", pole, string.name, end.name, stud, wire, 1.0 + 0.3 * k))
    for string in job.strings:
        for n, (start, finish) in enumerate(string.jumpers):
            cables.append(
                CableSpec(f"{string.name} j{n}", "jumper", "", string.name, start.name, finish.name, wire, 0.3)
            )
    for feeder in job.feeders:
        ends = [("stud", end[1], 0) if end[0] == "bus bar" else end for end in (feeder.start, feeder.finish)]
        cables.append(CableSpec(feeder.name, "feeder", feeder.pole, "", *ends, wire, 1.5))
    solved = solve_bank(replace(job, policy=replace(job.policy, string_fuse="none")), cables)
    agree(solved.wiring.network, solved.network_state, tmp_path)
