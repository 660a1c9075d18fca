"""The main job, from a job and a stock to a plan people can cut from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from cutlist.bank.cables import Fuse
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.electrics.bank_solution import bank_findings, solve_states
from cutlist.electrics.bank_state import BankSolution
from cutlist.electrics.power_loads import power_findings
from cutlist.electrics.protection import protect
from cutlist.layout.cable_ends import cable_tasks
from cutlist.plan_types import Compared, Infeasible, Plan, WhatIf
from cutlist.planning.build import Built, air_too_hot
from cutlist.planning.cables import placed_bars, planned_cables
from cutlist.planning.clamps import clamp_findings, shared_clamps
from cutlist.planning.comparisons import comparisons
from cutlist.planning.cut_pieces import cable_ends, fuse_uses, pieces_of, sundry_uses
from cutlist.planning.equality import equality_findings, equality_of
from cutlist.planning.grouping import regrouped
from cutlist.planning.inline_fuses import inline_fuse_findings
from cutlist.planning.later import later_leads
from cutlist.planning.layout_findings import layout_findings
from cutlist.planning.other_studs import other_stud_findings
from cutlist.planning.place_rules import place_rule_findings
from cutlist.planning.places import best_build
from cutlist.planning.poles_together import pole_findings
from cutlist.planning.questions import usual_answers
from cutlist.planning.results import (
    calculation_record,
    left_out,
    load_results,
    money_findings,
    overlaps,
    place_findings,
    string_shares,
)
from cutlist.progress import Progress, silent
from cutlist.stock.alternates import alternates
from cutlist.stock.check import faults_in
from cutlist.stock.order import order_list
from cutlist.stock.spool_cuts import cut
from geometry.cores import beside

ALTERNATE_TIME_LIMIT_S = 2.0  # for each other way of buying: a price to compare by, proved or not


def make_plan(
    job: Job, stock: Stock, *, progress: Progress = silent, cut_time_limit_s: float = 10.0
) -> Plan | Infeasible:
    """Routes, equal lengths, conductors, places, cuts, order, and every limit as a finding.

    Raises CannotCut if a piece is longer than anything that can be had of its conductor and colour.
    """
    if job.policy.like_batteries_swap:
        progress("grouping like batteries")
    job, grouping = regrouped(job, stock)
    tasks = cable_tasks(job)
    too_hot = air_too_hot(job, stock, tasks)
    if too_hot is not None:
        return too_hot
    progress("placing bus bars")
    best = best_build(job, stock, tasks, progress)
    built = best.built
    if isinstance(built, Infeasible):
        return built

    job = built.job
    progress("solving the network")
    protection = protect(job, stock, built.specs)
    solutions = solve_states(job, built.specs, fuses=protection.string_fuses)
    answers = beside(lambda: _answers(job, stock, built, protection.string_fuses, solutions))
    cables = planned_cables(job, stock, built)
    bars = placed_bars(job, built, cables)
    clamps = shared_clamps(job, stock, built.laid.requests, cables)

    equality = equality_of(job, solutions[0])

    progress("cutting")
    pieces = pieces_of(cables)
    cut_plan = cut(pieces, stock, time_limit_s=cut_time_limit_s, progress=progress)
    wrong = faults_in(cut_plan, pieces, stock)
    if wrong:  # the solver and its checker disagree: never print such a plan
        raise AssertionError("; ".join(wrong))
    order = order_list(
        cut_plan,
        stock,
        ends=cable_ends(cables, protection.string_fuses),
        fuses=fuse_uses(protection.string_fuses),
        sundries=sundry_uses(job, stock, cables, clamps),
    )

    progress("comparing")
    findings = (
        *bank_findings(job, built.specs, solutions, protection.string_fuses),
        *protection.findings,
        *power_findings(job),
        *equality_findings(equality),
        *built.sizing.findings,
        *layout_findings(job, stock, built.space, built.laid, cables, bars),
        *other_stud_findings(job, built.space, built.places, built.laid.requests, built.laid.laid),
        *place_rule_findings(job, bars, cables),
        *clamp_findings(job, stock, built.laid.requests, cables, clamps),
        *pole_findings(job, cables),
        *inline_fuse_findings(job, stock, cables, protection.string_fuses),
        *money_findings(cut_plan, pieces, stock, order),
        *place_findings(best.proof, best.least_drop, best.over_m),
    )
    compared, what_if = answers()
    return Plan(
        job=job,
        stock=stock,
        bars=bars,
        cables=cables,
        target_um=_target_um(built),
        shares=string_shares(job, solutions[0], protection.string_fuses),
        loads=load_results(job, built, solutions[0]),
        cut_plan=cut_plan,
        order=order,
        findings=findings,
        tried=best.tried,
        record=calculation_record(job, solutions[0]),
        left_out=(*overlaps(findings), *left_out(job)),
        alternates=alternates(pieces, stock, cut_plan, time_limit_s=ALTERNATE_TIME_LIMIT_S),
        compared=compared,
        equality=equality,
        what_if=what_if,
        place_proof=best.proof,
        clamps=clamps,
        later_leads=later_leads(job, stock, built, cables, protection.string_fuses),
        regrouped=grouping,
        place_saving=best.saving,
        face_costs=best.face_costs,
        landscape=best.landscape,
        least_drop=best.least_drop,
    )


def _answers(
    job: Job, stock: Stock, built: Built, fuses: Mapping[str, Fuse], solutions: Sequence[BankSolution]
) -> tuple[tuple[Compared, ...], WhatIf]:
    """What needs nothing but the network, and can be worked out beside the cutting and the checks."""
    return comparisons(job, stock, built, fuses), usual_answers(job, built.specs, fuses, solutions)


def _target_um(built: Built) -> int:
    lengths: Mapping[str, int] = {c.name: built.laid.lengths[c.name].cut_um for c in built.cables if c.kind == "lead"}
    return max(lengths.values(), default=0)
