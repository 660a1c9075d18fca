"""What if: the questions every plan answers unasked, and those that somebody asks of a job."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cutlist.bank.cables import Fuse
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.electrics.bank_solution import BankSolution
from cutlist.electrics.charge_state import CURVES
from cutlist.electrics.protection import protect
from cutlist.electrics.rejoin import rejoin
from cutlist.electrics.what_if import bad_joint, further_string, isolate, isolated
from cutlist.electrics.wiring import CableSpec
from cutlist.layout.cable_ends import cable_tasks
from cutlist.plan_types import Infeasible, WhatIf
from cutlist.planning.grouping import regrouped
from cutlist.planning.places import best_build
from cutlist.progress import Progress

MOST_STRINGS = 8  # of a larger bank only the strings that carry most and least are asked about
USUAL_SOC = 0.8  # the others' state of charge where nobody says
LOWER_SOC = 0.2  # how far below them a string is put back
BAD_CRIMP_OHM = 0.001


@dataclass(frozen=True)
class Questions:
    """What is asked of a job. Nothing at all: the questions every plan answers."""

    out: tuple[str, ...] = ()  # strings, one at a time
    rejoin: tuple[tuple[str, float], ...] = ()  # string, its state of charge
    others_soc: float = USUAL_SOC
    crimps: tuple[tuple[str, float], ...] = ()  # cable, ohms too many
    further: tuple[tuple[float, float], ...] = ()  # runs of one string more, metres: positive, negative

    @property
    def any(self) -> bool:
        return bool(self.out or self.rejoin or self.crimps or self.further)


class CannotAnswer(ValueError):
    """A question about something the job does not have."""


def ask(job: Job, stock: Stock, questions: Questions, progress: Progress) -> WhatIf | Infeasible:
    """The job planned as far as its cables, then asked. Raises CannotAnswer naming what is not there."""
    progress("placing bus bars")
    job, _ = regrouped(job, stock)
    built = best_build(job, stock, cable_tasks(job), progress).built
    if isinstance(built, Infeasible):
        return built
    job = built.job
    progress("answering")
    fuses = protect(job, stock, built.specs).string_fuses
    return answers(job, built.specs, fuses, questions) if questions.any else usual_answers(job, built.specs, fuses, ())


def answers(job: Job, cables: Sequence[CableSpec], fuses: Mapping[str, Fuse], questions: Questions) -> WhatIf:
    """Raises CannotAnswer."""
    try:
        return WhatIf(
            isolated=tuple(isolate(job, cables, name, fuses=fuses) for name in questions.out),
            rejoined=tuple(
                rejoin(job, cables, name, soc=soc, others_soc=questions.others_soc, fuses=fuses)
                for name, soc in questions.rejoin
            ),
            joints=tuple(bad_joint(job, cables, name, ohm, fuses=fuses) for name, ohm in questions.crimps),
            further=tuple(
                further_string(job, cables, positive_run_m=plus_m, negative_run_m=minus_m, fuses=fuses)
                for plus_m, minus_m in questions.further
            ),
        )
    except ValueError as fault:
        raise CannotAnswer(str(fault)) from None


def usual_answers(
    job: Job, cables: Sequence[CableSpec], fuses: Mapping[str, Fuse], solutions: Sequence[BankSolution]
) -> WhatIf:
    """Each string out, and put back lower than the others; a bad crimp in its positive lead; one string more, whose
    leads reach with the length that is there. `solutions`: states that are solved already. Of one string only the crimp
    and the string more; nothing for a bank without loads."""
    if all(load.charger for load in job.loads):
        return WhatIf()
    alone = len(job.strings) < 2
    names = _asked_about(job, solutions)
    charged = all(b.type.chemistry in CURVES for b in job.batteries)
    lead_of = {c.string: c.name for c in cables if c.kind == "lead" and c.pole == "positive"}
    lead_m = {
        pole: sum(c.length_m for c in cables if (c.kind, c.string, c.pole) == ("lead", job.strings[-1].name, pole))
        for pole in ("positive", "negative")
    }
    return WhatIf(
        isolated=tuple(_isolated(job, cables, name, fuses, solutions) for name in (() if alone else names)),
        rejoined=tuple(
            rejoin(job, cables, name, soc=USUAL_SOC - LOWER_SOC, others_soc=USUAL_SOC, fuses=fuses)
            for name in (names if charged and not alone else ())
        ),
        joints=tuple(bad_joint(job, cables, lead_of[name], BAD_CRIMP_OHM, fuses=fuses) for name in names),
        further=(
            further_string(
                job, cables, positive_run_m=lead_m["positive"], negative_run_m=lead_m["negative"], fuses=fuses
            ),
        ),
    )


def _asked_about(job: Job, solutions: Sequence[BankSolution]) -> tuple[str, ...]:
    names = tuple(s.name for s in job.strings)
    if len(names) <= MOST_STRINGS:
        return names
    if not solutions:
        return names[:1]
    amps = solutions[0].string_currents_a
    return tuple(dict.fromkeys((max(names, key=lambda n: amps[n]), min(names, key=lambda n: amps[n]))))


def _isolated(
    job: Job, cables: Sequence[CableSpec], name: str, fuses: Mapping[str, Fuse], solutions: Sequence[BankSolution]
):
    whole = [s for s in solutions if not s.out]
    without = [s for s in solutions if s.out == (name,)]
    if len(whole) != len(without) or not whole:
        return isolate(job, cables, name, fuses=fuses)
    return isolated(job, cables, name, whole, without, fuses)
