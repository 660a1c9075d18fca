"""The terminal's summary, whole. Lengths are worked by hand in test_tables.

Surplus: the longest run has none; S1 negative has 385.429 mm (test_cut_sheet). Cable: 4 x 1465 + 1490 + 1390 + 2 x 310
= 9360 mm, all out of the two remnants.
"""

from __future__ import annotations

from cutlist.sheets.summary import summary_text

WHOLE = """\
Workshop bank

  positive bar  x 460, y 20, z 1100, on back wall; stud 1 at x 400
  negative bar  x 460, y 20, z 800, on back wall; stud 1 at x 400
  leads         4, 50 mm2
  jumpers       2, 50 mm2
  feeders       2, 50 mm2
  cut length    1465 mm (4 ft 9 3/4 in), all leads alike
  surplus       0 mm to 385 mm
  cable         9360 mm in 2 spools, 0 mm to buy; leads, jumpers and feeders
  waste         0 mm
  order         EUR 110.65: lugs, heat-shrink, fuses, sundries
  worst drop    1.21 % at inverter, limit 3 %, all strings in
  string S1     60.0 A, 50.0 % (+0.0 % from even)
  string S2     60.0 A, 50.0 % (+0.0 % from even)

Every limit that could be checked is met.
1 not known for want of data: fault withstand (S1 positive)
"""


def test_whole(plan):
    assert summary_text(plan) == WHOLE


def test_what_fails_is_last_and_says_its_mend(failing_plan):
    assert summary_text(failing_plan).split("\n\n")[-1] == (
        "1 limit not met:\n"
        "  voltage drop, inverter: Drop to the inverter is 1.21 % of 24 V.\n"
        "    mend: Use the next larger conductor for the feeders.\n"
        "1 not known for want of data: fault withstand (S1 positive)\n"
    )


def test_missing_prices_are_counted_not_passed_over(priceless_plan):
    assert "order         no prices kept: " in summary_text(priceless_plan)


def test_in_inches(inch_plan):
    """The target is 57 5/8 in, 1463.675 mm, which the other unit rounds up."""
    assert "cut length    4 ft 9 5/8 in (1464 mm), all leads alike\n" in summary_text(inch_plan)
