"""Why strings share unequally, how equal is enough, and how likely a bank as built leaves its band."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from cutlist.bank.job import Job
from cutlist.electrics.string_model import (
    CAUSES,
    RESISTANCES,
    StringModel,
    departures,
    string_currents,
)
from cutlist.reference.tables import row_where

BISECTIONS = 60
LONGEST_TOLERANCE_M = 100.0  # beyond this, length does not matter


@dataclass(frozen=True)
class Contribution:
    """What one cause does to the sharing, all else ideal; and what is left if it alone were put right."""

    cause: str
    alone: float  # largest string current over smallest, less 1
    without: float
    spread_ohm: float  # largest over smallest part of a string's resistance; 0 for EMF and bars


@dataclass(frozen=True)
class Tolerance:
    """How far each lead may be off its length, either way, with the share still kept."""

    share: float  # the departure from an even share that is allowed
    length_m: float  # 0: the share is not kept even with no error at all
    limited_by: str  # the string that leaves its band first


@dataclass(frozen=True)
class Spread:
    """What is not the same from one part to the next. Standard deviations, but the length is a largest error."""

    battery_resistance: float = 0.0  # share of a battery's resistance
    battery_emf_v: float = 0.0  # of one battery
    length_m: float = 0.0  # every lead within this of its length, evenly spread
    joint_low_ohm: float | None = None  # each termination evenly between these; None: none scatters
    joint_high_ohm: float | None = None


@dataclass(frozen=True)
class Chance:
    """Out of many banks built so, how many have a string outside its band."""

    samples: int
    seed: int
    chance: float
    low: float  # 95 % interval of the chance itself (Wilson)
    high: float
    median_departure: float  # of the worst string
    departure_95: float  # 95 of 100 banks are better


def contributions(model: StringModel) -> tuple[Contribution, ...]:
    """Each cause alone in an otherwise ideal bank, and the bank without it, largest first.

    Ideal means: every string has the mean of all strings, and bars have no resistance. Shares are products rather than
    sums, so the parts need not add up to the whole.
    """
    found = []
    for cause in CAUSES:
        spread = model.parts_ohm[cause].max() - model.parts_ohm[cause].min() if cause in RESISTANCES else 0.0
        others = tuple(c for c in CAUSES if c != cause)
        alone = _unevenness(_ideal(model, others))
        without = _unevenness(_ideal(model, (cause,)))
        found.append(Contribution(cause, alone, without, float(spread)))
    return tuple(sorted(found, key=lambda c: (-c.alone, c.cause)))


def unevenness(model: StringModel) -> float:
    """Largest string current over smallest, less 1."""
    return _unevenness(model)


def _unevenness(model: StringModel) -> float:
    amps = string_currents(model)[0] * (1 if model.load_a >= 0 else -1)
    return float(amps.max() / amps.min() - 1) if amps.min() > 0 else math.inf


def _ideal(model: StringModel, causes: tuple[str, ...]) -> StringModel:
    """The model with these causes put right."""
    parts = {name: np.full_like(ohm, ohm.mean()) if name in causes else ohm for name, ohm in model.parts_ohm.items()}
    emf = np.full_like(model.emf_v, model.emf_v.mean()) if "battery EMF" in causes else model.emf_v
    ideal = replace(model, parts_ohm=parts, emf_v=emf)
    if "bus bars and tap" in causes:
        ideal = replace(ideal, positive_pitch_ohm=0.0, negative_pitch_ohm=0.0)
    return ideal


def length_tolerance(model: StringModel, share: float) -> Tolerance:
    """The largest error of every lead, longer or shorter, that keeps each string within `share` of an even one.

    A string carries most when its own two leads are short and all others long, and least the other way about; these
    2n worst banks are solved together, and the error is found by bisection.
    """
    n = len(model.strings)
    own = np.eye(n)
    # +1 where a string's leads are long, -1 where short: first each string short, then each long.
    patterns = np.concatenate([1 - 2 * own, 2 * own - 1])
    per_m = model.lead_ohm_per_m.sum(axis=1)

    def worst(error_m: float) -> tuple[float, int]:
        # A lead cannot be shorter than nothing: the error is capped at its own length, in ohms.
        ohm = np.maximum(model.resistance_ohm + patterns * per_m * error_m, 0.2 * model.resistance_ohm)
        off = np.abs(departures(model, string_currents(model, resistance_ohm=ohm)))
        at = int(off.max(axis=0).argmax())
        return float(off.max()), at

    if worst(0.0)[0] > share:
        return Tolerance(share, 0.0, model.strings[worst(0.0)[1]])
    low, high = 0.0, LONGEST_TOLERANCE_M
    if worst(high)[0] <= share:
        return Tolerance(share, high, model.strings[worst(high)[1]])
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        if worst(middle)[0] <= share:
            low = middle
        else:
            high = middle
    return Tolerance(share, low, model.strings[worst(high)[1]])


def usual_spread(job: Job) -> Spread:
    """What the job says of its batteries, the cutting step as length error, and joints as practice finds them."""
    row = row_where("joints", "joint", "lug on stud: crimp, lug and contact")
    return Spread(
        battery_resistance=max((b.type.resistance_spread for b in job.batteries), default=0.0),
        length_m=job.policy.round_up_um / 1e6,
        joint_low_ohm=float(row["low_ohm"]),
        joint_high_ohm=float(row["high_ohm"]),
    )


def chance_outside(model: StringModel, spread: Spread, share: float, *, samples: int = 10_000, seed: int = 1) -> Chance:
    """Build the bank `samples` times with everything scattered, and count those with a string off by more than `share`.

    The same seed gives the same answer. A battery's resistance is kept above a tenth of its own.
    """
    rng = np.random.default_rng(seed)
    n = len(model.strings)
    each = model.parts_ohm["battery resistance"] / model.batteries
    # Independent batteries in series: spreads add as squares.
    battery_sd = spread.battery_resistance * each * np.sqrt(model.batteries)
    battery = model.parts_ohm["battery resistance"] + rng.standard_normal((samples, n)) * battery_sd
    battery = np.maximum(battery, 0.1 * model.parts_ohm["battery resistance"])
    errors_m = rng.uniform(-spread.length_m, spread.length_m, (samples, n, 2))
    ohm = model.resistance_ohm - model.parts_ohm["battery resistance"] + battery
    ohm += (errors_m * model.lead_ohm_per_m).sum(axis=2)
    if spread.joint_low_ohm is not None and spread.joint_high_ohm is not None:
        ohm += _joints(model, spread.joint_low_ohm, spread.joint_high_ohm, rng, samples)
    emf = model.emf_v + rng.standard_normal((samples, n)) * spread.battery_emf_v * np.sqrt(model.batteries)
    off = np.abs(departures(model, string_currents(model, resistance_ohm=ohm, emf_v=emf))).max(axis=1)
    chance = float((off > share).mean())
    low, high = wilson_interval(int((off > share).sum()), samples)
    median, most = np.quantile(off, [0.5, 0.95])
    return Chance(samples, seed, chance, low, high, float(median), float(most))


def _joints(model: StringModel, low_ohm: float, high_ohm: float, rng: np.random.Generator, samples: int) -> np.ndarray:
    """What each string's terminations differ from the allowance the model counts for them."""
    most = int(model.joints.max())
    each = rng.uniform(low_ohm, high_ohm, (samples, len(model.strings), most)) - model.joint_ohm
    exists = np.arange(most) < model.joints[:, None]
    return (each * exists).sum(axis=2)


def wilson_interval(hits: int, samples: int, z: float = 1.959964) -> tuple[float, float]:
    """95 % interval of a chance seen as `hits` in `samples`. Source: Wilson 1927.

    >>> low, high = wilson_interval(0, 10_000)
    >>> round(low, 6), round(high, 6)
    (0.0, 0.000384)
    """
    share = hits / samples
    middle = (share + z * z / (2 * samples)) / (1 + z * z / samples)
    half = z / (1 + z * z / samples) * math.sqrt(share * (1 - share) / samples + z * z / (4 * samples**2))
    return max(0.0, middle - half), min(1.0, middle + half)
