"""From cables to pieces on a spool, and to what else has to be bought for them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from cutlist.bank.cables import Fuse, Sundry
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.layout.matching import rounded_up_um
from cutlist.plan_types import Cut, PlannedCable
from cutlist.stock.cut_plan import Piece
from cutlist.stock.order import CableEnd, FuseUse, SundryUse
from geometry.company import BundleClamp

TAG_LENGTH = 12  # characters that fit a cable tag and can be read on it


def tag(number: int, name: str) -> str:
    """Short, unique text for both ends of a cable: its number, then as much of its name as fits.

    >>> tag(7, "S1 positive"), tag(23, "Inverter negative"), tag(16, "thruster fuse feeder")
    ('07 S1+', '23 Inverter-', '16 thruster')
    """
    short = name
    for word, sign in ((" positive", "+"), (" negative", "-"), (" jumper ", " j")):
        short = short.replace(word, sign)
    head = f"{number:02d} "
    room = TAG_LENGTH - len(head)
    if len(short) > room:
        sign = short[-1] if short[-1] in "+-" else ""
        short = short[: room - len(sign)].rstrip() + sign
    return head + short


def cuts_of(job: Job, number: int, name: str, pole: str, kind: str, cut_um: int) -> tuple[Cut, ...]:
    """One piece, or two when the string's fuse sits in the lead. The two add up to the cut length."""
    inline = kind == "lead" and pole == "positive" and job.policy.string_fuse == "in line"
    first_um = rounded_up_um(job.policy.string_fuse_distance_m, job.policy.round_up_um)
    if not inline or not 0 < first_um < cut_um:
        return (Cut(tag(number, name), cut_um),)
    text = tag(number, name)
    return (Cut(f"{text[:11]}a", first_um), Cut(f"{text[:11]}b", cut_um - first_um))


def pieces_of(cables: Sequence[PlannedCable]) -> tuple[Piece, ...]:
    return tuple(Piece(cut.name, c.conductor.name, c.colour, cut.length_um) for c in cables for cut in c.cuts)


def cable_ends(cables: Sequence[PlannedCable], fuses: Mapping[str, Fuse]) -> tuple[CableEnd, ...]:
    """Every end that takes a lug. A lead cut in two for its fuse has two more, on the fuse's studs."""
    ends: list[CableEnd] = []
    for c in cables:
        ends.append(CableEnd(f"{c.name}, {c.start.at}", c.cuts[0].name, c.start.stud))
        if len(c.cuts) > 1 and c.string in fuses:
            stud = fuses[c.string].stud
            ends += [CableEnd(f"{c.name}, fuse holder, piece {cut.name}", cut.name, stud) for cut in c.cuts]
        ends.append(CableEnd(f"{c.name}, {c.finish.at}", c.cuts[-1].name, c.finish.stud))
    return tuple(ends)


def fuse_uses(fuses: Mapping[str, Fuse]) -> tuple[FuseUse, ...]:
    return tuple(FuseUse(f"{string} positive", f.family, f.rating_a) for string, f in sorted(fuses.items()))


def sundry_uses(
    job: Job, stock: Stock, cables: Sequence[PlannedCable], clamps: Sequence[BundleClamp]
) -> tuple[SundryUse, ...]:
    """Clamps by what is in them, boots by diameter, grommets for holes passed, labels: what the stock file lists."""
    uses: list[SundryUse] = []
    used: Counter[tuple[tuple[str, ...], str]] = Counter()
    for clamp in clamps:
        kind = fitting(stock, "clamp", clamp.diameter_m)
        if kind is not None:
            used[tuple(sorted(hold.cable for hold in clamp.holds)), kind.name] += 1
    uses += [SundryUse(f"clamps of {' with '.join(names)}", kind, count) for (names, kind), count in used.items()]
    for c in cables:
        boot = fitting(stock, "boot", c.conductor.outside_diameter_m)
        if boot is not None:
            uses.append(SundryUse(f"boots of {c.name}", boot.name, 2))
    holder = fitting(stock, "fuse holder", None)
    if holder is not None:
        # two cables side by side share the string's one fuse
        fused = dict.fromkeys(c.string for c in cables if len(c.cuts) > 1)
        uses += [SundryUse(f"holds the fuse of {string} positive", holder.name, 1) for string in fused]
    label = fitting(stock, "label", None)
    if label is not None:
        uses.append(SundryUse("two for each piece", label.name, 2 * sum(len(c.cuts) for c in cables)))
    holes = {p.name: p.diameter_m for p in job.site.space.penetrations}
    for hole in sorted({name for c in cables for name in c.laid.penetrations}):
        grommet = fitting(stock, "grommet", holes[hole])
        if grommet is not None:
            uses.append(SundryUse(f"lines {hole}", grommet.name, 1))
    return tuple(uses)


def fitting(stock: Stock, kind: str, diameter_m: float | None) -> Sundry | None:
    """The first sundry of this kind that fits; None: the stock file lists none."""
    for sundry in stock.sundries:
        if sundry.kind == kind and (diameter_m is None or sundry.fits_from_m <= diameter_m <= sundry.fits_to_m):
            return sundry
    return None
