"""The keys of the site: everything in a job file that takes up room, and where cables and bus bars may go."""

from __future__ import annotations

from cutlist.job.kinds import (
    BOX_SIZE,
    COORDINATE,
    FILE,
    NAME,
    PLANE_POINT,
    POINT,
    SIZE,
    Choice,
    ListOf,
    Number,
    Quantity,
    Row,
    YesNo,
)
from cutlist.job.records import Key, Keys
from cutlist.job.units import ANGLE, LENGTH, SHARE, TEMPERATURE

DIRECTION = Row(Number(), 3, "a direction of x, y, z")
TURN = Quantity(ANGLE, least=None)
# told by the axes: which way that is seen from above depends on the site's frame
TURNED = "about the vertical through its {}, from x towards y"
# comparing sides with sides takes the square of their number, holes with holes its cube
MOST_CORNERS = 40
MOST_HOLES = 40
OUTLINE = ListOf(PLANE_POINT, least=3, most=MOST_CORNERS, wanted="a list of corners")

BOX = Keys(
    "a box",
    (
        Key("from", POINT, "one corner", needed=True),
        Key("to", POINT, "the opposite corner"),
        Key("size", BOX_SIZE, "instead of the opposite corner: its size along x, y, z from there"),
        Key("turn", TURN, TURNED.format("middle")),
    ),
    one_of=(("to", "size"),),
)
CYLINDER = Keys(
    "a cylinder",
    (
        Key("base", POINT, "centre of the first end", needed=True),
        Key("axis", DIRECTION, "from the first end to the other; upright if left out"),
        Key("radius", SIZE, "radius"),
        Key("diameter", SIZE, "instead of the radius"),
        Key("height", SIZE, "from end to end", needed=True),
    ),
    one_of=(("radius", "diameter"),),
)
PRISM_HOLE = Keys(
    "a hole in a prism",
    (
        Key("name", NAME, "cables may pass a hole that has a name"),
        Key("centre", PLANE_POINT, "of a round hole"),
        Key("diameter", SIZE, "of a round hole"),
        Key("outline", OUTLINE, "corners of a hole of any other shape"),
    ),
    one_of=(("diameter", "outline"),),
)
PRISM = Keys(
    "a prism",
    (
        Key("axis", Choice(("x", "y", "z")), "the way it is drawn out", needed=True),
        Key("outline", OUTLINE, "corners as [y, z], [x, z] or [x, y], whichever are not its axis", needed=True),
        Key("from", COORDINATE, "where it begins along its axis", needed=True),
        Key("to", COORDINATE, "where it ends along its axis", needed=True),
        Key("holes", ListOf(PRISM_HOLE, most=MOST_HOLES), "holes straight through along its axis"),
    ),
)
MESH = Keys(
    "a mesh",
    (
        Key("file", FILE, "an .stl or .obj file, looked for beside the job file", needed=True),
        Key("units", Choice(("mm", "cm", "m", "in", "ft")), "the unit of its figures", needed=True),
        Key("at", POINT, "where the file's origin lies in the site; [0, 0, 0] if left out"),
        Key(
            "axes",
            ListOf(Choice(("+x", "-x", "+y", "-y", "up", "down")), least=3, most=3, wanted="three directions"),
            "which way the file's x, y and z run in the site; [+x, -y, up] if left out: drawings are right-handed",
        ),
        Key("turn", TURN, TURNED.format("file's origin")),
        Key("skin", YesNo(), "yes: an open surface without an inside, that cables may not cross"),
    ),
)
SHAPE_KEYS = (
    Key("box", BOX, "a box"),
    Key("cylinder", CYLINDER, "a cylinder"),
    Key("prism", PRISM, "an outline drawn out along x, y or z"),
    Key("mesh", MESH, "triangles from a file of another program"),
)
SHAPE = ("box", "cylinder", "prism", "mesh")
NAMED = Key("name", NAME, "as people on site call it", needed=True)
KEEP_OFF = Key("keep off", Quantity(LENGTH, bare=True), "further distance cables keep from it: hot, fuel, moving")
CLAMP = Key("clamp", YesNo(), "clamps may be fixed to it")
LAY = Key("lay", YesNo(), "no: surplus cable is not laid beside it")

SOLID = Keys("a solid", (NAMED, *SHAPE_KEYS, CLAMP, KEEP_OFF, LAY), one_of=(SHAPE,))
KEEP_OUT = Keys("a keep-out", (NAMED, *SHAPE_KEYS), one_of=(SHAPE,))
COMPARTMENT = Keys("a compartment", (NAMED, *SHAPE_KEYS), one_of=(SHAPE,))
ZONE = Keys(
    "a zone",
    (
        NAMED,
        *SHAPE_KEYS,
        Key("temperature", Quantity(TEMPERATURE, least=-60, most=150), "of the air in it", needed=True),
        Key("engine space", YesNo(), "it is an engine space in the sense of the rules"),
    ),
    one_of=(SHAPE,),
)
BULKHEAD_HOLE = Keys(
    "a hole in a bulkhead",
    (
        NAMED,
        Key("centre", POINT, "any point on the hole's axis", needed=True),
        Key("diameter", SIZE, "of a round hole"),
        Key("size", Row(SIZE, 2, "width and height"), "of a square-cornered hole: across, and up"),
        Key("fill", Quantity(SHARE, most=1), "share of it that cables may fill"),
    ),
    one_of=(("diameter", "size"),),
)
BULKHEAD = Keys(
    "a bulkhead",
    (
        NAMED,
        Key("box", BOX, "the wall, without its holes", needed=True),
        Key(
            "holes", ListOf(BULKHEAD_HOLE, most=MOST_HOLES), "holes straight through its thin side that cables may pass"
        ),
        CLAMP,
        KEEP_OFF,
        LAY,
    ),
)
RECTANGLE = Row(Quantity(LENGTH, bare=True), 4, "a rectangle: along and up of one corner, then of the other")
FACE = Keys(
    "a mounting face",
    (
        NAMED,
        Key("corner", POINT, "the corner from which along and up are measured", needed=True),
        Key("along", DIRECTION, "the way its width runs", needed=True),
        Key("up", DIRECTION, "the way its height runs; studs point to along x up", needed=True),
        Key("width", SIZE, "along"),
        Key("height", SIZE, "up"),
        Key("outline", OUTLINE, "instead of width and height: corners as [along, up] of a face of any other shape"),
        Key("edge", Quantity(LENGTH, bare=True), "studs keep this from its edges"),
        Key(
            "forbidden",
            ListOf(RECTANGLE),
            "parts that no row of studs enters: [along, up, along, up] of two corners; leave room for the bar's "
            "breadth and the lugs",
        ),
        Key(
            "forbidden outlines",
            ListOf(OUTLINE, most=MOST_HOLES),
            "parts of any other shape that no row of studs enters; leave room for the bar's breadth and the lugs",
        ),
    ),
    one_of=(("width", "outline"),),
)
SITE = Keys(
    "the site",
    (
        Key("compartments", ListOf(COMPARTMENT), "cables stay inside these, where any is given"),
        Key("solids", ListOf(SOLID), "what stands there: shelves, tanks, frames, walls"),
        Key("bulkheads", ListOf(BULKHEAD), "walls with holes that cables may pass"),
        Key("keep-outs", ListOf(KEEP_OUT), "room that cables must leave free: doorways, hatches"),
        Key("mounting faces", ListOf(FACE), "where bus bars may be fixed"),
        Key("zones", ListOf(ZONE), "where the air is warmer than the ambient"),
        Key("bilge line", COORDINATE, "height z to which bilge water may stand: no bus bar has studs below it"),
    ),
)
