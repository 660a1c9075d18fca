"""What each line of the sheets says, in words: one place, so that paper, tables and page say the same.

A row holds text that is ready to print, and now and then the figure behind it. Nothing is calculated; things are
looked up in the plan and put into words.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from cutlist.bank.bus_bars import BarPlace
from cutlist.bank.cables import Conductor, Lug
from cutlist.plan_types import Cut, PlacedBar, Plan, PlannedCable
from cutlist.sheets.grouping_text import swapped_ends
from cutlist.sheets.lengths import from_m, length_text, metres_text, other_unit
from cutlist.sheets.path_words import path_words, surplus_words
from cutlist.stock.cut_plan import Cut as SpoolCut
from cutlist.stock.cut_plan import CutPlan, SpoolUse
from cutlist.stock.order import heat_shrink_for
from cutlist.stock.stock_after import rest_labels, spool_key

POLE_SIGNS = {"positive": "+", "negative": "−", "link": "∘"}
NOT_KNOWN = "?"
SAME_PLACE_M = 0.0005  # coordinates that print alike are not told twice


@dataclass(frozen=True)
class EndRow:
    at: str  # "S1a positive", "in-line fuse holder"
    lug: str  # "50 mm2 x M8", "" at a fuse holder
    strip: str


@dataclass(frozen=True)
class CutRow:
    order: int  # in which it is cut
    tag: str  # text at both ends of the piece
    name: str  # the cable's
    number: int  # the cable's number
    string: str
    pole: str
    sign: str
    conductor: str
    colour: str
    length_um: int
    length: str  # in the job's own unit
    other_length: str  # in the other unit, never less than the length
    start: EndRow
    finish: EndRow
    angle: str
    heat_shrink: str
    fuse: str
    instead_of: str
    remaining_um: int  # of the spool, after this cut


@dataclass(frozen=True)
class SpoolRows:
    title: str  # "Spool 2 of 3: 25 m spool"
    what: str  # "50 mm2 red"
    kind: str
    length_um: int
    length: str
    cuts: tuple[CutRow, ...]
    remains_um: int
    remains: str
    kept: bool
    end_trim_um: int
    rest_label: str  # to write on the rest that is kept


@dataclass(frozen=True)
class LayingRow:
    number: int
    name: str
    kind: str
    sign: str
    start: str
    finish: str
    path: str
    length: str  # developed, stud to stud
    surplus: str
    bends: str
    clamps: tuple[str, ...]  # "at 300 mm on shelf: x 120, y 40, z 300"


def conductor_text(conductor: Conductor) -> str:
    """Size as the trade writes it, and square millimetres where it does not say them.

    >>> conductor_text(Conductor("a", "1/0 AWG", 53.5, 0.322, "ASTM B258", 0.0142, 0.06, 105.0))
    '1/0 AWG (53.5 mm2)'
    """
    size = conductor.size
    return size if "mm" in size else f"{size} ({conductor.area_mm2:.3g} mm2)"


def cut_rows(plan: Plan) -> tuple[SpoolRows, ...]:
    """Every spool with its cuts, in cutting order: as the cut plan has them, longest first."""
    cables = {cut.name: (cable, cut) for cable in plan.cables for cut in cable.cuts}
    labels = rest_labels(plan.cut_plan, plan.stock)
    found = []
    order = 0
    for number, spool in enumerate(plan.cut_plan.spools, start=1):
        cuts = []
        for spool_cut in spool.cuts:
            order += 1
            cable, cut = cables[spool_cut.piece]
            cuts.append(_cut_row(plan, order, cable, cut, spool, spool_cut))
        found.append(_spool_rows(plan, number, spool, tuple(cuts), labels.get(spool_key(spool), "")))
    return tuple(found)


def laying_rows(plan: Plan) -> tuple[LayingRow, ...]:
    """Every cable, in installing order."""
    units = plan.job.units
    swapped = swapped_ends(plan)
    found = []
    for cable in plan.cables:
        run = cable.laid
        found.append(
            LayingRow(
                cable.number,
                cable.name,
                cable.kind,
                POLE_SIGNS[cable.pole],
                cable.start.at + swapped.get(cable.start.at, ""),
                cable.finish.at + swapped.get(cable.finish.at, ""),
                path_words(run, plan.job.site.space.penetrations, units, cable.beside) + company_text(cable, units),
                metres_text(cable.target_m, units),
                surplus_words(run, cable.shortest, cable.surplus_m, units),
                bends_text(cable, units),
                clamp_texts(plan, cable),
            )
        )
    return tuple(found)


def company_text(cable: PlannedCable, units: str) -> str:
    """The cables it lies together with, stretches that overlap told as one; "" if it lies alone."""
    merged: list[tuple[float, float, set[str]]] = []
    for c in cable.company:  # in order of place
        if merged and c.from_m <= merged[-1][1]:
            from_m, to_m, names = merged[-1]
            merged[-1] = (from_m, max(to_m, c.to_m), names | {c.other})
        else:
            merged.append((c.from_m, c.to_m, {c.other}))
    words = [
        f"between {metres_text(from_m, units)} and {metres_text(to_m, units)} with {', '.join(sorted(names))}"
        for from_m, to_m, names in merged
    ]
    return f". In a bundle {'; '.join(words)}" if words else ""


def clamp_texts(plan: Plan, cable: PlannedCable) -> tuple[str, ...]:
    """Where the cable is clamped, in order, and with which others; its own clamps alone if the plan has no others."""
    units = plan.job.units
    if not plan.clamps:
        clamps = [(c.along_m, f"on {c.structure}: {point_text(c.point, units)}") for c in cable.laid.clamps]
    else:
        clamps = []
        for clamp in plan.clamps:
            names = [hold.cable for hold in clamp.holds]
            if cable.name not in names:
                continue
            hold = clamp.holds[names.index(cable.name)]
            where = f"on {clamp.structure}: {point_text(clamp.point, units)}"
            if hold is not clamp.holds[0]:
                where = f"in the clamp of {names[0]} at {metres_text(clamp.holds[0].along_m, units)}"
            others = [name for name in names[0 if hold is clamp.holds[0] else 1 :] if name != cable.name]
            clamps.append((hold.along_m, where + (f", with {', '.join(others)}" if others else "")))
    return tuple(f"at {metres_text(along_m, units)} {where}" for along_m, where in sorted(clamps))


def bends_text(cable: PlannedCable, units: str) -> str:
    bends = len(cable.laid.curve.bends)
    return f"{bends}, least radius {least_radius_text(cable, units)}" if bends else "none"


def least_radius_text(cable: PlannedCable, units: str) -> str:
    return metres_text(cable.laid.curve.least_bend_radius_m, units) if cable.laid.curve.bends else ""


def waste_text(cuts: CutPlan, units: str) -> str:
    """What ends up neither in a cable nor back in stock, its share of what is bought, and whether it came first."""
    share = f", {100 * cuts.waste_um / cuts.bought_um:.1f} % of what is bought" if cuts.bought_um else ""
    asked = "; planned for least waste, as asked" if least_waste_asked(cuts) else ""
    return length_text(cuts.waste_um, units) + share + asked


def least_waste_asked(cuts: CutPlan) -> bool:
    """Whether the job asked for it: metres are counted for want of prices, too."""
    return any("as asked" in note for group in cuts.groups for note in group.notes)


def all_in_text(plan: Plan) -> str:
    """What a drop was worked out for; nothing where there is only one string."""
    return ", all strings in" if len(plan.job.strings) > 1 else ""


def money_text(amount: Decimal | None) -> str:
    """Two decimals; "missing" where no price is known, which is not nothing.

    >>> money_text(Decimal("289")), money_text(None)
    ('289.00', 'missing')
    """
    return "missing" if amount is None else f"{amount:.2f}"


def signed_percent(share: float, digits: int) -> str:
    """A share as a signed figure in per cent; nothing is "+", never "-0.0".

    >>> signed_percent(0.031, 1), signed_percent(-0.0001, 1)
    ('+3.1', '+0.0')
    """
    return f"{round(100 * share, digits) + 0.0:+.{digits}f}"


def lug_text(lug: Lug | None) -> str:
    return "not in stock" if lug is None else f"{lug.conductor} x {lug.stud}"


def angle_text(angle_deg: float | None) -> str:
    """How the second lug stands to the first, looking along the cable from start to finish.

    >>> angle_text(90.0), angle_text(-45.0), angle_text(0.0), angle_text(180.0), angle_text(None)
    ('90° clockwise', '45° anticlockwise', '0°', '180°', '?')
    """
    if angle_deg is None:
        return NOT_KNOWN
    whole = round(angle_deg)
    if whole % 180 == 0:
        return f"{abs(whole)}°"
    return f"{abs(whole)}° {'clockwise' if whole > 0 else 'anticlockwise'}"


def point_text(point: tuple[float, float, float], units: str) -> str:
    """Coordinates from the site's corner: millimetres, or inches with eighths.

    >>> point_text((1.2, 0.04, 0.9), "mm")
    'x 1200, y 40, z 900'
    """
    if units == "in":
        return ", ".join(f"{axis} {length_text(from_m(v), 'in')}" for axis, v in zip("xyz", point, strict=True))
    return ", ".join(f"{axis} {round(v * 1000):d}" for axis, v in zip("xyz", point, strict=True))


def longest_text(plan: Plan) -> str:
    """Said beside the cut length where the leads are not all cut alike: that figure is only the longest."""
    return " the longest" if len({sum(c.length_um for c in lead.cuts) for lead in plan.leads}) > 1 else ""


def kinds_text(plan: Plan) -> str:
    """What is cut, in words: "leads, jumpers and feeders"."""
    kinds = [f"{kind}s" for kind in ("lead", "jumper", "feeder") if any(c.kind == kind for c in plan.cables)]
    return " and ".join([*([", ".join(kinds[:-1])] if kinds[:-1] else []), *kinds[-1:]])


def place_text(place: BarPlace, units: str) -> str:
    """Where a bus bar's centre is, and on which face."""
    return point_text(place.centre, units) + (f", on {place.face}" if place.face else "")


def bar_text(placed: PlacedBar, units: str) -> str:
    """The same of a bar that is placed, and which way it lies: what of its first stud's place is not its centre's.

    Of unlike studs with the thread of each, as they come from stud 1 on.
    """
    centre, stud = placed.place.centre, placed.bar.stud_points(placed.place)[0]
    apart = [axis for axis in range(3) if abs(stud[axis] - centre[axis]) >= SAME_PLACE_M]
    if not apart:
        return place_text(placed.place, units)
    coordinates = point_text(stud, units).split(", ")
    threads = f"; studs {', '.join(placed.bar.threads)}" if placed.bar.unlike else ""
    return f"{place_text(placed.place, units)}; stud 1 at {', '.join(coordinates[axis] for axis in apart)}{threads}"


def fuse_text(plan: Plan, cable: PlannedCable) -> str:
    """The string's fuse and where on its positive lead it sits; "" where the cable carries none."""
    place = plan.job.policy.string_fuse
    share = next((s for s in plan.shares if s.string == cable.string), None)
    if cable.kind != "lead" or cable.pole != "positive" or share is None or share.fuse is None or place == "none":
        return ""
    return f"{share.fuse.rating_a:g} A {share.fuse.family}, {place}"


def _cut_row(plan: Plan, order: int, cable: PlannedCable, cut: Cut, spool: SpoolUse, spool_cut: SpoolCut) -> CutRow:
    units = plan.job.units
    start, finish = _ends(plan, cable, cut)
    shrink = heat_shrink_for(plan.stock, plan.stock.conductor(spool.conductor).outside_diameter_m, spool.colour)
    return CutRow(
        order,
        cut.name,
        cable.name,
        cable.number,
        cable.string,
        cable.pole,
        POLE_SIGNS[cable.pole],
        conductor_text(plan.stock.conductor(spool.conductor)),
        spool.colour,
        cut.length_um,
        length_text(cut.length_um, units, up=True),
        length_text(cut.length_um, other_unit(units), up=True),
        start,
        finish,
        # a piece that ends at a fuse holder turns there
        angle_text(cable.lug_angle_deg) if len(cable.cuts) == 1 else "free",
        f"2 x {metres_text(shrink.per_end_m, units)}, {shrink.name}" if shrink else NOT_KNOWN,
        fuse_text(plan, cable),
        spool_cut.instead_of,
        spool_cut.remaining_um,
    )


def _ends(plan: Plan, cable: PlannedCable, cut: Cut) -> tuple[EndRow, EndRow]:
    units = plan.job.units
    swapped = swapped_ends(plan)
    start, finish = (
        EndRow(
            f"{end.at} ({end.stud}){swapped.get(end.at, '')}",
            lug_text(end.lug),
            NOT_KNOWN if end.strip_m is None else metres_text(end.strip_m, units),
        )
        for end in (cable.start, cable.finish)
    )
    if len(cable.cuts) == 1:
        return start, finish
    share = next((s for s in plan.shares if s.string == cable.string), None)
    stud = share.fuse.stud if share and share.fuse else NOT_KNOWN
    lug = plan.stock.lug(cable.conductor.name, stud)
    holder = EndRow(
        f"fuse holder ({stud})", lug_text(lug), NOT_KNOWN if lug is None else metres_text(lug.strip_m, units)
    )
    return (start, holder) if cut == cable.cuts[0] else (holder, finish)


def _spool_rows(plan: Plan, number: int, spool: SpoolUse, cuts: tuple[CutRow, ...], rest_label: str) -> SpoolRows:
    units = plan.job.units
    return SpoolRows(
        f"{spool.kind.capitalize()} {number} of {len(plan.cut_plan.spools)}: {spool.label}"
        + (f" no. {spool.copy}" if spool.copy > 1 else ""),
        f"{conductor_text(plan.stock.conductor(spool.conductor))} {spool.colour}",
        spool.kind,
        spool.length_um,
        length_text(spool.length_um, units, down=True),
        cuts,
        spool.remains_um,
        length_text(spool.remains_um, units, down=True),
        spool.kept,
        spool.end_trim_um,
        rest_label,
    )
