"""A miscut, or a spool that was short: what is cut stays, and the rest is planned anew at the least extra cost.

A piece that came out in a wrong length is a remnant from then on: it may still serve as itself, if it is too long, or
as a shorter piece. What the plan buys is taken as bought.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from cutlist.progress import Progress, silent
from cutlist.stock.bench import Offer, OpenSpool, bench_stock, use_with
from cutlist.stock.check import faults_in
from cutlist.stock.cut_list import CutList, order_of
from cutlist.stock.cut_plan import CutPlan, SpoolUse
from cutlist.stock.list_check import faults_in_list, faults_in_recut
from cutlist.stock.order import Order, order_list
from cutlist.stock.proof import check_proof
from cutlist.stock.spool_cuts import cut
from cutlist.stock.stock_after import stock_after, worth


@dataclass(frozen=True)
class Miscut:
    piece: str
    length_um: int  # that it came out at


@dataclass(frozen=True)
class Short:
    spool: str  # its label; with " no. 2" where the plan uses several
    left_um: int  # that is really left on it, now that the cuts told of are made


@dataclass(frozen=True)
class Recut:
    cuts: CutList  # the whole, with what is done first on each spool
    to_buy: Order  # cable on top of what is bought already
    extra_spent: Decimal | None  # None: a price is missing
    extra: Decimal | None  # the same, and what the stock is worth less in the end
    least_extra: Decimal | None  # proved: no other way of cutting the rest comes to less
    extra_um: int  # of cable bought on top
    checked: bool  # the proof was checked by a program of its own


def recut(
    before: CutList,
    done: Iterable[str],
    miscuts: Sequence[Miscut] = (),
    shorts: Sequence[Short] = (),
    *,
    time_limit_s: float | None = 10.0,
    progress: Progress = silent,
    keep_on_interrupt: bool = False,
) -> Recut:
    """The rest of the cuts, planned anew. `done`: pieces cut as planned, beside those that `before` has as done.

    Raises ValueError, one sentence a line, for what cannot have happened; CannotCut if the stock cannot yield the rest.
    """
    made = [*before.done, *(name for name in done if name not in before.done)]
    faults = _wrong(before, made, miscuts, shorts)
    if faults:
        raise ValueError("\n".join(faults))
    names = _miscut_names(before, miscuts)
    opened = _opened(before, made, names, shorts)
    todo = [p for p in before.pieces if p.name not in made]
    need_um = sum(p.length_um + before.stock.rules.kerf_um for p in todo)
    stock, offers = bench_stock(before, opened, need_um)
    plan = CutPlan(stock.currency, (), ())
    if todo:
        plan = cut(todo, stock, time_limit_s=time_limit_s, progress=progress, keep_on_interrupt=keep_on_interrupt)
    wrong = faults_in(plan, todo, stock)
    spools = _joined(before, opened, plan, offers)
    merged = CutPlan(stock.currency, spools, plan.groups, interrupted=plan.interrupted)
    after = replace(
        before,
        cut_plan=merged,
        order=order_of(merged, before.jobs, before.stock),
        done=(*made, *names),
        miscut=(*before.miscut, *names),
    )
    wrong += faults_in_list(after) + faults_in_recut(before, after, made, {n: m.length_um for n, m in names.items()})
    if wrong:  # the planning and its checkers disagree: never print such a plan
        raise AssertionError("; ".join(wrong))
    checked = all(proof.checked for proof in check_proof(plan, todo, stock))
    return _costed(before, after, plan, checked, [s for s in spools[len(opened) :] if s.kind != "remnant"])


def _wrong(before: CutList, made: Sequence[str], miscuts: Sequence[Miscut], shorts: Sequence[Short]) -> list[str]:
    """What is told and cannot be, in words."""
    pieces = {p.name for p in before.pieces}
    cuts = {c.piece: (s, c) for s in before.cut_plan.spools for c in s.cuts}
    faults = [f'there is no piece "{name}" in the plan' for name in made if name not in cuts]
    for miscut in miscuts:
        if miscut.piece not in pieces:
            faults.append(f'there is no piece "{miscut.piece}" in the plan')
        elif miscut.piece in made:
            faults.append(f'"{miscut.piece}" is told as cut and as miscut')
        elif miscut.length_um <= 0:
            faults.append(f'"{miscut.piece}" miscut: the length must be above zero')
        elif miscut.length_um == cuts[miscut.piece][1].length_um:
            faults.append(f'"{miscut.piece}" miscut at the length it should have: say that it is cut')
    told = [m.piece for m in miscuts]
    faults += [f'"{name}" is told as miscut twice' for name in sorted(set(told)) if told.count(name) > 1]
    labels = [spool_name(s, before) for s in before.cut_plan.spools]
    faults += [f'there is no spool "{s.spool}" in the plan' for s in shorts if s.spool not in labels]
    faults += [f'spool "{x}" is told as short twice' for x in sorted({s.spool for s in shorts if _twice(s, shorts)})]
    if faults:
        return faults
    for use in before.cut_plan.spools:
        taken = [c.length_um for c in use.cuts if c.piece in made]
        taken += [m.length_um for m in miscuts if cuts[m.piece][0] is use]
        trim_um = use.end_trim_um if use.cuts else 0
        kerfs_um = before.stock.rules.kerf_um * len(taken)
        left_um = use.length_um - (trim_um if taken else 0) - sum(taken) - kerfs_um
        if taken and left_um + before.stock.rules.kerf_um < 0:
            faults.append(f'{use.kind} "{spool_name(use, before)}" is not as long as what is told to be cut from it')
        for short in shorts:
            if short.spool == spool_name(use, before) and not 0 <= short.left_um <= max(0, left_um):
                faults.append(
                    f'spool "{short.spool}" would have more on it than planned: '
                    f"{short.left_um / 1000:g} mm instead of {max(0, left_um) / 1000:g} mm"
                )
    return faults


def _twice(short: Short, shorts: Sequence[Short]) -> bool:
    return sum(s.spool == short.spool for s in shorts) > 1


def spool_name(use: SpoolUse, cuts: CutList) -> str:
    """Its label, and its number where the plan uses several of that label."""
    alike = sum((s.label, s.kind) == (use.label, use.kind) for s in cuts.cut_plan.spools)
    return use.label if alike == 1 else f"{use.label} no. {use.copy}"


def _miscut_names(before: CutList, miscuts: Sequence[Miscut]) -> dict[str, Miscut]:
    """Each miscut by a name that nothing in the plan has yet."""
    taken = {*before.miscut, *(p.name for p in before.pieces)}
    named: dict[str, Miscut] = {}
    for miscut in miscuts:
        name, number = f"miscut of {miscut.piece}", 1
        while name in taken:
            number += 1
            name = f"miscut {number} of {miscut.piece}"
        taken.add(name)
        named[name] = miscut
    return named


def _opened(
    before: CutList,
    made: Sequence[str],
    names: Mapping[str, Miscut],
    shorts: Sequence[Short],
) -> list[OpenSpool]:
    """Every spool of the plan as it is now, then the miscuts."""
    kerf_um = before.stock.rules.kerf_um
    found: list[OpenSpool] = []
    fresh: list[OpenSpool] = []
    for use in before.cut_plan.spools:
        trim_um = 0 if use.label in before.miscut and use.kind == "remnant" else before.stock.rules.end_trim_um
        cuts = [(c.piece, c.length_um) for c in use.cuts if c.piece in made]
        planned = {c.piece for c in use.cuts}
        for name, miscut in names.items():
            if miscut.piece in planned:
                cuts.append((name, miscut.length_um))
                remnant = replace(_remnant(use), label=name, length_um=miscut.length_um)
                fresh.append(OpenSpool(remnant, (), 0, miscut.length_um))
        left_um = use.length_um - (trim_um if cuts else 0)
        for _, length_um in cuts:
            left_um = max(0, left_um - length_um - kerf_um)
        short = next((s for s in shorts if s.spool == spool_name(use, before)), None)
        lost_um = 0 if short is None else left_um - short.left_um
        use = replace(use, length_um=use.length_um - lost_um)
        found.append(OpenSpool(use, tuple(cuts), trim_um, left_um - lost_um))
    return found + fresh


def _remnant(use: SpoolUse) -> SpoolUse:
    return replace(use, kind="remnant", copy=1, price=Decimal(0), book_value=Decimal(0), cuts=())


def _joined(
    before: CutList,
    opened: Sequence[OpenSpool],
    plan: CutPlan,
    offers: Mapping[tuple[str, str, str], Offer],
) -> tuple[SpoolUse, ...]:
    """The open spools with the cuts made and to be made, then what is opened or bought on top."""
    later: dict[int, SpoolUse] = {}
    new: list[SpoolUse] = []
    stock = before.stock
    instead = {c.piece: c.instead_of for s in before.cut_plan.spools for c in s.cuts}
    copies: dict[tuple[str, str, str], int] = {}
    for spool in opened:
        key = (spool.use.conductor, spool.use.colour, spool.use.label)
        copies[key] = max(copies.get(key, 0), spool.use.copy)
    for use in plan.spools:
        offer = offers[(use.conductor, use.colour, use.label)]
        if offer.place is not None:
            later[offer.place] = use
            continue
        key = (use.conductor, use.colour, offer.label)
        copies[key] = copies.get(key, 0) + 1
        book = Decimal(0)
        cable = stock.cable(use.conductor, use.colour)
        if offer.kind == "remnant" and cable is not None:
            book = next(r.book_value for r in cable.remnants if r.label == offer.label)
        whole = replace(
            use,
            label=offer.label,
            kind=offer.kind,
            copy=copies[key],
            length_um=offer.length_um,
            book_value=book,
        )
        cuts = [(c.piece, c.length_um, c.instead_of) for c in use.cuts]
        new.append(use_with(whole, cuts, stock.rules.end_trim_um, stock, {}))
    joined = []
    for place, spool in enumerate(opened):
        use_now = later.get(place)
        cuts = [(name, length_um, instead.get(name, "")) for name, length_um in spool.made]
        cuts += [(c.piece, c.length_um, c.instead_of) for c in use_now.cuts] if use_now else []
        joined.append(use_with(spool.use, cuts, spool.trim_um, stock, {}))
    return (*joined, *new)


def _costed(before: CutList, after: CutList, plan: CutPlan, checked: bool, bought: Sequence[SpoolUse]) -> Recut:
    on_top = CutPlan(plan.currency, tuple(bought), ())
    to_buy = order_list(on_top, after.stock)
    extra_um = on_top.bought_um
    if on_top.missing_prices or before.cut_plan.missing_prices:
        return Recut(after, to_buy, None, None, None, extra_um, checked)
    value_before = worth(stock_after(before.cut_plan, before.stock))
    extra = on_top.spent + value_before - worth(stock_after(after.cut_plan, after.stock))
    least = None if plan.gap is None else extra - plan.gap
    return Recut(after, to_buy, on_top.spent, extra, least, extra_um, checked)
