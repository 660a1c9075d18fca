"""Equal lengths: from the shortest runs to what is marked on the cable.

Equal means equal conductor, so it is the CUT lengths of a group that are made alike; each lead is then laid at
the developed length which that cut gives between its own two lugs. Rounding happens here and nowhere else.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cutlist.bank.job import Policy

MATCHES = ("all leads alike", "each pole alike", "whole loop alike", "equal resistance", "as routed")


@dataclass(frozen=True)
class Measured:
    """A cable as its shortest run has it."""

    name: str
    kind: str  # "lead", "jumper", "feeder"
    pole: str
    string: str
    shortest_m: float  # developed, stud centre to stud centre
    lugs_m: float  # stud centre to conductor stop, both ends together


@dataclass(frozen=True)
class Length:
    cut_um: int  # marked on the cable
    developed_m: float  # as laid, stud centre to stud centre


def rounded_up_um(length_m: float, step_um: int) -> int:
    """Up to the next mark: a lead cut short is scrap, a long one is not.

    An excess under a thousandth of a step does not count: it is a sum of floats, not a length.

    >>> rounded_up_um(2.035, 5000), rounded_up_um(2.0351, 5000)
    (2035000, 2040000)
    """
    return step_um * math.ceil(round(length_m * 1e6 / step_um, 3))


def needed_cut_um(cable: Measured, policy: Policy) -> int:
    """Shortest cut that reaches, with the spare asked for at each end."""
    reach_m = cable.shortest_m + policy.longer_m + 2 * policy.end_allowance_m
    return rounded_up_um(max(reach_m - cable.lugs_m, 0.0), policy.round_up_um)


def matched(
    cables: Sequence[Measured], policy: Policy, rest_of_string_m: Mapping[str, float] | None = None
) -> dict[str, Length]:
    """Cut and developed length of every cable, by name.

    rest_of_string_m: for "whole loop alike" and "equal resistance", what the rest of each string (jumpers,
    or jumpers, bars and fuses as metres of lead conductor of the same resistance) adds to its two leads.
    Raises ValueError for a policy that is not one of MATCHES.
    """
    if policy.match not in MATCHES:
        raise ValueError(f"no such match: {policy.match!r}; one of {', '.join(MATCHES)}")
    needed = {c.name: needed_cut_um(c, policy) for c in cables}
    leads = [c for c in cables if c.kind == "lead"]
    if policy.match == "all leads alike" and leads:
        longest = max(needed[c.name] for c in leads)
        needed.update({c.name: longest for c in leads})
    elif policy.match == "each pole alike":
        for pole in {c.pole for c in leads}:
            longest = max(needed[c.name] for c in leads if c.pole == pole)
            needed.update({c.name: longest for c in leads if c.pole == pole})
    elif policy.match in ("whole loop alike", "equal resistance"):
        needed.update(_loops_alike(leads, needed, policy.round_up_um, rest_of_string_m or {}))
    return {c.name: Length(needed[c.name], needed[c.name] / 1e6 + c.lugs_m) for c in cables}


def _loops_alike(
    leads: Sequence[Measured], needed: Mapping[str, int], step_um: int, rest_m: Mapping[str, float]
) -> dict[str, int]:
    """Each string's shorter loop is made up in whole steps, shared between its two leads."""
    strings = sorted({c.string for c in leads})
    loop_um = {
        s: sum(needed[c.name] for c in leads if c.string == s) + round(rest_m.get(s, 0.0) * 1e6) for s in strings
    }
    longest = max(loop_um.values(), default=0)
    result: dict[str, int] = {}
    for string in strings:
        # to the nearest step: half a step too long or too short is the best that can be marked
        steps = round((longest - loop_um[string]) / step_um)
        own = sorted((c for c in leads if c.string == string), key=lambda c: c.pole, reverse=True)
        for i, lead in enumerate(own):
            share = (steps + len(own) - 1 - i) // len(own)
            result[lead.name] = needed[lead.name] + share * step_um
    return result
