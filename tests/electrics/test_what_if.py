"""What if: a string out, a string back, a bad crimp, a string more; by hand where it can be."""

from dataclasses import replace

import pytest

from cutlist.bank.job import Limits
from cutlist.electrics.bank_solution import bank_findings, solve_bank, solve_states
from cutlist.electrics.rejoin import rejoin
from cutlist.electrics.what_if import bad_joint, further_string, isolate
from tests.electrics.banks import bank, battery_type, cables_of, conductor, fuse

CU50 = conductor("50 mm2")
FLOODED = battery_type(chemistry="flooded", emf_v=12.65, resistance_ohm=0.005)


def test_two_thirds_carry_half_as_much_again():
    """n / (n - 1): three strings to two, like strings on bars without resistance."""
    job = bank(3, 2)
    found = isolate(job, cables_of(job, CU50), "S2")
    assert found.rise == pytest.approx(0.5, rel=1e-9)
    assert found.currents_a == pytest.approx({"S1": 50, "S3": 50})
    assert found.failing == ()


def test_the_limits_that_fail_with_a_string_out_are_named():
    """A drop limit that all three strings keep and two do not."""
    job = bank(3, 2)
    cables = cables_of(job, CU50, lead_m=3.0)
    whole = solve_bank(job, cables).worst_drop.share
    out = solve_bank(job, cables, out=("S2",)).worst_drop.share
    job = replace(job, limits=Limits(drop=(whole + out) / 2))
    found = isolate(job, cables, "S2")
    assert [f.rule for f in found.failing] == ["voltage drop, one string out"]
    # What failed all along is not blamed on the string that went.
    bad = replace(job, limits=Limits(drop=whole / 2))
    assert not isolate(bad, cables, "S2").failing


def test_what_isolation_refuses():
    job = bank(1, 1)
    with pytest.raises(ValueError, match="the only string"):
        isolate(job, cables_of(job, CU50), "S1")
    job = bank(2, 1)
    with pytest.raises(ValueError, match='no string "S9" \\(S1, S2 are\\)'):
        isolate(job, cables_of(job, CU50), "S9")


def test_a_string_put_back_by_hand():
    """Flooded, 12.65 V full, 12.25 V at half: 0.4 V between one string and the other. Each 5 milliohm, leads 4 x 0.772
    milliohm, eight joints of 60 microohm: 10 + 3.088 + 0.48 = 13.568 milliohm: 29.481 A into the empty one."""
    job = bank(2, 1, battery=FLOODED)
    found = rejoin(job, cables_of(job, CU50), "S1", soc=0.5, others_soc=1.0, fuses=None)
    assert found.difference_v == pytest.approx(-0.4)
    assert found.current_a == pytest.approx(-0.4 / 13.568e-3, rel=1e-6)
    assert found.worst_other_a == pytest.approx(0.4 / 13.568e-3, rel=1e-6)
    assert found.finding.status == "pass"  # against the leads' ampacity
    assert found.fuse_a is None


def test_a_string_put_back_against_its_fuse():
    job = bank(2, 1, battery=FLOODED, policy=replace(bank().policy, string_fuse="at battery"))
    cables = cables_of(job, CU50)
    fuses = {"S1": fuse(20, resistance_ohm=0.0), "S2": fuse(20, resistance_ohm=0.0)}
    found = rejoin(job, cables, "S1", soc=0.5, others_soc=1.0, fuses=fuses)
    assert found.finding.status == "fail"
    assert "20 A fuse" in found.finding.message
    # 20 A x 13.568 milliohm = 0.27136 V. From full down the curve loses 0.225 V to 75 %, then 0.175 V a quarter: 81.6 %
    # of it ... 0.04636 V more is 0.04636 / 0.7 = 0.0662: 31.6 % below full.
    assert found.safe_difference == pytest.approx(0.25 + (0.27136 - 0.225) / 0.7, rel=1e-3)
    near = rejoin(job, cables, "S1", soc=1 - found.safe_difference + 0.01, others_soc=1.0, fuses=fuses)
    assert near.finding.status == "pass"


def test_three_strings_feed_the_fourth():
    """The other three share what flows into the low one."""
    job = bank(4, 1, battery=FLOODED)
    found = rejoin(job, cables_of(job, CU50), "S4", soc=0.4, others_soc=0.9)
    assert found.worst_other_a == pytest.approx(-found.current_a / 3)


def test_curves_from_memory_are_never_a_pass():
    job = bank(2, 1)  # agm
    found = rejoin(job, cables_of(job, CU50), "S1", soc=0.8, others_soc=0.9)
    assert found.finding.status == "unknown"
    assert "from memory" in found.finding.message
    with pytest.raises(ValueError, match="not between 0 and 1"):
        rejoin(job, cables_of(job, CU50), "S1", soc=1.2, others_soc=0.9)


def test_a_bad_crimp_by_hand():
    """Two strings of 5 + 4 x 0.772 / 2 + 4 x 0.06 = 6.784 milliohm at 20 °C; one milliohm more in one: shares of
    7.784 / 14.568 and 6.784 / 14.568 of 100 A. (Warmth is left out: the bank is solved warm, so to 1 %.)"""
    job = bank(2, 1, battery=FLOODED)
    cables = cables_of(job, CU50)
    found = bad_joint(job, cables, "S2 negative", 1e-3)
    assert found.largest_over_smallest == pytest.approx(7.784 / 6.784, rel=0.01)
    assert found.before == pytest.approx(1.0)
    assert found.reading_v == pytest.approx(found.string_currents_a["S2"] * 1e-3)
    assert found.heat_w == pytest.approx(found.string_currents_a["S2"] ** 2 * 1e-3)
    assert found.drop > solve_bank(job, cables).worst_drop.share
    none = bad_joint(job, cables, "S2 negative", 0.0)
    assert none.largest_over_smallest == pytest.approx(1.0)
    with pytest.raises(ValueError, match='no cable "S9 positive"'):
        bad_joint(job, cables, "S9 positive", 1e-3)
    with pytest.raises(ValueError, match="less than nothing"):
        bad_joint(job, cables, "S2 negative", -1e-3)


def test_a_bad_joint_in_a_feeder_shifts_no_share():
    job = bank(2, 1)
    found = bad_joint(job, cables_of(job, CU50), "main positive", 1e-3)
    assert found.largest_over_smallest == pytest.approx(1.0)
    assert found.reading_v == pytest.approx(0.1)


def with_spare_stud(job, spare=1):
    return replace(job, bus_bars=tuple(replace(b, studs=b.studs + spare) for b in job.bus_bars))


def test_a_further_string_that_fits():
    """Leads of 2 m, a new string with runs of 1.7 and 1.9 m: the target holds, four like strings share alike."""
    job = with_spare_stud(bank(3, 2))
    found = further_string(job, cables_of(job, CU50), positive_run_m=1.7, negative_run_m=1.9)
    assert found.target_holds
    assert found.short_by_m == 0
    assert found.free_studs == {"positive bar": 1, "negative bar": 1}
    assert found.largest_over_smallest == pytest.approx(1.0, abs=1e-9)
    assert found.failing == ()


def test_a_further_string_with_a_longer_run():
    job = with_spare_stud(bank(3, 2))
    found = further_string(job, cables_of(job, CU50), positive_run_m=2.6, negative_run_m=1.0)
    assert not found.target_holds
    assert found.short_by_m == pytest.approx(0.6)
    assert found.largest_over_smallest > 1.01


def test_a_further_string_without_a_stud():
    job = bank(3, 2)
    found = further_string(job, cables_of(job, CU50), positive_run_m=1.0, negative_run_m=1.0)
    assert found.free_studs == {"positive bar": 0, "negative bar": 0}
    assert found.largest_over_smallest is None


def test_the_grown_bank_is_the_bank_surveyed_with_one_more():
    """Adding a fourth string to three gives what a job of four gives."""
    bar = (0.02, 0.003)
    grown = further_string(
        with_spare_stud(bank(3, 2, bar=bar)), cables_of(bank(3, 2, bar=bar), CU50), positive_run_m=2, negative_run_m=2
    )
    four = bank(4, 2, bar=bar)
    cables = cables_of(four, CU50)
    solved = solve_states(four, cables)
    amps = solved[0].string_currents_a.values()
    assert grown.largest_over_smallest == pytest.approx(max(amps) / min(amps), rel=1e-9)
    assert {f.rule for f in grown.failing} == {
        f.rule for f in bank_findings(four, cables, solved) if f.status == "fail"
    }


def test_fuses_and_in_line_cuts_come_along():
    job = with_spare_stud(bank(2, 1, policy=replace(bank().policy, string_fuse="in line")))
    cables = []
    for cable in cables_of(job, CU50):
        if cable.kind == "lead" and cable.pole == "positive":
            near, far = ("fuse battery side", cable.string), ("fuse bar side", cable.string)
            cables.append(replace(cable, name=f"{cable.name} to fuse", finish=near, length_m=0.15))
            cables.append(replace(cable, name=f"{cable.name} from fuse", start=far, length_m=1.85))
        else:
            cables.append(cable)
    fuses = {s.name: fuse(150) for s in job.strings}
    found = further_string(job, cables, positive_run_m=1.0, negative_run_m=2.0, fuses=fuses)
    assert found.largest_over_smallest == pytest.approx(1.0, abs=1e-9)
