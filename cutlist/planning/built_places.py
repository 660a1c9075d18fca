"""What was built at the places of the joint search costs and leaves over, and what the search's bound says of it."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import numpy as np

from cutlist.layout.least_scrap import Scrap, scrap_of, scrap_told
from cutlist.layout.place_costs import PlaceCosts
from cutlist.layout.place_prices import measure_of
from cutlist.layout.place_problem import ConductorChoice
from cutlist.place_types import PlaceProof
from cutlist.planning.build import Built
from cutlist.planning.place_pieces import lugs_price
from cutlist.planning.place_question import PlaceQuestion
from cutlist.planning.searched_places import Searched, scrap_step_m
from cutlist.stock.price_table import IMPOSSIBLE, SPLIT, Whole


def cost_built(searched: Searched, built: Built) -> Decimal | None:
    """Cable and lugs of both poles as they are laid, priced as the search prices places.

    None where a price is missing, least waste is sought, or the conductors are others than those priced.
    """
    units = units_built(searched.question, built)
    return None if units is None else searched.costs.measure.money(units * SPLIT)


def proof_of(searched: Searched, built: Built, faults: tuple[str, ...]) -> PlaceProof:
    """The bound of the search beside the cost of what was built, both priced alike. `faults`: what the checker that
    replays the search's proof found wrong with it."""
    question, found = searched.question, searched.found
    certificate = found.certificate
    if certificate is None:
        return PlaceProof(True, f"searched together; no bound on cost: {found.why_not}")
    measure = searched.costs.measure
    units = units_built(question, built)
    money = measure.first == "money"
    cost = None if units is None else measure.money(units * SPLIT)
    least = measure.money(certificate.bound * SPLIT)
    if question.unproved:
        words = f"searched together; no bound: {question.unproved}"
    elif units is None:
        words = "searched together; no bound: the conductors that the runs ask for are others than the search priced"
    elif faults:
        words = f"searched together; no bound: replayed by its checker, the proof does not hold: {faults[0]}"
    else:
        words = (
            f"places, studs, lengths, conductors and spools searched together; {certificate.examined} cells of the "
            f"faces, none smaller than {certificate.finest_m * 1000:.3g} mm, "
            f"{certificate.open_cells or 'none'} left open; proved for {certificate.speaks_of}, and replayed by a "
            "checker of its own"
        )
    bounded = not question.unproved and units is not None and not faults
    waste = searched.buys_least is not None
    if searched.buys_least is not None:
        least_bought_um = certificate.bound if bounded else None
        words = _scrap_words(searched, scrap_told(searched.costs, searched.buys_least), least_bought_um, words)
    return PlaceProof(
        searched=True,
        words=words,
        cost=cost,
        least_cost=least if bounded else None,
        bought_um=None if money or waste else units,
        least_bought_um=None if money or not bounded else certificate.bound,
        speaks_of=certificate.speaks_of,
        cells_examined=certificate.examined,
        cells_left=certificate.open_cells,
        finest_m=certificate.finest_m,
        checked=bounded,
        faults=faults,
    )


def _scrap_words(searched: Searched, buys_least: Scrap, least_bought_um: int | None, words: str) -> str:
    step_mm = 1000 * scrap_step_m(searched.question.problem)
    none = "" if least_bought_um is None else f"; none buy less than {least_bought_um / 1e6:.2f} m"
    return (
        f"searched for least waste over all pairs of places some {step_mm:g} mm apart; between them it is not proved. "
        f"The places that buy least buy {buys_least.bought_um / 1e6:.2f} m in the colours of both poles and leave "
        f"{buys_least.scrap_um / 1e6:.2f} m over by run lengths{none} ({words})"
    )


def units_built(question: PlaceQuestion, built: Built) -> int | None:
    """What the cuts of the plan cost in whole units of the search; None when its conductors were not priced."""
    priced = _priced_as_built(question, built)
    if priced is None:
        return None
    costs, rows = priced
    cost = int(costs.costs(rows[0], rows[1])[0, 0])
    return None if cost >= IMPOSSIBLE else cost // SPLIT


def scrap_built(question: PlaceQuestion, built: Built) -> Scrap | None:
    """What the cuts of the plan leave over; None when its conductors were not priced, or cost is not in metres."""
    priced = _priced_as_built(question, built)
    if priced is None or priced[0].measure.first != "metres":
        return None
    costs, rows = priced
    return scrap_of(costs, rows[0], rows[1])


def _priced_as_built(question: PlaceQuestion, built: Built) -> tuple[PlaceCosts, list[Whole]] | None:
    """Prices of the plan's own conductors, no drop limit asked for, and the classes (1, 1 + feeders) of both poles."""
    problem = question.problem
    names = {kind: conductor.name for kind, conductor in built.conductors.items()}
    lead = next((c for c in problem.lead_conductors if c.name == names["lead"]), None)
    feeder = next((c for c in problem.feeder_conductors if c.name == names.get("feeder")), None)
    if lead is None or (problem.feeders and feeder is None):
        return None
    lead, feeder = _as_lugged(built, lead, feeder)
    as_built = replace(problem, lead_conductors=(lead,), feeder_conductors=(feeder,) if feeder else (), circuits=())
    rows = []
    for pole, allowance_um in (
        ("positive", lead.positive_allowance_um - question.first_piece_um),
        ("negative", lead.negative_allowance_um),
    ):
        longest_um = max(built.laid.lengths[f"{s.name} {pole}"].cut_um for s in problem.strings if not s.later)
        feeders = [built.laid.lengths[f.name].cut_um + f.allowance_um for f in problem.feeders_of(pole)]
        rows.append(np.array([[longest_um + allowance_um, *feeders]], dtype=np.int64))
    costs = PlaceCosts(as_built)
    costs.measure = measure_of(problem)  # to be held against the search's bound
    return costs, rows


def _as_lugged(
    built: Built, lead: ConductorChoice, feeder: ConductorChoice | None
) -> tuple[ConductorChoice, ConductorChoice | None]:
    """With the price of the lugs for the studs that are used, where unlike ones left the search a choice of lugs."""
    if not any(bar.unlike for bar in built.job.bus_bars):
        return lead, feeder
    leads, feeders = ([c for c in built.cables if c.kind == kind] for kind in ("lead", "feeder"))
    of_leads = lugs_price(built.stock, leads, built.conductors["lead"])
    of_feeders = lugs_price(built.stock, feeders, built.conductors["feeder"]) if feeder else Decimal(0)
    of_both = lugs_price(built.stock, [*leads, *feeders], built.conductors["lead"])
    lead = replace(lead, other_price=of_leads, shared_price=of_both - of_leads - of_feeders)
    return lead, replace(feeder, other_price=of_feeders) if feeder else None
