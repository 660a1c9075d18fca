"""Which cables a bank needs, and where each begins and ends."""

from __future__ import annotations

from dataclasses import dataclass

from cutlist.bank.batteries import Terminal
from cutlist.bank.bus_bars import BarPlace, BusBar
from cutlist.bank.job import Job
from geometry.runs import End, Point


@dataclass(frozen=True)
class Stud:
    """One end of a cable: a battery's terminal, a stud of a bus bar, a terminal of a device or load."""

    at: str  # "S1a positive", "positive bus bar, stud 3"
    point: Point
    directions: tuple[Point, ...]
    stud: str
    stands_on: str
    torque_nm: float | None
    axis: Point  # the way the stud points: the lug lies flat across it
    bar: str = ""  # name of the bus bar, if it is one of its studs
    index: int = 0  # of the stud on the bar

    @property
    def end(self) -> End:
        within = (self.stands_on,) if self.stands_on else ()
        return End(self.point, self.directions, (*within, self.post))

    @property
    def post(self) -> str:
        """Its own name among the solids."""
        return f"stud of {self.at}"


@dataclass(frozen=True)
class BarEnd:
    """An end that is some stud of this bus bar, not yet chosen."""

    bar: str


@dataclass(frozen=True)
class CableTask:
    name: str  # "S1 positive"
    kind: str  # "lead", "jumper", "feeder"
    pole: str  # "positive", "negative", "link"
    string: str
    start: Stud | BarEnd
    finish: Stud | BarEnd

    def fixed_stud(self) -> Stud:
        """The end that does not move with a bus bar."""
        stud = self.start if isinstance(self.start, Stud) else self.finish
        assert isinstance(stud, Stud)
        return stud


def has_fixed_end(task: CableTask) -> bool:
    """Whether one end at least does not move with a bus bar."""
    return isinstance(task.start, Stud) or isinstance(task.finish, Stud)


def stud_of(terminal: Terminal) -> Stud:
    t = terminal
    return Stud(t.name, t.point, t.directions, t.stud, t.stands_on, t.torque_nm, stud_axis(t))


def stud_axis(terminal: Terminal) -> Point:
    """The way a terminal's stud points, when it is not given: across the ways its lug may lie; else up."""
    if terminal.axis is not None:
        return terminal.axis
    first = terminal.directions[0]
    for other in terminal.directions[1:]:
        across = cross(first, other)
        size = sum(a * a for a in across) ** 0.5
        if size > 0.1:
            # of the two ways across, the one that looks up
            sign = -1.0 if (across[2], across[1], across[0]) < (0.0, 0.0, 0.0) else 1.0
            return (sign * across[0] / size, sign * across[1] / size, sign * across[2] / size)
    return (0.0, 0.0, 1.0)


def cross(a: Point, b: Point) -> Point:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def bar_studs(bar: BusBar, place: BarPlace) -> tuple[Stud, ...]:
    """The studs of a placed bus bar; a lug may point to either side of the row, flat to the wall."""
    side = cross(place.out, place.along)
    away = (-side[0], -side[1], -side[2])
    return tuple(
        Stud(f"{bar.name}, stud {i + 1}", point, (side, away), thread, bar.name, torque_nm, place.out, bar.name, i)
        for i, (point, thread, torque_nm) in enumerate(
            zip(bar.stud_points(place), bar.threads, bar.torques_nm, strict=True)
        )
    )


def cable_tasks(job: Job) -> tuple[CableTask, ...]:
    """Every cable of the bank in installing order: jumpers, then leads by string, then feeders."""
    tasks: list[CableTask] = []
    for string in job.strings:
        for i, (first, second) in enumerate(string.jumpers, 1):
            name = f"{string.name} jumper {i}"
            tasks.append(CableTask(name, "jumper", "link", string.name, stud_of(first), stud_of(second)))
    positive, negative = BarEnd(job.positive_bar.name), BarEnd(job.negative_bar.name)
    for string in job.strings:
        for pole, terminal, bar in (("positive", string.positive, positive), ("negative", string.negative, negative)):
            tasks.append(CableTask(f"{string.name} {pole}", "lead", pole, string.name, stud_of(terminal), bar))
    for feeder in job.feeders:
        start, finish = _feeder_end(job, feeder.start), _feeder_end(job, feeder.finish)
        tasks.append(CableTask(feeder.name, "feeder", feeder.pole, "", start, finish))
    return tuple(tasks)


def _feeder_end(job: Job, end: tuple[str, str]) -> Stud | BarEnd:
    kind, name = end
    if kind == "bus bar":
        return BarEnd(name)
    what, side = kind.split(" ", 1)
    if what == "device":
        device = next(d for d in job.devices if d.name == name)
        return stud_of(device.source_side if side == "source side" else device.load_side)
    load = next(x for x in job.loads if x.name == name)
    return stud_of(load.positive if side == "positive" else load.negative)
