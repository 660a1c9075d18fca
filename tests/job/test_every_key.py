"""What is written under each key arrives in its field. Expected values are those written, in metres, volts, ohms."""

from __future__ import annotations

from dataclasses import fields
from decimal import Decimal
from pathlib import Path

import pytest

from cutlist.bank.cables import Conductor
from cutlist.bank.job import Job, Limits, Policy
from cutlist.bank.stock import CuttingRules, Stock
from cutlist.job.build_job import LIMIT_FIELDS, POLICY_FIELDS
from tests.job.broken import Edit, read_broken, sentences


def sound(folder: Path, job: tuple[Edit, ...] = (), stock: tuple[Edit, ...] = ()) -> tuple[Job, Stock]:
    read = read_broken(folder, job, stock)
    assert [fault.text() for fault in read.faults] == []
    assert read.job is not None
    assert read.stock is not None
    return read.job, read.stock


def test_every_field_of_policy_and_limits_has_its_key() -> None:
    assert {*POLICY_FIELDS.values(), "round_up_um"} == {field.name for field in fields(Policy)}
    assert set(LIMIT_FIELDS.values()) == {field.name for field in fields(Limits)}


def test_policy(tmp_path: Path) -> None:
    written = """policy:
  match: whole loop alike
  clearance: 6
  relief: 1/2 in
  end allowance: 25 mm
  round up: 1/8 in
  longer: 15 mm
  surplus together: yes
  lead conductors: [35 mm2]
  jumper conductors: [35 mm2]
  feeder conductors: [35 mm2]
  string fuse: in line
  fuse family: class T
  in-line fuse at: 150 mm
  like batteries swap: yes
  paralleled: yes
  one string out: no
  dry-fit stop: 8 mm
  later strings: 2

colours: {positive: red, negative: black, link: black}
"""
    text = Path(__file__).parents[2].joinpath("cutlist/job/starter_files/job.yaml").read_text(encoding="utf-8")
    job, _ = sound(tmp_path, ((text[text.index("policy:") :], written),))
    assert job.policy == Policy(
        match="whole loop alike",
        clearance_m=0.006,
        relief_m=0.0127,
        end_allowance_m=0.025,
        round_up_um=3175,
        longer_m=0.015,
        surplus_together=True,
        conductors_lead=("35 mm2",),
        conductors_jumper=("35 mm2",),
        conductors_feeder=("35 mm2",),
        string_fuse="in line",
        string_fuse_family="class T",
        string_fuse_distance_m=0.15,
        like_batteries_swap=True,
        paralleled=True,
        one_string_out=False,
        dry_fit_stop_m=0.008,
        later_strings=2,
    )
    assert job.colours.link == "black"


def test_limits(tmp_path: Path) -> None:
    written = ("  share: 8 %\n  surge drop: 6 %\n  support: 18 in\n  clamp reach: 50 mm\n  fuse distance: 7 in",)
    job, _ = sound(tmp_path, (("  share: 10 %", written[0]),))
    assert job.limits == Limits(0.03, 0.08, 0.06, pytest.approx(0.4572), 0.05, pytest.approx(0.1778))


def test_battery_type(tmp_path: Path) -> None:
    more = "    rest voltage: 12.8 V\n    short circuit: 2.4 kA\n    resistance spread: 3 %"
    job, _ = sound(tmp_path, (("    rest voltage: 12.8 V", more),))
    kind = job.batteries[0].type
    assert (kind.name, kind.chemistry, kind.voltage_v, kind.capacity_ah) == ("AGM 12 V", "agm", 12, 95)
    assert (kind.resistance_ohm, kind.emf_v) == (0.004, 12.8)
    assert (kind.short_circuit_a, kind.resistance_spread) == (2400, 0.03)


def test_bus_bar_in_places_with_a_face(tmp_path: Path) -> None:
    places = (
        "    material: brass\n    torque: 12 N m\n    lugs per stud: 2\n    reserved: 1\n    places:\n"
        "      - {centre: [1750, 310, 560], along: +y, out: -x, face: end wall}\n"
        "      - {centre: [1750, 310, 400], along: [0, 0, 2], out: [-1, 0, 0]}\n"
    )
    job, _ = sound(tmp_path, (("    on: [end wall]\n", places),))
    bar = job.positive_bar
    assert (bar.material, bar.torque_nm, bar.stack_limit, bar.reserved_studs) == ("brass", 12, 2, 1)
    assert (bar.studs, bar.pitch_m, bar.stud, bar.rating_a) == (4, 0.04, "M8", 250)
    assert (bar.width_m, bar.thickness_m) == (0.02, 0.005)
    first, second = bar.places
    assert (first.centre, first.along, first.out, first.face) == ((1.75, 0.31, 0.56), (0, 1, 0), (-1, 0, 0), "end wall")
    assert (second.along, second.face) == ((0, 0, 1), "")
    # four studs of 40 mm pitch about the centre: 60 and 20 to either side
    assert [y for _, y, _ in bar.stud_points(first)] == pytest.approx([0.25, 0.29, 0.33, 0.37])


def test_face_devices_loads_and_notes(tmp_path: Path) -> None:
    job, _ = sound(
        tmp_path,
        (
            ("height: 400, edge: 30}", "height: 400, edge: 30, forbidden: [[100, 0, 0, 50], [200, 100, 250, 400]]}"),
            ("colours: {positive", "notes: [first, second]\ncolours: {positive"),
        ),
    )
    face = job.site.faces[0]
    assert (face.origin, face.u, face.v) == ((1.75, 0.56, 0.26), (0, -1, 0), (0, 0, 1))
    assert (face.width_m, face.height_m, face.edge_m) == (0.5, 0.4, 0.03)
    assert face.forbidden == ((0, 0, 0.1, 0.05), (0.2, 0.1, 0.25, 0.4))
    fuse = job.devices[0]
    assert (fuse.kind, fuse.resistance_ohm, fuse.rating_a, fuse.interrupt_a) == ("fuse", 0.0004, 150, 20_000)
    assert fuse.i2t_a2s == 90_000
    assert fuse.source_side.axis == (0, -1, 0)
    load = job.loads[0]
    assert load.surge is not None
    assert (load.continuous_a, load.surge.current_a, load.surge.duration_s) == (60, 110, 5)
    assert [(f.start, f.finish) for f in job.feeders[:2]] == [
        (("bus bar", "positive bus bar"), ("device source side", "main fuse")),
        (("device load side", "main fuse"), ("load positive", "inverter")),
    ]
    assert job.notes == ("first", "second")


def test_a_load_of_constant_power(tmp_path: Path) -> None:
    """2.4 kW: at 20 V 120 A, where it switches off; else at 24 V nominal 100 A until the bank is solved."""
    given = "    continuous: 60 A\n    surge: {current: 110 A, for: 5 s}"
    job, _ = sound(tmp_path, ((given, "    power: 2.4 kW\n    lowest voltage: 20 V"),))
    assert (job.loads[0].power_w, job.loads[0].lowest_v, job.loads[0].continuous_a) == (2400, 20, 120)
    job, _ = sound(tmp_path, ((given, "    power: 2400 W"),))
    assert (job.loads[0].lowest_v, job.loads[0].continuous_a) == (None, pytest.approx(100))


def test_stock(tmp_path: Path) -> None:
    conductor = (
        "  - {name: big, size: 35mm², strands: class 2, tinned: yes, outside diameter: 12.5 mm, bend radius: 50 mm, "
        "insulation: 221 °F, resistance: 0.6 ohm/km, source: the reel's label, kept value per metre: 4}\n"
    )
    _, stock = sound(
        tmp_path,
        (),
        (
            ("cable: #", conductor + "\ncable: #"),
            (
                "price: 240.00}",
                "price: 240.00, available: 3, price breaks: [{from: 5, price: 220}, {from: 2, price: 230}]}",
            ),
            ("price: 11.20, longest: 50 m", "price: 11.20, least: 2 m, longest: 50 m"),
            ("cutting:", "cutting:\n  least waste: yes\n  larger conductor: yes\n  other colour: yes"),
            ("price: 24.00}", "price: 24.00, on hand: 2, source: its label}"),
        ),
    )
    big = stock.conductor("big")
    assert big == Conductor(
        name="big",
        size="35 mm2",
        area_mm2=35,
        ohm_per_km_20c=0.6,
        ohm_source="the reel's label",
        outside_diameter_m=0.0125,
        bend_radius_m=pytest.approx(0.05625),  # 50 mm inside, and half of 12.5
        insulation_c=105,  # 221 °F: (221 - 32) / 1.8
        tinned=True,
        strands="class 2",
    )
    red = stock.cable("35 mm2", "red")
    assert red is not None
    spool, by_length = red.spools[0], red.by_length[0]
    assert (spool.length_um, spool.price, spool.available) == (25_000_000, Decimal("240.00"), 3)
    assert spool.price_breaks == ((2, Decimal(230)), (5, Decimal(220)))
    assert (by_length.least_um, by_length.longest_um) == (2_000_000, 50_000_000)
    assert stock.rules == CuttingRules(
        kerf_um=2000,
        end_trim_um=10_000,
        keep_above_um=800_000,
        kept_value_per_m=Decimal("2.50"),
        kept_value_by_conductor=(("big", Decimal(4)),),
        least_waste=True,
        larger_conductor_allowed=True,
        other_colour_allowed=True,
    )
    fuse = stock.fuses[0]
    assert (fuse.rating_a, fuse.voltage_v, fuse.interrupt_a, fuse.i2t_a2s) == (80, 125, 20_000, 5000)
    assert (fuse.on_hand, fuse.source) == (2, "its label")
    assert stock.lugs[0].barrel_to_skin_m == 0.037
    assert stock.heat_shrink[0].per_end_m == 0.045
    assert stock.sundries[0].fits_to_m == 0.014
    assert stock.currency == "coins"


@pytest.mark.parametrize(
    ("edit", "says"),
    [
        (("price: 11.20, longest: 50 m", "price: 11.20, least: 60 m, longest: 50 m"), "below the shortest"),
        (("fits to: 16 mm", "fits to: 6 mm"), "not above fits from"),
        (("hole to skin: 37 mm", "hole to skin: 10 mm"), "inside the barrel"),
        (("    remnants:", "    remnants:\n      - {label: red rest, length: 1 m}"), "has the name of another"),
        (("  - conductor: 35 mm2\n    colour: black", "  - conductor: 35 mm2\n    colour: red"), "a second time"),
        (("strands: class 5", "strands: class 2, tinned: perhaps"), "neither yes nor no"),
        (("strands: class 5", "strands: AWG stranded"), "metric size"),
        (("increment: 1 m, price: 11.20", "increment: 1/16 in, price: 11.20"), "not a whole number of micrometres"),
    ],
)
def test_stock_that_contradicts_itself(edit: Edit, says: str, tmp_path: Path) -> None:
    found = sentences(read_broken(tmp_path, (), (edit,)).faults)
    assert any(says in message for message in found), found


@pytest.mark.parametrize(
    ("edit", "says"),
    [
        (("string fuse: at battery", "string fuse: in line"), "needs its distance"),
        (("round up: 5 mm", "round up: 1/16 in"), "not a whole number"),
        (("surge: {current: 110 A", "surge: {current: 10 A"), "less than the continuous"),
        (("    continuous: 60 A", "    power: 900 W\n    continuous: 60 A"), "power"),
        (("    continuous: 60 A", "    continuous: 60 A\n    lowest voltage: 10 V"), "the same at every voltage"),
        (("    continuous: 60 A", "    power: 900 W\n    lowest voltage: 3 V"), "is no lowest voltage of a load"),
        (("    on: [end wall]\n", "    at: {centre: [1750, 310, 560], along: +y, out: +y}\n"), "not at right angles"),
        (("    on: [end wall]\n", "    at: {centre: [1750, 310, 560], along: any, out: -x}\n"), "not one direction"),
        (("    on: [end wall]\n", "    at: {centre: [1790, 310, 560], along: +y, out: -x}\n"), "stud 1 lies inside"),
        (("    on: [end wall]\n", "    at: {centre: [1750, 610, 560], along: +y, out: -x}\n"), "is in no compartment"),
        (("    on: [end wall]\n", "    on: [end wall]\n    turns: [45 deg]\n"), "along a face or up it"),
        (("    on: [end wall]\n", "    on: [end wall]\n    turns: [-5 deg]\n"), "is negative"),
        (("from: positive bus bar, to: main", "from: main fuse source side, to: main"), "ends where it begins"),
        (("to: main fuse source side", "to: inverter positive"), "no feeder ends at its source side"),
    ],
)
def test_a_job_that_contradicts_itself(edit: Edit, says: str, tmp_path: Path) -> None:
    found = sentences(read_broken(tmp_path, (edit,)).faults)
    assert any(says in message for message in found), found


def test_a_device_across_the_bars_is_a_short_circuit(tmp_path: Path) -> None:
    across = (
        "  - {name: slip, pole: negative, from: negative bus bar, to: main fuse load side}\n  - {name: inverter neg"
    )
    found = sentences(read_broken(tmp_path, (("  - {name: inverter neg", across),)).faults)
    assert any("a short circuit" in message for message in found), found
