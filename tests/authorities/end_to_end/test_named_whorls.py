"""Fifteen printed band ratios as wheel files and logs: `ratio --wheel` finds the ratio and says which whorl it was.

Howard & Bullough, Illustrated Catalogue of Cotton Machinery, Project Gutenberg #38301, pages 168, 206, 208, 214, 215
(read): a cylinder of 7 or 8 inches, whorls from 3/4 to 2 1/2 inches, and a band of 1/8 inch around both.
"""

from fractions import Fraction

import pytest
from shaft_logs import driven

BAND = Fraction(1, 8)
#: Cylinder in inches -> whorl in inches, as a wheel file writes it, and the printed ratio.
PRINTED = {
    7: {
        "3/4": 8.143,
        "13/16": 7.60,
        "7/8": 7.125,
        "1": 6.333,
        "1 1/8": 5.700,
        "1 1/4": 5.182,
        "1 3/8": 4.750,
        "1 1/2": 4.384,  # 4.38462: the print truncates
        "1 5/8": 4.071,
    },
    8: {"1 1/8": 6.500, "1 1/4": 5.909, "1 3/8": 5.417, "1 1/2": 5.000, "1 5/8": 4.643, "2 1/2": 3.095},
}
ALL = [(cylinder, whorl) for cylinder, whorls in PRINTED.items() for whorl in whorls]


def wheel_file(cylinder: int) -> str:
    """A wheel with all the whorls that are printed for the cylinder, so that each has eight or five rivals."""
    whorls = "".join(f'[[whorl]]\nname = "whorl {w}"\ndiameter = "{w} in"\n' for w in PRINTED[cylinder])
    return f'[wheel]\nwheel_diameter = "{cylinder} in"\nband_thickness = "1/8 in"\n{whorls}'


def inches(text: str) -> Fraction:
    return sum((Fraction(part) for part in text.split()), Fraction(0))


@pytest.mark.parametrize(("cylinder", "whorl"), ALL, ids=lambda value: str(value).replace(" ", "-"))
def test_the_whorl_is_named_and_its_ratio_found(cylinder, whorl, answer, tmp_path):
    wheel = tmp_path / "wheel.toml"
    wheel.write_text(wheel_file(cylinder))
    exact = float((cylinder + BAND) / (inches(whorl) + BAND))
    said = answer("ratio", driven(60, exact, 90), "--wheel", wheel)
    (found,) = said["whorls"]
    assert found["name"] == f"whorl {whorl}"
    # half of the printed last digit, and a little for the truncated one
    assert found["ratio"]["value"] == pytest.approx(PRINTED[cylinder][whorl], abs=7e-4)
    assert said["ratio"]["value"] == pytest.approx(exact, rel=1e-6)  # a clock of 1 us over 90 turns
    # nothing slipped, so nothing is said of a loss
    assert not any("without slip" in note for note in said["notes"])


@pytest.mark.parametrize(("cylinder", "whorl", "excess"), [(7, "3/4", 0.1462), (8, "2 1/2", 0.0338)])
def test_a_band_left_out_of_the_wheel_file_would_show(cylinder, whorl, excess, answer, tmp_path):
    # a wheel file whose band has no thickness to speak of: its plan is the 14.6 % and 3.4 % too high by which
    # plain diameters are wrong (recomputed from the printed figures)
    wheel = tmp_path / "wheel.toml"
    wheel.write_text(wheel_file(cylinder).replace('"1/8 in"', '"0.0001 in"'))
    said = answer("plan", '[yarn]\ntwist = "5 tpi"\n', "--wheel", wheel)
    planned = next(w["ratio"] for w in said["whorls"] if w["name"] == f"whorl {whorl}")
    exact = float((cylinder + BAND) / (inches(whorl) + BAND))
    measured = answer("ratio", driven(60, exact, 90))["ratio"]["value"]
    assert planned / measured - 1 == pytest.approx(excess, abs=2e-4)
