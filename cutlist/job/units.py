"""What people write with a unit becomes a plain number in ours. A number without a unit is a fault, never a guess.

Numbers stay exact fractions until the end, so that 1/8 in and 7 ft 8 1/2 in are whole micrometres when they should be.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from functools import cache
from typing import Any
from unicodedata import normalize

from cutlist.electrics.conductors import plain_size
from cutlist.job.faults import shown

INCH = Fraction(254, 10000)
FOOT = 12 * INCH


class Unreadable(ValueError):
    """Text that is no quantity of the kind asked for: what is wrong with it, and how it should be written."""

    def __init__(self, message: str, mend: str) -> None:
        super().__init__(message)
        self.message = message
        self.mend = mend


@dataclass(frozen=True)
class Dimension:
    name: str  # "length"
    base: str  # the unit inside, as pint calls it
    units: dict[str, Fraction]  # what people write: how many of the base unit
    example: str  # the unit shown in a mend
    offered: str  # "mm, cm, m, in or ft"
    greatest: Fraction  # in the base unit; beyond it somebody slipped


def _dimension(name: str, base: str, example: str, offered: str, greatest: int, **units: Fraction | int) -> Dimension:
    return Dimension(name, base, {u: Fraction(f) for u, f in units.items()}, example, offered, Fraction(greatest))


LENGTH = Dimension(
    "length",
    "m",
    {
        **{"mm": Fraction(1, 1000), "cm": Fraction(1, 100), "m": Fraction(1), "um": Fraction(1, 10**6)},
        **{"μm": Fraction(1, 10**6), "in": INCH, "inch": INCH, "inches": INCH, '"': INCH, "″": INCH},
        **{"ft": FOOT, "feet": FOOT, "foot": FOOT, "'": FOOT, "′": FOOT, "yd": 3 * FOOT},
    },
    "mm",
    "mm, cm, m, in or ft",
    Fraction(1000),
)
VOLTAGE = _dimension("voltage", "V", "V", "V or mV", 10_000, V=1, mV=Fraction(1, 1000), kV=1000)
CURRENT = _dimension("current", "A", "A", "A or kA", 1_000_000, A=1, mA=Fraction(1, 1000), kA=1000)
POWER = _dimension("power", "W", "W", "W or kW", 10_000_000, W=1, kW=1000)
CHARGE = _dimension("capacity", "A*hour", "Ah", "Ah", 1_000_000, Ah=1, mAh=Fraction(1, 1000), kAh=1000)
RESISTANCE = Dimension(
    "resistance",
    "ohm",
    {
        **{"ohm": Fraction(1), "Ω": Fraction(1)},
        **{u: Fraction(1, 1000) for u in ("mohm", "mΩ", "milliohm")},
        **{u: Fraction(1, 10**6) for u in ("uohm", "μohm", "μΩ", "uΩ", "microohm")},
    },
    "mohm",
    "ohm, mohm or µΩ",
    Fraction(1_000_000),
)
OHM_PER_LENGTH = Dimension(
    "resistance per length",
    "ohm/m",
    {
        **{u: Fraction(1, 1000) for u in ("ohm/km", "Ω/km", "mohm/m", "mΩ/m")},
        **{"ohm/m": Fraction(1), "ohm/kft": 1 / (1000 * FOOT), "ohm/1000 ft": 1 / (1000 * FOOT)},
    },
    "ohm/km",
    "ohm/km or ohm/kft",
    Fraction(1000),
)
TIME = Dimension(
    "time",
    "s",
    {
        **{"s": Fraction(1), "ms": Fraction(1, 1000), "min": Fraction(60), "minutes": Fraction(60)},
        **{"seconds": Fraction(1), "h": Fraction(3600), "hours": Fraction(3600)},
    },
    "s",
    "s, min or h",
    Fraction(10**8),
)
ANGLE = Dimension(
    "angle",
    "deg",
    {"deg": Fraction(1), "°": Fraction(1), "degrees": Fraction(1)},
    "deg",
    "deg",
    Fraction(3600),
)
SHARE = Dimension("share", "1", {"%": Fraction(1, 100), "percent": Fraction(1, 100)}, "%", "%", Fraction(1000))
TORQUE = Dimension(
    "torque",
    "N*m",
    {
        **{u: Fraction(1) for u in ("N m", "Nm", "N·m", "N*m", "N.m")},
        **{u: Fraction(1129848290276167, 10**16) for u in ("lbf in", "in lbf", "in lb", "lb in", "in-lb", "lbf·in")},
        **{u: Fraction(13558179483314004, 10**16) for u in ("lbf ft", "ft lbf", "ft lb", "lb ft", "ft-lb", "lbf·ft")},
    },
    "N m",
    "N m, lbf in or lbf ft",
    Fraction(10_000),
)
MELTING = Dimension(
    "let-through",
    "A**2*s",
    # kA²s is left out: some mean a thousand A²s by it, some a million
    {u: Fraction(1) for u in ("A²s", "A2s", "A^2s", "A² s", "A2 s", "A^2 s")},
    "A²s",
    "A²s",
    Fraction(10**15),
)
TEMPERATURE = Dimension("temperature", "degC", {}, "°C", "°C or °F", Fraction(1000))

NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
NUMBER_ALONE = re.compile(NUMBER)
QUANTITY = re.compile(rf"({NUMBER})\s*(\D.*)", re.DOTALL)
NO_NUMBER = re.compile(r"[+-]?\.?(?:nan|inf|infinity)\b.*", re.IGNORECASE | re.DOTALL)
FEET = re.compile(r"(\d+(?:\.\d+)?)\s*(?:ft|feet|foot|'|′)[\s,-]*(.*)", re.DOTALL)
INCHES = re.compile(
    r"(?:(?P<whole>\d+(?:\.\d+)?)(?!\d*/))?[\s-]*(?:(?P<top>\d+)\s*/\s*(?P<bottom>\d+))?\s*"
    r"(?:inches|inch|in|\"|″|'')",
    re.DOTALL,
)
UNIT_WORD = re.compile(r"[A-Za-zμΩ°²³·*/ ^23-]{1,24}")
OFFSETS = {
    **{u: (Fraction(1), Fraction(0)) for u in ("°C", "degC", "C", "℃", "deg C")},
    **{u: (Fraction(5, 9), Fraction(-160, 9)) for u in ("°F", "degF", "F", "℉", "deg F")},
    "K": (Fraction(1), Fraction(-27315, 100)),
}


def quantity(text: str, dimension: Dimension) -> Fraction:
    """What the text says, in the dimension's base unit (metres, volts, ohms, °C, shares of one).

    Raises Unreadable with the fault and its mend.

    >>> quantity("7 ft 8 1/2 in", LENGTH) * 1_000_000
    Fraction(2349500, 1)
    >>> float(quantity("2 %", SHARE))
    0.02
    """
    value = _value(_one_way_of_writing(text), dimension)
    if abs(value) > dimension.greatest:
        limit = f"{float(dimension.greatest):g} {dimension.base}".replace("*hour", "h")
        raise Unreadable(f"{shown(text)} is beyond {limit}", "look for a slipped digit or a wrong unit")
    return value


def _one_way_of_writing(text: str) -> str:
    """The same with one sign for each of minus, micro and ohm, plain spaces, and ½ as 1/2."""
    for written, meant in (
        ("\u2212", "-"),
        ("\u00b5", "\u03bc"),
        ("\u2126", "\u03a9"),
        ("\u00a0", " "),
        ("\u202f", " "),
    ):
        text = text.replace(written, meant)
    fractions = "½¼¾⅛⅜⅝⅞⅓⅔"
    return "".join(f" {normalize('NFKC', c).replace(chr(0x2044), '/')}" if c in fractions else c for c in text).strip()


def _value(text: str, dimension: Dimension) -> Fraction:
    if NO_NUMBER.fullmatch(text):
        raise Unreadable(f"{shown(text)} is not a number", f"write a number with its unit: 12 {dimension.example}")
    if NUMBER_ALONE.fullmatch(text):
        raise Unreadable(
            f"{shown(text)} has no unit",
            _with_the_unit(text, dimension),
        )
    if dimension is LENGTH:
        inches = _feet_and_inches(text)
        if inches is not None:
            return inches
    found = QUANTITY.fullmatch(text)
    if not found:
        raise Unreadable(
            f"{shown(text)} is no {dimension.name}", f"write a number with its unit: 12 {dimension.example}"
        )
    if found[2].startswith((",", "_", "'")) or "," in found[2] or found[2].strip()[:1].isdigit():
        raise Unreadable(f"{shown(text)} is not a number we can be sure of", "write it without marks between digits")
    return _in_base(number(found[1]), found[2].strip(), text, dimension)


def _with_the_unit(text: str, dimension: Dimension) -> str:
    return f"write {shown(f'{text} {dimension.example}')} if that is meant; units are {dimension.offered}"


def _in_base(value: Fraction, unit: str, text: str, dimension: Dimension) -> Fraction:
    if dimension is TEMPERATURE and unit in OFFSETS:
        factor, offset = OFFSETS[unit]
        return value * factor + offset
    if unit in dimension.units:
        return value * dimension.units[unit]
    factor_found = None if dimension is TEMPERATURE else _pint_factor(unit, dimension.base)
    if factor_found is None:
        article = "an" if dimension.name[0] in "aeiou" else "a"
        raise Unreadable(
            f"{shown(text)} is not {article} {dimension.name}: {shown(unit)} is no unit of it",
            f"write it in {dimension.offered}",
        )
    return value * factor_found


def number(text: str) -> Fraction:
    """A plain decimal number, exactly.

    Raises Unreadable for what is none, or is far from anything that is measured.
    """
    if not NUMBER_ALONE.fullmatch(text.strip()):
        raise Unreadable(f"{shown(text)} is not a number", "write a plain number such as 12 or 0.5")
    try:
        value = Decimal(text.strip())
    except InvalidOperation:  # an exponent beyond what even Decimal holds
        raise Unreadable(f"{shown(text)} is beyond anything that is measured", "look for a slipped digit") from None
    # before it becomes a fraction: 1e999999999 would fill the memory
    if len(text) > 40 or value.adjusted() > 15 or (value and value.adjusted() < -15):
        raise Unreadable(f"{shown(text)} is beyond anything that is measured", "look for a slipped digit")
    return Fraction(value)


def _feet_and_inches(text: str) -> Fraction | None:
    """`7 ft 8 1/2 in`, `92 1/2"`, `7' 8-1/2"`, `3/8 in`; None when it is not written so."""
    sign = -1 if text.startswith("-") else 1
    text = text.lstrip("+-").strip()
    total = Fraction(0)
    feet = FEET.fullmatch(text)
    if feet:
        total, text = number(feet[1]) * FOOT, feet[2]
        if not text:
            return sign * total
    inches = INCHES.fullmatch(text)
    if not inches or (inches["whole"] is None and inches["top"] is None):
        return None
    if inches["bottom"] is not None:
        if int(inches["bottom"][:9]) == 0 or len(inches["top"]) > 6 or len(inches["bottom"]) > 6:
            raise Unreadable(f"{shown(text)} holds a fraction that is none", "write it as 92 1/2 in")
        total += Fraction(int(inches["top"]), int(inches["bottom"])) * INCH
    if inches["whole"] is not None:
        total += number(inches["whole"]) * INCH
    return sign * total


def _pint_factor(unit: str, base: str) -> Fraction | None:
    """How many of the base unit; None if pint knows no such unit of that dimension."""
    if not UNIT_WORD.fullmatch(unit) or re.search(r"\d\d|\^\d*[4-9]|\*\*|//", unit):
        return None
    registry = _registry()
    try:
        factor = registry.Quantity(1.0, registry.parse_units(unit.replace("²", "**2").replace("³", "**3"))).to(base)
    except Exception:  # pint raises many kinds, from its tokenizer up; each means: no such unit
        return None
    return Fraction(repr(float(factor.magnitude)))


@cache
def _registry() -> Any:
    # pint takes a third of a second to load, and the tables above hold what most files say
    import pint

    return pint.UnitRegistry()


def whole_um(value: Fraction) -> int:
    """A length in whole micrometres. Raises Unreadable if it is not whole.

    >>> whole_um(quantity("1/8 in", LENGTH))
    3175
    """
    um = value * 1_000_000
    if um.denominator != 1:
        raise Unreadable(
            f"{float(um):.3f} micrometres is not a whole number of them",
            "use a step of whole millimetres, or of 1/8 in",
        )
    return int(um)


def section(text: str) -> tuple[float, float]:
    """`25 mm x 6 mm` or `1 in x 1/4 in`: width and thickness, m.

    >>> section("25 mm x 6 mm")
    (0.025, 0.006)
    """
    parts = re.split(r"\s*[x×]\s*", text.strip())
    if len(parts) != 2:
        raise Unreadable(f"{shown(text)} is no section", "write width and thickness: 25 mm x 6 mm")
    width, thickness = (float(quantity(part, LENGTH)) for part in parts)
    if min(width, thickness) <= 0:
        raise Unreadable(f"{shown(text)} is no section", "both sides must be above zero")
    return max(width, thickness), min(width, thickness)


def wire_size(text: str) -> str:
    """`50 mm2` or `1/0 AWG`, however it was written.

    >>> wire_size("50mm²"), wire_size("AWG 00")
    ('50 mm2', '2/0 AWG')
    """
    try:
        return plain_size(text)
    except ValueError:
        raise Unreadable(f"{shown(text)} is no conductor size", "write 50 mm2 or 1/0 AWG") from None


def stud_size(text: str) -> str:
    """`M8` or `3/8 in`, however it was written.

    >>> stud_size("m8"), stud_size('3/8"'), stud_size("5/16 inch")
    ('M8', '3/8 in', '5/16 in')
    """
    metric = re.fullmatch(r"[Mm]\s?(\d{1,2})", text.strip())
    if metric:
        return f"M{int(metric[1])}"
    inch = re.fullmatch(r"(\d{1,2})\s*/\s*(\d{1,2})\s*(?:in|inch|\"|″)", text.strip())
    if inch and int(inch[2]):
        return f"{int(inch[1])}/{int(inch[2])} in"
    gauge = re.fullmatch(r"(?:#|[Nn]o\.? ?)(\d{1,2})", text.strip())
    if gauge:
        return f"#{int(gauge[1])}"
    raise Unreadable(f"{shown(text)} is no stud size", 'write M8, 3/8 in or "#10"')


def bend_radius(text: str) -> tuple[str, Fraction]:
    """`90 mm` is ("length", 0.09); `6 x OD` is ("diameters", 6).

    >>> bend_radius("6 x OD")
    ('diameters', Fraction(6, 1))
    """
    multiple = re.fullmatch(rf"({NUMBER})\s*(?:x|×|times)\s*(?:OD|outside diameter)", text.strip())
    if multiple:
        value = number(multiple[1])
        if not 0 < value <= 50:
            raise Unreadable(f"{shown(text)} is no bend radius", "write 4 x OD, 6 x OD or a length")
        return "diameters", value
    try:
        value = quantity(text, LENGTH)
    except Unreadable as fault:
        raise Unreadable(fault.message, "write a length, or a multiple of the outside diameter: 6 x OD") from None
    if value <= 0:
        raise Unreadable(f"{shown(text)} is no bend radius", "it must be above zero")
    return "length", value
