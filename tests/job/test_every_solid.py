"""One of each solid in a job file, planned end to end; the plan's own stranger checks every run on the way."""

from pathlib import Path

import numpy as np
import pytest

from cutlist.job.reader import read_job
from cutlist.plan import make_plan
from cutlist.plan_types import Plan
from geometry.solids import Box
from tests.job.broken import write_job

TRAY = "    - {name: tray"
# The locker's outline with a corner cut off, and a box that overlaps it further up: inside is either.
ROOMS = """    - name: locker
      prism: {axis: z, outline: [[0, 0], [1300, 0], [1300, 90], [1800, 90], [1800, 600], [0, 600]], from: 0, to: 750}
    - {name: right end, box: {from: [1000, 0, 200], to: [1800, 600, 750]}}
"""
SOLIDS = """    - {name: crate, box: {from: [940, 60, 300], to: [1060, 160, 420], turn: 30 deg}, keep off: 5}
    - {name: pipe, cylinder: {base: [420, 40, 300], axis: [1, 1, 0.5], diameter: 30, height: 300}}
    - name: frame
      prism:
        axis: x
        outline: [[250, 300], [590, 300], [590, 740], [250, 740]]
        from: 1180
        to: 1200
        holes:
          - {name: lightening hole, centre: [420, 520], diameter: 180}
    - name: beam
      prism: {axis: y, outline: [[200, 680], [260, 680], [260, 740], [200, 740]], from: 300, to: 590}
    - name: post
      prism: {axis: z, outline: [[700, 250], [760, 250], [730, 300]], from: 300, to: 740}
"""


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    folder: Path = tmp_path_factory.mktemp("solids")
    room = "    - {name: locker, box: {from: [0, 0, 0], to: [1800, 600, 750]}}\n"
    read = read_job(write_job(folder, ((room, ROOMS), (TRAY, SOLIDS + TRAY))))
    assert [fault.text() for fault in read.faults] == []
    assert read.job is not None
    assert read.stock is not None
    made = make_plan(read.job, read.stock)
    assert isinstance(made, Plan)
    return made


@pytest.mark.parametrize(
    ("name", "point", "distance_mm"),
    [
        # along the box's own x, turned by 30 degrees from x towards y: from its middle (1000, 110), 60 to its face
        ("crate", (1000 + 100 * 3**0.5 / 2, 110 + 50, 360), 40),
        # the axis of length 1.5 from the base: a point on it 150 mm along, then 40 mm square to it
        ("pipe", (420 + 100 + 40 / 2**0.5, 40 + 100 - 40 / 2**0.5, 300 + 50), 25),
        # [y, z] for what is drawn out along x: the hole's middle is 90 mm from its edge
        ("frame", (1190, 420, 520), 90),
        # [x, z] along y: 30 mm above the beam
        ("beam", (230, 400, 770), 30),
        # [x, y] along z: 20 mm before the straight side y = 250
        ("post", (730, 230, 500), 20),
    ],
)
def test_each_stands_where_it_was_written(plan: Plan, name: str, point: tuple[float, ...], distance_mm: float) -> None:
    solid = next(o.solid for o in plan.job.site.space.obstacles if o.name == name)
    found = solid.signed_distance(np.array([point]) / 1000)
    assert found[0] * 1000 == pytest.approx(distance_mm, abs=1e-6)


def test_runs_keep_clear_and_keep_inside(plan: Plan) -> None:
    """The compartments are an L and a box over it: the locker, 1.8 x 0.6 x 0.75 m, less its front right foot."""
    space = plan.job.site.space
    cut_off = Box((1.55, 0.045, 0.1), (0.5, 0.09, 0.2))
    for cable in plan.cables:
        points = cable.laid.curve.points_at(np.linspace(0, cable.laid.length_m, 400))
        radius_m = cable.conductor.outside_diameter_m / 2
        walls = np.concatenate([points, np.array([1.8, 0.6, 0.75]) - points], axis=1).min()
        assert walls >= radius_m
        assert cut_off.signed_distance(points).min() >= radius_m
        for obstacle in space.obstacles:
            if obstacle.name in ("crate", "pipe", "frame", "beam", "post"):
                assert obstacle.solid.signed_distance(points).min() >= radius_m + obstacle.keep_off_m - 1e-4
