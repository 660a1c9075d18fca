"""Bus bars, devices, loads and the feeders between them, from a job file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from cutlist.bank.bus_bars import BarPlace, BusBar, Device, Feeder, Load, Surge
from cutlist.job.build_bank import Points, terminal_or_point, ways
from cutlist.job.build_site import SitePart, square_axes
from cutlist.job.faults import Mark, Page, nearest, shown
from cutlist.job.records import Record, unique

End = tuple[str, str]


@dataclass
class PowerPart:
    bars: list[BusBar] = field(default_factory=list)
    devices: list[Device] = field(default_factory=list)
    loads: list[Load] = field(default_factory=list)
    feeders: list[Feeder] = field(default_factory=list)
    bar_marks: dict[str, Mark] = field(default_factory=dict)
    load_marks: dict[str, Mark] = field(default_factory=dict)
    lowest_marks: dict[str, Mark] = field(default_factory=dict)  # of loads that give a lowest voltage
    device_marks: dict[str, Mark] = field(default_factory=dict)
    feeder_marks: dict[str, Mark] = field(default_factory=dict)
    stud_marks: dict[str, Mark] = field(default_factory=dict)  # of a bar's threads
    place_marks: dict[str, list[Mark]] = field(default_factory=dict)  # of a bar's places, in order


def build_power(job: Record, points: Points, site: SitePart, page: Page) -> PowerPart:
    part = PowerPart()
    bars = unique(job.get("bus bars", ()), "bus bar", page)
    for name, record in bars.items():
        part.bar_marks[name] = record.at("name")
        bar = _bar(name, record, site, part, page)
        if bar is not None:
            part.bars.append(bar)
    _one_of_each_pole(bars, page)
    for name, record in unique(job.get("devices", ()), "device", page).items():
        part.device_marks[name] = record.at("name")
        device = _device(name, record, points, page)
        if device is not None:
            part.devices.append(device)
    for name, record in unique(job.get("loads", ()), "load", page).items():
        part.load_marks[name] = record.at("name")
        if record["lowest voltage"] is not None:
            part.lowest_marks[name] = record.at("lowest voltage")
        load = _load(name, record, points, page)
        if load is not None:
            part.loads.append(load)
    poles = {name: record["pole"] for name, record in bars.items()}
    for name, record in unique(job.get("feeders", ()), "feeder", page).items():
        part.feeder_marks[name] = record.at("name")
        feeder = _feeder(name, record, part, poles, page)
        if feeder is not None:
            part.feeders.append(feeder)
    return part


def _one_of_each_pole(bars: Mapping[str, Record], page: Page) -> None:
    seen: dict[str, Record] = {}
    for record in bars.values():
        pole = record["pole"]
        if pole in seen:
            first = seen[pole].at("pole").line
            page.fault(record.at("pole"), f"a second {pole} bus bar, besides line {first}", "give one of each pole")
        elif pole is not None:
            seen[pole] = record


def _bar(name: str, record: Record, site: SitePart, part: PowerPart, page: Page) -> BusBar | None:
    faces = record.get("on", ())
    for face in faces:
        if face not in site.face_names:
            page.fault(
                record.at("on"),
                f"there is no mounting face {shown(face)}",
                nearest(face, site.face_names, "mounting faces"),
            )
    if record["turns"] is not None and not faces:
        page.fault(record.at("turns"), "turns are for a bus bar on mounting faces", "take turns out, or use on: [...]")
    turns = tuple(sorted({int(turn) for turn in record.get("turns", (0,))}))
    if set(turns) - {0, 90, 180, 270}:
        mend = "write 0 deg, 90 deg or both; 180 and 270 deg for stud 1 at the other end"
        page.fault(record.at("turns"), "a bus bar lies along a face or up it", mend)
        turns = ()
    part.stud_marks[name] = record.at("stud")
    counted = [_one_each(name, record, key, page) for key in ("stud", "torque")]
    given = [record["at"]] if record["at"] is not None else list(record.get("places", ()))
    places = [place for item in given if (place := _place(item, site, page)) is not None]
    part.place_marks[name] = [item.mark for item in given]
    if not record.sound or len(places) < len(given) or (not places and not faces) or not turns or not all(counted):
        return None
    width, thickness = record.get("section", (0.0, 0.0))
    threads = record["stud"]
    if len(set(threads)) == 1 and isinstance(threads, tuple):
        threads = threads[0]
    if isinstance(threads, str):  # end for end a row of like studs is the same again
        turns = tuple(turn for turn in turns if turn - 180 not in turns)
    return BusBar(
        name=name,
        pole=record["pole"],
        studs=record["studs"],
        pitch_m=float(record["pitch"]),
        stud=threads,
        stack_limit=record.get("lugs per stud", 4),
        width_m=width,
        thickness_m=thickness,
        material=record.get("material", "copper"),
        rating_a=_float(record["rating"]),
        places=tuple(places),
        faces=tuple(faces),
        reserved_studs=record.get("reserved", 0),
        turns=turns,
        torque_nm=_torque(record["torque"]),
    )


def _one_each(bar: str, record: Record, key: str, page: Page) -> bool:
    """Whether a list has one item for each stud; a single value always has."""
    given, studs = record[key], record["studs"]
    if not isinstance(given, tuple) or studs is None or len(given) == studs:
        return True
    few = f"{len(given)} {'are' if len(given) != 1 else 'is'} given"
    page.fault(
        record.at(key),
        f"bus bar {shown(bar)} has {studs} studs, but {few} here under {key}",
        f"give one for each stud, stud 1 first, or a single value for all; or write studs: {len(given)}",
    )
    return False


def _torque(given: object) -> float | tuple[float, ...] | None:
    if isinstance(given, tuple):
        return tuple(float(x) for x in given)
    return _float(given)


def _place(item: Record, site: SitePart, page: Page) -> BarPlace | None:
    if not item.sound:
        return None
    values = dict(item.values)
    for key in ("along", "out"):
        found = ways(item[key])
        if len(found) != 1:
            page.fault(item.at(key), "this is not one direction", "write one such as [0, 1, 0], or +y")
            return None
        values[key] = found[0]
    axes = square_axes(Record(values, item.marks, item.mark, True), "along", "out", page)
    face = item.get("face", "")
    if face and face not in site.face_names:
        page.fault(
            item.at("face"),
            f"there is no mounting face {shown(face)}",
            nearest(face, site.face_names, "mounting faces"),
        )
    return None if axes is None else BarPlace(item["centre"], axes[0], axes[1], face)


def _device(name: str, record: Record, points: Points, page: Page) -> Device | None:
    ends = [
        terminal_or_point(record[side], record.at(side), f"{name} {side}", points, page)
        for side in ("source side", "load side")
    ]
    if not record.sound or ends[0] is None or ends[1] is None:
        return None
    figures = (_float(record[key]) for key in ("resistance", "rating", "interrupt", "let-through"))
    return Device(name, record["kind"], ends[0], ends[1], *figures)


def _load(name: str, record: Record, points: Points, page: Page) -> Load | None:
    ends = [
        terminal_or_point(record[pole], record.at(pole), f"{name} {pole}", points, page)
        for pole in ("positive", "negative")
    ]
    surge = record["surge"]
    if not record.sound or ends[0] is None or ends[1] is None or (surge is not None and not surge.sound):
        return None
    short = None if surge is None else Surge(float(surge["current"]), float(surge["for"]))
    power_w, lowest_v = _float(record["power"]), _float(record["lowest voltage"])
    if power_w is None and lowest_v is not None:
        page.fault(
            record.at("lowest voltage"), "a current is the same at every voltage", "take it out, or give a power"
        )
    if power_w is not None and record.get("charger", False):
        page.fault(record.at("power"), "a charger gives a current", "write continuous: and its current")
    # without a lowest voltage the current follows from the whole bank: the plan settles it
    continuous_a = _float(record["continuous"]) or (power_w / lowest_v if power_w and lowest_v else 0.0)
    if short is not None and short.current_a < continuous_a:
        page.fault(record.at("surge"), "the surge is less than the continuous current", "look whether they are swapped")
    return Load(name, ends[0], ends[1], continuous_a, short, bool(record.get("charger", False)), power_w, lowest_v)


def _feeder(name: str, record: Record, part: PowerPart, poles: Mapping[str, str | None], page: Page) -> Feeder | None:
    ends: list[End] = []
    for key in ("from", "to"):
        text = record[key]
        if text is None:
            continue
        end = _end(text, part)
        if end is None:
            page.fault(
                record.at(key),
                f"feeder {shown(name)}: there is no {shown(text)}",
                nearest(text, set(_ends(part, poles, record["pole"])), "ends"),
            )
            continue
        pole = (
            poles.get(end[1])
            if end[0] == "bus bar"
            else end[0].removeprefix("load ")
            if end[0].startswith("load")
            else None
        )
        if pole is not None and record["pole"] is not None and pole != record["pole"]:
            page.fault(
                record.at(key),
                f"feeder {shown(name)} is {record['pole']}, but {shown(text)} is {pole}",
                "a feeder joins ends of one pole",
            )
        ends.append(end)
    if len(ends) == 2 and ends[0] == ends[1]:
        page.fault(record.at("to"), f"feeder {shown(name)} ends where it begins", "give it another end")
    if not record.sound or len(ends) < 2:
        return None
    return Feeder(name, record["pole"], ends[0], ends[1], _float(record["longest"]))


def _end(text: str, part: PowerPart) -> End | None:
    if text in part.bar_marks:
        return ("bus bar", text)
    for what, marks, sides in (
        ("device", part.device_marks, ("source side", "load side")),
        ("load", part.load_marks, ("positive", "negative")),
    ):
        for side in sides:
            if text.endswith(f" {side}") and text.removesuffix(f" {side}") in marks:
                return (f"{what} {side}", text.removesuffix(f" {side}"))
    return None


def _ends(part: PowerPart, poles: Mapping[str, str | None], pole: str | None) -> Iterator[str]:
    """What a feeder of this pole may end at."""
    yield from (name for name in part.bar_marks if pole is None or poles.get(name) in (pole, None))
    for name in part.device_marks:
        yield from (f"{name} source side", f"{name} load side")
    for name in part.load_marks:
        yield from (f"{name} {end}" for end in ("positive", "negative") if pole in (end, None))


def _float(value: object) -> float | None:
    return None if value is None else float(value)  # type: ignore[arg-type]
