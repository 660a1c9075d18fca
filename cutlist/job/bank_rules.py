"""Rules about a bank that need no solving: strings that match, studs enough, loads that are joined to the bank."""

from __future__ import annotations

from collections import Counter

from cutlist.findings import how_many
from cutlist.job.build_bank import BankPart
from cutlist.job.build_power import End, PowerPart
from cutlist.job.build_site import SitePart
from cutlist.job.faults import Page, shown

# No battery is near these; they only catch a wrong unit or digit (common practice, no published source).
LEAST_SHORT_PER_AH = 1.0  # A of short circuit for each Ah
LEAST_REST, MOST_REST = 0.8, 1.35  # rest voltage as a share of the nominal


def bank_faults(site: SitePart, bank: BankPart, power: PowerPart, later_strings: int, page: Page) -> None:
    _batteries_plausible(bank, page)
    _strings_match(bank, page)
    _lowest_voltages(bank, power, page)
    _studs_enough(bank, power, page)
    _studs_for_later(power, later_strings, page)
    _all_joined(power, page)
    _one_name_one_solid(site, bank, power, page)
    _one_name_one_cable(bank, power, page)


def _batteries_plausible(bank: BankPart, page: Page) -> None:
    """A slip of a unit or a digit makes a battery that cannot be: it would make every current and fuse wrong."""
    told: set[str] = set()
    for battery in bank.batteries:
        kind = battery.type
        if kind.name in told:
            continue
        short_a = kind.emf_v / kind.resistance_ohm if kind.resistance_ohm > 0 else float("inf")
        if short_a < LEAST_SHORT_PER_AH * kind.capacity_ah:
            told.add(kind.name)
            page.fault(
                bank.marks[battery.name],
                f"battery type {shown(kind.name)}: {kind.resistance_ohm * 1000:g} mohm lets {short_a:.1f} A into a "
                f"dead short, less than a battery of {kind.capacity_ah:g} Ah gives in an hour of work",
                "look at the unit of `resistance`: batteries have milliohms",
            )
        if not LEAST_REST * kind.voltage_v <= kind.emf_v <= MOST_REST * kind.voltage_v:
            told.add(kind.name)
            page.fault(
                bank.marks[battery.name],
                f"battery type {shown(kind.name)}: {kind.emf_v:g} V at rest does not go with "
                f"{kind.voltage_v:g} V nominal",
                "look at `rest voltage` and `voltage` of the type",
            )


def _lowest_voltages(bank: BankPart, power: PowerPart, page: Page) -> None:
    """A load switches off somewhere between half the bank's voltage and its resting one."""
    if not bank.strings:
        return
    low_v, high_v = bank.strings[0].voltage_v / 2, bank.strings[0].emf_v
    for load in power.loads:
        if load.lowest_v is not None and not low_v <= load.lowest_v <= high_v:
            message = f"{load.lowest_v:g} V is no lowest voltage of a load on a bank of {bank.strings[0].voltage_v:g} V"
            page.fault(power.lowest_marks[load.name], message, f"give one from {low_v:g} to {high_v:g} V")


def _strings_match(bank: BankPart, page: Page) -> None:
    for string in bank.strings:
        types = Counter(battery.type.name for battery in string.batteries)
        if len(types) > 1:
            found = " and ".join(f"{count} {shown(name)}" for name, count in types.items())
            page.fault(
                bank.string_marks[string.name],
                f"string {shown(string.name)} has unlike batteries: {found}",
                "in series all carry the same current, so the weakest is ruined first: use one type to a string",
            )
    voltages = Counter(round(string.voltage_v, 6) for string in bank.strings)
    if len(voltages) < 2:
        return
    usual = voltages.most_common(1)[0][0]
    for string in bank.strings:
        if round(string.voltage_v, 6) != usual:
            page.fault(
                bank.string_marks[string.name],
                f"string {shown(string.name)} has {string.voltage_v:g} V, the others {usual:g} V",
                "strings in parallel must have one voltage: add or take out batteries",
            )


def _studs_enough(bank: BankPart, power: PowerPart, page: Page) -> None:
    for bar in power.bars:
        feeders = sum(("bus bar", bar.name) in (feeder.start, feeder.finish) for feeder in power.feeders)
        cables = len(bank.string_marks) + feeders
        free = bar.studs - bar.reserved_studs
        hold = f"{how_many(max(free, 0), 'free stud')} {'holds' if free == 1 else 'hold'}"
        if free * bar.stack_limit < cables:
            page.fault(
                power.bar_marks[bar.name],
                f"bus bar {shown(bar.name)}: {how_many(len(bank.string_marks), 'lead')} and "
                f"{how_many(feeders, 'feeder')} end here, but {hold} {how_many(bar.stack_limit, 'lug')} each",
                f"give it {-(-cables // bar.stack_limit) + bar.reserved_studs} studs or more; "
                f"{cables + bar.reserved_studs} for one a lug",
            )
        if not feeders and power.feeders:
            page.fault(
                power.bar_marks[bar.name], f"bus bar {shown(bar.name)}: no feeder leaves it", "add a feeder from it"
            )


def _studs_for_later(power: PowerPart, later_strings: int, page: Page) -> None:
    for bar in power.bars:
        if bar.reserved_studs * bar.stack_limit < later_strings:
            page.fault(
                power.bar_marks[bar.name],
                f"bus bar {shown(bar.name)}: {how_many(later_strings, 'later string')}, but on "
                f"{how_many(bar.reserved_studs, 'stud')} kept for that there is room for "
                f"{how_many(bar.reserved_studs * bar.stack_limit, 'lug')}",
                f"reserved: {-(-later_strings // bar.stack_limit)} or more; {later_strings} for one a lug",
            )


def _all_joined(power: PowerPart, page: Page) -> None:
    """Every load is reached from both bars, and every device is passed through."""
    if len(power.feeders) < len(power.feeder_marks) or len(power.bars) < len(power.bar_marks):
        return  # with feeders missing, what they would have joined would be blamed too
    joins: dict[End, set[End]] = {}
    for feeder in power.feeders:
        joins.setdefault(feeder.start, set()).add(feeder.finish)
        joins.setdefault(feeder.finish, set()).add(feeder.start)
    through = {
        (f"device {one}", device.name): (f"device {other}", device.name)
        for device in power.devices
        for one, other in (("source side", "load side"), ("load side", "source side"))
    }
    reached: dict[str, set[End]] = {}
    for bar in power.bars:
        seen: set[End] = set()
        waiting = [("bus bar", bar.name)]
        while waiting:
            end = waiting.pop()
            if end in seen:
                continue
            seen.add(end)
            waiting += sorted(joins.get(end, ()))
            if end in through:
                waiting.append(through[end])
        reached[bar.pole] = seen
    for load in power.loads:
        for pole in ("positive", "negative"):
            if pole in reached and (f"load {pole}", load.name) not in reached[pole]:
                page.fault(
                    power.load_marks[load.name],
                    f"load {shown(load.name)}: no feeder joins its {pole} terminal to the {pole} bus bar",
                    f'add a feeder to: "{load.name} {pole}"',
                )
    for device in power.devices:
        for side in ("source side", "load side"):
            if (f"device {side}", device.name) not in joins:
                page.fault(
                    power.device_marks[device.name],
                    f"device {shown(device.name)}: no feeder ends at its {side}",
                    "add the feeder, or take the device out",
                )
        poles = {pole for pole, seen in reached.items() if (f"device {'source side'}", device.name) in seen}
        if len(poles) > 1:
            page.fault(
                power.device_marks[device.name],
                f"device {shown(device.name)} joins the positive to the negative bus bar: a short circuit",
                "look at the feeders that end at it",
            )


def _one_name_one_solid(site: SitePart, bank: BankPart, power: PowerPart, page: Page) -> None:
    """Bars, cases and solids are told apart by name when a run's obstacle is named."""
    for name, mark in power.bar_marks.items():
        other = site.marks.get(name) or bank.marks.get(name)
        if other is not None:
            page.fault(
                mark, f"bus bar {shown(name)} has a name that line {other.line} uses", "give it a name of its own"
            )
    standing = site.names | bank.names
    ends = [(power.load_marks, load.name, end) for load in power.loads for end in (load.positive, load.negative)]
    ends += [(power.device_marks, d.name, end) for d in power.devices for end in (d.source_side, d.load_side)]
    ends += [(bank.later_marks, s.name, end) for s in bank.later for end in (s.positive, s.negative)]
    ends += [(bank.marks, b.name, end) for b in bank.batteries for end in (b.positive, b.negative)]
    for marks, name, end in ends:
        if end.stands_on and end.stands_on not in standing:
            page.fault(
                marks[name],
                f"{end.name} stands on {shown(end.stands_on)}, which is no solid",
                "name a solid of the site",
            )


def _one_name_one_cable(bank: BankPart, power: PowerPart, page: Page) -> None:
    """Leads and jumpers are named by their string, terminals by what they belong to: no two alike on a cut sheet."""
    for name, mark in power.feeder_marks.items():
        string = name.rsplit(" jumper ", 1)[0] if " jumper " in name else name.rsplit(" ", 1)[0]
        if string in (bank.string_marks | bank.later_marks) and name.removeprefix(string).startswith(
            (" positive", " negative", " jumper ")
        ):
            page.fault(
                mark,
                f"feeder {shown(name)} has the name of a cable of string {shown(string)}",
                "give the feeder, or the string, another name",
            )
    for name, mark in (*power.load_marks.items(), *power.device_marks.items()):
        if name in bank.marks:
            page.fault(
                mark,
                f"{shown(name)} is the name of a battery, in line {bank.marks[name].line}",
                "give it a name of its own",
            )
