"""`plan` with all its keys and options: finished yarn, wraps, fibre, contraction, hands, plying."""

import math

import pytest

from whorlpulse import units
from whorlpulse.cli.plan_file import PlanError, read_plan

INCH = 0.0254
WHEEL = """\
[wheel]
wheel_diameter = "510 mm"
band_thickness = "2.5 mm"
[[whorl]]
name = "large"
ratio = 6.21
[[whorl]]
name = "small"
ratio = 12.0
"""


def read(text):
    return read_plan(("[yarn]\n" + text).encode(), "plan.toml")


@pytest.fixture
def files(tmp_path):
    (tmp_path / "wheel.toml").write_text(WHEEL)

    def write(text):
        (tmp_path / "plan.toml").write_text("[yarn]\n" + text)
        return tmp_path / "plan.toml", tmp_path / "wheel.toml"

    return write


@pytest.mark.parametrize(
    ("single", "multiplier", "tpi"),
    # Howard & Bullough, Illustrated Catalogue, p. 216, read: 2-ply twist by number of the single and multiplier
    [(24, 4, 13.86), (24, 5, 17.32), (24, 6, 20.78), (10, 5, 11.18), (50, 5, 25.0), (100, 5, 35.36)],
)
def test_a_finished_two_ply_by_its_twist_factor(single, multiplier, tpi):
    text = f'of = "plied"\nplies = 2\ncount = "{single / 2:g} Ne"\ntwist_factor = "{multiplier} tm"\n'
    yarn = read(text).yarn
    assert units.tpi_from_tpm(yarn.ply_tpm) == pytest.approx(tpi, abs=0.006)
    assert units.count_from_tex(yarn.count_tex, "Ne") == pytest.approx(single, rel=1e-9)
    # two thirds of the singles' twist: common practice, no source
    assert yarn.twist_tpm == pytest.approx(1.5 * yarn.ply_tpm, rel=1e-12)
    assert yarn.plied_tex == pytest.approx(units.count(f"{single / 2:g} Ne"), rel=1e-9)


def test_finished_yarn_with_its_own_share_and_contraction():
    yarn = read(
        'of = "plied"\nplies = 3\ntwist = "4 tpi"\ncount = "300 tex"\nply_twist = "50 %"\nply_contraction = "5 %"'
    ).yarn
    assert units.tpi_from_tpm(yarn.twist_tpm) == pytest.approx(8.0)
    # tex2 = tex1 / (1 - c), textbook formula read: three singles of 95 tex make 285, contracted 300
    assert yarn.count_tex == pytest.approx(95.0, rel=1e-12)
    assert yarn.plied_tex == pytest.approx(300.0, rel=1e-12)
    wrapped = read('of = "plied"\nplies = 4\ntwist = "4 tpi"\nwraps_per_inch = 10').yarn
    # four equal strands as dense as the whole: half as thick
    assert wrapped.body.wraps_per_m * INCH == pytest.approx(20.0, rel=1e-12)


def test_a_share_of_its_own_is_not_called_two_thirds(whorlpulse, files):
    for share, told in (("", "two thirds"), ('ply_twist = "50 %"\n', "as the plan says: 50.0 %")):
        plan, _ = files('of = "plied"\nplies = 2\ntwist = "4 tpi"\n' + share)
        assert told in " ".join(whorlpulse("plan", plan, "--json").json["notes"])


def test_singles_with_a_ply_twist_of_their_own():
    assert read('twist = "9 tpi"\nplies = 2').yarn.planned_ply_tpm * INCH == pytest.approx(6.0)  # trade pages, read
    assert read('twist = "9 tpi"\nplies = 3').yarn.planned_ply_tpm is None
    assert read('twist = "9 tpi"\nplies = 3\nply_twist = "6.3 tpi"').yarn.planned_ply_tpm * INCH == pytest.approx(6.3)
    assert read('twist = "9 tpi"\nplies = 2\nply_twist = "70 %"').yarn.planned_ply_tpm * INCH == pytest.approx(6.3)


@pytest.mark.parametrize(
    ("text", "where", "why"),
    [
        ('of = "both"', "of", "neither"),
        ('of = "plied"', "plies", "at least 2"),
        ('of = "plied"\nplies = 2\nply_twist = "4 tpi"', "ply_twist", "ply twist already"),
        ('ply_twist = "4 tpi"', "ply_twist", "needs plies"),
        ("wraps_per_inch = 0", "wraps_per_inch", "no yarn"),
        ("wraps_per_inch = 2000.5", "wraps_per_inch", "no yarn"),
        ('fibre = "stone"', "fibre", "known are wool"),
        ('fibre = "wool"\nfibre_density = "1.3 g/cm3"', "fibre", "one of them"),
        ('fibre_density = "1.3 kg"', "fibre_density", "unknown unit"),
        ('packing = "140 %"', "packing", "more than 100"),
        ('contraction = "60 %"', "contraction", "more than a yarn"),
        ('contraction = "helix"', "contraction", "needs the yarn's count"),
        ('ply_contraction = "much"', "ply_contraction", "can't be read"),
        ('[hands]\ndraft = "3 cm"', "[hands] draft", "no span"),
        ('[hands]\ndraft = "6 cm to 3 cm"', "[hands] draft", "shorter to a longer"),
        ('[hands]\ndraw = "long"', "[hands] draw", "can't be read"),
        ('[hands]\nreach = "1 m"', "[hands]", "unknown key"),
    ],
)
def test_one_sentence_for_what_cannot_be(text, where, why):
    with pytest.raises(PlanError) as refused:
        read('twist = "5 tpi"\n' + text)
    said = str(refused.value)
    assert said.startswith("plan.toml: ")
    assert where in said
    assert why in said
    assert len(said) < 300


def test_reverse_with_a_whorl_and_my_draft(whorlpulse, files):
    plan, wheel = files('twist = "5.2 tpi"\n')
    said = whorlpulse("plan", plan, "--wheel", wheel, "--whorl", "Large", "--draft", "12 cm", "--json").json
    (whorl,) = said["whorls"]
    assert whorl["name"] == "large"
    assert whorl["twist_of_draft_tpm"]["value"] == pytest.approx(6.21 / 0.12)
    assert whorl["twist_of_draft_tpi"]["value"] == pytest.approx(6.21 / 0.12 * INCH)
    assert whorl["verdict"] == "under"
    text = whorlpulse("plan", plan, "--wheel", wheel, "--whorl", "large", "--draft", "3.00 cm").out
    assert "on plan" in text
    assert "small" not in text


def test_hands_draws_and_suiting_in_words(whorlpulse, files):
    plan, wheel = files('twist = "200 tpm"\ncount = "12 Nm"\n[hands]\ndraft = "3 cm to 5 cm"\ndraw = "50 cm"\n')
    ran = whorlpulse("plan", plan, "--wheel", wheel, "--cadence", "60")
    said = whorlpulse("plan", plan, "--wheel", wheel, "--cadence", "60", "--json").json
    large, small = said["whorls"]
    # 200 turns a metre: half a metre has 100; 6.21 a treadle, a treadle a second
    assert large["draw_flyer_turns"] == pytest.approx(100.0)
    assert large["draw_wheel_turns"] == pytest.approx(100 / 6.21)
    assert large["draw_s"] == pytest.approx(100 / 6.21)
    assert large["hand_speed_m_per_s"] == pytest.approx(6.21 / 200)
    assert (large["suits"], small["suits"]) == ("suits", "too-much")
    assert "Whorl large suits." in ran.out
    assert "Whorl small asks for more." in ran.out
    assert "takes a ratio from 6.00 to 10.0" in " ".join(ran.out.split())
    wide = whorlpulse("plan", plan, "--wheel", wheel, "--mass", "100 g").out
    assert max(map(len, (ran.out + wide).splitlines())) <= 80


def test_contraction_by_the_ideal_helix(whorlpulse, files):
    # at 20 degrees 3.109 % (Hearle, Grosberg & Backer 1969, from memory); 0.5 mm thick by 50.8 wraps an inch
    twist = math.tan(math.radians(20)) / (math.pi * 0.5e-3)
    plan, wheel = files(f'twist = "{twist:.6f} tpm"\nwraps_per_inch = 50.8\ncontraction = "helix"\n')
    said = whorlpulse("plan", plan, "--wheel", wheel, "--json").json
    assert said["diameter_m"] == pytest.approx(0.5e-3)
    assert said["helix_angle_deg"] == pytest.approx(20.0, abs=1e-4)
    assert said["contraction_percent"] == pytest.approx(3.109, abs=1e-3)
    drafted, twisted = said["whorls"][0]["draft_per_treadle_m"], 6.21 / twist
    assert drafted / twisted == pytest.approx(1.03209, abs=1e-5)  # C = (1 + sec a) / 2, same source


def test_wraps_alone_are_told_as_an_approximation(whorlpulse, files):
    plan, _ = files('twist = "5 tpi"\nwraps_per_inch = 14\n')
    said = whorlpulse("plan", plan, "--ratio", "6.21", "--json").json
    assert said["count_source"] == "wraps"
    assert said["body_source"] == "wraps"
    told = " ".join(said["notes"])
    # 4 to 8 times 14 squared: 784 and 1568 yd/lb are 633 and 316 tex (ASTM D2260's 496 055)
    assert "from 316 to 633 tex" in told
    assert "common practice, no source" in told


def test_hours_to_ply_a_mass(whorlpulse, files):
    # Howard & Bullough p. 207, read: a twister's roll of 4.7124 in at 74 rpm makes .53 lb of 2/24 in 600 min at 0.92;
    # without the stops that is .5766 lb in ten hours
    ratio = 17.32 * 4.7124
    plan, _ = files('of = "plied"\nplies = 2\ncount = "12 Ne"\ntwist = "17.32 tpi"\n')
    said = whorlpulse("plan", plan, "--ratio", f"{ratio:.3f}", "--cadence", "74", "--mass", "0.5766 lb", "--json").json
    (row,) = said["plying"]
    assert row["draft_per_treadle_m"] / INCH == pytest.approx(4.7124, rel=1e-4)
    assert row["hours"] == pytest.approx(10.0, rel=0.01)  # .53 is good to 1 %
    # spinning the singles takes 3/2 the turns a metre on twice the metres
    assert said["whorls"][0]["hours"] / row["hours"] == pytest.approx(3.0, rel=1e-9)


@pytest.mark.parametrize(
    ("options", "why"),
    [
        (("--whorl", "huge"), "known are large, small"),
        (("--draft", "12"), "no unit"),
        (("--easy", "3 cm"), "no span"),
        (("--draw", "0 cm"), "zero"),
    ],
)
def test_bad_options_are_one_line(whorlpulse, files, options, why):
    plan, wheel = files('twist = "5 tpi"\n')
    ran = whorlpulse("plan", plan, "--wheel", wheel, *options)
    assert (ran.code, ran.out) == (2, "")
    assert options[0] in ran.err
    assert why in ran.err
    assert len(ran.err.splitlines()) == 1


def test_a_whorl_without_a_wheel_file(whorlpulse, files):
    plan, _ = files('twist = "5 tpi"\n')
    ran = whorlpulse("plan", plan, "--whorl", "large")
    assert ran.code == 2
    assert "give --wheel" in ran.err
