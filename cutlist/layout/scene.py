"""The site with the bank in it: what is an obstacle to the cables besides the structure."""

from __future__ import annotations

from collections.abc import Iterable

from cutlist.bank.bus_bars import BarPlace, BusBar
from cutlist.bank.job import Job
from cutlist.layout.cable_ends import cross
from geometry.solids import Box
from geometry.space import Obstacle, Space

LEAST_BAR_THICKNESS_M = 0.003  # a bar whose section is not given still is in the way


def bar_solid(bar: BusBar, place: BarPlace) -> Box:
    """The body of a bus bar, just behind its studs' lug seats.

    Half a pitch beyond the end studs; as wide as its section.
    """
    side = cross(place.out, place.along)
    thickness = max(bar.thickness_m, LEAST_BAR_THICKNESS_M)
    width = max(bar.width_m, bar.pitch_m / 2)
    (x, y, z), (ox, oy, oz) = place.centre, place.out
    behind = thickness / 2
    return Box(
        (x - ox * behind, y - oy * behind, z - oz * behind),
        (bar.studs * bar.pitch_m, width, thickness),
        (place.along, side, place.out),
    )


def space_with_bank(job: Job, bars: Iterable[tuple[BusBar, BarPlace]] = ()) -> Space:
    """The site's obstacles, every battery case, and these bus bars."""
    site = job.site.space
    # clamps are fixed to structure, not to battery cases or live bars; and nothing is draped over them
    cases = [Obstacle(b.name, b.case, clampable=False, laying=True) for b in job.batteries if b.case is not None]
    bodies = [Obstacle(bar.name, bar_solid(bar, place), clampable=False) for bar, place in bars]
    return Space((*site.obstacles, *cases, *bodies), site.compartments, site.penetrations)
