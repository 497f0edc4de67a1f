"""`plan`: the keys of format section 4 and the arithmetic of drafts and hours, by hand."""

import math

import pytest

#: The example of format section 3, whose twist and twist_factor are not the same.
PLAN = """\
[yarn]
twist = "5.2 tpi"
count = "12 Nm"
twist_factor = "3.5 tm"
tolerance = "10 %"
direction = "Z"
plies = 1
"""


@pytest.fixture
def plan(tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text(PLAN)
    return path


def test_json_has_the_formats_keys(whorlpulse, plan):
    said = whorlpulse("plan", plan, "--ratio", "6.21", "--ratio", "12:1", "--cadence", "70", "--json").json
    assert {"twist_tpi", "twist_tpm", "count_tex", "helix_angle_deg", "whorls", "schema", "capture", "notes"} <= set(
        said
    )
    assert said["capture"] == "plan.toml"
    assert said["twist_tpi"] == pytest.approx(5.2)
    assert said["count_tex"] == pytest.approx(1000 / 12)
    first, second = said["whorls"]
    assert [set(w) >= {"name", "ratio", "draft_per_treadle_m", "metres_per_hour"} for w in (first, second)] == [
        True
    ] * 2
    # one stroke gives 6.21 turns, enough for 6.21 / 5.2 inches; 70 strokes a minute, 60 minutes
    assert first["draft_per_treadle_m"] == pytest.approx(6.21 / 5.2 * 0.0254)
    assert first["metres_per_hour"] == pytest.approx(6.21 / 5.2 * 0.0254 * 70 * 60)
    assert second["ratio"] == 12


def test_the_example_of_the_format_loads_and_the_other_twist_is_told(whorlpulse, plan):
    # tm 3.5 with 12 Nm = 7.09 Ne: 3.5 sqrt(7.0866) = 9.32 tpi (1 Ne = 1.6934 Nm, ASTM D2260 by its hanks)
    ran = whorlpulse("plan", plan, "--json")
    assert ran.code == 0
    assert ran.json["twist_tpi"] == pytest.approx(5.2)
    assert any("9.32 tpi" in n for n in ran.json["notes"])


def test_hours_for_a_mass(whorlpulse, plan):
    said = whorlpulse("plan", plan, "--ratio", "6.0", "--mass", "100 g", "--json").json
    pace = 6.0 / 5.2 * 0.0254 * 60 * 60
    assert said["whorls"][0]["hours"] == pytest.approx(1200 / pace)  # 12 Nm: 12 m a gram
    text = whorlpulse("plan", plan, "--ratio", "6.0", "--mass", "100 g").out
    assert "hours, 100 g" in text


def test_whorls_of_the_wheel_file(whorlpulse, plan, tmp_path):
    wheel = tmp_path / "wheel.toml"
    wheel.write_text(
        '[wheel]\nwheel_diameter = "510 mm"\nband_thickness = "2.5 mm"\n'
        '[[whorl]]\nname = "large"\ndiameter = "83 mm"\n[[whorl]]\nname = "measured"\nratio = 9.5\n'
    )
    said = whorlpulse("plan", plan, "--wheel", wheel, "--json").json
    assert [w["name"] for w in said["whorls"]] == ["large", "measured"]
    assert said["whorls"][0]["ratio"] == pytest.approx(512.5 / 85.5)  # (D + t) / (d + t), format section 2


def test_text(whorlpulse, plan):
    text = whorlpulse("plan", plan, "--ratio", "6.2").out
    assert text.splitlines()[0].split()[:4] == ["5.20", "tpi", "205", "tpm"]
    angle = math.degrees(math.atan(math.pi * math.sqrt(4 * 83.333e-6 / (math.pi * 909.09)) * 204.72))
    assert f"{angle:.1f}°" in text
    assert "3.03 cm (1.19 in)" in text


def test_without_whorls_count_or_singles(whorlpulse, tmp_path):
    plan = tmp_path / "p.toml"
    plan.write_text('[yarn]\ntwist = "6 tpi"\nplies = 2\n')
    said = whorlpulse("plan", plan, "--json").json
    assert (said["count_tex"], said["helix_angle_deg"], said["whorls"]) == (None, None, [])
    told = " ".join(said["notes"])
    assert "give --wheel FILE" in told
    assert "no helix angle" in told
    assert "about 4.00 tpi" in told  # two thirds of 6, common practice, no source
    assert "Ply the other way, S" in told


@pytest.mark.parametrize("ratio", ["abc", "0", "-6", "6,2", "1001", "6.2:2"])
def test_a_bad_ratio(whorlpulse, plan, ratio):
    ran = whorlpulse("plan", plan, f"--ratio={ratio}")
    assert ran.code == 2
    assert "--ratio" in ran.err
