"""A stranger's check of a cut list as the workshop holds it: fresh, or with cuts made, miscuts and short spools.

Shares no code with the solver, nor with the planning of the rest. Costs of a fresh plan are checked in `check.py`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from cutlist.bank.stock import ByLength, Remnant, Spool
from cutlist.stock.cut_list import CutList
from cutlist.stock.cut_plan import SpoolUse


def faults_in_list(cuts: CutList) -> list[str]:
    """Every rule the list breaks, in words; empty when it is sound.

    Each piece once and in its length; no spool longer than the stock file has it, none used more often than it is
    there; cuts, kerfs and remainders by an own sum; every miscut a cut of one spool and then a remnant of that length.
    """
    faults = []
    wanted = {p.name: p for p in cuts.pieces}
    if len(wanted) != len(cuts.pieces):
        faults.append("two pieces have the same name")
    made = Counter(c.piece for s in cuts.cut_plan.spools for c in s.cuts)
    faults += [f'piece "{name}" is cut {made[name]} times' for name in wanted if made[name] != 1]
    known = set(wanted) | set(cuts.miscut)
    faults += [f'"{name}" is cut but not asked for' for name in made if name not in known]
    faults += [f'"{name}" is said to be done but is no cut' for name in cuts.done if name not in made]
    lengths = {c.piece: c.length_um for s in cuts.cut_plan.spools for c in s.cuts}
    for name, piece in wanted.items():
        if name in lengths and lengths[name] != piece.length_um:
            faults.append(f'piece "{name}" is cut {lengths[name]} um long, asked for {piece.length_um} um')
    for spool in cuts.cut_plan.spools:
        faults += _room(spool, cuts)
        faults += _source(spool, cuts, lengths)
    uses = Counter((s.conductor, s.colour, s.kind, s.label, s.copy) for s in cuts.cut_plan.spools)
    faults += [f'{kind} "{label}" has two uses with number {n}' for (_, _, kind, label, n), k in uses.items() if k > 1]
    faults += _supply(cuts)
    return faults


def _room(spool: SpoolUse, cuts: CutList) -> list[str]:
    kerf_um = cuts.stock.rules.kerf_um
    name = f'{spool.kind} "{spool.label}" no. {spool.copy}'
    if spool.length_um <= 0 or any(c.length_um <= 0 for c in spool.cuts) or spool.end_trim_um < 0:
        return [f"{name}: a length is not above zero"]
    faults = []
    rest = spool.length_um - spool.end_trim_um
    for i, cut in enumerate(spool.cuts):
        rest -= cut.length_um
        if rest < 0:
            return [f"{name}: its cuts are longer than it"]
        rest = max(0, rest - kerf_um)
        if cut.remaining_um != rest:
            faults.append(f'{name}: {cut.remaining_um} um said to remain after "{cut.piece}", not {rest} um')
        later = spool.cuts[i + 1 :]
        if cut.piece not in cuts.done and any(c.length_um > cut.length_um or c.piece in cuts.done for c in later):
            faults.append(f"{name}: its cuts are not in order, longest first")
            break
    if spool.remains_um != rest:
        faults.append(f"{name}: {spool.remains_um} um said to remain, not {rest} um")
    return faults


def _source(spool: SpoolUse, cuts: CutList, lengths: dict[str, int]) -> list[str]:
    name = f'{spool.kind} "{spool.label}"'
    if spool.kind == "remnant" and spool.label in cuts.miscut:
        cut = next(
            (s for s in cuts.cut_plan.spools for c in s.cuts if c.piece == spool.label and c.length_um > 0), None
        )
        if cut is None or (cut.conductor, cut.colour) != (spool.conductor, spool.colour):
            return [f"{name} was never cut"]
        if lengths[spool.label] != spool.length_um:
            return [f"{name} is {lengths[spool.label]} um long, not {spool.length_um} um"]
        return []
    line = _line(spool, cuts)
    if line is None:
        return [f"{name} of {spool.conductor} {spool.colour} is not in the stock"]
    if isinstance(line, ByLength):
        longest = line.longest_um
        if longest is not None and spool.length_um > longest:
            return [f"{name} is longer than it is sold"]
    elif spool.length_um > line.length_um:
        return [f"{name} is {line.length_um} um long, not {spool.length_um} um"]
    return []


def _supply(cuts: CutList) -> list[str]:
    faults = []
    used = Counter((s.conductor, s.colour, s.kind, s.label) for s in cuts.cut_plan.spools)
    seen = set()
    for spool in cuts.cut_plan.spools:
        key = (spool.conductor, spool.colour, spool.kind, spool.label)
        line = _line(spool, cuts)
        if key in seen or line is None:
            continue
        seen.add(key)
        there = 1 if isinstance(line, Remnant) else line.available if isinstance(line, Spool) else None
        if there is not None and used[key] > there:
            faults.append(f'{spool.kind} "{spool.label}" is used {used[key]} times, and there are {there}')
    return faults


def _line(spool: SpoolUse, cuts: CutList) -> Remnant | Spool | ByLength | None:
    cable = cuts.stock.cable(spool.conductor, spool.colour)
    if cable is None:
        return None
    lines: dict[str, tuple[Remnant | Spool | ByLength, ...]] = {
        "remnant": cable.remnants,
        "spool": cable.spools,
        "by length": cable.by_length,
    }
    return next((line for line in lines.get(spool.kind, ()) if line.label == spool.label), None)


def faults_in_recut(before: CutList, after: CutList, made: Sequence[str], miscuts: Mapping[str, int]) -> list[str]:
    """What a plan for the rest does to cuts that are made: nothing, or it is a fault. `miscuts`: name -> um.

    Each cut made stays on its spool, in its length, before all cuts to come; every miscut is told on some spool.
    """
    faults = []
    now = {(s.conductor, s.colour, s.kind, s.label, s.copy): s for s in after.cut_plan.spools}
    found: list[str] = []
    for old in before.cut_plan.spools:
        kept = [(c.piece, c.length_um) for c in old.cuts if c.piece in made]
        spool = now.get((old.conductor, old.colour, old.kind, old.label, old.copy))
        if kept and (spool is None or [(c.piece, c.length_um) for c in spool.cuts[: len(kept)]] != kept):
            faults.append(f'{old.kind} "{old.label}": cuts that are made are not left as they are')
    for spool in after.cut_plan.spools:
        found += [c.piece for c in spool.cuts if miscuts.get(c.piece) == c.length_um]
    faults += [f'"{name}" is lost from the plan' for name in miscuts if name not in found]
    faults += [f'"{name}" is done and is not told so' for name in (*made, *miscuts) if name not in after.done]
    return faults
