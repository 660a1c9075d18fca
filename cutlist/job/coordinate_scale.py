"""Is the unit that a job declares for its coordinates the one they are in? If not, that is the one fault to tell."""

from __future__ import annotations

from collections.abc import Iterable

from cutlist.job.faults import Fault, Mark, Page, shown
from cutlist.job.scene import UNIT_M

# common practice, no published source
FAR_M = 200.0  # a quarter of the coordinates further from zero than this: no bank
NEAR_M = 0.1  # all of them nearer than this: no bank either
FEW = 12  # bare numbers that tell nothing
BEYOND = "is beyond"


def wrong_unit(mark: Mark | None, page: Page) -> bool:
    """Whether it is the wrong unit; then told, in the place of every number that is too large because of it.

    `mark`: where the unit stands. What is built of such coordinates would be full of faults that are none.
    """
    unit = page.coordinate_unit
    sizes = sorted(abs(value) for value in page.bare if value)
    if mark is None or len(sizes) < FEW or unit not in UNIT_M:
        return False
    upper, most = (size * UNIT_M[unit] for size in (sizes[-(len(sizes) // 4) - 1], sizes[-1]))
    if upper > FAR_M:
        message = f"coordinates are said to be in {unit}, and a quarter of them are then {upper:.0f} m or more off zero"
    elif most < NEAR_M:
        message = f"coordinates are said to be in {unit}, and all of them are then within {most * 1000:.3g} mm of zero"
    else:
        return False
    page.faults = list(_others(page.faults))
    likely = "mm, if they are millimetres" if upper > FAR_M else "m, if they are metres"
    mend = f"write the unit they are in: coordinates: {likely}"
    page.fault(mark, f"{message}: {shown(unit)} is not their unit", mend)
    return True


def _others(faults: Iterable[Fault]) -> Iterable[Fault]:
    return (fault for fault in faults if BEYOND not in fault.message)
