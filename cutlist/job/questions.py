"""What if, as people ask it on the command line: "S3 = 40 %", "S1 positive = 2 mohm", "2.4 m, 2.1 m"."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from cutlist.job.units import LENGTH, RESISTANCE, SHARE, Dimension, quantity
from cutlist.planning.questions import Questions


def read_questions(
    *, out: Sequence[str], rejoin: Sequence[str], others: str, crimp: Sequence[str], add: Sequence[str]
) -> tuple[Questions, tuple[str, ...]]:
    """The questions, and every fault in words: option, what was written, how to write it."""
    faults: list[str] = []
    charged = _quantity("--others", others, others, SHARE, '"80 %"', faults)
    if charged is not None and not 0 <= charged <= 1:
        faults.append(f'--others "{others}": a state of charge lies between 0 and 100 %')
    back = [_named("--rejoin", text, SHARE, '"S3 = 40 %"', faults) for text in rejoin]
    for name, soc in (b for b in back if b is not None):
        if not 0 <= soc <= 1:
            faults.append(f"--rejoin {name}: a state of charge lies between 0 and 100 %")
    crimps = [_named("--crimp", text, RESISTANCE, '"S1 positive = 2 mohm"', faults) for text in crimp]
    for name, ohm in (c for c in crimps if c is not None):
        if ohm < 0:
            faults.append(f"--crimp {name}: no crimp has less than no resistance")
    runs = [_runs(text, faults) for text in add]
    questions = Questions(
        out=tuple(out),
        rejoin=tuple(b for b in back if b is not None),
        others_soc=float(charged or 0),
        crimps=tuple(c for c in crimps if c is not None),
        further=tuple(r for r in runs if r is not None),
    )
    return questions, tuple(faults)


def read_longer(texts: Sequence[str]) -> tuple[tuple[float, ...], tuple[str, ...]]:
    """How much longer every run might turn out (m), and every fault in words."""
    faults: list[str] = []
    found = []
    for text in texts:
        value = _quantity("--longer", text, text, LENGTH, '"20 mm"', faults)
        if value is not None and not value > 0:
            faults.append(f'--longer "{text}": runs are asked about that turn out longer: more than 0 mm')
        elif value is not None:
            found.append(value)
    return tuple(found), tuple(faults)


def _named(option: str, text: str, dimension: Dimension, example: str, faults: list[str]) -> tuple[str, float] | None:
    name, sign, figure = text.rpartition("=")
    if not sign or not name.strip():
        faults.append(f'{option} "{text}": no name, equals sign and figure; write {option} {example}')
        return None
    value = _quantity(option, text, figure.strip(), dimension, example, faults)
    return None if value is None else (name.strip(), value)


def _runs(text: str, faults: list[str]) -> tuple[float, float] | None:
    example = '"2.4 m, 2.1 m"'
    parts = text.split(",")
    if len(parts) != 2:
        faults.append(f'--add "{text}": not two lengths, of the positive and the negative run; write --add {example}')
        return None
    lengths = [_quantity("--add", text, part.strip(), LENGTH, example, faults) for part in parts]
    if any(m is not None and m < 0 for m in lengths):
        faults.append(f'--add "{text}": a run is no shorter than nothing')
    plus_m, minus_m = lengths
    return None if plus_m is None or minus_m is None else (plus_m, minus_m)


def _quantity(
    option: str, whole: str, text: str, dimension: Dimension, example: str, faults: list[str]
) -> float | None:
    try:
        value: Fraction = quantity(text, dimension)
    except ValueError as fault:
        faults.append(f'{option} "{whole}": {fault}; write {option} {example}')
        return None
    return float(value)
