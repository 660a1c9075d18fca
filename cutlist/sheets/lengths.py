"""Lengths as people write them: millimetres, and feet, inches and eighths.

Cut lengths come as whole micrometres, other lengths as metres. Nothing here changes a length; where a unit cannot
hold it exactly, the docstring says which way the text errs.
"""

from __future__ import annotations

import math
from fractions import Fraction

UM_PER_EIGHTH = 3175  # 1/8 in is exactly 3.175 mm (1 in = 25.4 mm by definition)


def mm_text(length_um: int, up: bool = False, down: bool = False) -> str:
    """Whole millimetres, the nearest, or with `up` never less than the length, with `down` never more.

    >>> mm_text(2_350_000), mm_text(2_352_675), mm_text(2_352_075, up=True), mm_text(2_352_675, down=True)
    ('2350 mm', '2353 mm', '2353 mm', '2352 mm')
    """
    return f"{_whole(length_um, 1000, up, down)} mm"


def ft_in_text(length_um: int, up: bool = False, down: bool = False) -> str:
    """Feet, inches and eighths, the nearest, or with `up` never less than the length, with `down` never more.

    Never decimals of feet.

    >>> ft_in_text(2_350_000), ft_in_text(3_175), ft_in_text(304_800), ft_in_text(2_350_000, up=True)
    ('7 ft 8 1/2 in', '1/8 in', '1 ft 0 in', '7 ft 8 5/8 in')
    """
    eighths = _whole(length_um, UM_PER_EIGHTH, up, down)
    sign = "-" if eighths < 0 else ""
    feet, rest = divmod(abs(eighths), 96)
    inches, part = divmod(rest, 8)
    words = [f"{feet} ft"] if feet else []
    if inches or not part or feet:
        words.append(str(inches))
    if part:
        words.append(str(Fraction(part, 8)))
    return sign + " ".join(words) + " in"


def length_text(length_um: int, units: str, up: bool = False, down: bool = False) -> str:
    """In the job's own unit: "mm" or "in". `up`: of what is needed; `down`: of what is there.

    >>> length_text(609_600, "in"), length_text(7_000_000, "in"), length_text(7_000_000, "in", down=True)
    ('2 ft 0 in', '22 ft 11 5/8 in', '22 ft 11 1/2 in')
    """
    return ft_in_text(length_um, up, down) if units == "in" else mm_text(length_um, up, down)


def other_unit(units: str) -> str:
    return "mm" if units == "in" else "in"


def from_m(length_m: float) -> int:
    """Whole micrometres nearest to a length in metres.

    >>> from_m(0.028)
    28000
    """
    return round(length_m * 1_000_000)


def metres_text(length_m: float, units: str) -> str:
    """A length given in metres, in the job's own unit, the nearest mark.

    >>> metres_text(0.028, "mm"), metres_text(0.0285, "in")
    ('28 mm', '1 1/8 in')
    """
    return length_text(from_m(length_m), units)


def _whole(length_um: int, step_um: int, up: bool, down: bool) -> int:
    if up or down:
        return -(-length_um // step_um) if up else length_um // step_um
    return math.floor(Fraction(length_um, step_um) + Fraction(1, 2))
