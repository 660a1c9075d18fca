"""Pieces from spools at least cost: `cut` is the door to this package.

Pieces of one conductor and colour share stock and are planned together; different ones are planned apart, unless the
rules allow a piece to be cut from the next larger conductor or another colour and that pays.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import product

from cutlist.bank.stock import CableStock, Stock
from cutlist.progress import Progress, silent
from cutlist.stock.certificate import Certificate, Offered
from cutlist.stock.cut_plan import CannotCut, CutPlan, GroupResult, Piece, SpoolUse
from cutlist.stock.deadline import Deadline
from cutlist.stock.groups import Group, Source, kept_value, serves, state
from cutlist.stock.less_scrap import less_scrap
from cutlist.stock.problem import Cuts
from cutlist.stock.solve import solve
from cutlist.stock.spool_uses import spool_uses, value_left_alone

MOST_PRICE_CASES = 64
MANY_PIECES = 60  # more, and a short look is no use


def cut(
    pieces: Sequence[Piece],
    stock: Stock,
    *,
    time_limit_s: float | None = 10.0,
    progress: Progress = silent,
    keep_on_interrupt: bool = False,
) -> CutPlan:
    """The least-cost way to cut the pieces from the stock, with a proved lower bound for each group.

    `time_limit_s` is shared by all groups; what is found by then is returned with its gap; so it is after Ctrl-C if
    `keep_on_interrupt` (a second one is raised as KeyboardInterrupt). `progress` hears of each group.
    Raises ValueError for pieces with the same name or without length, and CannotCut, with a sentence for every fault,
    when the stock cannot yield the pieces.
    """
    _check_pieces(pieces)
    wanted: dict[tuple[str, str], list[Piece]] = {}
    for piece in sorted(pieces, key=lambda p: (p.conductor, p.colour, p.name)):
        wanted.setdefault((piece.conductor, piece.colour), []).append(piece)
    faults = [fault for key, group in wanted.items() for fault in _too_long(key, group, stock)]
    if faults:
        raise CannotCut(tuple(faults))
    deadline = Deadline(time_limit_s, keep_best=keep_on_interrupt)
    clusters = _clusters(list(wanted), stock)
    planned: list[list[_Planned]] = []
    quick = deadline if len(clusters) == 1 else deadline.part(0.3)
    for number, cluster in enumerate(clusters):
        progress(f"cutting {' and '.join(' '.join(key) for key in cluster)}", number, len(clusters))
        try:
            many = sum(len(wanted[key]) for key in cluster) > MANY_PIECES
            share = 1 / (len(clusters) - number)
            planned.append(_cluster_plan(cluster, wanted, stock, deadline if many else quick, share))
        except CannotCut as fault:
            faults.extend(fault.faults)
            continue
    if faults:
        raise CannotCut(tuple(faults))
    # Many groups take next to no time; what they leave is for the others.
    again = [
        k for k, groups in enumerate(planned) if quick is not deadline and not all(p.result.proved for p in groups)
    ]
    for number, k in enumerate(again):
        if deadline.passed():
            break
        progress(f"cutting {planned[k][0].result.name}, a longer look", number, len(again))
        longer = _cluster_plan(clusters[k], wanted, stock, deadline, 1 / (len(again) - number))
        planned[k] = _better(planned[k], longer)
    groups = [p for part in planned for p in part]
    return CutPlan(
        stock.currency,
        tuple(spool for p in groups for spool in p.spools),
        tuple(p.result for p in groups),
        sum((p.untouched_value for p in groups), Decimal(0)),
        deadline.stopped and not all(p.result.proved for p in groups),
    )


def _better(one: list[_Planned], other: list[_Planned]) -> list[_Planned]:
    """Of two plans for the same pieces the cheaper, with the higher bound of the two if they are for like groups."""
    first, second = sorted((one, other), key=lambda plan: sum(p.result.cost for p in plan))
    if [p.result.name for p in first] != [p.result.name for p in second]:
        return first
    kept = []
    for mine, theirs in zip(first, second, strict=True):
        result, bound = mine.result, theirs.result
        if bound.by == result.by and bound.least_cost > result.least_cost:
            how = "the bound meets the plan" if result.cost == bound.least_cost else bound.how_proved
            least = min(bound.least_cost, result.cost)
            result = replace(result, least_cost=least, how_proved=how, certificates=bound.certificates)
        kept.append(replace(mine, result=result))
    return kept


def _check_pieces(pieces: Sequence[Piece]) -> None:
    twice = sorted(name for name, n in Counter(p.name for p in pieces).items() if n > 1)
    if twice:
        raise ValueError(f"pieces with the same name: {', '.join(twice)}")
    for piece in pieces:
        if piece.length_um <= 0:
            raise ValueError(f'piece "{piece.name}" has no length: {piece.length_um} um')


def _cables(key: tuple[str, str], stock: Stock) -> list[CableStock]:
    """The stock that pieces of this conductor and colour may be cut from, their own first."""
    known = {c.name for c in stock.conductors}
    own = [c for c in stock.cables if (c.conductor, c.colour) == key]
    if key[0] not in known:
        return own
    return own + [c for c in stock.cables if (c.conductor, c.colour) != key and serves(stock, c, *key)]


def _too_long(key: tuple[str, str], pieces: Sequence[Piece], stock: Stock) -> list[str]:
    """A sentence for each piece that no single spool can yield."""
    name = " ".join(key)
    cables = _cables(key, stock)
    longest = 0
    for cable in cables:
        for line in cable.by_length:
            if line.longest_um is None:
                return []
            longest = max(longest, line.longest_um // line.increment_um * line.increment_um)
        longest = max([longest, *(r.length_um for r in cable.remnants)])
        longest = max([longest, *(s.length_um for s in cable.spools if s.available is None or s.available > 0)])
    if longest == 0:
        return [f"{name}: there is none in stock, on hand or to buy, for {_names(pieces)}"]
    room = longest - stock.rules.end_trim_um
    trimmed = f", of which {_m(stock.rules.end_trim_um)} is trimmed" if stock.rules.end_trim_um else ""
    return [
        f'{name}: no spool is long enough for "{p.name}" ({_m(p.length_um)}); the longest is {_m(longest)}{trimmed}'
        for p in pieces
        if p.length_um > room
    ]


def _names(pieces: Sequence[Piece]) -> str:
    shown = [f'"{p.name}"' for p in pieces[:6]]
    more = len(pieces) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more else "")


def _m(length_um: int) -> str:
    return f"{Decimal(length_um) / 1_000_000:f} m"


def _clusters(keys: Sequence[tuple[str, str]], stock: Stock) -> list[list[tuple[str, str]]]:
    """Groups that must be planned together, because a piece of one may be cut from the stock of another."""
    if not (stock.rules.larger_conductor_allowed or stock.rules.other_colour_allowed):
        return [[key] for key in keys]
    clusters: list[tuple[list[tuple[str, str]], set[tuple[str, str]]]] = []
    for key in keys:
        reached = {(c.conductor, c.colour) for c in _cables(key, stock)}
        joined = [key]
        apart = []
        for others, theirs in clusters:
            if theirs & reached:
                joined = others + joined
                reached |= theirs
            else:
                apart.append((others, theirs))
        clusters = [*apart, (joined, reached)]
    return [keys for keys, _ in clusters]


def _cluster_plan(
    cluster: Sequence[tuple[str, str]],
    wanted: Mapping[tuple[str, str], list[Piece]],
    stock: Stock,
    deadline: Deadline,
    share: float,
) -> list[_Planned]:
    """Each group from its own stock; if substitution is allowed, also all together, and that only if it costs less."""
    pieces = [p for key in cluster for p in wanted[key]]
    reached: dict[tuple[str, str], CableStock] = {}
    for key in cluster:
        reached |= {(c.conductor, c.colour): c for c in _cables(key, stock)}
    apart: list[_Planned] = []
    apart_faults: list[str] = []
    for number, key in enumerate(cluster):
        own = [c for c in reached.values() if (c.conductor, c.colour) == key]
        part = share / (2 if len(reached) > 1 else 1) / (len(cluster) - number)
        try:
            apart.append(_plan(" ".join(key), wanted[key], own, stock, deadline.part(part)))
        except CannotCut as fault:
            apart_faults.extend(fault.faults)
    if len(reached) == 1 or len({stock.rules.value_per_m(c.conductor) for c in reached.values()}) > 1:
        if apart_faults:
            raise CannotCut(tuple(apart_faults))
        return apart
    name = " + ".join(" ".join(key) for key in cluster)
    together = _plan(name, pieces, list(reached.values()), stock, deadline.part(share))
    # Remnants of cables that no piece asks for by name count in the joint plan, so they must count here too.
    spared = sum((_spared_value(c, stock) for key, c in reached.items() if key not in cluster), Decimal(0))
    apart_cost = sum((p.result.cost for p in apart), -spared)
    same_measure = {p.result.by for p in apart} == {together.result.by}
    if apart_faults or not same_measure or together.result.cost < apart_cost:
        note = "pieces may be cut from a larger conductor or another colour"
        return [replace(together, result=replace(together.result, notes=(*together.result.notes, note)))]
    # Nobody has to substitute: the cuts are each group's own, the proof is that of all together.
    result = replace(together.result, cost=apart_cost, least_cost=min(together.result.least_cost, apart_cost))
    spools = [spool for p in apart for spool in p.spools]
    return [_Planned(result, spools, sum((p.untouched_value for p in apart), spared))]


def _spared_value(cable: CableStock, stock: Stock) -> Decimal:
    """The worth of all remnants of a cable, left alone, above their book value."""
    values = (kept_value(stock.rules, cable.conductor, r.length_um) - r.book_value for r in cable.remnants)
    return sum((max(Decimal(0), v) for v in values), Decimal(0))


@dataclass(frozen=True)
class _Planned:
    result: GroupResult
    spools: list[SpoolUse]
    untouched_value: Decimal


def _plan(
    name: str, pieces: Sequence[Piece], cables: Sequence[CableStock], stock: Stock, deadline: Deadline
) -> _Planned:
    """Pieces that share stock, by money if prices are there, else by metres bought."""
    prices = [(s.label, s.price) for c in cables for s in c.spools]
    prices += [(b.label, b.price) for c in cables for b in c.by_length]
    missing = [label for label, price in prices if price is None]
    listed = ", ".join(missing)
    if not stock.rules.least_waste and not (prices and len(missing) == len(prices)):
        try:
            planned = _plan_by("money", name, pieces, cables, stock, deadline)
            notes = (f"price missing: {listed} not considered",) if missing else ()
            return replace(planned, result=replace(planned.result, notes=notes))
        except CannotCut:
            if not missing:
                raise
    note = "planned for least waste, as asked: least bought, then least left over"
    if missing and not stock.rules.least_waste:
        note = f"price missing for {listed}: planned by metres bought"
    planned = _plan_by("metres bought", name, pieces, cables, stock, deadline)
    return replace(planned, result=replace(planned.result, notes=(note,)))


def _plan_by(
    by: str, name: str, pieces: Sequence[Piece], cables: Sequence[CableStock], stock: Stock, deadline: Deadline
) -> _Planned:
    """The best over all choices of price breaks; the bound is the least over all choices."""
    best: tuple[Decimal, Group, Cuts] | None = None
    least: Decimal | None = None
    certificates: list[Certificate] = []
    ways: list[str] = []
    cases = _price_cases(cables) if by == "money" else [{}]
    for number, tiers in enumerate(cases):
        group = state(name, pieces, cables, stock, by, tiers)
        solution = solve(group.problem, deadline.part(1 / (len(cases) - number)))
        certificates.append(_named(solution.certificate, group, tiers))
        ways.append(solution.how_proved)
        bound = group.fixed_cost + solution.bound * group.unit
        least = bound if least is None else min(least, bound)
        if solution.cuts is None or solution.cost is None:
            continue
        cost = group.fixed_cost + solution.cost * group.unit
        if best is None or cost < best[0]:
            best = (cost, group, solution.cuts)
    assert best is not None, "stock that lacks something has a line that tells"
    assert least is not None
    cost, group, cuts = best
    _refuse_missing(name, group, cuts)
    if by != "money":
        cuts = less_scrap(group, cuts, stock.rules, deadline)
    how = "; ".join(dict.fromkeys(ways))
    result = GroupResult(name, len(pieces), by, plain(cost), plain(min(least, cost)), how, tuple(certificates))
    return _Planned(result, spool_uses(group, cuts, stock.rules), value_left_alone(group, cuts, stock.rules))


def _named(certificate: Certificate, group: Group, tiers: Mapping[str, int]) -> Certificate:
    """The certificate with names for its prices, so that it can be checked against the stock file."""
    return replace(
        certificate,
        unit=group.unit,
        kinds=tuple((kind[0].conductor, kind[0].colour, kind[0].length_um) for kind in group.types),
        offers=tuple(_offered(source) for source in group.sources),
        tiers=tuple(sorted(tiers.items())),
        beyond=tuple(_offered(source) for source in group.beyond),
    )


def _offered(source: Source) -> Offered:
    s = source
    return Offered(s.kind, s.labels, s.conductor, s.colour, s.length_um, s.paid_for)


def plain(amount: Decimal) -> Decimal:
    """The same amount with two decimals, or as many more as it needs."""
    short = amount.normalize()
    return short if int(short.as_tuple().exponent) < -2 else amount.quantize(Decimal("0.01"))


def _price_cases(cables: Sequence[CableStock]) -> list[dict[str, int]]:
    """Which price break is used for each spool that has some: every combination."""
    breaks = [
        (s.label, sum(s.available is None or s.available >= least for least, _ in s.price_breaks))
        for c in cables
        for s in c.spools
        if s.price is not None
    ]
    cases = [
        dict(zip((label for label, _ in breaks), tiers, strict=True))
        for tiers in product(*(range(n + 1) for _, n in breaks))
    ]
    if len(cases) > MOST_PRICE_CASES:
        raise CannotCut((f"{len(cases)} combinations of price breaks; {MOST_PRICE_CASES} at most can be compared",))
    return cases


def _refuse_missing(name: str, group: Group, cuts: Cuts) -> None:
    """Raises CannotCut if the plan had to fall back on stock that does not exist."""
    lacking = [
        group.types[i][0]
        for pattern, _ in cuts.uses
        if group.sources[pattern.line].kind == "missing"
        for i, _ in pattern.counts
    ]
    if lacking:
        total = sum(p.length_um for kind in group.types for p in kind)
        stocked = sum(
            s.length_um * (line.available or 0)
            for s, line in zip(group.sources, group.problem.lines, strict=True)
            if s.kind != "missing"
        )
        raise CannotCut(
            (
                f"{name}: the stock does not suffice: {_m(total)} of pieces, {_m(stocked)} in stock; "
                f"not covered: {_names(lacking)}",
            )
        )
