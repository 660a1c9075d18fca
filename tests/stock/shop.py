"""Small shops for the tests of cutting: stock without the rest of a stock file, and the plan by brute force."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from functools import cache

from cutlist.bank.cables import Conductor
from cutlist.bank.stock import ByLength, CableStock, CuttingRules, Remnant, Spool, Stock
from cutlist.stock.cut_plan import Piece

M = 1_000_000
MM = 1_000

FIFTY = Conductor("50 mm2", "50 mm2", 50.0, 0.386, "IEC 60228", 0.015, 0.06, 90.0)
SEVENTY = Conductor("70 mm2", "70 mm2", 70.0, 0.272, "IEC 60228", 0.017, 0.07, 90.0)


def shop(
    remnants_mm: Sequence[int] = (),
    spools: Sequence[tuple[int, str | None, int | None]] = (),
    by_length: tuple[int, str | None] | None = None,
    rules: CuttingRules | None = None,
    colour: str = "red",
) -> Stock:
    """One conductor and colour. `spools`: (mm, price, available); `by_length`: (mm of an increment, its price)."""
    cable = CableStock(
        "50 mm2",
        colour,
        tuple(Remnant(f"R{i + 1}", mm * MM) for i, mm in enumerate(remnants_mm)),
        tuple(
            Spool(f"spool {i + 1}", mm * MM, None if price is None else Decimal(price), n)
            for i, (mm, price, n) in enumerate(spools)
        ),
        ()
        if by_length is None
        else (ByLength("by length", by_length[0] * MM, None if by_length[1] is None else Decimal(by_length[1])),),
    )
    return Stock("kr", (FIFTY, SEVENTY), (cable,), rules=rules or CuttingRules())


def pieces_of(*lengths_mm: int, colour: str = "red", conductor: str = "50 mm2") -> list[Piece]:
    return [Piece(f"P{i + 1}", conductor, colour, mm * MM) for i, mm in enumerate(lengths_mm)]


def least_cost_by_trying_all(lengths_mm: Sequence[int], stock: Stock) -> Decimal | None:
    """Every way to put the pieces on spools of the first cable; None if there is none. For a handful of pieces.

    Spools without price breaks only. Counts money spent less value kept, remnants left alone included.
    """
    cable = stock.cables[0]
    rules = stock.rules
    lengths = [mm * MM for mm in sorted(lengths_mm, reverse=True)]

    def kept(length_um: int) -> Decimal:
        if rules.keep_above_um is None or length_um < max(1, rules.keep_above_um):
            return Decimal(0)
        return rules.value_per_m(cable.conductor) * length_um / M

    def rest(length_um: int, on_it: tuple[int, ...]) -> int | None:
        left = length_um - rules.end_trim_um - sum(on_it) - rules.kerf_um * (len(on_it) - 1)
        return None if left < 0 else max(0, left - rules.kerf_um)

    kinds: list[tuple[int, Decimal, int]] = [(r.length_um, Decimal(0), 1) for r in cable.remnants]
    kinds += [
        (s.length_um, s.price, len(lengths) if s.available is None else s.available) for s in cable.spools if s.price
    ]

    @cache
    def bought_length(on_it: tuple[int, ...]) -> Decimal | None:
        costs = []
        for line in cable.by_length:
            assert line.price is not None
            k = 1
            while (left := rest(k * line.increment_um, on_it)) is None:
                k += 1
            costs.append(min(k * line.price - kept(left), (k + 40) * line.price))
        return min(costs, default=None)

    best: list[Decimal | None] = [None]

    def place(todo: list[int], used: list[int], spent: Decimal) -> None:
        if not todo:
            alone = sum((kept(kinds[t][0]) for t in range(len(cable.remnants)) if not used[t]), Decimal(0))
            if best[0] is None or spent - alone < best[0]:
                best[0] = spent - alone
            return
        first, others = todo[0], todo[1:]
        for chosen in range(1 << len(others)):
            on_it = (first, *(x for i, x in enumerate(others) if chosen >> i & 1))
            left_over = [x for i, x in enumerate(others) if not chosen >> i & 1]
            for t, (length_um, price, there) in enumerate(kinds):
                remains = rest(length_um, on_it)
                if used[t] < there and remains is not None:
                    used[t] += 1
                    place(left_over, used, spent + price - kept(remains))
                    used[t] -= 1
            cost = bought_length(on_it)
            if cost is not None:
                place(left_over, used, spent + cost)

    place(lengths, [0] * len(kinds), Decimal(0))
    return best[0]
