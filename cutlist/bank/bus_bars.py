"""Bus bars, devices in the way, loads and chargers, and the feeders that join them."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass

from cutlist.bank.batteries import Terminal
from geometry.runs import Point


def runs_up(turn: int) -> bool:
    """Whether a row of studs turned so runs along v of its face.

    >>> [runs_up(turn) for turn in (0, 90, 180, 270)]
    [False, True, False, True]
    """
    return turn % 180 == 90


def row_along(u: Point, v: Point, turn: int) -> Point:
    """The way from stud 1 to the last of a row turned so on a face.

    >>> row_along((1.0, 0.0, 0.0), (0.0, 0.0, 1.0), 270)
    (0.0, 0.0, -1.0)
    """
    x, y, z = v if runs_up(turn) else u
    return (x, y, z) if turn < 180 else (0.0 - x, 0.0 - y, 0.0 - z)


@dataclass(frozen=True)
class BarPlace:
    """Where a bus bar may sit: its centre, the way its row of studs runs, and the way out from the wall."""

    centre: Point
    along: Point  # unit
    out: Point  # unit, away from the wall: the way the studs point
    face: str = ""


@dataclass(frozen=True)
class BusBar:
    name: str
    pole: str  # "positive" or "negative"
    studs: int
    pitch_m: float
    stud: str | tuple[str, ...]  # "M10"; of unlike studs the thread of each, stud 1 first
    stack_limit: int = 4  # lugs on one stud
    width_m: float = 0.0  # conducting section
    thickness_m: float = 0.0
    material: str = "copper"  # a row of reference/bus_bar_materials
    rating_a: float | None = None
    places: tuple[BarPlace, ...] = ()  # fixed: one; several: any of these
    faces: tuple[str, ...] = ()  # or anywhere on these faces
    reserved_studs: int = 0  # kept free for later strings
    turns: tuple[int, ...] = (0,)  # on a face: 0 along u, 90 along v, 180 and 270 the same with stud 1 at the other end
    torque_nm: float | tuple[float, ...] | None = None  # of unlike studs one each, where the maker gives them so

    @property
    def threads(self) -> tuple[str, ...]:
        """Of each stud, stud 1 first."""
        return (self.stud,) * self.studs if isinstance(self.stud, str) else self.stud

    @property
    def unlike(self) -> bool:
        return not isinstance(self.stud, str)

    @property
    def torques_nm(self) -> tuple[float | None, ...]:
        """Of each stud, stud 1 first."""
        return self.torque_nm if isinstance(self.torque_nm, tuple) else (self.torque_nm,) * self.studs

    def studs_taking(self, threads: Container[str]) -> tuple[int, ...] | None:
        """Those studs, counted from 0, that have one of these threads; None: it makes no difference.

        It makes none where studs are alike, where all have such a thread, and where none has: what has no lug for any
        stud of the bar is told of as on a bar with like studs.
        """
        taking = tuple(i for i, thread in enumerate(self.threads) if thread in threads)
        return taking if self.unlike and 0 < len(taking) < self.studs else None

    def stud_points(self, place: BarPlace) -> tuple[Point, ...]:
        first = -(self.studs - 1) / 2
        x, y, z = place.centre
        ax, ay, az = place.along
        steps = [(first + i) * self.pitch_m for i in range(self.studs)]
        return tuple((x + s * ax, y + s * ay, z + s * az) for s in steps)


@dataclass(frozen=True)
class Device:
    """Something a feeder passes through: a shunt, a switch, a main fuse."""

    name: str
    kind: str  # "shunt", "switch", "fuse"
    source_side: Terminal
    load_side: Terminal
    resistance_ohm: float | None
    rating_a: float | None = None
    interrupt_a: float | None = None
    i2t_a2s: float | None = None  # of a fuse: let-through to clear; None: not known


@dataclass(frozen=True)
class Surge:
    current_a: float
    duration_s: float


@dataclass(frozen=True)
class Load:
    name: str
    positive: Terminal
    negative: Terminal
    continuous_a: float
    surge: Surge | None = None
    charger: bool = False  # its current flows into the bank
    power_w: float | None = None  # what it draws whatever its voltage; None: `continuous_a` is its own figure
    lowest_v: float | None = None  # of a power: where it switches off; `continuous_a` is then its current there


@dataclass(frozen=True)
class Feeder:
    """One cable from a bus bar, a device or a load to another of them; `start` is nearer the bank.

    An end is ("bus bar", name), ("device source side", name), ("device load side", name),
    ("load positive", name) or ("load negative", name).
    """

    name: str
    pole: str  # "positive" or "negative"
    start: tuple[str, str]
    finish: tuple[str, str]
    longest_m: float | None = None  # of its run, stud to stud; None: not limited
