"""Strings still to come, in words: what is kept for them, and what longer leads cost now or then."""

from __future__ import annotations

from decimal import Decimal

from cutlist.findings import how_many
from cutlist.sheets.lengths import length_text
from cutlist.stock.later_leads import LaterLeads


def later_words(count: int, later: LaterLeads | None, currency: str, units: str) -> tuple[str, ...]:
    """Sentences, in order; () where no string is to come.

    >>> later_words(2, None, "EUR", "mm")[0]
    'Room is kept for 2 later strings, whose cable is not ordered here.'
    """
    if not count:
        return ()
    room = f"Room is kept for {how_many(count, 'later string')}, whose cable is not ordered here."
    if later is None:
        where = "Where they will end is not said, so longer leads for them are not priced."
        return (room, where)
    if later.why_not:
        return (room, f"Longer leads for {_names(later)} are not worked out: {later.why_not}.")
    if not later.remade:
        return (room, f"The leads as they are will do for {_names(later)}: none would have to be made anew.")
    long, short = (length_text(um, units, up=True) for um in (later.long_target_um, later.target_um))
    set_by = f", set by {later.longest}" if later.longest else ""
    leads = how_many(len(later.remade), "lead")
    drop = "" if later.drop is None else f"; worst drop with the long leads {100 * later.drop:.2f} %"
    now, then = _money(later.more_now, currency), _money(later.remade_then, currency)
    done = "today's are made so, as `lengthen now: yes` asks" if later.lengthened else "today's are not made so"
    how = "" if later.lengthened else " To have them made so now, write `lengthen now: yes` in the job file."
    return (
        room,
        f"For {_names(later)} leads would be cut {long} instead of {short}{set_by}; {done}.{how}",
        f"Long enough now: {now} more, {length_text(later.more_um, units)} of cable{drop}.",
        f"Made anew then: {leads} for {then}, {length_text(later.remade_um, units)} of "
        "cable; today's prices, new lugs, what is left over used, old leads not counted.",
    )


def _names(later: LaterLeads) -> str:
    return ", ".join(later.strings)


def _money(amount: Decimal | None, currency: str) -> str:
    return "money not known (a price is missing)" if amount is None else f"{currency} {amount:.2f}"
