"""The least a job can be: one string of one battery, two bars, one load; no site, no prices, no policy."""

from __future__ import annotations

from pathlib import Path

from cutlist.bank.job import Policy
from cutlist.job.reader import read_job

JOB = """
name: Smallest
stock: stock.yaml
rules: copper by ambient
ambient: 20 °C
limits: {drop: 5 %}
battery types:
  - {name: b, chemistry: agm, voltage: 12 V, capacity: 50 Ah, resistance: 5 mohm}
batteries:
  - name: B
    type: b
    positive: {at: [0 mm, 0 mm, 0 mm], lug: any, stud: M8}
    negative: {at: [0 mm, 150 mm, 0 mm], lug: any, stud: M8}
strings: [{name: S, batteries: [B]}]
bus bars:
  - {name: plus, pole: positive, studs: 2, pitch: 40 mm, stud: M8, at: {centre: [1 m, 0 m, 0 m], along: +y, out: -x}}
  - {name: minus, pole: negative, studs: 2, pitch: 40 mm, stud: M8, at: {centre: [1 m, 3 ft, 0 m], along: +y, out: -x}}
loads:
  - name: lamp
    continuous: 10 A
    positive: {at: [1 m, 0 m, 600 mm], lug: any, stud: M8}
    negative: {at: [1 m, 3 ft, 600 mm], lug: any, stud: M8}
feeders:
  - {name: lamp plus, pole: positive, from: plus, to: lamp positive}
  - {name: lamp minus, pole: negative, from: minus, to: lamp negative}
"""
STOCK = """
conductors: [{size: 16 mm2, outside diameter: 9 mm, insulation: 105 °C}]
cable:
  - {conductor: 16 mm2, colour: red, spools: [{label: r, length: 10 m}]}
  - {conductor: 16 mm2, colour: black, by length: [{label: b, increment: 1 m}]}
"""


def test_the_smallest_job_is_sound(tmp_path: Path) -> None:
    (tmp_path / "job.yaml").write_text(JOB, encoding="utf-8")
    (tmp_path / "stock.yaml").write_text(STOCK, encoding="utf-8")
    read = read_job(tmp_path / "job.yaml")
    assert [fault.text() for fault in read.faults] == []
    assert read.job is not None
    assert read.stock is not None
    assert read.job.policy == Policy()
    assert read.job.units == "mm"
    assert read.job.colours.link == "red"
    assert read.job.site.space.obstacles == ()
    assert read.job.strings[0].jumpers == ()
    # no rest voltage: the nominal one
    assert read.job.strings[0].emf_v == 12
    # 6 x OD to the inside of the bend where nothing is given: 54 mm, and half of 9 to the centreline
    assert read.stock.conductors[0].bend_radius_m == 0.0585
    red = read.stock.cable("16 mm2", "red")
    assert red is not None
    assert red.spools[0].price is None


def test_bare_numbers_need_their_declared_unit(tmp_path: Path) -> None:
    (tmp_path / "job.yaml").write_text(JOB.replace("[0 mm, 0 mm, 0 mm]", "[0, 0, 0]"), encoding="utf-8")
    (tmp_path / "stock.yaml").write_text(STOCK, encoding="utf-8")
    faults = read_job(tmp_path / "job.yaml").faults
    assert [fault.message for fault in faults] == ['"0" has no unit'] * 3
    assert all("coordinates: mm" in fault.mend for fault in faults)
