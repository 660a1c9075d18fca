"""Batteries and strings of a job file: placed from their type, in rows, or measured point by point."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from cutlist.bank.batteries import Battery, BatteryType, LaterString, String, Terminal
from cutlist.findings import how_many
from cutlist.job.battery_rows import BatteryRow, row_that_lacks, tell_lacking, told_unused
from cutlist.job.build_solids import AXES, WORLD, Frame, moved, turned, unit
from cutlist.job.faults import Mark, Page, nearest, shown
from cutlist.job.records import Record, unique
from geometry.runs import Point
from geometry.solids import Box

WAYS: dict[str, tuple[Point, ...]] = {
    "+x": ((1.0, 0.0, 0.0),),
    "-x": ((-1.0, 0.0, 0.0),),
    "+y": ((0.0, 1.0, 0.0),),
    "-y": ((0.0, -1.0, 0.0),),
    "+z": ((0.0, 0.0, 1.0),),
    "-z": ((0.0, 0.0, -1.0),),
}
ALONG_THE_STUD = 0.3  # cosine: a lug this far from square to its stud would be bent
WAYS |= {"up": WAYS["+z"], "down": WAYS["-z"], "level": WAYS["+x"] + WAYS["+y"] + WAYS["-x"] + WAYS["-y"]}
WAYS |= {"any": WAYS["level"] + WAYS["up"] + WAYS["down"]}


@dataclass(frozen=True)
class TypePart:
    """A battery type with its case and terminals in the case's own frame."""

    type: BatteryType
    size: Point | None
    terminals: Mapping[str, Record]


@dataclass
class BankPart:
    batteries: list[Battery] = field(default_factory=list)
    strings: list[String] = field(default_factory=list)
    marks: dict[str, Mark] = field(default_factory=dict)  # of batteries
    names: set[str] = field(default_factory=set)  # also of batteries that could not be read
    rows: list[BatteryRow] = field(default_factory=list)
    string_marks: dict[str, Mark] = field(default_factory=dict)
    later: list[LaterString] = field(default_factory=list)
    later_marks: dict[str, Mark] = field(default_factory=dict)


@dataclass(frozen=True)
class _Stood:
    """One battery to be placed: alone, or its turn in a row."""

    name: str
    record: Record
    mark: Mark
    at: Point | None
    turn_deg: float


def ways(value: object) -> tuple[Point, ...]:
    """Directions written as a word, as numbers, or as several of either; each once, unit."""
    if isinstance(value, str):
        return WAYS[value]
    assert isinstance(value, tuple)
    if value and isinstance(value[0], float):
        one = unit((value[0], value[1], value[2]))
        return () if one is None else (one,)
    return tuple(dict.fromkeys(way for item in value for way in ways(item)))


def terminal(record: Record, name: str, page: Page, stands_on: str = "") -> Terminal | None:
    """A terminal in the frame in which it is written."""
    if not record.sound:
        return None
    directions = ways(record["lug"])
    axis = ways(record["stud points"]) if record["stud points"] is not None else ()
    if not directions or (record["stud points"] is not None and len(axis) != 1):
        key = "stud points" if directions else "lug"
        page.fault(record.at(key), "this is no direction", "write one such as [0, 1, 0], or +y")
        return None
    if axis:
        flat = tuple(way for way in directions if abs(_cosine(way, axis[0])) < ALONG_THE_STUD)
        if not flat or (len(flat) < len(directions) and record["lug"] != "any"):
            mend = "give ways across, or look at stud points"
            page.fault(record.at("lug"), "a lug lies flat across its stud, not along it", mend)
            return None
        directions = flat
    torque = record["torque"]
    return Terminal(
        name,
        record["at"],
        directions,
        record["stud"],
        stands_on or record.get("on", ""),
        None if torque is None else float(torque),
        axis[0] if axis else None,
    )


def _cosine(one: Point, other: Point) -> float:
    return one[0] * other[0] + one[1] * other[1] + one[2] * other[2]


def placed(terminal: Terminal, frame: Frame, origin: Point) -> Terminal:
    return replace(
        terminal,
        point=moved(frame, terminal.point, origin),
        directions=tuple(moved(frame, way) for way in terminal.directions),
        axis=None if terminal.axis is None else moved(frame, terminal.axis),
    )


# measured points by name; None: one that could not be read, as was told where it stands
Points = Mapping[str, Terminal | None]


class UnreadPoints(dict[str, Terminal | None]):
    """Points of a file that could not be read: whatever is named may be among them."""

    def __contains__(self, name: object) -> bool:
        return True


def terminal_or_point(
    value: object, mark: Mark, name: str, points: Points, page: Page, stands_on: str = ""
) -> Terminal | None:
    """A terminal written out, or the measured point that is named, under the name it has in the bank."""
    if isinstance(value, Record):
        return terminal(value, name, page, stands_on)
    if not isinstance(value, str):
        return None
    point = points.get(value)
    if point is None:
        if value in points:
            return None  # why it is none was told where it stands
        page.fault(mark, f"there is no point {shown(value)}", nearest(value, points, "points"))
        return None
    return replace(point, name=name, stands_on=stands_on or point.stands_on)


def build_bank(job: Record, points: Points, taken: Mapping[str, Mark], page: Page) -> BankPart:
    """`taken`: names of solids, which a battery may not share."""
    part = BankPart()
    types = unique(job.get("battery types", ()), "battery type", page)
    kinds = {name: _type(name, record) for name, record in types.items()}
    for stood in _standing(job, kinds, part.rows, page):
        other = part.marks.get(stood.name) or taken.get(stood.name)
        if other is not None:
            page.fault(
                stood.mark,
                f"battery {shown(stood.name)} has a name that line {other.line} uses",
                "give it a name of its own",
            )
            continue
        part.names.add(stood.name)
        part.marks[stood.name] = stood.mark
        battery = _battery(stood, kinds, points, page)
        if battery is not None:
            part.batteries.append(battery)
    _strings(job, part, page)
    _later_strings(job, points, part, page)
    return part


def _type(name: str, record: Record) -> TypePart | None:
    if not record.sound:
        return None
    short = record["short circuit"]
    kind = BatteryType(
        name,
        record["chemistry"],
        float(record["voltage"]),
        float(record["capacity"]),
        float(record["resistance"]),
        float(record.get("rest voltage", record["voltage"])),
        None if short is None else float(short),
        float(record.get("resistance spread", 0)),
    )
    case, terminals = record["case"], record["terminals"]
    return TypePart(
        kind,
        case["size"] if case is not None else None,
        {} if terminals is None else {pole: terminals[pole] for pole in ("positive", "negative") if terminals[pole]},
    )


def _standing(
    job: Record, kinds: Mapping[str, TypePart | None], rows: list[BatteryRow], page: Page
) -> Iterator[_Stood]:
    """`rows` takes up those that count their batteries."""
    for record in job.get("batteries", ()):
        row = record["row"]
        if row is None:
            if record["name"] is not None:
                yield _Stood(record["name"], record, record.at("name"), record["at"], float(record.get("turn", 0)))
            continue
        extra = [key for key in record.values if key != "row"]
        if extra:
            page.fault(record.mark, f"{', '.join(extra)} beside row", "write them inside the row")
        if row["name"] is not None and row["names"] is None:
            rows.append(BatteryRow(row["name"], row["count"], row.at("count")))
        yield from _row(row, kinds, page)


def _row(row: Record, kinds: Mapping[str, TypePart | None], page: Page) -> Iterator[_Stood]:
    names = row["names"]
    if names is None:
        if row["name"] is None:
            return
        if row["count"] is None:
            if "count" in row.marks:
                return  # what is wrong with it was told
            page.fault(row.mark, "a row with one name needs a count", "add count: 3, or give names: [A, B, C]")
            return
        names = tuple(f"{row['name']}{i}" for i in range(1, row["count"] + 1))
    elif row["count"] is not None and row["count"] != len(names):
        given = f"{how_many(len(names), 'name')} {'is' if len(names) == 1 else 'are'} given"
        page.fault(row.at("count"), f"count is {row['count']}, but {given}", "leave count out")
    mark = row.at("names" if row["names"] is not None else "name")
    kind = kinds.get(row["type"] or "")
    turn = float(row.get("turn", 0))
    if row["at"] is None or row["along"] is None or kind is None:
        # the type is reported by each battery; the names still count as known
        for name in names:
            yield _Stood(name, row, mark, None, turn)
        return
    if row["pitch"] is None and kind.size is None:
        page.fault(row.mark, "the battery type has no case, so the row needs a pitch", "add pitch: 200 mm")
        return
    axis = "xyz".index(row["along"][-1])
    if row["pitch"] is not None:
        step = float(row["pitch"])
        if row["air gap"] is not None:
            page.fault(row.at("air gap"), "a row has a pitch or an air gap, not both", "keep one of them")
    else:
        low, high = _extent(kind.size, turned(turn))
        step = high[axis] - low[axis] + float(row.get("air gap", 0))
    sign = -1.0 if row["along"].startswith("-") else 1.0
    for i, name in enumerate(names):
        x, y, z = (a + sign * i * step * d for a, d in zip(row["at"], AXES["xyz"[axis]], strict=True))
        half = 180.0 if row["alternating"] and i % 2 else 0.0
        yield _Stood(name, row, mark, (x, y, z), turn + half)


def _extent(size: Point | None, frame: Frame) -> tuple[Point, Point]:
    """Least and greatest corner of a turned case about its own origin."""
    if size is None:
        return (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)
    w, d, h = size
    corners = [moved(frame, (x, y, z)) for x in (0.0, w) for y in (0.0, d) for z in (0.0, h)]
    low, high = (tuple(f(c[k] for c in corners) for k in range(3)) for f in (min, max))
    return (low[0], low[1], low[2]), (high[0], high[1], high[2])


def _battery(stood: _Stood, kinds: Mapping[str, TypePart | None], points: Points, page: Page) -> Battery | None:
    record = stood.record
    type_name = record["type"]
    if type_name is None:
        if "type" not in record.marks:
            page.fault(stood.mark, f"battery {shown(stood.name)} has no type", "add type: one of the battery types")
        return None
    if type_name not in kinds:
        page.fault(
            record.at("type"),
            f"there is no battery type {shown(type_name)}",
            nearest(type_name, kinds, "battery types"),
        )
        return None
    kind = kinds[type_name]
    if kind is None:
        return None
    frame, origin, case = WORLD, (0.0, 0.0, 0.0), None
    if stood.at is not None:
        frame = turned(stood.turn_deg)
        low, _ = _extent(kind.size, frame)
        origin = (stood.at[0] - low[0], stood.at[1] - low[1], stood.at[2] - low[2])
        if kind.size is not None:
            w, d, h = kind.size
            case = Box(moved(frame, (w / 2, d / 2, h / 2), origin), kind.size, frame)
    # both, before one is missed: all faults are told at once
    positive, negative = (
        _end(stood, pole, kind, frame, origin, points, page, case is not None) for pole in ("positive", "negative")
    )
    if positive is None or negative is None:
        return None
    return Battery(stood.name, kind.type, positive, negative, case)


def _end(
    stood: _Stood,
    pole: str,
    kind: TypePart,
    frame: Frame,
    origin: Point,
    points: Points,
    page: Page,
    has_case: bool,
) -> Terminal | None:
    record, name = stood.record, f"{stood.name} {pole}"
    on = stood.name if has_case else ""
    if record[pole] is not None:
        return terminal_or_point(record[pole], record.at(pole), name, points, page, on)
    if pole in record.marks or ("at" in record.marks and stood.at is None):
        return None
    if stood.at is None:
        page.fault(
            stood.mark,
            f"battery {shown(stood.name)} has neither a place nor a measured {pole} terminal",
            f"add at: [x, y, z], or {pole}: {{at: ..., lug: ..., stud: ...}}",
        )
        return None
    if pole not in kind.terminals:
        page.fault(
            stood.mark,
            f"battery {shown(stood.name)} is placed, but its type does not say where its {pole} terminal is",
            "add terminals: to the battery type",
        )
        return None
    local = terminal(kind.terminals[pole], name, page, on)
    return None if local is None else placed(local, frame, origin)


def _strings(job: Record, part: BankPart, page: Page) -> None:
    by_name = {battery.name: battery for battery in part.batteries}
    used: dict[str, Mark] = {}
    lacking: dict[BatteryRow, list[str]] = {}
    for name, record in unique(job.get("strings", ()), "string", page).items():
        part.string_marks[name] = record.at("batteries")
        members = []
        for member in record.get("batteries", ()):
            row = row_that_lacks(member, part.rows) if member not in part.names else None
            if row is not None:
                lacking.setdefault(row, []).append(member)
            elif member not in part.names:
                mend = nearest(member, part.names, "batteries")
                page.fault(record.at("batteries"), f"string {shown(name)}: there is no battery {shown(member)}", mend)
            elif member in used:
                page.fault(
                    record.at("batteries"),
                    f"string {shown(name)}: battery {shown(member)} is in line {used[member].line} already",
                    "a battery is in one string, once",
                )
            elif member in by_name:
                members.append(by_name[member])
            if member in part.names:
                used.setdefault(member, record.at("batteries"))
        if members and len(members) == len(record.get("batteries", ())):
            part.strings.append(String(name, tuple(members)))
    tell_lacking(lacking, page)
    if job["strings"] is not None:
        unused = sorted(part.names - used.keys())
        spare = told_unused(unused, part.rows, page)
        # what is too many has no place to be looked at
        part.batteries = [battery for battery in part.batteries if battery.name not in spare]
        for name in (name for name in unused if name not in spare):
            mark = part.marks[name]
            page.fault(mark, f"battery {shown(name)} is in no string", "add it to a string, or take it out")


def _later_strings(job: Record, points: Points, part: BankPart, page: Page) -> None:
    given = job["policy"]["later strings"] if job["policy"] is not None else None
    for name, record in unique(given if isinstance(given, tuple) else (), "later string", page).items():
        mark = part.later_marks[name] = record.at("name")
        other = part.string_marks.get(name) or part.marks.get(name)
        if other is not None:
            message = f"later string {shown(name)} has a name that line {other.line} uses"
            page.fault(mark, message, "give it a name of its own")
        positive, negative = (
            terminal_or_point(record[pole], record.at(pole), f"{name} {pole}", points, page)
            for pole in ("positive", "negative")
        )
        if positive is not None and negative is not None:
            part.later.append(LaterString(name, positive, negative))
