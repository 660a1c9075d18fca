"""From numbers of cutting patterns to spools with names: which piece is cut from which, and in what order.

Longest piece first, so that a miscut can still become a shorter piece.
"""

from __future__ import annotations

from collections import Counter
from decimal import Decimal

from cutlist.bank.stock import CuttingRules
from cutlist.stock.cut_plan import Cut, Piece, SpoolUse
from cutlist.stock.groups import Group, Source, kept_value, untouched_value
from cutlist.stock.problem import Cuts, Pattern

KIND_ORDER = {"remnant": 0, "spool": 1, "by length": 2}


def spool_uses(group: Group, cuts: Cuts, rules: CuttingRules) -> list[SpoolUse]:
    """Every spool of the plan: remnants first, then spools, then lengths; each kind by label, the fullest first."""
    left = [list(kind) for kind in group.types]
    labels = [list(source.labels) for source in group.sources]
    paid_left = dict(group.bought)
    copies: Counter[str] = Counter()
    priced = group.by == "money"
    each = [pattern for pattern, n in cuts.uses for _ in range(n)]
    each.sort(key=lambda p: _order(group, p))
    found = []
    for pattern in each:
        source = group.sources[pattern.line]
        pieces = [left[i].pop(0) for i, n in pattern.counts for _ in range(n)]
        pieces.sort(key=lambda p: (-p.length_um, p.name))
        label = labels[pattern.line].pop(0) if source.kind == "remnant" else source.labels[0]
        if source.paid_for:
            paid_left[source] -= 1
        copies[label] += 1
        found.append(_use(source, label, copies[label], pieces, rules, priced))
    for source, n in paid_left.items():
        for _ in range(n):
            label = source.labels[0]
            copies[label] += 1
            found.append(_use(source, label, copies[label], [], rules, priced))
    return found


def value_left_alone(group: Group, cuts: Cuts, rules: CuttingRules) -> Decimal:
    """The worth of the remnants that this plan does not touch, above their book value."""
    if group.by != "money":
        return Decimal(0)
    used = Counter[int]()
    for pattern, n in cuts.uses:
        used[pattern.line] += n
    return sum(
        (
            untouched_value(rules, source) * (len(source.labels) - used[t])
            for t, source in enumerate(group.sources)
            if source.kind == "remnant"
        ),
        group.short_remnants_value,
    )


def _order(group: Group, pattern: Pattern) -> tuple[int, str, str, str, int, Pattern]:
    source = group.sources[pattern.line]
    width = group.problem.width_of(pattern.counts)
    return (KIND_ORDER[source.kind], source.conductor, source.colour, source.labels[0], -width, pattern)


def _use(source: Source, label: str, copy: int, pieces: list[Piece], rules: CuttingRules, priced: bool) -> SpoolUse:
    trim_um = rules.end_trim_um if pieces else 0
    remaining = source.length_um - trim_um
    cuts = []
    for piece in pieces:
        # The cut itself takes a kerf, unless the piece ends the spool.
        remaining = max(0, remaining - piece.length_um - rules.kerf_um)
        own = (piece.conductor, piece.colour) == (source.conductor, source.colour)
        cuts.append(Cut(piece.name, piece.length_um, remaining, "" if own else f"{piece.conductor} {piece.colour}"))
    kept = rules.keep_above_um is not None and remaining >= max(rules.keep_above_um, 1)
    return SpoolUse(
        label=label,
        kind=source.kind,
        copy=copy,
        conductor=source.conductor,
        colour=source.colour,
        length_um=source.length_um,
        price=source.price,
        cuts=tuple(cuts),
        end_trim_um=trim_um,
        remains_um=remaining,
        kept=kept,
        book_value=source.book_value if priced else Decimal(0),
        kept_value=kept_value(rules, source.conductor, remaining) if priced else Decimal(0),
    )
