"""The plan file as FORMATS section 3 fixes it, and one clear sentence for everything else."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from whorlpulse import units
from whorlpulse.cli.plan_file import PlanError, read_plan
from whorlpulse.estimators.plan import YarnPlan

GOOD = """\
[yarn]
twist = "5.2 tpi"
count = "12 Nm"
tolerance = "8 %"
direction = "S"
plies = 2
"""


def plan(text: str) -> YarnPlan:
    return read_plan(text.encode(), "plan.toml").yarn


def test_every_key_is_read():
    yarn = plan(GOOD)
    assert yarn.twist_tpm == pytest.approx(5.2 / 0.0254, rel=1e-12)
    assert yarn.count_tex == pytest.approx(1000 / 12, rel=1e-12)
    assert (yarn.tolerance, yarn.direction, yarn.plies, yarn.stated) == (pytest.approx(0.08), "S", 2, "twist")


def test_what_is_left_out_has_the_formats_defaults():
    yarn = plan('[yarn]\ntwist = "205 tpm"\n')
    assert yarn == YarnPlan(205.0, None, 0.1, "Z", 1, "twist")
    assert (yarn.low_tpm, yarn.high_tpm) == pytest.approx((184.5, 225.5))
    assert yarn.count_tex is None


@pytest.mark.parametrize(
    ("count", "factor", "tpi"),
    [
        # Howard & Bullough, Illustrated Catalogue of Cotton Machinery, p. 176, read
        ("16 Ne", "4.75 tm", 19.00),
        ("49 Ne", "2.75 tm", 19.25),
        # GATE 2014/TF/19, read: 25 tex, 30 turns/cm sqrt(tex)
        ("25 tex", "3000 alpha_tex", 15.24),
    ],
)
def test_twist_from_factor_and_count(count, factor, tpi):
    yarn = plan(f'[yarn]\ncount = "{count}"\ntwist_factor = "{factor}"\n')
    assert units.tpi_from_tpm(yarn.twist_tpm) == pytest.approx(tpi, abs=0.005)
    assert yarn.stated == "twist_factor"


def test_the_factor_in_use_comes_back():
    yarn = plan('[yarn]\ncount = "20 tex"\ntwist_factor = "113 alpha_m"\n')
    assert yarn.twist_tpm * yarn.count_tex**0.5 == pytest.approx(113 * 1000**0.5, rel=1e-12)


def test_twist_stated_twice_is_told():
    # 16 Ne at 4.75 is 19.00 tpi: the twist as written wins; what the factor makes is told where it is another
    both = '[yarn]\ncount = "16 Ne"\ntwist_factor = "4.75 tm"\ntwist = "{}"\n'
    near, far = (read_plan(both.format(twist).encode(), "p.toml") for twist in ("19.1 tpi", "19.3 tpi"))
    assert units.tpi_from_tpm(near.yarn.twist_tpm) == pytest.approx(19.1)
    assert (near.yarn.stated, near.factor_tpm) == ("both", None)
    assert units.tpi_from_tpm(far.yarn.twist_tpm) == pytest.approx(19.3)
    assert far.factor_tpm is not None
    assert units.tpi_from_tpm(far.factor_tpm) == pytest.approx(19.0, abs=0.005)


@pytest.mark.parametrize(
    ("was", "becomes", "where", "why"),
    [
        ("5.2 tpi", "5.2 mm", "[yarn] twist", "unknown unit"),
        ("5.2 tpi", "5.2", "[yarn] twist", "no unit"),
        ("5.2 tpi", "-5.2 tpi", "[yarn] twist", "negative"),
        ('"5.2 tpi"', "5.2", "[yarn] twist", "expected text in quotes"),
        ("12 Nm", "12 N", "[yarn] count", "unknown unit"),
        ("12 Nm", "0 Nm", "[yarn] count", "zero"),
        ("8 %", "-8 %", "[yarn] tolerance", "negative"),
        ("8 %", "0 %", "[yarn] tolerance", "zero"),
        ("8 %", "8", "[yarn] tolerance", "no unit"),
        ("8 %", "800 %", "[yarn] tolerance", "more than 100 %"),
        ('"8 %"', "0.08", "[yarn] tolerance", "expected text in quotes"),
        ('"S"', '"s"', "[yarn] direction", 'neither "S" nor "Z"'),
        ('"S"', "1", "[yarn] direction", "expected text"),
        ("plies = 2", "plies = 0", "[yarn] plies", "from 1"),
        ("plies = 2", "plies = -1", "[yarn] plies", "from 1"),
        ("plies = 2", "plies = 2.5", "[yarn] plies", "whole number"),
        ("plies = 2", "plys = 2", "[yarn]", 'unknown key "plys"'),
        ("[yarn]", "[yarns]", "plan.toml", 'unknown key "yarns"'),
        ('twist = "5.2 tpi"\n', "", "[yarn] twist", "missing"),
        ("plies = 2", 'plies = 2\ntwist_factor = "3.5"', "[yarn] twist_factor", "no unit"),
        ("plies = 2", 'plies = 2\ntwist_factor = "3.5 tpi"', "[yarn] twist_factor", "unknown unit"),
        ('count = "12 Nm"', 'twist_factor = "3.5 tm"', "[yarn] twist_factor", "needs the yarn's count"),
        ("[yarn]", "[yarn", "plan.toml", "not valid TOML"),
        (GOOD, "", "plan.toml", "no [yarn] table"),
        (GOOD, "yarn = 3", "plan.toml", "expected a table"),
        (GOOD, "yarn = [" + "[" * 50_000, "plan.toml", "not valid TOML"),
    ],
)
def test_one_sentence_with_file_and_key(was, becomes, where, why):
    assert was in GOOD
    with pytest.raises(PlanError) as refused:
        plan(GOOD.replace(was, becomes))
    says = str(refused.value)
    assert says.startswith("plan.toml: ")
    assert where in says
    assert why in says
    assert says.isprintable()
    assert len(says) < 300


@settings(deadline=None)
@given(cut=st.integers(0, len(GOOD)), junk=st.binary(max_size=12), skip=st.integers(0, 30))
def test_damaged_files_raise_nothing_else(cut, junk, skip):
    data = GOOD.encode()
    complaint, yarn = "", None
    try:
        yarn = read_plan(data[:cut] + junk + data[cut + skip :], "plan.toml").yarn
    except PlanError as refused:
        complaint = str(refused)
    assert complaint.isprintable()
    assert complaint or yarn.twist_tpm > 0
