"""The keys of a stock file: what is on hand and what can be bought. The purchaser owns it; jobs share it."""

from __future__ import annotations

from cutlist.job.job_keys import STUD
from cutlist.job.kinds import (
    NAME,
    Choice,
    ListOf,
    Money,
    Quantity,
    Text,
    Whole,
    Written,
    YesNo,
)
from cutlist.job.records import Key, Keys
from cutlist.job.units import (
    CURRENT,
    LENGTH,
    MELTING,
    OHM_PER_LENGTH,
    RESISTANCE,
    TEMPERATURE,
    VOLTAGE,
    bend_radius,
    wire_size,
)

POSITIVE_LENGTH = Quantity(LENGTH, above_zero=True)
ANY_LENGTH = Quantity(LENGTH)
PRICE = Key("price", Money(), "each, bare amount; left out: not known")
PACK = Key("pack", Whole(1, 10_000), "sold in packs of; 1")
ON_HAND = Key("on hand", Whole(0, 100_000), "pieces on hand; 0")
SIZE_TEXT = Written(wire_size, "a conductor size such as 50 mm2 or 1/0 AWG", r"(mm2|mm²|mm\^2|sq\.? ?mm|[Aa][Ww][Gg])")

CONDUCTOR = Keys(
    "a conductor",
    (
        Key("name", NAME, "its size, if left out"),
        Key("size", SIZE_TEXT, "50 mm2, 1/0 AWG", needed=True),
        Key("strands", Choice(("class 2", "class 5", "AWG stranded")), "make of the strand, for its resistance"),
        Key("tinned", YesNo(), "no"),
        Key("outside diameter", POSITIVE_LENGTH, "over the insulation", needed=True),
        Key(
            "bend radius",
            Written(bend_radius, "a bend radius such as 90 mm or 6 x OD", r"\d"),
            "least, to the inside of the bend; 6 x OD",
        ),
        Key("insulation", Quantity(TEMPERATURE, least=40, most=300), "its temperature rating", needed=True),
        Key("resistance", Quantity(OHM_PER_LENGTH, above_zero=True), "highest at 20 °C; else from the tables"),
        Key("source", Text(200, "a source"), "where the resistance comes from"),
        Key(
            "kept value per metre", Money(), "what a kept remnant of it is worth, where the cutting rules' is not right"
        ),
    ),
)
REMNANT = Keys(
    "a remnant",
    (
        Key("label", NAME, "as it is marked", needed=True),
        Key("length", POSITIVE_LENGTH, "what is left on it", needed=True),
        Key("book value", Money(), "what using it is counted at; 0"),
    ),
)
SPOOL = Keys(
    "a spool",
    (
        Key("label", NAME, "as it is ordered", needed=True),
        Key("length", POSITIVE_LENGTH, "of a whole spool", needed=True),
        PRICE,
        Key("available", Whole(0, 10_000), "how many can be had; as many as wanted"),
        Key(
            "price breaks",
            ListOf(
                Keys(
                    "a price break",
                    (
                        Key("from", Whole(2, 10_000), "from this many spools", needed=True),
                        Key("price", Money(), "each", needed=True),
                    ),
                ),
                most=20,
            ),
            "cheaper by number",
        ),
    ),
)
BY_LENGTH = Keys(
    "cable by length",
    (
        Key("label", NAME, "as it is ordered", needed=True),
        Key("increment", POSITIVE_LENGTH, "sold in whole multiples of this", needed=True),
        Key("price", Money(), "of one increment; left out: not known"),
        Key("least", ANY_LENGTH, "shortest length sold"),
        Key("longest", POSITIVE_LENGTH, "longest length in one piece"),
    ),
)
CABLE = Keys(
    "cable",
    (
        Key("conductor", NAME, "name of a conductor above", needed=True),
        Key("colour", NAME, "of the insulation", needed=True),
        Key("remnants", ListOf(REMNANT), "part spools on hand"),
        Key("spools", ListOf(SPOOL), "whole spools that can be bought"),
        Key("by length", ListOf(BY_LENGTH, most=20), "cut to order by the metre or foot"),
    ),
)
LUG = Keys(
    "a lug",
    (
        Key("conductor", NAME, "name of a conductor above", needed=True),
        Key("stud", STUD, "stud it fits", needed=True),
        Key("strip", POSITIVE_LENGTH, "insulation taken off", needed=True),
        Key("hole to stop", POSITIVE_LENGTH, "stud centre to where the conductor stops in the barrel", needed=True),
        Key("hole to skin", POSITIVE_LENGTH, "stud centre to where the insulation begins", needed=True),
        PRICE,
        PACK,
        ON_HAND,
    ),
)
HEAT_SHRINK = Keys(
    "heat shrink",
    (
        Key("name", NAME, "name", needed=True),
        Key("fits from", ANY_LENGTH, "least outside diameter of cable", needed=True),
        Key("fits to", POSITIVE_LENGTH, "greatest outside diameter of cable", needed=True),
        Key("per end", POSITIVE_LENGTH, "used at each cable end", needed=True),
        Key("length", POSITIVE_LENGTH, "of one piece as sold", needed=True),
        PRICE,
        Key("colour", NAME, "black"),
    ),
)
FUSE = Keys(
    "a fuse",
    (
        Key("family", NAME, "its make of fuse, as the policy names it", needed=True),
        Key("rating", Quantity(CURRENT, above_zero=True), "rated current", needed=True),
        Key("voltage", Quantity(VOLTAGE, above_zero=True), "highest DC voltage", needed=True),
        Key("interrupt", Quantity(CURRENT, above_zero=True), "what it can break at that voltage; left out: not known"),
        Key("resistance", Quantity(RESISTANCE), "cold; left out: not known"),
        Key("stud", STUD, "stud its lugs go on", needed=True),
        Key("let-through", Quantity(MELTING, above_zero=True), "I²t to clear; left out: not known"),
        PRICE,
        ON_HAND,
        Key("source", Text(200, "a source"), "where its figures come from"),
    ),
)
SUNDRY_KINDS = ("clamp", "grommet", "boot", "label", "fuse holder", "bus bar", "other")
SUNDRY = Keys(
    "a sundry",
    (
        Key("name", NAME, "name", needed=True),
        Key("kind", Choice(SUNDRY_KINDS), "what it is for", needed=True),
        Key("fits from", ANY_LENGTH, "least outside diameter of cable"),
        Key("fits to", ANY_LENGTH, "greatest outside diameter of cable"),
        PRICE,
        PACK,
        ON_HAND,
    ),
)
CUTTING = Keys(
    "the cutting rules",
    (
        Key("kerf", ANY_LENGTH, "lost at each cut; 0 mm"),
        Key("end trim", ANY_LENGTH, "cut off each spool before the first piece; 0 mm"),
        Key("keep above", ANY_LENGTH, "what remains at least this long is kept as a remnant"),
        Key("kept value per metre", Money(), "what a kept remnant is worth; 0"),
        Key("least waste", YesNo(), "yes: least metres wasted instead of least money; no"),
        Key("larger conductor", YesNo(), "a larger conductor may stand in; no"),
        Key("other colour", YesNo(), "another colour, taped, may stand in; no"),
    ),
)
CURRENCY = Key("currency", NAME, "of every price in this file")
CONDUCTORS = ListOf(CONDUCTOR, least=1, most=100)
CABLE_AND_MORE = (
    Key("cable", ListOf(CABLE, least=1, most=300), "cable on hand and to be bought", needed=True),
    Key("lugs", ListOf(LUG, most=1000), "ring terminals by conductor and stud"),
    Key("heat shrink", ListOf(HEAT_SHRINK, most=100), "tubing over the barrels"),
    Key("fuses", ListOf(FUSE, most=500), "fuses"),
    Key("sundries", ListOf(SUNDRY, most=500), "clamps, grommets, boots, labels"),
    Key("cutting", CUTTING, "how cable is cut"),
)
STOCK = Keys(
    "a stock file",
    (CURRENCY, Key("conductors", CONDUCTORS, "conductors in use", needed=True), *CABLE_AND_MORE),
)
# For cutting alone: a cable is known by its name, nothing electrical need be said.
STOCK_LIST = Keys(
    "a stock list",
    (CURRENCY, Key("conductors", CONDUCTORS, "sizes, for lugs and larger conductors"), *CABLE_AND_MORE),
)
