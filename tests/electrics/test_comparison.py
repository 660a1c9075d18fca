"""Connections compared: chains against the published and closed forms, drift of charge against its exponential law."""

import math
from dataclasses import replace

import numpy as np
import pytest

from cutlist.electrics.bank_solution import solve_bank
from cutlist.electrics.charge_state import curve_is_checked, drift, resting_v
from cutlist.electrics.comparison import CHAINS, CONNECTIONS, chain_cables, chain_taps, compare_connections
from tests.electrics.banks import bank, battery_type, cables_of, conductor, fuse, stock, with_shunt

CU50 = conductor("50 mm2")


def perfect_links(link_ohm):
    """A link length whose copper and two joints (60 microohm each, the middle of practice) make up `link_ohm`."""
    return (link_ohm - 2 * 60e-6) / 0.386e-3


@pytest.mark.parametrize(
    ("n", "battery_mohm", "link_mohm", "name", "amps"),
    [
        # Published: a public forum's Example 16 (2022), read on one page.
        (4, 1.0, 1.0, CHAINS[1], [37.5, 12.5, 12.5, 37.5]),
        # Its Example 17, to the 0.1 A printed: (r + 2 l) / r = 1.2 between ends and middle.
        (4, 2.0, 0.2, CHAINS[1], [27.273, 22.727, 22.727, 27.273]),
        # Closed forms: cosh a = 1 + l / r, I(k) ~ cosh(a (n - k + 1/2)) and cosh(a (k - (n + 1) / 2)).
        (6, 4.0, 0.2, CHAINS[0], None),
        (5, 2.0, 0.5, CHAINS[1], None),
    ],
)
def test_chains(n, battery_mohm, link_mohm, name, amps):
    job = bank(n, 1, battery=battery_type(resistance_ohm=battery_mohm / 1000))
    found = compare_connections(
        job, stock(), cables_of(job, CU50), link_m=perfect_links(link_mohm / 1000), conductor_c=20
    )
    chain = next(c for c in found if c.name == name)
    if amps is None:
        a = math.acosh(1 + link_mohm / battery_mohm)
        same_end = name == CHAINS[0]
        shape = [math.cosh(a * ((n - k + 0.5) if same_end else (k - (n + 1) / 2))) for k in range(1, n + 1)]
        amps = [100 * s / sum(shape) for s in shape]
    assert list(chain.string_currents_a.values()) == pytest.approx(amps, abs=2e-3)


def test_taps():
    """Plus and minus of four strings tapped at the middle: 2 and 3 of 4; of five: the third."""
    assert chain_taps(CHAINS[2], 4) == (1, 2)
    assert chain_taps(CHAINS[2], 5) == (2, 2)
    assert chain_taps(CHAINS[1], 5) == (0, 4)


def test_every_connection_in_one_table():
    job = with_shunt(bank(4, 2, bar=(0.025, 0.006), battery=battery_type(resistance_ohm=0.002)))
    lengths = {"S1 positive": 0.6, "S2 positive": 1.4, "S3 positive": 2.2, "S4 positive": 3.0}
    found = {c.name: c for c in compare_connections(job, stock(), cables_of(job, CU50, lead_m=lengths), link_m=0.4)}
    assert tuple(found) == CONNECTIONS
    ratio = {name: c.largest_over_smallest for name, c in found.items()}
    assert ratio["bus bars, equal leads"] < 1.02
    assert ratio["bus bars, equal leads"] < ratio["bus bars, leads as routed"]
    assert ratio["chain tapped diagonally"] < ratio["chain tapped at one end"]
    assert found["chain tapped at one end"].worst_string == "S1"
    assert found["bus bars, equal leads"].copper_kg > found["bus bars, leads as routed"].copper_kg
    assert found["bus bars, equal leads"].cost > found["bus bars, leads as routed"].cost
    for connection in found.values():
        assert sum(connection.string_currents_a.values()) == pytest.approx(100)
        assert connection.drift.first_ratio == pytest.approx(connection.largest_over_smallest)
        assert 0 < connection.drift.after_discharge <= connection.drift.largest
    assert found["chain tapped at one end"].drift.emptiest == "S1"
    assert found["bus bars, leads as routed"].drift.emptiest == "S1"


def test_the_same_answer_as_the_plan():
    """A connection is solved as the plan is: warm conductors, and the cables as laid where they are given."""
    job = with_shunt(bank(3, 2, bar=(0.025, 0.006)))
    laid = cables_of(job, CU50, lead_m=2.4)
    ways = {"bus bars, equal leads": laid}
    routed = cables_of(job, CU50, lead_m={"S2 positive": 1.1})
    found = compare_connections(job, stock(), routed, laid=ways, link_m=0.4)
    equal, solved = found[-1], solve_bank(job, laid)
    assert equal.string_currents_a == pytest.approx(solved.string_currents_a, rel=1e-9)
    assert equal.drop == pytest.approx(solved.worst_drop.share, rel=1e-9)
    # warmth raises every chain's drop too
    cold = compare_connections(job, stock(), routed, link_m=0.4, conductor_c=20)
    assert all(a.drop > b.drop for a, b in zip(found[:3], cold, strict=False))


def test_copper_by_hand():
    """Chain of two single batteries: two links of 0.4 m, feeders 1 m + the tapped lead's 2 m, both poles: 6.8 m of
    50 mm2 = 340e3 mm3 of copper, 8.89 g/cm3: 3.0226 kg."""
    job = bank(2, 1)
    found = compare_connections(job, stock(), cables_of(job, CU50), link_m=0.4)
    assert found[0].cable_m == pytest.approx(6.8)
    assert found[0].copper_kg == pytest.approx(3.0226)


def test_a_link_near_the_tap_carries_the_others():
    """Five strings at one end: the link next to the tap carries all but the first string's current, which is
    cosh(4.5 a) / sum cosh((5.5 - k) a) of it, cosh a = 1 + l / r, r 20 milliohm, l 0.3 x 0.386 + 2 x 0.06."""
    job = bank(5, 1, battery=battery_type(resistance_ohm=0.02))
    found = {c.name: c for c in compare_connections(job, stock(), cables_of(job, CU50, feeder_m=0.1), link_m=0.3)}
    cables = chain_cables(job, cables_of(job, CU50), CHAINS[0], None)
    assert [c.length_m for c in cables if c.name.startswith("link")] == [0.0] * 8  # these terminals lie at one point
    assert found[CHAINS[0]].hardest_used in ("main positive", "main negative")
    thick = [replace(c, paralleled=4) if c.kind == "feeder" else c for c in cables_of(job, CU50)]
    linked = compare_connections(job, stock(), thick, link_m=0.3, conductor_c=20)[0]
    assert linked.hardest_used.startswith("link S1 to S2")
    a = math.acosh(1 + (0.3 * 0.386 + 0.12) / 20)
    first = math.cosh(4.5 * a) / sum(math.cosh((5.5 - k) * a) for k in range(1, 6))
    assert linked.use == pytest.approx((1 - first) * 100 / (245 * math.sqrt(85 / 75)), rel=1e-6)


def test_string_fuses_count_on_bus_bars():
    job = bank(2, 1, policy=replace(bank().policy, string_fuse="at battery"))
    fuses = {"S1": fuse(100), "S2": fuse(25)}
    found = compare_connections(job, stock(), cables_of(job, CU50), fuses=fuses, link_m=0.3)
    assert found[-1].worst_string in ("S1", "S2")
    assert found[-1].largest_over_smallest > 1.05


def test_resting_voltages():
    """Flooded, 12 V: 12.65 V full and 12.25 V at half (middle of five public tables); 8 V batteries two thirds of that,
    moved to their own full voltage."""
    twelve = battery_type(chemistry="flooded", emf_v=12.65)
    assert resting_v(twelve, 0.5) == pytest.approx(12.25)
    eight = battery_type(chemistry="flooded", voltage_v=8.0, emf_v=8.5)
    assert resting_v(eight, 0.5) == pytest.approx(8.5 - 0.4 * 8 / 12)
    assert resting_v(twelve, np.array([1.0, 0.625])) == pytest.approx([12.65, (12.425 + 12.25) / 2])
    assert curve_is_checked("flooded")
    assert not curve_is_checked("agm")  # from memory: an estimate
    with pytest.raises(ValueError, match='chemistry "nickel"'):
        resting_v(battery_type(chemistry="nickel"), 0.5)


def two_strings(r1, r2, chemistry="flooded"):
    job = bank(2, 1, battery=battery_type(chemistry=chemistry, emf_v=12.65))

    def currents(emf, load_a):
        """The divider by hand: I1 + I2 = I, E1 - I1 R1 = E2 - I2 R2."""
        first = (emf[0] - emf[1] + load_a * r2) / (r1 + r2)
        return np.array([first, load_a - first])

    return job.strings, currents


def test_drift_follows_its_exponential():
    """On a straight piece of curve (flooded, 75 to 50 %: 0.175 V per quarter, 0.7 V per unit) the difference d of
    charge obeys C d' = I (R2 - R1) / (R1 + R2) - 2 k d / (R1 + R2), so d = D (1 - exp(-t / tau)) with
    D = I (R2 - R1) / (2 k) and tau = C (R1 + R2) / (2 k). R 5 and 6 milliohm, C 100 Ah, 20 A, k 0.7 V: D = 1.4286 %,
    tau = 100 x 0.011 / 1.4 = 0.78571 h, t = 0.2 x 200 / 20 = 2 h: d = 1.3165 %."""
    strings, currents = two_strings(0.005, 0.006)
    found = drift(strings, currents, current_a=20.0, start=0.74, depth=0.2)
    tau, end = 100 * 0.011 / 1.4, 20 * 0.001 / 1.4
    assert found.discharge_h == pytest.approx(2.0)
    assert found.after_discharge == pytest.approx(end * (1 - math.exp(-2 / tau)), rel=1e-4)
    assert found.first_ratio == pytest.approx(6 / 5)
    assert found.last_ratio < found.first_ratio  # the fuller one takes over
    assert found.emptiest == "S1"


def test_equal_strings_do_not_drift_and_lithium_drifts_more():
    strings, currents = two_strings(0.005, 0.005)
    assert drift(strings, currents, current_a=20.0).largest == pytest.approx(0, abs=1e-12)
    strings, currents = two_strings(0.005, 0.006)
    flooded = drift(strings, currents, current_a=50.0)
    strings, currents = two_strings(0.005, 0.006, "lifepo4")
    assert drift(strings, currents, current_a=50.0).largest > flooded.largest


def test_charge_is_kept():
    """What leaves comes back: the mean is where it started, so the spread after charging lies about it."""
    strings, currents = two_strings(0.004, 0.008)
    found = drift(strings, currents, current_a=40.0)
    assert 0 <= found.after_charge <= found.largest
    for wrong in ({"depth": 0.0}, {"depth": 0.95}, {"start": 1.2}):
        with pytest.raises(ValueError, match="no cycle"):
            drift(strings, currents, current_a=40.0, **wrong)
    with pytest.raises(ValueError, match="no cycle"):
        drift(strings, currents, current_a=0.0)


def test_refusals():
    one = bank(1, 1)
    with pytest.raises(ValueError, match="one way only"):
        compare_connections(one, stock(), cables_of(one, CU50))
    idle = bank(2, 1, load_a=0.0)
    with pytest.raises(ValueError, match="nothing to compare"):
        compare_connections(idle, stock(), cables_of(idle, CU50))
