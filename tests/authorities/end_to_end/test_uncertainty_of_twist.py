"""The interval that `twist` gives, against the GUM Tree Calculator (the installed library) on the same inputs.

Turns: the flyer stands anywhere between two passages of its one target at either end of the count, so a turn's part is
known to a triangle over ± one turn, u = 1/sqrt(6) (GUM 4.3.9; the rule is also read in PMC3387884 for the quotient).
"""

import math

import GTC
import pytest
from shaft_logs import log_of, passages_at


@pytest.mark.parametrize(
    ("total", "length_m", "length_u_m"),
    [
        ("23.40 m +- 0.10 m", 23.40, 0.10),
        ("25.60 yd ± 0.12 yd", 25.60 * 0.9144, 0.12 * 0.9144),
        # no uncertainty given: it was rounded to the last digit, a rectangle over one unit (GUM F.2.2.1)
        ("23.4 m", 23.4, 0.1 / math.sqrt(12)),
        ("12 m", 12.0, 1 / math.sqrt(12)),
    ],
)
@pytest.mark.parametrize("flyer_rpm", [40.0, 506.0])
def test_turns_over_a_given_length(total, length_m, length_u_m, flyer_rpm, answer):
    log = log_of({"f": passages_at(flyer_rpm, 300.0, "f")}, {"targets": "f=1"})
    said = answer("twist", log, "--total", total)
    turns = GTC.ureal(said["flyer_turns"], 1 / math.sqrt(6))
    twist = turns / GTC.ureal(length_m, length_u_m)
    found = said["twist_tpm"]
    assert found["value"] == pytest.approx(GTC.value(twist), rel=1e-9)
    half_width = 1.959964 * GTC.uncertainty(twist)  # 95 % of a normal distribution
    assert found["value"] - found["low"] == pytest.approx(half_width, rel=1e-6)
    assert found["high"] - found["value"] == pytest.approx(half_width, rel=1e-6)
    # the flyer turned at one speed for five minutes: so many turns, give or take the one that no target saw whole
    assert said["flyer_turns"] == pytest.approx(5 * flyer_rpm, abs=1.0)
