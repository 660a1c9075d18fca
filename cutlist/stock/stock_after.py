"""What is on hand when everything in a plan is cut: labels for the rests, and the stock of the day after."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import ROUND_DOWN, Decimal

from cutlist.bank.stock import CableStock, Remnant, Stock
from cutlist.stock.cut_plan import CutPlan, SpoolUse
from cutlist.stock.order import Order

LONGEST_LABEL = 60
WHOLE_MM = 1_000

SpoolKey = tuple[str, str, str, str, int]  # conductor, colour, kind, label, copy


def spool_key(spool: SpoolUse) -> SpoolKey:
    return (spool.conductor, spool.colour, spool.kind, spool.label, spool.copy)


def rest_labels(plan: CutPlan, stock: Stock) -> dict[SpoolKey, str]:
    """What to write on each rest that goes back to stock: a remnant's own label, or "rest of ..." for a new spool.

    No two labels of one conductor and colour are alike, nor like one in the stock.
    """
    taken = {(c.conductor, c.colour): {x.casefold() for x in _labels(c)} for c in stock.cables}
    found: dict[SpoolKey, str] = {}
    for spool in plan.spools:
        if not spool.kept:
            continue
        key = (spool.conductor, spool.colour)
        label = spool.label
        cable = stock.cable(*key)
        if spool.kind != "remnant" or cable is None or label not in {r.label for r in cable.remnants}:
            head = label if spool.kind == "remnant" else f"rest of {label}"
            label = _free(head, taken.setdefault(key, set()))
        found[spool_key(spool)] = label
    return found


def _labels(cable: CableStock) -> list[str]:
    return [line.label for lines in (cable.remnants, cable.spools, cable.by_length) for line in lines]


def _free(head: str, taken: set[str]) -> str:
    number = 1
    while True:
        tail = "" if number == 1 else f" {number}"
        label = head[: LONGEST_LABEL - len(tail)].rstrip() + tail
        if label.casefold() not in taken:
            taken.add(label.casefold())
            return label
        number += 1


def stock_after(plan: CutPlan, stock: Stock, order: Order | None = None, *, mark_um: int = 1) -> Stock:
    """The stock once the plan is cut, and, with an order, what it takes of lugs, fuses and sundries is gone.

    What is bought for the plan is taken as come in; packs bought leave what is over on hand. A new rest is counted at
    the value the plan keeps it at, and is given down to the whole `mark_um`: what is on hand is never more than it is.
    """
    labels = rest_labels(plan, stock)
    cables = tuple(_cable_after(cable, plan, stock, labels, mark_um) for cable in stock.cables)
    left = {} if order is None else {line.description: line.remains for line in order.lines if line.kind != "cable"}
    return replace(
        stock,
        cables=cables,
        lugs=tuple(replace(x, on_hand=left.get(f"lug {x.conductor} x {x.stud}", x.on_hand)) for x in stock.lugs),
        fuses=tuple(replace(x, on_hand=left.get(f"fuse {x.family} {x.rating_a:g} A", x.on_hand)) for x in stock.fuses),
        sundries=tuple(replace(x, on_hand=left.get(x.name, x.on_hand)) for x in stock.sundries),
    )


def _cable_after(
    cable: CableStock, plan: CutPlan, stock: Stock, labels: dict[SpoolKey, str], mark_um: int
) -> CableStock:
    uses = [s for s in plan.spools if (s.conductor, s.colour) == (cable.conductor, cable.colour)]
    rests = {labels[spool_key(s)]: _rest(s, labels[spool_key(s)], stock, mark_um) for s in uses if s.kept}
    used = {s.label for s in uses if s.kind == "remnant"}
    remnants = [rests.pop(r.label, r) for r in cable.remnants if r.label not in used or r.label in rests]
    spools = tuple(
        s
        if s.available is None
        else replace(s, available=s.available - sum(u.kind == "spool" and u.label == s.label for u in uses))
        for s in cable.spools
    )
    return replace(cable, remnants=(*remnants, *rests.values()), spools=spools)


def _rest(spool: SpoolUse, label: str, stock: Stock, mark_um: int) -> Remnant:
    length_um = spool.remains_um // mark_um * mark_um
    if not spool.cuts and spool.kind == "remnant":
        return Remnant(label, length_um, spool.book_value)
    worth = stock.rules.value_per_m(spool.conductor) * length_um / 1_000_000
    return Remnant(label, length_um, worth if mark_um == 1 else worth.quantize(Decimal("0.01"), ROUND_DOWN))


def worth(stock: Stock) -> Decimal:
    """What the cable on hand is counted at: each remnant its book value, or what keeping it is worth, if that is more.

    A rest too short to keep is worth its book value still.
    """
    rules = stock.rules
    total = Decimal(0)
    for cable in stock.cables:
        for remnant in cable.remnants:
            kept = Decimal(0)
            if rules.keep_above_um is not None and remnant.length_um >= max(1, rules.keep_above_um):
                kept = rules.value_per_m(cable.conductor) * remnant.length_um / 1_000_000
            total += max(kept, remnant.book_value)
    return total


def on_hand_differences(then: Stock, now: Stock) -> list[str]:
    """In words, what is on hand now and was otherwise when the plan was made; empty when it is the same."""
    found = []
    cables = {(c.conductor, c.colour): c for c in now.cables}
    for cable in then.cables:
        name = f"{cable.conductor} {cable.colour}"
        other = cables.pop((cable.conductor, cable.colour), None)
        if other is None:
            found.append(f"{name} is no longer in the stock file")
            continue
        found += _differences(
            f"remnant of {name}",
            {r.label: _m(r.length_um) for r in cable.remnants},
            {r.label: _m(r.length_um) for r in other.remnants},
        )
        found += _differences(
            f"spool of {name}",
            {s.label: f"{_m(s.length_um)}, {_many(s.available)}" for s in cable.spools},
            {s.label: f"{_m(s.length_um)}, {_many(s.available)}" for s in other.spools},
        )
    found += [f"{c.conductor} {c.colour} is new in the stock file" for c in cables.values()]
    for what, before, after in (
        ("lug", _counts(then, "lugs"), _counts(now, "lugs")),
        ("fuse", _counts(then, "fuses"), _counts(now, "fuses")),
        ("sundry", _counts(then, "sundries"), _counts(now, "sundries")),
    ):
        found += _differences(what, before, after)
    return found


def _counts(stock: Stock, what: str) -> dict[str, str]:
    if what == "lugs":
        return {f"{x.conductor} x {x.stud}": f"{x.on_hand} on hand" for x in stock.lugs}
    if what == "fuses":
        return {f"{x.family} {x.rating_a:g} A": f"{x.on_hand} on hand" for x in stock.fuses}
    return {x.name: f"{x.on_hand} on hand" for x in stock.sundries}


def _differences(what: str, then: dict[str, str], now: dict[str, str]) -> list[str]:
    labels: Sequence[str] = list(dict.fromkeys([*then, *now]))
    return [
        f'{what} "{label}": {then.get(label, "not there")} in the plan, {now.get(label, "not there")} in the stock file'
        for label in labels
        if then.get(label) != now.get(label)
    ]


def _many(count: int | None) -> str:
    return "as many as wanted" if count is None else f"{count} available"


def _m(length_um: int) -> str:
    return f"{(Decimal(length_um) / 1_000_000).normalize():f} m"
