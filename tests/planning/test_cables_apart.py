"""Cables of a plan lie beside each other, or the plan names the pairs that do not."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from cutlist.layout.run_lengths import Laid
from cutlist.planning.layout_findings import _beside
from geometry.check_cables import faults_between
from geometry.curve import Curve, Straight
from geometry.runs import CableShape, End, Request, Run

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
RULE = "cables lie beside each other"


def test_every_pair_of_the_trailer_is_apart(plan_of):
    """The law is the checker's own: it shares no code with what laid them. Jumpers and leads cross in this example."""
    plan = plan_of("clinic-trailer")
    assert [f.status for f in plan.findings if f.rule == RULE] == ["pass"]
    shapes = [CableShape(c.conductor.outside_diameter_m / 2, 0, c.conductor.bend_radius_m, 0) for c in plan.cables]
    apart = [replace(shape, straight_m=0.05) for shape in shapes]
    assert faults_between([c.laid for c in plan.cables], apart) == []
    assert not any("beside each other" in words for words in plan.left_out)


@pytest.mark.parametrize(("height_m", "status"), [(0.0, "note"), (0.0098, "note"), (0.01, "pass")])
def test_a_pair_that_overlaps_is_named_with_its_place(height_m, status):
    """Two cables of 10 mm that cross at right angles: middles 10 mm apart touch; 0.1 mm less is let pass."""
    shape = CableShape(0.005, 0.0, 0.04, 0.02)
    runs, requests = [], []
    for name, a, b in (("one", (-1, 0, 0), (1, 0, 0)), ("two", (0, -1, height_m), (0, 1, height_m))):
        curve = Curve((Straight(*(np.array(p, dtype=float) for p in (a, b))),))
        runs.append(Run(name, curve, 2.0, 1.0, (0, 0, 0), ""))
        requests.append(Request(name, End(a, ((1, 0, 0),)), End(b, ((1, 0, 0),)), shape))
    found = _beside(Laid(tuple(requests), tuple(runs), tuple(runs), {}, (), 0, ()))
    assert [f.status for f in found] == [status]
    if status == "note":
        assert found[0].item == "one and two"
        assert f"{height_m * 1000:.1f} mm between their middles at (0, 0," in found[0].message.replace("-0", "0")
