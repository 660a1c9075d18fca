"""How much of a string's two leads lies side by side: told when asked, with the right share."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cutlist.planning.poles_together import pole_findings
from geometry.curve import filleted
from tests.sheets.sample import workshop_plan


def lead_along(lead, points):
    curve = filleted([np.array(p, dtype=float) for p in points], 0.06)
    return replace(lead, laid=replace(lead.laid, curve=curve))


def test_the_share_of_two_leads_that_lie_together() -> None:
    """By hand: the positive is 1 m straight; the negative lies 30 mm beside it for 0.4 m and ends there.

    With a diameter d, middles up to d + 50 mm apart count: all 0.4 m of the negative, and of the positive 0.4 m and as
    far past the negative's end as sqrt((d + 50)^2 - 30^2) mm. Both leads together are 1.4 m.
    """
    plan = workshop_plan()
    name = plan.job.strings[0].name
    positive, negative = (
        next(c for c in plan.leads if c.string == name and c.pole == p) for p in ("positive", "negative")
    )
    d_m = positive.conductor.outside_diameter_m
    past_m = ((d_m + 0.05) ** 2 - 0.03**2) ** 0.5
    cables = [
        lead_along(positive, [(0, 0, 0), (1, 0, 0)]),
        lead_along(negative, [(0, 0.03, 0), (0.4, 0.03, 0)]),
    ]
    job = replace(plan.job, policy=replace(plan.job.policy, surplus_together=True))
    (finding,) = pole_findings(job, cables)
    assert finding.value == pytest.approx((0.8 + past_m) / 1.4, abs=0.01)
    assert finding.status == "note"
    assert finding.item == name


def test_nothing_is_said_unless_asked() -> None:
    plan = workshop_plan()
    assert pole_findings(replace(plan.job, policy=replace(plan.job.policy, surplus_together=False)), plan.cables) == ()
