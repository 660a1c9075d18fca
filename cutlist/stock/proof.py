"""A stranger's check of the claim that no plan costs less: it knows pieces, stock file and rules, and no solver.

Prices of pieces prove a bound if no way of cutting a spool yields pieces worth more than the spool costs; the plan must
then cost at least what all pieces are worth. Here every spool of the stock file is taken in turn, and the worthiest way
of cutting it is worked out in whole numbers. Where cases are told apart by numbers of spools, the cases must leave
nothing out, and each needs prices of its own. What a search found and prices do not show is not proved here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import product
from math import gcd

from cutlist.bank.stock import CableStock, Stock
from cutlist.stock.certificate import Certificate, CountLimit, Leaf
from cutlist.stock.check import may_serve
from cutlist.stock.cut_plan import CutPlan, GroupResult, Piece
from cutlist.stock.proof_by_trying import Asked, Offer, least_by_trying
from cutlist.stock.proof_stock import M, Refused, SpoolItem, items_of, kept_rate, needed, shortest_piece_um, whole
from cutlist.stock.proof_sums import next_sum, next_sum_within, value_steps
from cutlist.stock.proof_worth import leaf_value, refuse_long_lengths


@dataclass(frozen=True)
class GroupProof:
    """What the prices of a group prove, checked. `least`: no plan costs less; None: the prices prove nothing.

    `word`: the claim goes beyond the prices, on the word of a search. `faults`: why the claim is refused.
    """

    name: str
    claimed: Decimal
    least: Decimal | None
    word: bool
    faults: tuple[str, ...]

    @property
    def checked(self) -> bool:
        """The whole claim was checked here."""
        return not self.faults and not self.word


def faults_in_proof(plan: CutPlan, pieces: Sequence[Piece], stock: Stock) -> list[str]:
    """Every claim of a least cost that does not hold, in words; empty when all hold or own to rest on a search."""
    return [fault for group in check_proof(plan, pieces, stock) for fault in group.faults]


def check_proof(plan: CutPlan, pieces: Sequence[Piece], stock: Stock) -> tuple[GroupProof, ...]:
    """The least cost of each group, worked out from its prices anew."""
    wanted: dict[tuple[str, str], list[Piece]] = {}
    for piece in pieces:
        wanted.setdefault((piece.conductor, piece.colour), []).append(piece)
    names = Counter(name for group in plan.groups for name in group.name.split(" + "))
    proofs = []
    for group in plan.groups:
        keys = [key for key in wanted if " ".join(key) in group.name.split(" + ")]
        faults = [f"{name}: planned in {n} groups" for name, n in names.items() if n > 1 and name in group.name]
        proofs.append(_group_proof(group, keys, [p for key in keys for p in wanted[key]], stock, faults))
    for key in wanted:
        if " ".join(key) not in names:
            name = " ".join(key)
            proofs.append(GroupProof(name, Decimal(0), None, False, (f"{name}: no group has these pieces",)))
    return tuple(proofs)


def _group_proof(
    group: GroupResult, keys: Sequence[tuple[str, str]], pieces: Sequence[Piece], stock: Stock, faults: list[str]
) -> GroupProof:
    cables = [c for c in stock.cables if any(may_serve((c.conductor, c.colour), key, stock) for key in keys)]
    word = any(c.searched or any(leaf.listed is not None for leaf in c.leaves) for c in group.certificates)
    least: Decimal | None = None
    try:
        if len(pieces) != group.pieces:
            raise Refused(f"{len(pieces)} pieces asked for, {group.pieces} said to be planned")
        money = group.by == "money"
        by_tiers = {c.tiers: c for c in group.certificates}
        bounds = []
        for tiers in _price_cases(cables) if money else [{}]:
            certificate = by_tiers.get(tuple(sorted(tiers.items())))
            if certificate is None:
                raise Refused(f"no proof for the choice of price breaks {tiers}")
            bounds.append(_case_bound(certificate, pieces, cables, stock, money, tiers))
        least = min(bounds)
        if least < group.least_cost and not word:
            raise Refused(f"the prices prove {least}, not {group.least_cost}")
    except Refused as refused:
        faults = [*faults, f"{group.name}: {refused}"]
    return GroupProof(group.name, group.least_cost, least, word and not faults, tuple(faults))


def _price_cases(cables: Sequence[CableStock]) -> list[dict[str, int]]:
    """Every choice of price breaks: no plan falls outside of all."""
    with_price = [s for c in cables for s in c.spools if s.price is not None]
    reach = [sum(s.available is None or least <= s.available for least, _ in s.price_breaks) for s in with_price]
    return [
        dict(zip([s.label for s in with_price], choice, strict=True))
        for choice in product(*(range(n + 1) for n in reach))
    ]


def _case_bound(
    certificate: Certificate,
    pieces: Sequence[Piece],
    cables: Sequence[CableStock],
    stock: Stock,
    money: bool,
    tiers: Mapping[str, int],
) -> Decimal:
    """What the certificate proves for plans that buy in these price breaks."""
    asked = Counter((p.conductor, p.colour, p.length_um) for p in pieces)
    if set(asked) != set(certificate.kinds) or len(asked) != len(certificate.kinds):
        raise Refused("prices for other pieces than those asked for")
    _refuse_gaps(list(certificate.leaves), 0)
    longest = [((o.labels[0], (o.conductor, o.colour)), o.length_um) for o in certificate.beyond]
    total_um = sum(p.length_um + stock.rules.kerf_um for p in pieces)
    items, fixed, beyond = items_of(cables, stock, money, tiers, total_um, longest)
    named = {
        (o.kind, label, (o.conductor, o.colour), o.length_um, o.paid_for): t
        for t, o in enumerate(certificate.offers)
        for label in o.labels
        if o.kind != "missing"
    }
    shortest = {(c.conductor, c.colour): shortest_piece_um(c, asked, stock) for c in cables}
    room = {item: item.length_um - stock.rules.end_trim_um for item in items}
    items = [i for i in items if (least := shortest[i.cable]) is not None and room[i] >= least]
    steps_um = gcd(*(um + stock.rules.kerf_um for *_, um in asked))
    rate = kept_rate(cables, stock) if money else Decimal(0)
    # Where rests have no value, two spools are as long as each other if they hold the same pieces.
    items = needed(items, named, 1 if rate else steps_um, stock.rules.kerf_um - stock.rules.end_trim_um)
    if certificate.tried and beyond:
        raise Refused("not every length that is sold was tried")
    if certificate.tried:
        return fixed + _tried(certificate, asked, items, stock, rate) * certificate.unit
    if not certificate.leaves:
        raise Refused("no prices")
    costs = {item: whole(item.cost / certificate.unit, "cost of a spool") for item in items}
    steps = [] if not rate else value_steps(items, asked, stock, whole(rate / M / certificate.unit, "value per um"))
    reached = None
    for leaf in certificate.leaves:
        refuse_long_lengths(leaf, certificate, beyond, stock)
        value = leaf_value(leaf, certificate, asked, items, named, cables, stock, rate)
        proved = -(-value // leaf.scale)
        if rate:
            proved = next_sum(proved, list(costs.values()), steps)
        else:
            proved = next_sum_within(leaf, max(proved, 0), costs, named)
        reached = proved if reached is None else min(reached, proved)
    assert reached is not None
    return fixed + reached * certificate.unit


def _tried(
    certificate: Certificate,
    asked: Mapping[tuple[str, str, int], int],
    items: Sequence[SpoolItem],
    stock: Stock,
    rate: Decimal,
) -> int:
    """The least cost of a small group, in cost units, by trying everything once more."""
    rules = stock.rules
    kinds = list(asked)
    offers = [
        Offer(
            whole(item.cost / certificate.unit, "cost of a spool"),
            item.length_um - rules.end_trim_um + rules.kerf_um,
            item.there,
            tuple(i for i, kind in enumerate(kinds) if may_serve(item.cable, kind[:2], stock)),
        )
        for item in items
    ]
    pieces = Asked(
        tuple(um + rules.kerf_um for *_, um in kinds),
        tuple(asked.values()),
        rules.kerf_um,
        rules.keep_above_um,
        whole(rate / M / certificate.unit, "value kept per um"),
    )
    try:
        least = least_by_trying(pieces, offers)
    except ValueError as error:
        raise Refused(f"said to have been tried: {error}") from None
    if least is None:
        raise Refused("no plan at all from this stock")
    return least


def _refuse_gaps(leaves: Sequence[Leaf], depth: int) -> None:
    """The leaves must be all cases: at each fork at most n spools of some kinds on one side, n + 1 on the other."""
    if len(leaves) == 1 and len(leaves[0].limits) == depth:
        return
    if not leaves or any(len(leaf.limits) <= depth for leaf in leaves):
        raise Refused("the cases by numbers of spools leave something out")
    forks = {leaf.limits[depth] for leaf in leaves}
    first = leaves[0].limits[depth]
    count = first.count - 1 if first.at_least else first.count
    sides = (CountLimit(first.lines, False, count), CountLimit(first.lines, True, count + 1))
    if forks != set(sides):
        raise Refused("the cases by numbers of spools leave something out")
    for side in sides:
        _refuse_gaps([leaf for leaf in leaves if leaf.limits[depth] == side], depth + 1)
