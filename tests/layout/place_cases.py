"""Jobs in the plain form of the reference cases (millimetres, straight runs), turned into a `PlaceProblem`."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from cutlist.bank.site import MountingFace
from cutlist.bank.stock import ByLength, CableStock, CuttingRules, Remnant, Spool, Stock
from cutlist.layout.place_problem import BarRow, Circuit, ConductorChoice, FeederEnd, PlaceProblem, StringEnds

MM = 1000


def metres(point: list[float]) -> tuple[float, float, float]:
    x, y, z = point
    return (x / 1000, y / 1000, z / 1000)


def problem_of(case: dict[str, Any]) -> PlaceProblem:
    bars = case["bus_bars"]
    names = tuple(face["name"] for face in case["faces"])
    rows = tuple(
        BarRow(
            pole,
            bars["studs"],
            bars["pitch_mm"] / 1000,
            bars["lugs_per_stud"],
            tuple(bars["orientations_deg"]),
            names,
        )
        for pole in ("positive", "negative")
    )
    feeders: tuple[FeederEnd, ...] = ()
    if case["feeders"]:
        feeders = tuple(
            FeederEnd(f"feeder {sign}", pole, metres(case["feeders"][sign]), case["current_a"])
            for sign, pole in (("plus", "positive"), ("minus", "negative"))
        )
    allowance = round(case["lengths"]["lug_allowance_mm"] * MM)
    choices = tuple(
        ConductorChoice(c["name"], c["ohm_per_km"] / 1000, allowance, allowance) for c in case["conductors"]
    )
    return PlaceProblem(
        strings=tuple(StringEnds(s["name"], metres(s["plus"]), metres(s["minus"])) for s in case["strings"]),
        feeders=feeders,
        circuits=(Circuit("load", tuple(f.name for f in feeders), case["drop_limit_v"]),),
        faces=tuple(
            MountingFace(
                f["name"],
                metres(f["origin"]),
                tuple(f["u"]),
                tuple(f["v"]),
                f["width"] / 1000,
                f["height"] / 1000,
                bars["edge_mm"] / 1000,
                tuple(tuple(x / 1000 for x in r) for r in f.get("forbidden", ())),
                tuple((a / 1000, b / 1000) for a, b in f.get("outline", ())),
                tuple(tuple((a / 1000, b / 1000) for a, b in ring) for ring in f.get("forbidden_outlines", ())),
            )
            for f in case["faces"]
        ),
        bars=(rows[0], rows[1]),
        stock=stock_of(case),
        lead_conductors=choices,
        feeder_conductors=choices,
        current_a=case["current_a"],
        separation_m=bars["separation_mm"] / 1000,
        round_up_um=round(case["lengths"]["round_up_mm"] * MM),
    )


def stock_of(case: dict[str, Any]) -> Stock:
    cables = []
    for conductor in case["conductors"]:
        offer = conductor.get("by_metre")
        by_length = ()
        if offer:
            longest = None if offer["max_mm"] is None else round(offer["max_mm"] * MM)
            by_length = (
                ByLength("metre", round(offer["increment_mm"] * MM), Decimal(str(offer["price"])), 0, longest),
            )
        spools = tuple(
            Spool(f"reel {i}", round(r["length_mm"] * MM), Decimal(str(r["price"])))
            for i, r in enumerate(conductor["reels"])
        )
        for colour in ("red", "black"):
            remnants = tuple(
                Remnant(f"remnant {i}", round(r["length_mm"] * MM))
                for i, r in enumerate(case["remnants"])
                if (r["conductor"], r["colour"]) == (conductor["name"], colour)
            )
            cables.append(CableStock(conductor["name"], colour, remnants, spools, by_length))
    return Stock("", (), tuple(cables), rules=CuttingRules(round(case["kerf_mm"] * MM)))
