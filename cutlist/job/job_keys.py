"""The keys of a job file, in the order in which a person surveys a job."""

from __future__ import annotations

from cutlist.electrics.ampacity import rule_sets
from cutlist.job.kinds import (
    BOX_SIZE,
    FILE,
    NAME,
    POINT,
    SIZE,
    Choice,
    Either,
    ListOf,
    OneOrMore,
    Quantity,
    Text,
    Whole,
    Written,
    YesNo,
)
from cutlist.job.records import Key, Keys
from cutlist.job.site_keys import DIRECTION, SITE, TURN
from cutlist.job.units import (
    ANGLE,
    CHARGE,
    CURRENT,
    LENGTH,
    MELTING,
    POWER,
    RESISTANCE,
    SHARE,
    TEMPERATURE,
    TIME,
    TORQUE,
    VOLTAGE,
    section,
    stud_size,
)
from cutlist.reference.tables import rows

COORDINATE_UNITS = ("mm", "cm", "m", "in", "ft")
POLES = ("positive", "negative")
WAYS = ("+x", "-x", "+y", "-y", "+z", "-z", "up", "down", "level", "any")
MATCHES = ("all leads alike", "each pole alike", "whole loop alike", "equal resistance", "as routed")
BARS_ON = ("any", "one face", "different faces")
OBJECTIVES = ("least cost", "least waste")
STRING_FUSES = ("at battery", "in line", "at bus bar", "none")
CHEMISTRIES = ("flooded", "agm", "gel", "lifepo4")

STUD = Written(stud_size, "a stud size such as M8 or 3/8 in", r"^(M ?\d{1,2}|\d+/\d+ ?(in|inch|\")|(#|No\.? ?)\d+)$")
WAY = Either(scalar=Choice(WAYS), listing=DIRECTION)
# one way as a word, several as words, one as three numbers, several as threes of numbers
LUG_WAYS = Either(scalar=Choice(WAYS), listing=OneOrMore(DIRECTION, WAY))
TERMINAL_KEYS = (
    Key("at", POINT, "centre of the stud, at the face the lug lies on", needed=True),
    Key(
        "lug", LUG_WAYS, "ways the lug may point, away from the stud: up, [+x, -x], level, any, [0, 1, 0]", needed=True
    ),
    Key("stud", STUD, "thread of the stud: M8, 3/8 in", needed=True),
    Key("stud points", WAY, "the way the stud points, if it is not across the lug's ways"),
    Key("torque", Quantity(TORQUE, above_zero=True), "the maker's torque"),
)
TERMINAL = Keys("a terminal", TERMINAL_KEYS)
LOOSE_TERMINAL = Keys(
    "a terminal", (*TERMINAL_KEYS, Key("on", NAME, "the solid it stands on, which its own lug may touch"))
)
# a terminal written out, or the name of a measured point
TERMINAL_OR_POINT = Either(scalar=NAME, table=LOOSE_TERMINAL)

LIMITS = Keys(
    "the limits",
    (
        Key(
            "drop",
            Quantity(SHARE, most=1, above_zero=True),
            "battery to load and back, continuous current",
            needed=True,
        ),
        Key("surge drop", Quantity(SHARE, most=1, above_zero=True), "the same at surge current"),
        Key("share", Quantity(SHARE, most=1, above_zero=True), "a string may carry this much more or less; 10 %"),
        Key("support", Quantity(LENGTH, above_zero=True, bare=True), "cable is clamped at least this often"),
        Key("clamp reach", Quantity(LENGTH, above_zero=True, bare=True), "from a cable's middle to structure; 40 mm"),
        Key("fuse distance", Quantity(LENGTH, bare=True), "along the lead from the battery; else the rule set's"),
        Key("longest lead", Quantity(LENGTH, above_zero=True, bare=True), "no lead runs further than this"),
        Key("above bilge", Quantity(LENGTH, bare=True), "of bus-bar studs, above the site's bilge line; 0 mm"),
    ),
)
BATTERY_TYPE = Keys(
    "a battery type",
    (
        Key("name", NAME, "name", needed=True),
        Key("chemistry", Choice(CHEMISTRIES), "chemistry", needed=True),
        Key("voltage", Quantity(VOLTAGE, above_zero=True), "nominal", needed=True),
        Key("capacity", Quantity(CHARGE, above_zero=True), "at the 20 h rate", needed=True),
        Key("resistance", Quantity(RESISTANCE, above_zero=True), "of one battery, charged", needed=True),
        Key("rest voltage", Quantity(VOLTAGE, above_zero=True), "at full charge, at rest; else the nominal"),
        Key("short circuit", Quantity(CURRENT, above_zero=True), "the maker's figure"),
        Key("resistance spread", Quantity(SHARE, most=1), "standard deviation between batteries"),
        Key(
            "case",
            Keys("a case", (Key("size", BOX_SIZE, "width, depth, height of the battery turned by 0", needed=True),)),
            "the case; its least corner is the origin of its terminals",
        ),
        Key(
            "terminals",
            Keys(
                "the terminals",
                (
                    Key("positive", TERMINAL, "positive terminal, in the case's own frame", needed=True),
                    Key("negative", TERMINAL, "negative terminal, in the case's own frame", needed=True),
                ),
            ),
            "where the terminals are on the case",
        ),
    ),
)
ROW = Keys(
    "a row of batteries",
    (
        Key("names", ListOf(NAME, least=1, most=500), "their names, in the order they stand"),
        Key("name", NAME, "instead of names: a stem that is numbered from 1"),
        Key("count", Whole(1, 500), "how many, where a stem is given"),
        Key("type", NAME, "battery type", needed=True),
        Key("at", POINT, "least corner of the first case as it stands", needed=True),
        Key("along", Choice(("x", "-x", "y", "-y", "z", "-z")), "the way the row runs", needed=True),
        Key("turn", TURN, "about the vertical, from x towards y"),
        Key("alternating", YesNo(), "every second one is turned half round"),
        Key("air gap", Quantity(LENGTH, bare=True), "between the cases"),
        Key("pitch", SIZE, "instead of an air gap: from one case to the same place on the next"),
    ),
    one_of=(("names", "name"),),
)
BATTERY = Keys(
    "a battery",
    (
        Key("name", NAME, "name"),
        Key("type", NAME, "battery type"),
        Key("at", POINT, "least corner of the case as it stands"),
        Key("turn", TURN, "about the vertical, from x towards y"),
        Key("positive", TERMINAL_OR_POINT, "a measured terminal, or the name of a point"),
        Key("negative", TERMINAL_OR_POINT, "a measured terminal, or the name of a point"),
        Key("row", ROW, "several batteries in a row"),
    ),
    one_of=(("name", "row"),),
)
POINTS = Keys(
    "the points",
    (
        Key("file", FILE, "a CSV file: name, x mm, y mm, z mm, lug, stud"),
        Key(
            "list",
            ListOf(Keys("a point", (Key("name", NAME, "name", needed=True), *LOOSE_TERMINAL.keys))),
            "points written out here",
        ),
    ),
)
STRING = Keys(
    "a string",
    (
        Key("name", NAME, "name", needed=True),
        Key("batteries", ListOf(NAME, least=1, most=100), "from the positive end to the negative end", needed=True),
    ),
)
PLACE = Keys(
    "a place for a bus bar",
    (
        Key("centre", POINT, "middle of its row of studs, at the face the lugs lie on", needed=True),
        Key("along", WAY, "the way the row of studs runs", needed=True),
        Key("out", WAY, "the way the studs point, away from the wall", needed=True),
        Key("face", NAME, "mounting face it is on"),
    ),
)
BUS_BAR = Keys(
    "a bus bar",
    (
        Key("name", NAME, "name", needed=True),
        Key("pole", Choice(POLES), "positive or negative", needed=True),
        Key("studs", Whole(1, 200), "how many", needed=True),
        Key("pitch", SIZE, "from stud to stud", needed=True),
        Key(
            "stud",
            Either(scalar=STUD, listing=ListOf(STUD, least=1, most=200, whole=True)),
            "thread of the studs; of unlike studs a list, stud 1 first: [M10, M8, M8]",
            needed=True,
        ),
        Key("lugs per stud", Whole(1, 4), "most lugs on one stud; 4, more is against common practice"),
        Key("section", Written(section, "a section such as 25 mm x 6 mm", "[x×]"), "width and thickness of the bar"),
        Key("material", Choice(tuple(row["material"] for row in rows("bus_bar_materials"))), "copper if left out"),
        Key("rating", Quantity(CURRENT, above_zero=True), "the maker's continuous rating"),
        Key(
            "torque",
            Either(
                scalar=Quantity(TORQUE, above_zero=True),
                listing=ListOf(Quantity(TORQUE, above_zero=True), least=1, most=200, whole=True),
            ),
            "the maker's torque; of unlike studs a list, stud 1 first",
        ),
        Key("at", PLACE, "a fixed place"),
        Key("places", ListOf(PLACE, least=1, most=200), "any one of these places"),
        Key("on", ListOf(NAME, least=1, most=20), "anywhere on these mounting faces"),
        Key(
            "turns",
            ListOf(Quantity(ANGLE, least=0, most=270), least=1, most=4),
            "on a face: 0 deg along, 90 deg up; 180 and 270 deg the same with stud 1 at the other end; 0 deg",
        ),
        Key("reserved", Whole(0, 100), "studs kept free for later strings; as many as there are of these"),
    ),
    one_of=(("at", "places", "on"),),
)
DEVICE = Keys(
    "a device",
    (
        Key("name", NAME, "name", needed=True),
        Key("kind", Choice(("shunt", "switch", "fuse")), "what it is", needed=True),
        Key("source side", TERMINAL_OR_POINT, "the terminal nearer the bank", needed=True),
        Key("load side", TERMINAL_OR_POINT, "the other terminal", needed=True),
        Key("resistance", Quantity(RESISTANCE), "from terminal to terminal; else unknown"),
        Key("rating", Quantity(CURRENT, above_zero=True), "continuous"),
        Key("interrupt", Quantity(CURRENT, above_zero=True), "of a fuse: what it can break, DC"),
        Key("let-through", Quantity(MELTING, above_zero=True), "of a fuse: I²t to clear; else not known"),
    ),
)
SURGE = Keys(
    "a surge",
    (
        Key("current", Quantity(CURRENT, above_zero=True), "while it lasts", needed=True),
        Key("for", Quantity(TIME, above_zero=True), "how long it lasts", needed=True),
    ),
)
LOAD = Keys(
    "a load",
    (
        Key("name", NAME, "name", needed=True),
        Key("continuous", Quantity(CURRENT), "continuous current"),
        Key("power", Quantity(POWER, above_zero=True), "instead of a current: what it draws, whatever its voltage"),
        Key(
            "lowest voltage",
            Quantity(VOLTAGE, above_zero=True),
            "of a power: where it switches off, and takes most current; else as the full bank settles",
        ),
        Key("surge", SURGE, "short-time current"),
        Key("positive", TERMINAL_OR_POINT, "its positive terminal", needed=True),
        Key("negative", TERMINAL_OR_POINT, "its negative terminal", needed=True),
        Key("charger", YesNo(), "yes: its current flows into the bank"),
    ),
    one_of=(("continuous", "power"),),
)
FEEDER = Keys(
    "a feeder",
    (
        Key("name", NAME, "name", needed=True),
        Key("pole", Choice(POLES), "positive or negative", needed=True),
        Key("from", Text(80, "the end of a feeder"), "nearer the bank: a bus bar, or `shunt load side`", needed=True),
        Key("to", Text(80, "the end of a feeder"), "`shunt source side`, `inverter negative`", needed=True),
        Key("longest", Quantity(LENGTH, above_zero=True, bare=True), "it runs no further: a main fuse near its source"),
    ),
)
LATER_STRING = Keys(
    "a later string",
    (
        Key("name", NAME, "name", needed=True),
        Key("positive", TERMINAL_OR_POINT, "where its positive lead will begin", needed=True),
        Key("negative", TERMINAL_OR_POINT, "where its negative lead will begin", needed=True),
    ),
)
CONDUCTORS = ListOf(NAME, least=1, most=50, wanted="a list of conductors of the stock file")
POLICY = Keys(
    "the policy",
    (
        Key("match", Choice(MATCHES), "what is made alike; all leads alike"),
        Key("clearance", Quantity(LENGTH, bare=True), "cable skin to solids; 5 mm"),
        Key("relief", Quantity(LENGTH, bare=True), "straight beyond the lug before the first bend; 0 mm"),
        Key("end allowance", Quantity(LENGTH, bare=True), "spare at each end for a second termination; 0 mm"),
        Key("round up", Quantity(LENGTH, above_zero=True, bare=True), "cut lengths, up to this; 5 mm"),
        Key("longer", Quantity(LENGTH, bare=True), "plan as if every run were this much longer; 0 mm"),
        Key("surplus together", YesNo(), "yes: tells how much of both poles lies side by side; no"),
        Key("lead conductors", CONDUCTORS, "only these for leads"),
        Key("jumper conductors", CONDUCTORS, "only these for jumpers"),
        Key("feeder conductors", CONDUCTORS, "only these for feeders"),
        Key("string fuse", Choice(STRING_FUSES), "where each string is fused; at battery"),
        Key("fuse family", NAME, "family of string fuses, as in the stock file"),
        Key("in-line fuse at", Quantity(LENGTH, bare=True), "of an in-line fuse: along the lead from the battery"),
        Key(
            "like batteries swap",
            YesNo(),
            "yes: which like batteries make up which string is chosen for least cable; they stay where they stand; no",
        ),
        Key("paralleled", YesNo(), "two cables side by side may do for one; no"),
        Key("one string out", YesNo(), "limits hold with any one string out of service; yes"),
        Key("dry-fit stop", Quantity(LENGTH, above_zero=True, bare=True), "re-run if a dry-fit differs by more; 10 mm"),
        Key(
            "later strings",
            Either(scalar=Whole(0, 50), listing=ListOf(LATER_STRING, least=1, most=50)),
            "how many may come later, or each by name with the terminals of its ends: studs are kept for them; 0",
        ),
        Key("lengthen now", YesNo(), "yes: leads are made long enough for the later strings named; no"),
        Key("bars apart", Quantity(LENGTH, bare=True), "from the studs of one bus bar to those of the other, at least"),
        Key("bars on", Choice(BARS_ON), "one face: both bus bars on the same mounting face; any"),
        Key("objective", Choice(OBJECTIVES), "what is sought; least cost, or as the stock file says"),
    ),
)
COLOURS = Keys(
    "the colours",
    (
        Key("positive", NAME, "red if left out"),
        Key("negative", NAME, "black if left out"),
        Key("link", NAME, "of jumpers inside a string; as positive if left out"),
    ),
)
JOB = Keys(
    "a job",
    (
        Key("name", NAME, "what the job is called on every sheet", needed=True),
        Key("units", Choice(("mm", "in")), "of the sheets; mm"),
        Key("coordinates", Choice(COORDINATE_UNITS), "unit of bare numbers in points, sizes and boxes"),
        Key("stock", FILE, "the stock file, seen from this file", needed=True),
        Key("rules", Choice(rule_sets()), "rule set for ampacity", needed=True),
        Key("ambient", Quantity(TEMPERATURE, least=-60, most=90), "air temperature for the sizing", needed=True),
        Key("limits", LIMITS, "what the bank must hold", needed=True),
        Key("site", SITE, "where it is built"),
        Key("battery types", ListOf(BATTERY_TYPE, least=1, most=50), "kinds of battery", needed=True),
        Key("batteries", ListOf(BATTERY, least=1), "each battery, or rows of them", needed=True),
        Key("points", POINTS, "terminals that were measured one by one"),
        Key("strings", ListOf(STRING, least=1, most=200), "batteries in series", needed=True),
        Key("bus bars", ListOf(BUS_BAR, least=2, most=2), "one positive, one negative", needed=True),
        Key("devices", ListOf(DEVICE, most=50), "what feeders pass through: shunt, switch, main fuse"),
        Key("loads", ListOf(LOAD, least=1, most=50), "loads and chargers", needed=True),
        Key("feeders", ListOf(FEEDER, least=1, most=100), "cables from the bus bars to devices and loads", needed=True),
        Key("policy", POLICY, "how cables are made alike, and allowances"),
        Key("colours", COLOURS, "colours of insulation"),
        Key("notes", ListOf(Text(400, "a note"), most=40), "printed with the plan"),
    ),
)
