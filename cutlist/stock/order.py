"""What to buy: cable from the cut plan, lugs, heat-shrink, fuses and sundries, with the reason for every line.

Money is decimal. A price that is missing stays missing: it is listed, and never counted as nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from cutlist.bank.cables import HeatShrink
from cutlist.bank.stock import Stock
from cutlist.stock.cut_plan import CutPlan, SpoolUse


@dataclass(frozen=True)
class CableEnd:
    """One crimped end: takes a lug for its stud, and a length of heat-shrink."""

    name: str  # "S1 positive, battery end"
    piece: str  # a piece of the cut plan
    stud: str  # "M8"
    colour: str = ""  # of the heat-shrink; empty: the cable's own, if there is some, else any


@dataclass(frozen=True)
class FuseUse:
    name: str  # "S1 positive"
    family: str
    rating_a: float


@dataclass(frozen=True)
class SundryUse:
    why: str  # "S1 positive: 6 clamps"
    sundry: str  # a name in the stock file
    quantity: int


@dataclass(frozen=True)
class OrderLine:
    kind: str  # "cable", "lug", "heat-shrink", "fuse", "sundry"
    description: str
    quantity: int  # of `unit`, to order; 0: all of it is on hand
    unit: str  # "spool", "length", "pack of 10", "each", "piece of 1.2 m"
    needed: int  # single units the job uses; cable: um in pieces; heat-shrink: um
    pack: int  # single units in one of `unit`; cable and heat-shrink: um
    unit_price: Decimal | None
    price: Decimal | None  # None: missing
    why: tuple[str, ...]
    on_hand_used: int = 0
    remains: int = 0  # single units left over afterwards; cable: um kept; heat-shrink: um


@dataclass(frozen=True)
class Order:
    currency: str
    lines: tuple[OrderLine, ...]
    missing: tuple[
        str, ...
    ]  # descriptions of lines to be bought at a price not known, and things not in the stock file

    @property
    def total(self) -> Decimal:
        """Of the known prices: look at `missing` beside it."""
        return sum((line.price for line in self.lines if line.price is not None), Decimal(0))

    @property
    def complete(self) -> bool:
        return not self.missing


def order_list(
    plan: CutPlan,
    stock: Stock,
    *,
    ends: Sequence[CableEnd] = (),
    fuses: Sequence[FuseUse] = (),
    sundries: Sequence[SundryUse] = (),
    spare_fuses: int = 1,
) -> Order:
    """The order that the cut plan and these uses come to. `spare_fuses`: of each family and rating, beyond those used.

    Lugs fit the conductor each piece is really cut from. What the stock file does not hold is listed in `missing`
    and has a line without a price. Raises KeyError for an end of a piece that is not in the plan.
    """
    lines = _cable_lines(plan) + _lug_lines(plan, stock, ends) + _shrink_lines(plan, stock, ends)
    lines += _fuse_lines(stock, fuses, spare_fuses) + _sundry_lines(stock, sundries)
    missing = tuple(line.description for line in lines if line.price is None)
    return Order(stock.currency, tuple(lines), missing)


def _cable_lines(plan: CutPlan) -> list[OrderLine]:
    """Bought spools and lengths; like ones in one line."""
    alike: dict[tuple[str, str, str, str, int, Decimal], list[SpoolUse]] = {}
    for spool in plan.spools:
        if spool.kind != "remnant":
            # two orders of one spool may have been at two prices
            key = (spool.conductor, spool.colour, spool.kind, spool.label, spool.length_um, spool.price or Decimal(-1))
            alike.setdefault(key, []).append(spool)
    lines = []
    for (conductor, colour, kind, label, length_um, _), spools in sorted(alike.items()):
        each = spools[0].price
        lines.append(
            OrderLine(
                kind="cable",
                description=f"{conductor} {colour}, {label}" + (f", {_m(length_um)}" if kind == "by length" else ""),
                quantity=len(spools),
                unit="spool" if kind == "spool" else "length",
                needed=sum(s.cut_um for s in spools),
                pack=length_um,
                unit_price=each,
                price=None if each is None else each * len(spools),
                why=tuple(c.piece for s in spools for c in s.cuts) or ("bought for the price break",),
                remains=sum(s.remains_um for s in spools if s.kept),
            )
        )
    return lines


def _m(length_um: int) -> str:
    return f"{(Decimal(length_um) / 1_000_000).normalize():f} m"


def _counted(
    kind: str,
    description: str,
    why: Sequence[str],
    needed: int,
    on_hand: int,
    pack: int,
    price: Decimal | None,
    known: bool,
) -> OrderLine:
    """A line of things bought in packs; `price` is for one pack."""
    used = min(on_hand, needed)
    quantity = -(-(needed - used) // pack)
    cost: Decimal | None = Decimal(0)
    if quantity or not known:
        cost = None if price is None or not known else price * quantity
    return OrderLine(
        kind=kind,
        description=description + ("" if known else " (not in the stock file)"),
        quantity=quantity,
        unit="each" if pack == 1 else f"pack of {pack}",
        needed=needed,
        pack=pack,
        unit_price=price if known else None,
        price=cost,
        why=tuple(why),
        on_hand_used=used,
        remains=on_hand - used + quantity * pack - (needed - used),
    )


def _lug_lines(plan: CutPlan, stock: Stock, ends: Sequence[CableEnd]) -> list[OrderLine]:
    wanted: dict[tuple[str, str], list[str]] = {}
    for end in ends:
        conductor, _ = plan.conductor_of(end.piece)
        wanted.setdefault((conductor, end.stud), []).append(end.name)
    lines = []
    for (conductor, stud), why in sorted(wanted.items()):
        lug = stock.lug(conductor, stud)
        text = f"lug {conductor} x {stud}"
        if lug is None:
            lines.append(_counted("lug", text, why, len(why), 0, 1, None, known=False))
            continue
        pack_price = None if lug.price is None else lug.price * lug.pack
        lines.append(_counted("lug", text, why, len(why), lug.on_hand, lug.pack, pack_price, known=True))
    return lines


def heat_shrink_for(stock: Stock, outside_diameter_m: float, colour: str) -> HeatShrink | None:
    """The heat-shrink that fits this cable: in the colour if there is some, the closest fit, then by name."""
    fitting = [h for h in stock.heat_shrink if h.fits_from_m <= outside_diameter_m <= h.fits_to_m]
    return min(fitting, key=lambda h: (h.colour != colour, h.fits_to_m, h.name), default=None)


def _shrink_lines(plan: CutPlan, stock: Stock, ends: Sequence[CableEnd]) -> list[OrderLine]:
    """Pieces as sold, each giving a whole number of sleeves; no shrink in the stock file at all: no lines."""
    if not stock.heat_shrink:
        return []
    wanted: dict[str, tuple[HeatShrink, list[str]]] = {}
    lacking: dict[str, list[str]] = {}
    for end in ends:
        conductor, colour = plan.conductor_of(end.piece)
        known = next((c for c in stock.conductors if c.name == conductor), None)
        shrink = heat_shrink_for(stock, known.outside_diameter_m, end.colour or colour) if known else None
        if shrink is None:
            lacking.setdefault(conductor, []).append(end.name)
        else:
            wanted.setdefault(shrink.name, (shrink, []))[1].append(end.name)
    lines = []
    for name, (shrink, why) in sorted(wanted.items()):
        sleeve_um, piece_um = round(shrink.per_end_m * 1e6), round(shrink.length_m * 1e6)
        per_piece = piece_um // sleeve_um if sleeve_um else len(why)
        if per_piece < 1:
            raise ValueError(f'heat-shrink "{name}" is sold in {shrink.length_m} m, shorter than one end needs')
        quantity = -(-len(why) // per_piece)
        lines.append(
            OrderLine(
                kind="heat-shrink",
                description=f"heat-shrink {name}, {shrink.colour}"
                if shrink.colour not in name
                else f"heat-shrink {name}",
                quantity=quantity,
                unit=f"piece of {_m(piece_um)}",
                needed=len(why) * sleeve_um,
                pack=piece_um,
                unit_price=shrink.price,
                price=None if shrink.price is None else shrink.price * quantity,
                why=tuple(why),
                remains=quantity * piece_um - len(why) * sleeve_um,
            )
        )
    for conductor, why in sorted(lacking.items()):
        lines.append(_counted("heat-shrink", f"heat-shrink for {conductor}", why, len(why), 0, 1, None, known=False))
    return lines


def _fuse_lines(stock: Stock, fuses: Sequence[FuseUse], spare: int) -> list[OrderLine]:
    wanted: dict[tuple[str, float], list[str]] = {}
    for use in fuses:
        wanted.setdefault((use.family, use.rating_a), []).append(use.name)
    lines = []
    for (family, rating_a), why in sorted(wanted.items()):
        fuse = next((f for f in stock.fuses if (f.family, f.rating_a) == (family, rating_a)), None)
        needed = len(why) + spare
        if spare:
            why = [*why, "spare" if spare == 1 else f"{spare} spares"]
        text = f"fuse {family} {rating_a:g} A"
        if fuse is None:
            lines.append(_counted("fuse", text, why, needed, 0, 1, None, known=False))
        else:
            lines.append(_counted("fuse", text, why, needed, fuse.on_hand, 1, fuse.price, known=True))
    return lines


def _sundry_lines(stock: Stock, uses: Sequence[SundryUse]) -> list[OrderLine]:
    wanted: dict[str, list[SundryUse]] = {}
    for use in uses:
        wanted.setdefault(use.sundry, []).append(use)
    lines = []
    for name, whys in sorted(wanted.items()):
        needed = sum(u.quantity for u in whys)
        why = [u.why for u in whys]
        sundry = next((s for s in stock.sundries if s.name == name), None)
        if sundry is None:
            lines.append(_counted("sundry", name, why, needed, 0, 1, None, known=False))
            continue
        pack_price = None if sundry.price is None else sundry.price * sundry.pack
        lines.append(_counted("sundry", name, why, needed, sundry.on_hand, sundry.pack, pack_price, known=True))
    return lines
