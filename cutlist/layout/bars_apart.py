"""How far apart the two bus bars must be, whatever a job asks for."""

from __future__ import annotations

from collections.abc import Sequence

from cutlist.bank.bus_bars import BusBar
from cutlist.bank.stock import Stock
from cutlist.layout.run_lengths import UNKNOWN_LUG_M


def lugs_apart_m(stock: Stock, bars: Sequence[BusBar]) -> float:
    """Between the two rows of studs: the bars' half-widths and a lug from each side, end to end.

    Common practice, no published source: lugs of the two poles must not reach each other.
    """
    return sum(bar.width_m for bar in bars) / 2 + 2 * longest_lug_m(stock, bars)


def longest_lug_m(stock: Stock, bars: Sequence[BusBar]) -> float:
    """Stud centre to where the insulation starts, of the longest lug that fits one of these bars."""
    known = (lug.barrel_to_skin_m for lug in stock.lugs if lug.stud in {thread for b in bars for thread in b.threads})
    return max(known, default=UNKNOWN_LUG_M)
