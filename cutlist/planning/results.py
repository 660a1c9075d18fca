"""What the network solution means for the people who read the plan: shares, drops, what is left out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from cutlist.bank.bus_bars import Load
from cutlist.bank.cables import Fuse
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.electrics.bank_solution import BankSolution
from cutlist.electrics.drop import handbook_drop_v
from cutlist.electrics.record import electrical_record
from cutlist.findings import Finding, how_many
from cutlist.place_types import LeastDrop, PlaceProof
from cutlist.plan_types import DropStage, LoadResult, RecordEntry, StringShare
from cutlist.planning.build import Built
from cutlist.stock.cut_plan import CutPlan, Piece
from cutlist.stock.order import Order
from cutlist.stock.proof import check_proof


def string_shares(job: Job, solution: BankSolution, fuses: Mapping[str, Fuse]) -> tuple[StringShare, ...]:
    total_a = sum(solution.string_currents_a.values())
    even_a = total_a / len(job.strings)
    return tuple(
        StringShare(
            string=s.name,
            current_a=solution.string_currents_a[s.name],
            share=solution.string_currents_a[s.name] / total_a if total_a else 0.0,
            departure=solution.string_currents_a[s.name] / even_a - 1 if even_a else 0.0,
            fuse=fuses.get(s.name),
        )
        for s in job.strings
    )


def load_results(job: Job, built: Built, solution: BankSolution) -> tuple[LoadResult, ...]:
    """For each load that draws, the string that loses most on the way to it."""
    results = []
    for load in job.loads:
        worst = max((d for d in solution.drops if d.load == load.name), key=lambda d: d.total_v, default=None)
        if worst is None:
            continue
        results.append(
            LoadResult(
                load=load.name,
                current_a=abs(solution.load_currents_a[load.name]),
                voltage_v=solution.load_voltages_v[load.name],
                drop_v=worst.total_v,
                drop=worst.share,
                stages=tuple(DropStage(stage, volts) for stage, volts in worst.stages),
                handbook_drop_v=_handbook_v(job, built, solution, load, worst.string),
            )
        )
    return tuple(results)


def _handbook_v(job: Job, built: Built, solution: BankSolution, load: Load, string: str) -> float:
    """The handbook formula over every cable on the way: the string's own, then the feeders to this load."""
    path = feeders_to(job, load)
    return sum(
        handbook_drop_v(solution.cables[spec.name].current_a, spec.length_m, spec.paralleled * spec.conductor.area_mm2)
        for spec in built.specs
        if spec.string == string or spec.name in path
    )


def feeders_to(job: Job, load: Load) -> set[str]:
    """Names of the feeders between the bus bars and both terminals of a load, through whatever devices."""
    ways: dict[tuple[str, str], list[tuple[tuple[str, str], str]]] = {}
    for one, other, name in (
        *((f.start, f.finish, f.name) for f in job.feeders),
        *((("device source side", d.name), ("device load side", d.name), "") for d in job.devices),
    ):
        ways.setdefault(one, []).append((other, name))
        ways.setdefault(other, []).append((one, name))
    names: set[str] = set()
    for pole, bar in (("load positive", job.positive_bar), ("load negative", job.negative_bar)):
        paths: dict[tuple[str, str], frozenset[str]] = {(pole, load.name): frozenset()}
        reached = [(pole, load.name)]
        for here in reached:  # grows while it is walked: nearest first
            for there, name in ways.get(here, []):
                if there not in paths:
                    paths[there] = paths[here] | {name}
                    reached.append(there)
        names |= paths.get(("bus bar", bar.name), frozenset())
    return names - {""}


def calculation_record(job: Job, solution: BankSolution) -> tuple[RecordEntry, ...]:
    """Every electrical figure with formula, inputs and source; of the lasting state the plan is printed for."""
    return tuple(
        RecordEntry(f.item, f.quantity, f.value, f.unit, f.formula, f.inputs, f.source)
        for f in electrical_record(job, solution)
    )


def money_findings(cut_plan: CutPlan, pieces: Sequence[Piece], stock: Stock, order: Order) -> tuple[Finding, ...]:
    findings = []
    proofs = check_proof(cut_plan, pieces, stock)
    refused = [fault for proof in proofs for fault in proof.faults]
    word = [proof.name for proof in proofs if proof.word]
    ways = "; ".join(dict.fromkeys(group.how_proved for group in cut_plan.groups))
    source = f"the cutting solver: {ways}"
    if refused:
        text = f"best found; the proof that it is best does not hold: {'; '.join(refused)}"
        findings.append(Finding("cutting is best", "all spools", "note", text, source=source))
    elif cut_plan.proved:
        text = "no other way of cutting these pieces from this stock costs less"
        checked = "proof checked independently"
        if word:
            checked = f"on the word of a search: {', '.join(word)}; proof of all others checked independently"
            checked = "on the word of a search" if len(word) == len(proofs) else checked
        findings.append(Finding("cutting is best", "all spools", "pass", text, source=f"{checked}; {source}"))
    else:
        text = f"best found; no plan costs less than {cut_plan.least_cost}, this one {cut_plan.cost}"
        findings.append(Finding("cutting is best", "all spools", "note", text, source=source))
    if order.missing:
        names = ", ".join(order.missing)
        text = f"no price in the stock file for: {names}; the total leaves them out"
        findings.append(Finding("prices known", "order", "note", text, source="stock file", mend="add the prices"))
    return tuple(findings)


def place_findings(proof: PlaceProof, least_drop: LeastDrop | None, over_m: float) -> tuple[Finding, ...]:
    """How good the places of the bus bars are: nothing to say where there was no choice. `over_m`: by how much limits
    on runs are missed at every place."""
    source = "the joint search for places"
    if over_m:
        words = (
            f"the limits on runs hold at no place: where the bus bars are drawn they are missed by some "
            f"{1000 * over_m:.0f} mm, and nowhere by less (searched with run-length bounds)"
        )
        mend = "allow longer runs, or bring mounting faces, batteries and loads nearer to each other"
        return (Finding("places hold the reach", "bus bars", "fail", words, over_m, 0.0, "m", source, mend),)
    if least_drop is not None:
        pair = f"leads of {least_drop.lead}" + (f", feeders of {least_drop.feeder}" if least_drop.feeder else "")
        words = (
            f"the drop {least_drop.circuit} holds its limit at no place: the least found is "
            f"{100 * least_drop.drop:.2f} %, where the bus bars are drawn, with {pair} "
            "(searched with run-length bounds)"
        )
        return (
            Finding(
                "places hold the drop",
                "bus bars",
                "fail",
                words,
                least_drop.drop,
                least_drop.limit,
                "share",
                source,
                "allow larger conductors, bring the bus bars or the load nearer, or allow more drop",
            ),
        )
    if proof.faults:
        mend = "the places are good, how good is not known: compare them with `evenlead places`, and report this job"
        return (Finding("places are proved", "bus bars", "unknown", "; ".join(proof.faults), source=source, mend=mend),)
    if proof.gap is None:
        return (Finding("places are best", "bus bars", "note", proof.words, source=source),)
    words = f"no other place can save more than {proof.gap:.1%}; {proof.words}"
    return (Finding("places are best", "bus bars", "note", words, source=source),)


def overlaps(findings: Iterable[Finding]) -> tuple[str, ...]:
    """What the papers say of cables that the plan could not lay apart: drawn runs are not yet what can be built."""
    pairs = [f.item for f in findings if f.rule == "cables lie beside each other" and f.status == "note"]
    if not pairs:
        return ()
    which = f"deepest {pairs[0]}; all are among the findings" if len(pairs) > 1 else pairs[0]
    return (
        f"Cables that meet: {how_many(len(pairs), 'pair')} of cables {'lies' if len(pairs) == 1 else 'lie'} in each "
        f"other as drawn ({which}). Settle with a dummy where each goes before cutting: dressed otherwise, lengths "
        "differ.",
    )


def left_out(job: Job) -> tuple[str, ...]:
    """What this plan does not look at, so that nobody takes it for checked."""
    words = []
    if job.limits.support_m is None:
        words.append("Supports: the job asks for no clamp spacing, so no clamp places were worked out.")
    if job.policy.string_fuse == "in line":
        words.append(
            "In-line fuses: the two pieces of a lead add up to its cut length; the length of the fuse and of the two "
            "lugs on it comes on top, alike for every string."
        )
    words.append(
        "Jumpers and feeders: the few millimetres of rounding, and spare asked for at their ends, are taken up in "
        "their bends; no place for it is drawn."
    )
    if any(b.type.resistance_spread == 0 for b in job.batteries):
        words.append("Battery scatter: every battery of a type is taken as equal in resistance and charge.")
    words.append("The batteries' own limits of current and temperature: see the battery maker's sheet.")
    return tuple(words)
