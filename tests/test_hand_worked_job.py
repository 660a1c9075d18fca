"""Two strings in free space, every run a straight line: the whole job against a calculation written out here."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

import cutlist
from cutlist.plan_types import Plan

JOB = """\
name: Two strings in line
units: mm
coordinates: mm
stock: stock.yaml
rules: copper by ambient
ambient: 20 °C
limits: {drop: 3 %, share: 10 %}
battery types:
  - {name: plain 12 V, chemistry: agm, voltage: 12 V, capacity: 100 Ah, resistance: 4 mohm, rest voltage: 12.8 V}
batteries:
  - name: A
    type: plain 12 V
    positive: {at: [-1000, -40, 0], lug: +x, stud: M8, stud points: up}
    negative: {at: [-1000, -40, -500], lug: +x, stud: M8, stud points: up}
  - name: B
    type: plain 12 V
    positive: {at: [-1202, 0, 0], lug: +x, stud: M8, stud points: up}
    negative: {at: [-1202, 0, -500], lug: +x, stud: M8, stud points: up}
strings:
  - {name: S1, batteries: [A]}
  - {name: S2, batteries: [B]}
bus bars:
  - name: positive bus bar
    pole: positive
    studs: 3
    pitch: 40
    stud: M8
    section: 20 mm x 5 mm
    at: {centre: [0, 0, 0], along: [0, 1, 0], out: [0, 0, 1]}
  - name: negative bus bar
    pole: negative
    studs: 3
    pitch: 40
    stud: M8
    section: 20 mm x 5 mm
    at: {centre: [0, 0, -500], along: [0, 1, 0], out: [0, 0, 1]}
loads:
  - name: lamp
    continuous: 60 A
    positive: {at: [600, 40, 0], lug: -x, stud: M8, stud points: up}
    negative: {at: [600, 40, -500], lug: -x, stud: M8, stud points: up}
feeders:
  - {name: lamp positive, pole: positive, from: positive bus bar, to: lamp positive}
  - {name: lamp negative, pole: negative, from: negative bus bar, to: lamp negative}
policy: {string fuse: none, one string out: no, round up: 5 mm}
"""

STOCK = """\
currency: crowns
conductors:
  - {name: 35 mm2, size: 35 mm2, outside diameter: 12 mm, bend radius: 72 mm, insulation: 105 °C}
cable:
  - {conductor: 35 mm2, colour: red, spools: [{label: red reel, length: 5 m, price: 31.00}]}
  - {conductor: 35 mm2, colour: black, by length: [{label: black by the metre, increment: 1 m, price: 7.25}]}
lugs:
  - {conductor: 35 mm2, stud: M8, strip: 18 mm, hole to stop: 22 mm, hole to skin: 42 mm, price: 1.10, pack: 5,
     on hand: 4}
cutting: {kerf: 3 mm}
"""


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    folder: Path = tmp_path_factory.mktemp("hand")
    (folder / "job.yaml").write_text(JOB, encoding="utf-8")
    (folder / "stock.yaml").write_text(STOCK, encoding="utf-8")
    made = cutlist.make_plan(*cutlist.read_job(folder / "job.yaml"))
    assert isinstance(made, Plan)
    return made


def test_lengths(plan: Plan) -> None:
    """Longest run 1202 mm; less 2 x 22 mm in the lugs: 1158; up to the next 5 mm: 1160. Laid: 1160 + 44 = 1204.

    Feeders: 600 - 44 = 556, up to 560.
    """
    shortest_mm = {c.name: c.shortest.length_m * 1000 for c in plan.cables}
    assert shortest_mm["S1 positive"] == pytest.approx(1000, abs=0.01)
    assert shortest_mm["S2 negative"] == pytest.approx(1202, abs=0.01)
    assert {c.cuts[0].length_um for c in plan.leads} == {1_160_000}
    assert plan.target_um == 1_160_000
    for lead in plan.leads:
        assert lead.target_m == pytest.approx(1.204, abs=1e-9)
        assert lead.laid.length_m == pytest.approx(1.204, abs=5e-4)
    assert {c.cuts[0].length_um for c in plan.cables if c.kind == "feeder"} == {560_000}


def test_shares_and_drop(plan: Plan) -> None:
    """Strings on studs 1 and 2, the lamp on stud 3 of bars 20 x 5 mm, studs 40 mm apart.

    Equal EMFs, so I1 (R1 + 2 b) = I2 R2 with R = battery + 2 leads + 4 joints and b one pitch of bar; I1 + I2 = 60.
    """
    ohm_per_m = 0.554e-3  # IEC 60228, 35 mm2 class 5 plain, at 20 °C
    joint = 60e-6  # design allowance of the tool: common practice, no published source
    # IEC 60028: 0.017241 ohm mm2/m and 0.00393/K; bars counted 30 K above the air (ANSI C37.20, plain joints)
    bar = 0.017241 * 0.040 / (20 * 5) * (1 + 0.00393 * 30)

    def warm(current_a: float, length_m: float) -> float:
        """33 CFR 183.425 Table 5: 2 AWG (33.6 mm2, the next below 35), 105 °C: 210 A in air of 30 °C.

        Rise goes with current squared: 75 K at 210 A. Resistance 1 + 0.00393 (T - 20).
        """
        rise_k = 75 * (current_a / 210) ** 2
        return ohm_per_m * length_m * (1 + 0.00393 * rise_k)

    i1, i2 = 30.0, 30.0
    for _ in range(50):  # the cables warm with the current, which follows from their resistance
        r1 = 0.004 + 2 * warm(i1, 1.204) + 4 * joint
        r2 = 0.004 + 2 * warm(i2, 1.204) + 4 * joint
        i1 = 60 * r2 / (r1 + r2 + 2 * bar)
        i2 = 60 - i1
    shares = {s.string: s.current_a for s in plan.shares}
    assert shares == pytest.approx({"S1": i1, "S2": i2}, rel=1e-6)

    feeders = 2 * warm(60, 0.604) + 4 * joint
    # both strings see the same two ends; worked along S1: its leads, both pitches of both bars, the feeders
    drop_v = i1 * (2 * warm(i1, 1.204) + 4 * joint) + 2 * bar * (i1 + 60) + 60 * feeders
    drop_s2_v = i2 * (2 * warm(i2, 1.204) + 4 * joint) + 2 * bar * 60 + 60 * feeders
    (lamp,) = plan.loads
    assert lamp.drop_v == pytest.approx(max(drop_v, drop_s2_v), rel=1e-6)
    assert lamp.drop == pytest.approx(max(drop_v, drop_s2_v) / 12, rel=1e-6)
    assert lamp.voltage_v == pytest.approx(12.8 - 0.004 * i1 - drop_v, rel=1e-6)
    # K I L / CM, K = 10.75 (ABYC E-11 formula), cmil = mm2 x 1973.525: leads at S1's or S2's current, feeders at 60 A
    feet = 3.280839895
    worst = i1 if drop_v > drop_s2_v else i2
    handbook = 10.75 * feet * (worst * 2 * 1.204 + 60 * 2 * 0.604) / (35 * 1973.525)
    assert lamp.handbook_drop_v == pytest.approx(handbook, rel=1e-4)


def test_cost(plan: Plan) -> None:
    """Red: 1160 + 1160 + 560 + 2 kerfs of 3 = 2886 mm out of the one reel sold, 31.00.

    Black: the same 2886 mm, bought as 3 m at 7.25 = 21.75. Lugs: 12 ends, 4 on hand, 8 to buy: 2 packs of 5 at
    1.10 each = 11.00. Together 63.75.
    """
    assert plan.cut_plan.spent == Decimal("52.75")
    assert plan.cut_plan.proved
    assert plan.order.total == Decimal("63.75")
    remains = {s.conductor + " " + s.colour: s.remains_um for s in plan.cut_plan.spools}
    # each piece eats a kerf when something is left behind it: 5000 - 2880 - 9, 3000 - 2880 - 9
    assert remains == {"35 mm2 red": 2_111_000, "35 mm2 black": 111_000}
    lugs = next(line for line in plan.order.lines if line.kind == "lug")
    assert (lugs.needed, lugs.on_hand_used, lugs.quantity, lugs.remains) == (12, 4, 2, 2)
