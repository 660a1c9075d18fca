"""The studs of a bank as posts that stand in the way of every cable that does not end on them.

What is measured of a stud is its middle at the face its lug lies on, its thread, and the way it points. The rest is
common practice, no published source: a nut about 0.8 of its thread high stands on that face at least, what carries the
stud comes up from the solid it stands on, and a lug's tongue is twice as broad as the hole in it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from cutlist.bank.bus_bars import BarPlace
from cutlist.bank.job import Job
from cutlist.layout.cable_ends import Stud, bar_studs, stud_of
from cutlist.reference.tables import rows
from geometry.check_posts import Post, posts_passed
from geometry.curve import Curve
from geometry.runs import Point
from geometry.solids import Cylinder
from geometry.space import Obstacle, Space

NUT_HIGH = 0.8  # of the thread
TONGUE_BROAD = 2.0  # of the hole
HOLE_WIDE = 1.05  # of the thread, for threads that reference/stud_holes does not list
TALLEST_FOOT_M = 0.06  # a solid further below than this is not what the stud stands on
SOURCE = (
    "posts: thread of the stud, a nut of 0.8 of it high (common practice, no published source); lugs: tongue twice as "
    "broad as its hole (common practice, no published source), holes of reference/stud_holes"
)


def every_stud(job: Job, places: Mapping[str, BarPlace]) -> tuple[Stud, ...]:
    """Of batteries, devices, loads, and of every bus bar that has a place, whether a cable ends there or not."""
    terminals = [
        *(t for battery in job.batteries for t in (battery.positive, battery.negative)),
        *(t for device in job.devices for t in (device.source_side, device.load_side)),
        *(t for load in job.loads for t in (load.positive, load.negative)),
    ]
    bars = [s for bar in job.bus_bars if bar.name in places for s in bar_studs(bar, places[bar.name])]
    return (*map(stud_of, terminals), *bars)


def every_post(job: Job, space: Space, places: Mapping[str, BarPlace]) -> tuple[Post, ...]:
    solids = {obstacle.name: obstacle.solid for obstacle in space.obstacles}
    posts = []
    for stud in every_stud(job, places):
        thread_m, hole_m = stud_sizes_m(stud.stud)
        below_m = 0.0
        if stud.stands_on in solids:
            off_m = float(solids[stud.stands_on].signed_distance(np.array([stud.point]))[0])
            below_m = off_m if 0.0 < off_m < TALLEST_FOOT_M else 0.0
        foot, top = _along(stud, -below_m), _along(stud, NUT_HIGH * thread_m)
        posts.append(Post(stud.at, stud.point, foot, top, thread_m / 2, TONGUE_BROAD * hole_m / 2))
    return tuple(posts)


def with_posts(
    job: Job, space: Space, places: Mapping[str, BarPlace], passed: Iterable[tuple[Curve, float]] = ()
) -> Space:
    """The space with every stud as a solid of its own, from which all cables but its own keep their clearance.

    Studs that share a point have none: a cable on one would begin in the other. Nor have those that one of the curves
    `passed` comes nearer to than so many metres.
    """
    posts = every_post(job, space, places)
    seats = np.array([post.seat for post in posts])
    left_out = {passing.post for curve, off_m in passed for passing in posts_passed(curve, off_m, posts)}
    solids = []
    for post in (post for post in posts if post not in left_out):
        if np.count_nonzero(np.linalg.norm(seats - np.array(post.seat), axis=1) < 2 * post.radius_m) > 1:
            continue
        way = np.subtract(post.top, post.foot)
        rod = Cylinder(
            post.foot, (float(way[0]), float(way[1]), float(way[2])), post.radius_m, float(np.linalg.norm(way))
        )
        solids.append(Obstacle(f"stud of {post.name}", rod, clampable=False))
    return replace(space, obstacles=(*space.obstacles, *solids))


def _along(stud: Stud, far_m: float) -> Point:
    (x, y, z), (ax, ay, az) = stud.point, stud.axis
    return (x + far_m * ax, y + far_m * ay, z + far_m * az)


def stud_sizes_m(stud: str) -> tuple[float, float]:
    """Thread of a stud and hole of its lug.

    >>> [tuple(round(1000 * size, 3) for size in stud_sizes_m(stud)) for stud in ("M10", "5/8 in", "#8")]
    [(10.0, 10.5), (15.875, 16.669), (4.166, 4.374)]
    """
    for row in rows("stud_holes"):
        if row["stud"] == stud:
            return float(row["stud_mm"]) / 1000, float(row["hole_mm"]) / 1000
    thread_m = _thread_m(stud)
    return thread_m, HOLE_WIDE * thread_m


def _thread_m(stud: str) -> float:
    """By its name; gauge sizes of inch threads are 0.060 in and 0.013 in more for each number (ASME B1.1)."""
    if metric := re.fullmatch(r"M(\d+)", stud):
        return int(metric[1]) / 1000
    if inch := re.fullmatch(r"(\d+)/(\d+) in", stud):
        return 0.0254 * int(inch[1]) / int(inch[2])
    if gauge := re.fullmatch(r"#(\d+)", stud):
        return 0.0254 * (0.060 + 0.013 * int(gauge[1]))
    raise ValueError(f'"{stud}" is no stud size')
