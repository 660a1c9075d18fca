"""What is known of a bank once it is solved: currents, drops, losses, temperatures."""

from __future__ import annotations

from dataclasses import dataclass

from cutlist.electrics.ampacity import Ampacity
from cutlist.electrics.drop import LoadDrop
from cutlist.electrics.network import NetworkState, Node
from cutlist.electrics.wiring import Wiring
from cutlist.findings import Finding


@dataclass(frozen=True)
class CableState:
    name: str
    current_a: float  # of all its paralleled cables together, whichever way it flows
    drop_v: float  # without its two terminations
    resistance_ohm: float  # at its temperature, without terminations
    loss_w: float
    temperature_c: float  # of its hottest stretch
    ampacity: Ampacity  # of one cable
    paralleled: int = 1
    stretches_c: tuple[float, ...] = ()  # of each stretch of its run

    @property
    def allowed_a(self) -> float:
        return self.ampacity.current_a * self.paralleled

    @property
    def use(self) -> float:
        """Current as a share of what is allowed."""
        return self.current_a / self.allowed_a


@dataclass(frozen=True)
class BankSolution:
    state: str  # "continuous", "surge", "charge"
    out: tuple[str, ...]  # strings out of service
    load_currents_a: dict[str, float]
    string_currents_a: dict[str, float]  # positive when the string discharges
    load_voltages_v: dict[str, float]
    drops: tuple[LoadDrop, ...]
    cables: dict[str, CableState]
    losses_w: dict[str, float]  # by stage; "battery" is inside the batteries
    node_voltages_v: dict[Node, float]
    findings: tuple[Finding, ...]  # what was left out
    wiring: Wiring  # the network that was solved, conductors at their temperatures
    network_state: NetworkState

    @property
    def worst_drop(self) -> LoadDrop | None:
        """None if nothing flows."""
        return max(self.drops, key=lambda d: d.total_v, default=None)
