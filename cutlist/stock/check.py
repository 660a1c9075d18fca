"""A stranger's check of a cut plan: it knows the pieces, the stock file and the rules, and nothing of the solvers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from decimal import Decimal

from cutlist.bank.stock import ByLength, CableStock, Remnant, Spool, Stock
from cutlist.stock.cut_plan import CutPlan, Piece, SpoolUse


def faults_in(plan: CutPlan, pieces: Sequence[Piece], stock: Stock) -> list[str]:
    """Every rule the plan breaks, in words; empty when it is sound.

    Each piece once, in its own length and from cable that may serve for it; every spool known to the stock file, not
    used more often than it is there, and long enough with all kerfs; remainders, prices and totals by an own sum.
    """
    faults = _piece_faults(plan, pieces, stock)
    for spool in plan.spools:
        faults += _spool_faults(spool, stock)
    faults += _supply_faults(plan, stock)
    faults += _money_faults(plan, stock)
    return faults


def _piece_faults(plan: CutPlan, pieces: Sequence[Piece], stock: Stock) -> list[str]:
    faults = []
    wanted = {p.name: p for p in pieces}
    times = Counter(c.piece for s in plan.spools for c in s.cuts)
    faults += [f'piece "{name}" is cut {times[name]} times' for name in wanted if times[name] != 1]
    faults += [f'"{name}" is cut but not asked for' for name in times if name not in wanted]
    for spool in plan.spools:
        for cut in spool.cuts:
            piece = wanted.get(cut.piece)
            if piece is None:
                continue
            if cut.length_um != piece.length_um:
                faults.append(f'piece "{cut.piece}" is cut {cut.length_um} um long, asked for {piece.length_um} um')
            if not may_serve((spool.conductor, spool.colour), (piece.conductor, piece.colour), stock):
                faults.append(
                    f'piece "{cut.piece}" ({piece.conductor} {piece.colour}) may not be cut from '
                    f"{spool.conductor} {spool.colour}"
                )
    return faults


def may_serve(cable: tuple[str, str], piece: tuple[str, str], stock: Stock) -> bool:
    """Whether a piece asked for in (conductor, colour) may be cut from this cable."""
    if cable[1] != piece[1] and not stock.rules.other_colour_allowed:
        return False
    if cable[0] == piece[0]:
        return True
    if not stock.rules.larger_conductor_allowed:
        return False
    asked = stock.conductor(piece[0])
    given = stock.conductor(cable[0])
    if given.area_mm2 <= asked.area_mm2 or given.insulation_c < asked.insulation_c:
        return False
    between = [c for c in stock.conductors if asked.area_mm2 < c.area_mm2 < given.area_mm2]
    return not any(c.insulation_c >= asked.insulation_c for c in between)


def _spool_faults(spool: SpoolUse, stock: Stock) -> list[str]:
    rules = stock.rules
    faults = []
    name = f'{spool.kind} "{spool.label}" no. {spool.copy} of {spool.conductor} {spool.colour}'
    lengths = [c.length_um for c in spool.cuts]
    trim_um = rules.end_trim_um if lengths else 0
    if spool.end_trim_um != trim_um:
        faults.append(f"{name}: {spool.end_trim_um} um trimmed instead of {trim_um} um")
    needed = trim_um + sum(lengths) + rules.kerf_um * max(0, len(lengths) - 1)
    if needed > spool.length_um:
        faults.append(f"{name}: {needed} um of cuts and kerfs on {spool.length_um} um")
    if lengths != sorted(lengths, reverse=True):
        faults.append(f"{name}: cuts are not in order, longest first")
    remaining = spool.length_um - trim_um
    for cut in spool.cuts:
        remaining = max(0, remaining - cut.length_um - rules.kerf_um)
        if cut.remaining_um != remaining:
            faults.append(f'{name}: {cut.remaining_um} um said to remain after "{cut.piece}", not {remaining} um')
    if spool.remains_um != remaining:
        faults.append(f"{name}: {spool.remains_um} um said to remain, not {remaining} um")
    keep = rules.keep_above_um
    if spool.kept != (keep is not None and remaining > 0 and remaining >= keep):
        faults.append(f"{name}: kept or scrapped against the rule")
    return faults


def _line_of(spool: SpoolUse, stock: Stock) -> Remnant | Spool | ByLength | None:
    cable: CableStock | None = stock.cable(spool.conductor, spool.colour)
    if cable is None:
        return None
    lines: Sequence[Remnant | Spool | ByLength] = cable.remnants
    if spool.kind != "remnant":
        lines = cable.spools if spool.kind == "spool" else cable.by_length
    return next((line for line in lines if line.label == spool.label), None)


def _supply_faults(plan: CutPlan, stock: Stock) -> list[str]:
    faults = []
    used = Counter((s.kind, s.label, s.conductor, s.colour) for s in plan.spools)
    copies = Counter((s.kind, s.label, s.conductor, s.colour, s.copy) for s in plan.spools)
    faults += [f'{kind} "{label}" has two uses with number {n}' for (kind, label, *_, n), k in copies.items() if k > 1]
    seen = set()
    for spool in plan.spools:
        line = _line_of(spool, stock)
        key = (spool.kind, spool.label, spool.conductor, spool.colour)
        if line is None:
            faults.append(f'{spool.kind} "{spool.label}" of {spool.conductor} {spool.colour} is not in the stock file')
            continue
        if isinstance(line, ByLength):
            steps, odd = divmod(spool.length_um, line.increment_um)
            if odd or steps < 1 or spool.length_um < line.least_um:
                faults.append(f'"{spool.label}": {spool.length_um} um is no length that is sold')
            if line.longest_um is not None and spool.length_um > line.longest_um:
                faults.append(f'"{spool.label}": {spool.length_um} um is longer than sold in one length')
        elif spool.length_um != line.length_um:
            faults.append(f'"{spool.label}" is {line.length_um} um long, not {spool.length_um} um')
        if key in seen:
            continue
        seen.add(key)
        there = 1 if isinstance(line, Remnant) else line.available if isinstance(line, Spool) else None
        if there is not None and used[key] > there:
            faults.append(
                f'"{spool.label}" is used {used[key]} times and there {"is" if there == 1 else "are"} {there}'
            )
    return faults


def _money_faults(plan: CutPlan, stock: Stock) -> list[str]:
    """Prices from the stock file, added up again; money groups only know what was paid and kept."""
    faults = []
    used = Counter((s.kind, s.label, s.conductor, s.colour) for s in plan.spools)
    by_metres = {c for g in plan.groups if g.by != "money" for c in g.name.split(" + ")}
    spent = Decimal(0)
    balance = Decimal(0)
    for spool in plan.spools:
        line = _line_of(spool, stock)
        if line is None:
            continue
        n = used[(spool.kind, spool.label, spool.conductor, spool.colour)]
        price: Decimal | None
        if isinstance(line, Remnant):
            price = Decimal(0)
        elif isinstance(line, ByLength):
            price = None if line.price is None else line.price * (spool.length_um // line.increment_um)
        else:
            fitting = [each for least, each in line.price_breaks if n >= least]
            price = fitting[-1] if fitting and line.price is not None else line.price
        if spool.price != price:
            faults.append(f'"{spool.label}" no. {spool.copy} costs {price}, not {spool.price}')
        spent += price or 0
        balance += price or 0  # what was planned by metres is paid for too; its rests are counted at nothing
        if f"{spool.conductor} {spool.colour}" in by_metres:
            continue
        worth = Decimal(0)
        if spool.kept:
            worth = stock.rules.value_per_m(spool.conductor) * spool.remains_um / 1_000_000
        book = line.book_value if isinstance(line, Remnant) else Decimal(0)
        if (spool.kept_value, spool.book_value) != (worth, book):
            faults.append(f'"{spool.label}" no. {spool.copy} is counted at {book} and {worth} when kept')
        balance += book - worth
    if not (stock.rules.larger_conductor_allowed or stock.rules.other_colour_allowed):
        alone = _left_alone(plan, stock)
        if alone != plan.untouched_value:
            faults.append(f"remnants left alone are worth {alone}, not {plan.untouched_value}")
    if spent != plan.spent:
        faults.append(f"prices add up to {spent}, not {plan.spent}")
    if plan.cost is not None and plan.cost != balance - plan.untouched_value:
        faults.append(f"the plan costs {balance - plan.untouched_value}, not {plan.cost}")
    for group in plan.groups:
        if group.least_cost > group.cost:
            faults.append(f"{group.name}: the bound {group.least_cost} is above the cost {group.cost}")
    if plan.cost is not None and all(g.by == "money" for g in plan.groups):
        groups = sum((g.cost for g in plan.groups), Decimal(0))
        if groups != plan.cost:
            faults.append(f"the groups cost {groups}, the spools {plan.cost}")
    return faults


def _left_alone(plan: CutPlan, stock: Stock) -> Decimal:
    """What the remnants that no piece is cut from are worth above book value, in the groups planned by money."""
    rules = stock.rules
    names = {g.name for g in plan.groups if g.by == "money"}
    used = {(s.label, s.conductor, s.colour) for s in plan.spools if s.kind == "remnant"}
    worth = Decimal(0)
    for cable in stock.cables:
        for remnant in cable.remnants:
            if f"{cable.conductor} {cable.colour}" not in names:
                continue
            if (remnant.label, cable.conductor, cable.colour) in used:
                continue
            if rules.keep_above_um is not None and remnant.length_um >= max(1, rules.keep_above_um):
                value = rules.value_per_m(cable.conductor) * remnant.length_um / 1_000_000
                worth += max(Decimal(0), value - remnant.book_value)
    return worth
