"""What lies on the bench in the middle of the work: spools cut into, pieces cut wrong, spools that were short.

For the rest of the pieces all of it is stock. What is bought already costs nothing more, so each part spool counts at
what it would be worth if left alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from cutlist.bank.stock import ByLength, CableStock, Remnant, Spool, Stock
from cutlist.stock.cut_list import CutList
from cutlist.stock.cut_plan import Cut, SpoolUse
from cutlist.stock.groups import kept_value


@dataclass(frozen=True)
class OpenSpool:
    """A spool of the plan as it is now."""

    use: SpoolUse  # as planned; its length as it was found
    made: tuple[tuple[str, int], ...]  # names and lengths (um) of the cuts made
    trim_um: int  # taken off its end, or to be taken off before its first cut
    left_um: int  # now; what is not trimmed yet included

    @property
    def room_um(self) -> int:
        return self.left_um if self.made else self.left_um - self.trim_um


@dataclass(frozen=True)
class Offer:
    """What a line of the bench's stock stands for: an open spool by its place, or a line of the stock file."""

    place: int | None
    kind: str  # "remnant", "spool", "by length"
    label: str
    length_um: int  # as bought


def bench_stock(
    cuts: CutList, opened: Sequence[OpenSpool], longest_need_um: int
) -> tuple[Stock, dict[tuple[str, str, str], Offer]]:
    """Stock to cut the rest from, in lengths without the ends that are trimmed, and what each label of it stands for.

    `longest_need_um`: all that is still to be cut, in one length. Cable by length becomes spools of every length that
    could be of use, because its ends are trimmed too.
    """
    offers: dict[tuple[str, str, str], Offer] = {}
    rules = cuts.stock.rules
    used = {(s.use.conductor, s.use.colour, s.use.kind, s.use.label) for s in opened}
    cables = []
    for cable in cuts.stock.cables:
        key = (cable.conductor, cable.colour)
        remnants = []
        for place, spool in enumerate(opened):
            if (spool.use.conductor, spool.use.colour) == key and spool.room_um > 0:
                label = f"{place:05d} {spool.use.label}"
                offers[(*key, label)] = Offer(place, "remnant", spool.use.label, spool.use.length_um)
                remnants.append(Remnant(label, spool.room_um, _alone(spool, cuts)))
        for line in cable.remnants:
            if (*key, "remnant", line.label) not in used and line.length_um > rules.end_trim_um:
                offers[(*key, line.label)] = Offer(None, "remnant", line.label, line.length_um)
                worth = max(line.book_value, kept_value(rules, cable.conductor, line.length_um))
                remnants.append(Remnant(line.label, line.length_um - rules.end_trim_um, worth))
        spools = []
        for whole in cable.spools:
            bought = sum(s.use.kind == "spool" and (s.use.label == whole.label) for s in opened if _of(s, cable))
            there = None if whole.available is None else whole.available - bought
            if there != 0 and whole.length_um > rules.end_trim_um:
                offers[(*key, whole.label)] = Offer(None, "spool", whole.label, whole.length_um)
                spools.append(replace(whole, length_um=whole.length_um - rules.end_trim_um, available=there))
        for by_length in cable.by_length:
            for spool_line in _lengths(by_length, longest_need_um, rules.end_trim_um):
                length_um = spool_line.length_um + rules.end_trim_um
                offers[(*key, spool_line.label)] = Offer(None, "by length", by_length.label, length_um)
                spools.append(spool_line)
        cables.append(CableStock(*key, tuple(remnants), tuple(spools)))
    return replace(cuts.stock, cables=tuple(cables), rules=replace(rules, end_trim_um=0)), offers


def _of(spool: OpenSpool, cable: CableStock) -> bool:
    return (spool.use.conductor, spool.use.colour) == (cable.conductor, cable.colour)


def _alone(spool: OpenSpool, cuts: CutList) -> Decimal:
    """What a spool is worth if nothing more is cut from it."""
    worth = kept_value(cuts.stock.rules, spool.use.conductor, spool.left_um)
    return worth if spool.made else max(worth, spool.use.book_value)


def _lengths(line: ByLength, need_um: int, trim_um: int) -> list[Spool]:
    least = max(1, -(-line.least_um // line.increment_um))
    most = max(least, -(-(need_um + trim_um) // line.increment_um))
    if line.longest_um is not None:
        most = min(most, line.longest_um // line.increment_um)
    return [
        Spool(
            f"{line.label}, {k} long", k * line.increment_um - trim_um, None if line.price is None else k * line.price
        )
        for k in range(least, most + 1)
        if k * line.increment_um > trim_um
    ]


def use_with(
    use: SpoolUse,
    cuts: Sequence[tuple[str, int, str]],
    trim_um: int,
    stock: Stock,
    priced: Mapping[str, Decimal | None],
) -> SpoolUse:
    """The spool with these cuts (name, um, instead of what), remainders and worth worked out anew.

    `priced`: {"price": ...} where the price is another than the use's own.
    """
    rules = stock.rules
    rest = use.length_um - (trim_um if cuts else 0)
    made = []
    for name, length_um, instead_of in cuts:
        rest = max(0, rest - length_um - rules.kerf_um)
        made.append(Cut(name, length_um, rest, instead_of))
    return replace(
        use,
        price=priced.get("price", use.price),
        cuts=tuple(made),
        end_trim_um=trim_um if cuts else 0,
        remains_um=rest,
        kept=rules.keep_above_um is not None and rest >= max(1, rules.keep_above_um),
        kept_value=kept_value(rules, use.conductor, rest),
    )
