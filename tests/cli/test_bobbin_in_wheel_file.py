"""The wheel file's [bobbin]: what is read, what is refused, and what `twist` says where it is lacking."""

import json

import pytest

from whorlpulse.cli.wheel_file import WheelError, read_wheel
from whorlpulse.rig import Rig
from whorlpulse.simulate import scenario, simulate


def read(text):
    return read_wheel(text.encode(), "wheel.toml")


def test_measures_and_their_uncertainty():
    wheel = read(
        '[bobbin]\ncore_diameter = "35.0 mm +- 0.1 mm"\nfull_diameter = "2 in"\n'
        'width = "10 cm"\nwhorl_diameter = "45 mm"\n'
    )
    bobbin = wheel.onto(Rig()).bobbin
    assert (bobbin.core.m, bobbin.core.m_u) == (pytest.approx(0.035), pytest.approx(0.0001))
    assert bobbin.full.m == pytest.approx(0.0508)  # an inch is 25.4 mm
    assert bobbin.width.m == pytest.approx(0.1)
    assert bobbin.whorl.m == pytest.approx(0.045)
    assert read('[wheel]\ntension = "irish"\n').onto(Rig()).bobbin.core is None


@pytest.mark.parametrize(
    ("line", "tells"),
    [
        ('core_diametre = "35 mm"', 'unknown key "core_diametre"'),
        ('core_diameter = "35"', "has no unit"),
        ('full_diameter = "50 mm"', "needs core_diameter"),
        ('core_diameter = "35 mm"\nfull_diameter = "30 mm"', "smaller than core_diameter"),
    ],
)
def test_what_is_refused_is_named(line, tells):
    with pytest.raises(WheelError, match=r"wheel\.toml: \[bobbin\]") as caught:
        read(f"[bobbin]\n{line}\n")
    assert tells in str(caught.value)


def test_a_thin_layer_that_measures_less_than_nothing_is_no_mistake():
    wheel = read('[bobbin]\ncore_diameter = "35.0 mm +- 0.2 mm"\nfull_diameter = "34.8 mm +- 0.5 mm"\n')
    assert wheel.onto(Rig()).bobbin.full.m == pytest.approx(0.0348)


@pytest.fixture(scope="module")
def logs(tmp_path_factory):
    """Logs of a filling bobbin and of a wheel whose flyer isn't sensed, each with its wheel file."""
    place = tmp_path_factory.mktemp("bobbins")
    for name in ("filling-bobbin", "bobbin-only"):
        capture = simulate(scenario(name).lasting(60.0), 5)
        (place / f"{name}.pulses").write_bytes(capture.log)
        (place / f"{name}.toml").write_text(capture.wheel_toml)
        (place / f"{name}.json").write_text(json.dumps(capture.truth.as_dict()))
    return place


@pytest.mark.parametrize("name", ["filling-bobbin", "bobbin-only"])
def test_without_the_measures_twist_asks_for_them(whorlpulse, logs, name):
    ran = whorlpulse("twist", logs / f"{name}.pulses", "--json")
    assert ran.code == 1
    assert "core_diameter" in ran.err
    assert ran.json["twist_tpi"] is None
    assert any("core_diameter" in n for n in ran.json["notes"])


def test_with_the_core_alone_a_length_needs_more_and_a_plans_count_will_do(whorlpulse, logs, tmp_path):
    wheel, plan = tmp_path / "wheel.toml", tmp_path / "plan.toml"
    wheel.write_text('[bobbin]\ncore_diameter = "35.0 mm"\nwidth = "100 mm"\n')
    plan.write_text('[yarn]\ntwist = "2.5 tpi"\ncount = "283 tex"\n')
    ran = whorlpulse("twist", logs / "filling-bobbin.pulses", "--wheel", wheel)
    assert ran.code == 1
    assert "full_diameter" in ran.err
    said = whorlpulse("twist", logs / "filling-bobbin.pulses", "--wheel", wheel, "--plan", plan, "--json").json
    assert said["length_source"] == "bobbin"


def test_text_says_where_length_and_turns_come_from(whorlpulse, logs):
    text = whorlpulse("twist", logs / "filling-bobbin.pulses", "--wheel", logs / "filling-bobbin.toml").out
    assert "wound on, by bobbin against flyer" in " ".join(text.split())
    assert "the bobbin grew from" in " ".join(text.split())
    text = whorlpulse("twist", logs / "bobbin-only.pulses", "--wheel", logs / "bobbin-only.toml").out
    assert "The flyer was not sensed: its turns are the bobbin's less" in " ".join(text.split())
    assert max(len(line) for line in text.splitlines()) <= 80


def test_json_has_what_was_wound_on(whorlpulse, logs):
    said = whorlpulse("twist", logs / "filling-bobbin.pulses", "--wheel", logs / "filling-bobbin.toml", "--json").json
    truth = json.loads((logs / "filling-bobbin.json").read_text())
    full = said["bobbin_full_m"]
    assert full["low"] <= truth["bobbin"]["full_diameter_m"] <= full["high"]
    assert said["flyer_unseen"] is False
    assert said["wound_turns"]["value"] > 10


def test_double_drive_says_its_greatest_draw_in(whorlpulse, tmp_path):
    capture = simulate(scenario("double-drive-skein").lasting(60.0), 5)
    (tmp_path / "log.pulses").write_bytes(capture.log)
    (tmp_path / "wheel.toml").write_text(capture.wheel_toml)
    said = whorlpulse("twist", tmp_path / "log.pulses", "--wheel", tmp_path / "wheel.toml", "--json").json
    (told,) = [n for n in said["notes"] if n.startswith("Double drive")]
    # (D + t)/(54 + t) less (D + t)/(75 + t), D = 510 and t = 2.5 mm, times pi times the measured core of about 35 mm
    excess = 512.5 / 56.5 - 512.5 / 77.5
    assert f"{excess:.2f} turns more" in told
    bare = float(told.split("at most ")[1].split(" m ")[0])
    assert bare == pytest.approx(excess * 3.14159 * 0.035, rel=0.02)
