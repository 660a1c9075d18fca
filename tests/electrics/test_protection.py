"""Fuses: ratings against 33 CFR 183.455, faults worked by hand, and what is said when data is missing."""

from dataclasses import replace

import pytest

from cutlist.bank.bus_bars import Device, Feeder
from cutlist.electrics.bank_solution import solve_bank
from cutlist.electrics.conductors import adiabatic_i2t_a2s
from cutlist.electrics.faults import fault_currents
from cutlist.electrics.fuse_rules import Need, fit_fuse, highest_rating_a, rule_value
from cutlist.electrics.protection import protect
from cutlist.electrics.sizing import size, with_conductors
from tests.electrics.banks import bank, battery_type, cables_of, conductor, fuse, stock, terminal

CU50 = conductor("50 mm2")
FUSED = replace(bank().policy, string_fuse="at battery")


def fused(strings=2, series=1, **changes):
    return bank(strings, series, **({"policy": FUSED} | changes))


def found(job, store, cables, rule, item=None):
    return [f for f in protect(job, store, cables).findings if f.rule == rule and (item is None or f.item == item)]


def statuses(job, store, cables, rule):
    return [f.status for f in found(job, store, cables, rule)]


@pytest.mark.parametrize(("allowed_a", "highest_a"), [(100, 150), (245, 367.5)])
def test_under_50_v_150_percent(allowed_a, highest_a):
    """33 CFR 183.455(c)(1)."""
    assert highest_rating_a(fused(), [], allowed_a) == pytest.approx(highest_a)


def test_from_50_v_up_the_next_standard_rating():
    """33 CFR 183.455(c)(2): not above the ampacity; the next standard size if none matches, to 150 %."""
    job = fused(2, 5)  # 60 V
    assert highest_rating_a(job, [80, 100, 125], 100) == 100
    assert highest_rating_a(job, [80, 110, 125], 100) == 110
    assert highest_rating_a(job, [80, 160], 100) == 100  # the next is beyond 150 %
    assert highest_rating_a(job, [], 100) == 100


def test_the_smallest_fuse_that_carries_load_and_surge():
    """40 A for long asks for 50 A (80 %); a surge of 90 A is carried without a curve by 100 A; 150 % of 80 is 120."""
    job = fused()
    choice = [fuse(r) for r in (40, 50, 60, 80, 100, 125)]
    assert fit_fuse(job, choice, Need(40, 0), 80).rating_a == 50
    assert fit_fuse(job, choice, Need(40, 90), 80).rating_a == 100
    assert fit_fuse(job, choice, Need(40, 300), 80).rating_a == 50  # none carries it: the smallest, and a finding
    assert fit_fuse(job, choice, Need(97, 0), 80) is None  # 121 A wanted, 120 A allowed
    assert fit_fuse(job, [fuse(100, voltage_v=12.0)], Need(40, 0), 80) is None  # 12.8 V at rest


def test_a_fuse_known_to_interrupt_comes_first_then_the_cheaper():
    from decimal import Decimal

    job = fused()
    weak, strong = fuse(100, family="a", interrupt_a=2000.0), fuse(100, family="b", price=Decimal(30))
    assert fit_fuse(job, [weak, strong], Need(40, 0), 80, through_a=5000) is strong
    assert fit_fuse(job, [weak, strong], Need(40, 0), 80, through_a=1000) is weak


def test_fault_currents_by_hand():
    """Two strings of one battery, 12.8 V behind 4 milliohm, leads 2 m of 50 mm2 (0.772 milliohm each at 20 °C).
    At the bus each string gives 12.8 / 5.544e-3 = 2308.80 A: 4617.60 A.
    On S1's positive lead at the battery: its own 12.8 / 4e-3 = 3200 A; S2 comes through its two leads and back through
    S1's two: 12.8 / (5.544e-3 + 1.544e-3) = 1805.87 A."""
    job = bank(2, 1)
    faults = {f.place: f for f in fault_currents(job, cables_of(job, CU50))}
    assert faults["bus bars"].total_a == pytest.approx(4617.60, abs=0.01)
    lead = faults["S1 positive lead at the battery"]
    assert lead.own_a == pytest.approx(3200)
    assert lead.others_a == pytest.approx(1805.87, abs=0.01)


def test_the_makers_short_circuit_current_is_believed_where_it_is_higher():
    """Six 6 V batteries of 2400 A as three strings of two give 7200 A (guide to interrupting capacity citing ABYC
    E-11: add strings, not batteries in series): with leads of no length the bus sees just that."""
    six = battery_type(voltage_v=6.0, emf_v=6.4, resistance_ohm=0.02, short_circuit_a=2400.0)
    job = bank(3, 2, battery=six)
    cables = cables_of(job, CU50, lead_m=0.0, jumper_m=0.0)
    assert fault_currents(job, cables)[0].total_a == pytest.approx(7200)


def main_fused(job, **changes):
    usual = {"resistance_ohm": 0.0001, "rating_a": 200.0, "interrupt_a": 20000.0}
    main = Device("main fuse", "fuse", terminal("in", "M10"), terminal("out", "M10"), **(usual | changes))
    feeders = (
        Feeder("bar to fuse", "positive", ("bus bar", "positive bar"), ("device source side", "main fuse")),
        Feeder("fuse to load", "positive", ("device load side", "main fuse"), ("load positive", "inverter")),
        job.feeders[1],
    )
    return replace(job, devices=(main,), feeders=feeders)


def test_a_main_fuse_beyond_a_metre_of_cable():
    """Fault to the negative bar beyond a 0.1 milliohm fuse and 1 m of 50 mm2 (0.386 milliohm): strings together
    12.8 V behind 2.772 milliohm: 12.8 / (2.772 + 0.486) e-3 = 3928.8 A."""
    job = main_fused(fused())
    faults = fault_currents(job, cables_of(job, CU50))
    assert faults[-1].place == "beyond main fuse"
    assert faults[-1].total_a == pytest.approx(12.8 / 3.258e-3)
    store, cables = stock(fuses=[fuse(150)]), cables_of(job, CU50)
    assert statuses(job, store, cables, "main fuse rating") == ["pass"]
    assert found(job, store, cables, "interrupt rating", "main fuse")[0].value == pytest.approx(12.8 / 3.258e-3)


@pytest.mark.parametrize(("rating_a", "status"), [(120.0, "fail"), (125.0, "pass"), (360.0, "pass"), (500.0, "fail")])
def test_main_fuse_between_load_and_feeder(rating_a, status):
    """100 A for long asks for 125 A; 50 mm2 for 105 °C in 20 °C air: 245 x sqrt(85 / 75) = 260.8 A, 150 %: 391 A."""
    job = main_fused(fused(), rating_a=rating_a)
    assert statuses(job, stock(fuses=[fuse(150)]), cables_of(job, CU50), "main fuse rating") == [status]


def test_missing_data_is_never_a_pass():
    job = main_fused(fused(), rating_a=None, interrupt_a=None)
    store = stock(fuses=[fuse(150, interrupt_a=None, i2t_a2s=None)])
    cables = cables_of(job, CU50)
    for rule, count in (("interrupt rating", 3), ("fault withstand", 7), ("main fuse rating", 1)):
        assert statuses(job, store, cables, rule) == ["unknown"] * count
    assert statuses(fused(), stock(), cables_of(fused(), CU50), "string fuse rating") == ["unknown", "unknown"]


def test_a_surge_beyond_the_rating_is_a_question_not_a_pass():
    """One of two strings out: 200 A in the surge through the other's 125 A fuse (100 A for long)."""
    job = fused()
    findings = found(job, stock(fuses=[fuse(125)]), cables_of(job, CU50), "string fuse in a surge")
    assert {f.status for f in findings} == {"unknown"}
    assert not found(job, stock(fuses=[fuse(200)]), cables_of(job, CU50), "string fuse in a surge")


def test_an_interrupt_rating_below_the_fault_fails():
    job = fused()
    weak = stock(fuses=[fuse(200, interrupt_a=2000.0)])  # 3200 A by hand above
    assert statuses(job, weak, cables_of(job, CU50), "interrupt rating") == ["fail", "fail"]


def test_all_strings_get_the_same_fuse():
    job = fused(3, 2, bar=(0.02, 0.003))
    fuses = protect(
        job, stock(fuses=[fuse(r) for r in (60, 61, 62, 63, 64, 65, 80)]), cables_of(job, CU50)
    ).string_fuses
    assert len({f.rating_a for f in fuses.values()}) == 1
    assert sorted(fuses) == ["S1", "S2", "S3"]


@pytest.mark.parametrize(("distance_m", "status"), [(0.15, "pass"), (0.178, "fail"), (0.5, "fail")])
def test_distance_along_the_lead(distance_m, status):
    """33 CFR 183.455(b)(1): 7 in = 177.8 mm."""
    job = fused(policy=replace(FUSED, string_fuse="in line", string_fuse_distance_m=distance_m))
    cables = []
    for cable in cables_of(job, CU50):
        if cable.kind == "lead" and cable.pole == "positive":
            near, far = ("fuse battery side", cable.string), ("fuse bar side", cable.string)
            cables.append(replace(cable, name=f"{cable.name} to fuse", finish=near, length_m=distance_m))
            cables.append(replace(cable, name=f"{cable.name} from fuse", start=far, length_m=2 - distance_m))
        else:
            cables.append(cable)
    assert statuses(job, stock(fuses=[fuse(200)]), cables, "fuse distance") == [status, status]
    own = replace(job, limits=replace(job.limits, fuse_distance_m=0.6))
    assert statuses(own, stock(fuses=[fuse(200)]), cables, "fuse distance") == ["pass", "pass"]


def test_a_fuse_at_the_bus_bar_leaves_the_lead_open():
    job = fused(policy=replace(FUSED, string_fuse="at bus bar"))
    findings = found(job, stock(fuses=[fuse(200)]), cables_of(job, CU50), "fuse distance")
    assert [f.status for f in findings] == ["fail", "fail"]
    assert findings[0].value == pytest.approx(2.0)


def test_fault_withstand_against_the_heat_the_copper_holds():
    job = fused()
    bears = adiabatic_i2t_a2s(50, 105, 150)
    for i2t, status in ((bears * 0.99, "pass"), (bears * 1.01, "fail")):
        store = stock(fuses=[fuse(200, i2t_a2s=i2t)])
        found_here = found(job, store, cables_of(job, CU50), "fault withstand")
        assert [f.status for f in found_here if "its fuse" in f.message] == [status, status]


def test_both_ends_of_a_lead_are_spoken_of():
    """Five strings, 60 A fuses: four others pass 240 A, under 150 % of 260.8 A; in 16 mm2 (6 AWG: 127.7 A) over."""
    job = fused(5)
    store = stock(("16 mm2", "50 mm2"), fuses=[fuse(60)])
    thick = found(job, store, cables_of(job, CU50), "protection at both ends")
    thin = found(job, store, cables_of(job, conductor("16 mm2")), "protection at both ends")
    assert {f.status for f in thick} == {"pass"}
    assert {f.status for f in thin} == {"note"}
    assert "from both ends" in thin[0].message


@pytest.mark.parametrize(("rules", "ah", "status"), [
    ("copper by ambient", 100.0, "fail"), ("33 CFR 183", 100.0, "fail"), ("copper by ambient", 300.0, "fail"),
])  # fmt: skip
def test_strings_without_fuses(rules, ah, status):
    """33 CFR 183.455(a) asks for one on every conductor; ABYC E-11 (July 2025) for banks over 500 Ah; and 1806 A are
    more than a lead of 261 A bears, whatever the rules."""
    job = bank(2, 1, rules=rules, battery=battery_type(capacity_ah=ah))
    findings = found(job, stock(), cables_of(job, CU50), "string fuses")
    assert [f.status for f in findings] == [status]
    assert "1806 A" in findings[0].message  # by hand above
    assert not found(bank(1, 1), stock(), cables_of(bank(1, 1), CU50), "string fuses")


def test_fuses_that_feed_a_fault_together():
    """Two fuses of q each drive at most (i1 + i2)^2 <= 2 (i1^2 + i2^2): 4 q into what lies behind both. So with q a
    little under a quarter of what the cable bears all is well; a little over, and both feeders fail. Three strings
    drive 4 q from the other two into a lead and 9 q into a feeder."""
    bears = adiabatic_i2t_a2s(50, 105, 150)
    for strings, share, leads, feeders in (
        (2, 0.24, "pass", "pass"),
        (2, 0.26, "pass", "fail"),
        (3, 0.26, "fail", "fail"),
        (3, 0.12, "pass", "fail"),
    ):
        job = fused(strings)
        here = found(job, stock(fuses=[fuse(200, i2t_a2s=share * bears)]), cables_of(job, CU50), "fault withstand")
        assert {f.status for f in here if "from the bus bar" in f.message} == {leads}
        assert {f.status for f in here if "together" in f.message} == {feeders}
    # two cables side by side take half the current each: four times the I2t of one
    pairs = [replace(c, paralleled=2) if c.kind == "feeder" else c for c in cables_of(fused(), CU50)]
    here = found(fused(), stock(fuses=[fuse(200, i2t_a2s=0.9 * bears)]), pairs, "fault withstand")
    assert {f.status for f in here if "together" in f.message} == {"pass"}


def test_feeders_behind_a_main_fuse():
    bears = adiabatic_i2t_a2s(50, 105, 150)
    for i2t, status in ((0.99 * bears, "pass"), (1.01 * bears, "fail"), (None, "unknown")):
        job = main_fused(fused(), i2t_a2s=i2t)
        here = found(job, stock(fuses=[fuse(200)]), cables_of(job, CU50), "fault withstand")
        behind = [f for f in here if "main fuse lets through" in f.message]
        assert [f.item for f in behind] == ["fuse to load", "main negative"]
        assert {f.status for f in behind} == {status}


def test_sizing_asks_what_protection_asks():
    """A fuse that lets through more than the smallest cable bears makes sizing take a larger one."""
    job = replace(fused(), policy=replace(fused().policy, conductors_lead=("35 mm2", "50 mm2")))
    q = adiabatic_i2t_a2s(35, 105, 150) * 1.01
    store = stock(("35 mm2", "50 mm2", "95 mm2"), fuses=[fuse(200, i2t_a2s=q)])
    cables = cables_of(job, CU50, lead_m=0.5, feeder_m=0.3, jumper_m=0.2)
    sizing = size(job, store, cables)
    thin = [t for t in sizing.tried if t.combination.lead.name == "35 mm2"]
    assert any("its fuse lets through" in fault for t in thin for fault in t.faults)
    assert sizing.chosen.combination.lead.name == "50 mm2"
    laid = with_conductors(cables, sizing.chosen.combination)
    assert not [f for f in protect(job, store, laid).findings if f.rule == "fault withstand" and f.status == "fail"]


def test_strings_that_can_feed_little_need_no_fuse_unless_a_rule_asks():
    """100 milliohm a battery: the other string drives at most 12.8 V / 0.1 = 128 A into a lead that may carry 261 A."""
    weak = bank(2, 1, battery=battery_type(resistance_ohm=0.1), load_a=10)
    assert statuses(weak, stock(), cables_of(weak, CU50), "string fuses") == ["note"]
    boat = replace(weak, rules="33 CFR 183")
    assert statuses(boat, stock(), cables_of(boat, CU50), "string fuses") == ["fail"]


def test_no_main_fuse():
    """Two 60 A fuses pass 120 A into feeders that may be fused at 391 A; two of 200 A pass 400 A: too much."""
    small, large = fused(load_a=50), fused()
    assert statuses(small, stock(fuses=[fuse(65)]), cables_of(small, CU50), "main fuse") == ["pass"]
    assert statuses(large, stock(fuses=[fuse(200)]), cables_of(large, CU50), "main fuse") == ["fail"]


def test_needs_are_those_of_the_full_solution():
    job = fused(3, 2, bar=(0.025, 0.006))
    cables = cables_of(job, CU50)
    message = found(job, stock(fuses=[fuse(200)]), cables, "string fuse rating", "S1")[0].message
    worst_a = max(abs(solve_bank(job, cables, out=(out,)).string_currents_a["S1"]) for out in ("S2", "S3"))
    assert f"for the {worst_a:.0f} A that may flow" in message


def test_rules_from_memory_are_refused():
    with pytest.raises(ValueError, match="not known well enough"):
        rule_value("distance from the battery")


@pytest.mark.parametrize(
    ("rating_a", "before_m", "status"), [(150, 1.0, "pass"), (230, 1.0, "fail"), (230, 0.15, "pass")]
)
def test_the_cable_before_a_main_fuse(rating_a, before_m, status):
    """Two string fuses of 150 A pass 300 A, under 391 A (see above): covered. Of 230 A they pass 460 A: then the main
    fuse must sit within 7 in (177.8 mm) of the bus bar."""
    job = main_fused(fused())
    cables = [replace(c, length_m=before_m) if c.name == "bar to fuse" else c for c in cables_of(job, CU50)]
    findings = found(job, stock(fuses=[fuse(rating_a)]), cables, "main fuse distance", "main fuse")
    assert [f.status for f in findings] == [status]
    # whichever rule decides, the figures shown are that rule's: a pass never shows a limit that is passed
    assert (findings[0].margin >= 0) == (status == "pass")
    assert (findings[0].value, findings[0].unit) == ((300.0, "A") if rating_a == 150 else (before_m, "m"))


def test_each_main_fuse_is_held_against_the_feeder_behind_it():
    """A thin feeder behind one main fuse does not judge the other's; the bus bar parts them."""
    job = main_fused(fused())
    second = replace(job.devices[0], name="second fuse")
    other = replace(job.loads[0], name="pump", continuous_a=10.0, surge=None)
    job = replace(job, devices=(*job.devices, second), loads=(*job.loads, other), feeders=(
        *job.feeders,
        Feeder("bar to second", "positive", ("bus bar", "positive bar"), ("device source side", "second fuse")),
        Feeder("second to pump", "positive", ("device load side", "second fuse"), ("load positive", "pump")),
        Feeder("pump negative", "negative", ("bus bar", "negative bar"), ("load negative", "pump")),
    ))  # fmt: skip
    thin = conductor("16 mm2")
    cables = [replace(c, conductor=thin) if c.name == "second to pump" else c for c in cables_of(job, CU50)]
    found_for = {
        f.item: f for f in protect(job, stock(fuses=[fuse(150)]), cables).findings if f.rule == "main fuse rating"
    }
    assert "fuse to load allows 391 A" in found_for["main fuse"].message
    assert "second to pump allows 192 A" in found_for["second fuse"].message
    assert found_for["second fuse"].status == "fail"  # 200 A on 16 mm2
