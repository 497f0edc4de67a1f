"""The wheel file as FORMATS section 2 fixes it, and one clear sentence for everything else."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from whorlpulse.cli.wheel_file import WheelError, WheelFile, read_wheel
from whorlpulse.estimators.band_ratio import no_slip_ratio
from whorlpulse.rig import Length, Rig, Whorl

GOOD = """\
[wheel]
name = "bench wheel"             # free
tension = "double-drive"
wheel_diameter = "510 mm"        # where the band sits
band_thickness = "2.5 mm"
band_length = "2.31 m"

[[whorl]]
name = "large"
diameter = "83 mm"
ratio = 6.21
ratio_u = 0.01

[[whorl]]
name = "small"
diameter = "51.0 mm +- 0.2 mm"

[targets]
w = 4
f = 1
"""


def test_every_key_of_the_format_is_read():
    wheel = read_wheel(GOOD.encode(), "wheel.toml")
    step = 1 / 12**0.5
    assert (wheel.file, wheel.name, wheel.tension) == ("wheel.toml", "bench wheel", "double-drive")
    for got, m, m_u in (
        (wheel.wheel_diameter, 0.510, step * 1e-3),
        (wheel.band_thickness, 0.0025, step * 1e-4),
        (wheel.band_length, 2.31, step * 1e-2),
        (wheel.whorls[0].diameter, 0.083, step * 1e-3),
        (wheel.whorls[1].diameter, 0.051, 0.0002),
    ):
        assert (got.m, got.m_u) == pytest.approx((m, m_u), rel=1e-12)
    assert [(w.name, w.ratio, w.ratio_u) for w in wheel.whorls] == [("large", 6.21, 0.01), ("small", None, None)]
    assert dict(wheel.targets) == {"w": 4, "f": 1}


def test_the_file_is_put_over_what_the_log_says():
    log = Rig(tick_hz=1024.0, targets={"w": 1, "f": 2, "b": 3, "y": 8}, roller=Length(0.1))
    rig = read_wheel(GOOD.encode(), "wheel.toml").onto(log)
    assert dict(rig.targets) == {"w": 4, "f": 1, "b": 3, "y": 8}
    assert (rig.tick_hz, rig.roller) == (1024.0, Length(0.1))
    assert rig.tension == "double-drive"
    assert rig.wheel_diameter is not None
    assert len(rig.whorls) == 2
    # a file that says less leaves the rest as it was
    again = read_wheel(b"[targets]\ny = 4\n", "w.toml").onto(rig)
    assert again.whorls == rig.whorls
    assert again.tension == "double-drive"
    assert dict(again.targets) == {"w": 4, "f": 1, "b": 3, "y": 4}
    assert WheelFile("empty").onto(rig) == rig


def test_a_measured_ratio_wins_over_diameters():
    wheel = read_wheel(GOOD.encode(), "wheel.toml")
    rig = wheel.onto(Rig())
    assert no_slip_ratio(rig, wheel.whorls[0]) == (6.21, 0.01)
    value, u = no_slip_ratio(rig, wheel.whorls[1])
    assert value == pytest.approx((510 + 2.5) / (51 + 2.5), rel=1e-12)
    assert 0.02 < u < 0.06  # 0.2 mm of caliper on 53.5 mm is 0.37 % of 9.6


@pytest.mark.parametrize("lost", ["wheel_diameter", "band_thickness"])
def test_no_ratio_from_half_the_measures(lost):
    text = "\n".join(line for line in GOOD.splitlines() if not line.startswith(lost))
    wheel = read_wheel(text.encode(), "wheel.toml")
    assert no_slip_ratio(wheel.onto(Rig()), wheel.whorls[1]) is None


@pytest.mark.parametrize(
    ("written", "step"), [("6.21", 0.01), ("6.20", 0.01), ("6.2", 0.1), ("6", 1.0), ("62e-1", 0.1)]
)
def test_a_ratio_without_uncertainty_is_as_sure_as_its_last_digit(written, step):
    (whorl,) = read_wheel(f"[[whorl]]\nratio = {written}\n".encode(), "wheel.toml").whorls
    assert whorl.ratio_u == pytest.approx(step / 12**0.5, rel=1e-12)
    assert no_slip_ratio(Rig(), whorl) == (whorl.ratio, whorl.ratio_u)


def test_a_whorl_built_in_code_without_uncertainty_counts_as_exact():
    assert no_slip_ratio(Rig(), Whorl(ratio=6.0)) == (6.0, 0.0)
    assert no_slip_ratio(Rig(), Whorl(name="nothing known")) is None


def test_files_from_other_editors_are_read():
    wheel = read_wheel(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode(), "wheel.toml")
    assert wheel == read_wheel(GOOD.encode(), "wheel.toml")


@pytest.mark.parametrize(
    ("was", "becomes", "where", "why"),
    [
        ("wheel_diameter", "weel_diameter", "[wheel]", 'unknown key "weel_diameter"'),
        ("[targets]", "[target]", "wheel.toml", 'unknown key "target"'),
        ('"large"\ndiameter', '"large"\ndiametre', "[[whorl]] number 1", 'unknown key "diametre"'),
        ("w = 4", "q = 4", "[targets]", 'unknown key "q"'),
        ("[[whorl]]", "[whorl]", "wheel.toml", ""),
        ('"83 mm"', "83", "[[whorl]] number 1 diameter", "expected text in quotes"),
        ('"83 mm"', '"83"', "[[whorl]] number 1 diameter", "no unit"),
        ('"83 mm"', '"83 kg"', "[[whorl]] number 1 diameter", "unknown unit"),
        ('"83 mm"', '"2.0 mm"', "[[whorl]] number 1 diameter", "not larger than the band"),
        ('"83 mm"', '"2.5 mm"', "[[whorl]] number 1 diameter", "not larger than the band"),
        ('"510 mm"', '"-510 mm"', "[wheel] wheel_diameter", "negative"),
        ('"2.5 mm"', '"0 mm"', "[wheel] band_thickness", "zero"),
        ('"2.31 m"', '"2,31 m"', "[wheel] band_length", "decimal comma"),
        ("6.21", "0", "[[whorl]] number 1 ratio", "no ratio"),
        ("6.21", "-6.21", "[[whorl]] number 1 ratio", "no ratio"),
        ("6.21", "nan", "[[whorl]] number 1 ratio", "no ratio"),
        ("6.21", "inf", "[[whorl]] number 1 ratio", "no ratio"),
        ("6.21", "1e99999999", "[[whorl]] number 1 ratio", "no ratio"),
        ("6.21", '"6.21 : 1"', "[[whorl]] number 1 ratio", "expected a number"),
        ("6.21", "true", "[[whorl]] number 1 ratio", "expected a number"),
        ("ratio_u = 0.01", "ratio_u = -0.01", "[[whorl]] number 1 ratio_u", "0 or more"),
        ("ratio_u = 0.01", "ratio_u = 7", "[[whorl]] number 1 ratio_u", "less than the ratio"),
        ("ratio_u = 0.01", "ratio_u = nan", "[[whorl]] number 1 ratio_u", "0 or more"),
        ("ratio = 6.21\n", "", "[[whorl]] number 1 ratio_u", "without a ratio"),
        ('diameter = "51.0 mm +- 0.2 mm"', "", "[[whorl]] number 2", "neither diameter nor ratio"),
        ('"small"', '"Large "', "[[whorl]] number 2 name", "number 1's name"),
        ('"small"', '"a\\nb"', "[[whorl]] number 2 name", "printable"),
        ("double-drive", "doubledrive", "[wheel] tension", "scotch, irish, double-drive"),
        ("w = 4", "w = 0", "[targets] w", "1 to"),
        ("w = 4", "w = -4", "[targets] w", "1 to"),
        ("w = 4", "w = 4.0", "[targets] w", "whole number"),
        ("w = 4", 'w = "4"', "[targets] w", "whole number"),
        ("w = 4", "w = 4\nw = 5", "wheel.toml", "not valid TOML"),
        ("[targets]", "[targets", "wheel.toml", "not valid TOML"),
        (GOOD, "", "wheel.toml", "says nothing"),
        (GOOD, "# only a remark\n", "wheel.toml", "says nothing"),
        (GOOD, "x = " + "[" * 50_000, "wheel.toml", "not valid TOML"),
        (GOOD, "[wheel]\nname = 'x'\n" + "#" * 300_000, "wheel.toml", "too many"),
        (GOOD, "x = " + "9" * 5000, "wheel.toml", "not valid TOML"),
    ],
)
def test_one_sentence_with_file_and_key(was, becomes, where, why):
    assert was in GOOD
    with pytest.raises(WheelError) as refused:
        read_wheel(GOOD.replace(was, becomes).encode(), "wheel.toml")
    says = str(refused.value)
    assert says.startswith("wheel.toml: ")
    assert where in says
    assert why in says
    assert says.isprintable()  # one line
    assert len(says) < 300


@pytest.mark.parametrize("data", [b"\xff\xfe[\x00", b"\x00" * 100, bytes(range(256)), b"\x89PNG\r\n\x1a\n"])
def test_binary_files_are_refused(data):
    with pytest.raises(WheelError, match=r"^wheel\.toml: is not "):
        read_wheel(data, "wheel.toml")


@settings(deadline=None)
@given(cut=st.integers(0, len(GOOD)), junk=st.binary(max_size=12), skip=st.integers(0, 30))
def test_damaged_files_raise_nothing_else(cut, junk, skip):
    data = GOOD.encode()
    complaint, wheel = "", None
    try:
        wheel = read_wheel(data[:cut] + junk + data[cut + skip :], "wheel.toml")
    except WheelError as refused:
        complaint = str(refused)
    assert complaint.isprintable()
    assert complaint or isinstance(wheel, WheelFile)
