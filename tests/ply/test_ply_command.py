"""`ply` from figures and from simulated logs of singles and ply, held against the simulation's truth."""

import json
from dataclasses import replace

import pytest

from whorlpulse.simulate import Yarn, scenario, simulate

INCH = 0.0254


@pytest.fixture(scope="module")
def skeins(tmp_path_factory):
    """Two singles of 5.2 tpi and a ply of 3.5 tpi, simulated, each with its true twist in turns per metre."""
    place = tmp_path_factory.mktemp("ply")
    truth = {}
    for name, twist, seed in (("one", 5.2, 3), ("two", 5.2, 4), ("ply", 3.5, 5)):
        case = replace(scenario("skein-on-plan"), yarn=Yarn(twist / INCH))
        capture = simulate(case, seed)
        (place / f"{name}.pulses").write_bytes(capture.log)
        truth[name] = capture.truth.twist_tpm
    (place / "plan.toml").write_text('[yarn]\ntwist = "5.2 tpi"\ncount = "100 tex"\nplies = 2\ndirection = "S"\n')
    return place, truth


def test_logs_joined_against_their_truth(whorlpulse, skeins):
    place, truth = skeins
    ran = whorlpulse("ply", *(place / f"{n}.pulses" for n in ("one", "two", "ply")), "--json")
    said = ran.json
    singles = (truth["one"] + truth["two"]) / 2
    for key, true in (
        ("singles_twist_tpm", singles),
        ("ply_twist_tpm", truth["ply"]),
        ("left_tpm", singles - truth["ply"]),
    ):
        # a 95 % interval may miss, so half as wide again: three standard uncertainties, missed once in 370
        half = said[key]["high"] - said[key]["value"]
        assert said[key]["value"] == pytest.approx(true, abs=1.5 * half), key
        assert half < 0.02 * true
    assert said["share_percent"]["value"] == pytest.approx(100 * truth["ply"] / singles, rel=0.01)
    assert said["balance"] == "balanced"
    assert (said["plies"], said["singles_direction"], said["ply_direction"]) == (2, "Z", "S")
    assert len(said["singles"]) == 2
    assert any("One roller" in n for n in said["notes"])
    # one roller behind both: the share is known better than the figures it is made of
    relative = {
        k: (said[k]["high"] - said[k]["value"]) / said[k]["value"]
        for k in ("share_percent", "ply_twist_tpm", "singles_twist_tpm")
    }
    assert relative["share_percent"] < (relative["ply_twist_tpm"] ** 2 + relative["singles_twist_tpm"] ** 2) ** 0.5


def test_against_a_plan(whorlpulse, skeins):
    place, _ = skeins
    words = ("ply", place / "one.pulses", place / "ply.pulses", "--plan", place / "plan.toml", "--contraction", "3 %")
    said = whorlpulse(*words, "--json").json
    assert said["plan_ply_tpm"] * INCH == pytest.approx(5.2 * 2 / 3)
    assert (said["verdict"], said["singles_verdict"]) == ("on-plan", "on-plan")
    assert (said["singles_direction"], said["ply_direction"]) == ("S", "Z")
    assert said["plied_tex"] == pytest.approx(200 / 0.97)
    text = " ".join(whorlpulse(*words).out.split())
    assert "Z ply, balanced" in text
    assert "on plan from 3.12 to 3.81 tpi: on plan" in text
    # the strands are longer than the plied yarn by what plying takes
    needed, length = said["singles_needed_m"]["value"], said["ply"]["length_m"]["value"]
    assert needed == pytest.approx(length / 0.97)


def test_more_ply_than_singles_is_noticed(whorlpulse, skeins):
    place, _ = skeins
    words = ("ply", place / "one.pulses", place / "two.pulses", place / "ply.pulses", "--total", "40.0 m")
    notes = whorlpulse(*words, "--json").json["notes"]
    assert sum("took more than the log" in n for n in notes) == 2


def test_figures_alone(whorlpulse):
    said = whorlpulse("ply", "--singles", "9.00 tpi", "--ply", "6.00 tpi", "--json").json
    assert said["left_tpi"]["value"] == pytest.approx(3.0)  # 9 - 6, kinematics
    assert said["balance"] == "balanced"
    # a last digit of 0.01 is a rectangle: u = 0.01 / sqrt(12) each (GUM 4.3.7)
    half = 1.96 * (2 * 0.01**2 / 12) ** 0.5
    assert said["left_tpi"]["high"] - 3.0 == pytest.approx(half, rel=1e-3)
    text = " ".join(whorlpulse("ply", "--singles", "9.00 tpi", "--ply", "5.0 tpi").out.split())
    assert "less than balances it" in text
    assert "Another 1.00 tpi" in text
    over = " ".join(whorlpulse("ply", "--singles", "6.00 tpi", "--ply", "8.0 tpi").out.split())
    assert "Left in each single: 2.00 ± 0.06 tpi" in over
    assert "Two thirds would be 4.00 tpi" in over


def test_same_way_adds(whorlpulse):
    said = whorlpulse("ply", "--singles", "5.0 tpi", "--ply", "3.0 tpi", "--same-way", "--json").json
    assert said["left_tpi"]["value"] == pytest.approx(8.0)
    assert (said["balance"], said["ply_direction"]) == (None, "Z")


def test_what_to_ply_with(whorlpulse, tmp_path):
    wheel = tmp_path / "wheel.toml"
    wheel.write_text('[[whorl]]\nname = "large"\nratio = 6.0\n')
    said = whorlpulse("ply", "--singles", "9 tpi", "--wheel", wheel, "--json").json
    assert said["target_ply_tpi"] == pytest.approx(6.0)
    # six turns a treadle at six to the inch feed an inch
    assert said["whorls"][0]["feed_per_treadle_m"] == pytest.approx(INCH)
    assert (said["left_tpi"], said["balance"], said["ply"]) == (None, None, None)
    assert "S ply to put in" in whorlpulse("ply", "--singles", "9 tpi").out


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ((), "--singles"),
        (("--ply", "5 tpi"), "singles' twist is not known"),
        (("--singles", "8"), "no unit"),
        (("--singles", "8 tpi", "--direction", "left"), "S or Z"),
        (("--singles", "8 tpi", "--contraction", "70 %"), "below 50"),
        (("--singles", "8 tpi", "--ply", "5 tpi", "x.pulses"), "twice"),
        (("none.pulses",), "none.pulses"),
    ],
)
def test_misuse_is_one_line(whorlpulse, words, why):
    ran = whorlpulse("ply", *words)
    assert (ran.code, ran.out) == (2, "")
    assert why in ran.err
    assert len(ran.err.splitlines()) == 1


def test_a_log_that_cannot_say_is_named(whorlpulse, skeins, tmp_path):
    place, _ = skeins
    still = tmp_path / "still.pulses"
    still.write_text("# format: pulses 1\nw,1000\nw,900000\n")
    ran = whorlpulse("ply", place / "one.pulses", still)
    assert (ran.code, ran.out) == (1, "")
    assert ran.err.startswith("whorlpulse: still.pulses: ")
    said = json.loads(whorlpulse("ply", place / "one.pulses", still, "--json").out)
    assert said["ply_twist_tpm"] is None
