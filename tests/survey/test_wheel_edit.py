"""Ratios into a wheel file: nothing else of it changes, what is written is what was measured, doubt is refused."""

from __future__ import annotations

import os
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from whorlpulse.cli.wheel_edit import with_ratios, written
from whorlpulse.cli.wheel_file import read_wheel
from whorlpulse.estimators.measured import Measured
from whorlpulse.findings.survey_report import Saved

BENCH = b"""# the bench by the window
[wheel]
name = "old  one"    # as its owner calls it
wheel_diameter = '510 mm'

  # the lowest
[[whorl]]
name = "large"
diameter = "80 mm"   # calipers, twice
ratio = 6.30         # counted by hand
ratio_u = 0.2

# no ratio yet
[[whorl]]
diameter="58 mm"
name = "middle"

# what the log says is wrong:
[targets]
w = 4   # magnets
"""


def edited(data: bytes, *saved: Saved) -> bytes:
    return with_ratios(data, "wheel.toml", saved, "made here")


def test_every_other_byte_stays():
    made = edited(BENCH, Saved("large", Measured(6.1929, 0.0002), 0), Saved("middle", Measured(8.4326, 0.0004), 1))
    ratio, ratio_u = written(Measured(6.1929, 0.0002))
    expected = BENCH.replace(b"6.30 ", f"{ratio} ".encode()).replace(
        b"ratio_u = 0.2\n", f"ratio_u = {ratio_u}\n".encode()
    )
    ratio, ratio_u = written(Measured(8.4326, 0.0004))
    expected = expected.replace(b'"middle"\n', f'"middle"\nratio = {ratio}\nratio_u = {ratio_u}\n'.encode())
    assert made == expected


def test_a_new_whorl_stands_behind_the_last_and_before_what_follows():
    made = edited(BENCH, Saved("whorl 1", Measured(11.62, 0.002)))
    assert re.sub(rb'\n\[\[whorl\]\]\nname = "whorl 1"\nratio = [0-9.]+\nratio_u = [0-9.]+\n', b"", made) == BENCH
    assert made.index(b'"middle"') < made.index(b'"whorl 1"') < made.index(b"# what the log says is wrong")


@pytest.mark.parametrize(
    "data",
    [
        BENCH,
        BENCH.replace(b"\n", b"\r\n"),
        b"\xef\xbb\xbf" + BENCH,
        BENCH.rstrip(b"\n"),
        b"[[whorl]]\nratio = 6\n[[whorl]]\nratio = 8 # no end",
        b'whorl = [{name = "a", diameter = "80 mm"}, {ratio = 8.5}] # in a row\n',
        b'[wheel]\nname = "only a name"',
        b"",
    ],
    ids=["plain", "crlf", "bom", "no last end", "no end, comment", "inline", "no whorl", "new"],
)
def test_any_way_to_write_the_file_is_kept(data):
    known = len(read_wheel(data, "w").whorls) if data else 0
    saved = [Saved(f"n{i}", Measured(6.0 + i, 0.001), i) for i in range(known)]
    saved += [Saved("whorl 1", Measured(12.0, 0.001)), Saved("whorl 2", Measured(15.0, 0.001))]
    made = edited(data, *saved)
    read = read_wheel(made, "w")
    assert [w.ratio for w in read.whorls] == [6.0 + i for i in range(known)] + [12.0, 15.0]
    assert [w.name for w in read.whorls[known:]] == ["whorl 1", "whorl 2"]
    assert made.startswith(b"\xef\xbb\xbf") == data.startswith(b"\xef\xbb\xbf")
    ends = set(re.findall(rb"\r?\n", made))
    assert ends <= ({b"\r\n"} if b"\r\n" in data else {b"\n"})
    for line in data.splitlines():
        if b"ratio" not in line:
            assert line in made


@settings(max_examples=60)
@given(st.floats(0.02, 900.0), st.floats(1e-9, 0.3), st.sampled_from([3.0, 12.0, float("inf")]))
def test_what_is_read_back_is_the_same_interval(value, share, dof):
    ratio = Measured(value, value * share, dof)
    if ratio.half_width >= value:
        return
    (whorl,) = read_wheel(edited(b"", Saved("whorl 1", ratio)), "w").whorls
    again = Measured(whorl.ratio, whorl.ratio_u)
    assert again.value == pytest.approx(value, abs=max(0.02 * ratio.half_width, 1e-12))
    assert again.half_width == pytest.approx(ratio.half_width, rel=0.02, abs=1e-11)


def test_saved_ratios_are_what_ratio_reads(whorlpulse, bench, tmp_path):
    place = tmp_path / "wheel.toml"
    place.write_bytes((bench / "wheel.toml").read_bytes())
    ran = whorlpulse("survey", bench / "log.pulses", "--save", place)
    assert ran.code == 0
    assert "large: had no ratio, now 6.19" in ran.out
    said = whorlpulse("survey", bench / "log.pulses", "--json").json
    read = whorlpulse("ratio", bench / "log.pulses", "--wheel", place, "--json").json
    for card, whorl in zip(said["whorls"], read["whorls"], strict=True):
        half = card["ratio"]["high"] - card["ratio"]["value"]
        assert whorl["no_slip_ratio"]["value"] == pytest.approx(card["ratio"]["value"], abs=0.01 * half)
        assert whorl["no_slip_ratio"]["high"] == pytest.approx(card["ratio"]["high"], abs=0.01 * half)
    old = (bench / "wheel.toml").read_text()
    assert [line for line in place.read_text().splitlines() if "ratio" not in line] == old.splitlines()


def test_a_file_that_is_not_there_is_made(whorlpulse, bench, tmp_path):
    place = tmp_path / "new.toml"
    assert whorlpulse("survey", bench / "log.pulses", "--save", place).code == 0
    assert [w.name for w in read_wheel(place.read_bytes(), "w").whorls] == ["whorl 1", "whorl 2", "whorl 3"]
    again = whorlpulse("survey", bench / "log.pulses", "--save", place)
    assert "whorl 2: ratio 8.43" in again.out
    assert len(read_wheel(place.read_bytes(), "w").whorls) == 3


def test_new_whorls_get_free_names(whorlpulse, bench, tmp_path):
    place = tmp_path / "wheel.toml"
    place.write_text('[[whorl]]\nname = "Whorl 1"\nratio = 4.9\nratio_u = 0.01\n')
    assert whorlpulse("survey", bench / "log.pulses", "--save", place).code == 0
    names = [w.name for w in read_wheel(place.read_bytes(), "w").whorls]
    assert names == ["Whorl 1", "whorl 2", "whorl 3", "whorl 4"]


def test_grooves_without_a_ratio_are_matched_by_order(whorlpulse, bench, tmp_path):
    place = tmp_path / "wheel.toml"
    rows = (("tiny", 41), ("big", 80), ("mid", 58))
    place.write_text("".join(f'[[whorl]]\nname = "{n}"\ndiameter = "{d} mm"\n' for n, d in rows))
    assert whorlpulse("survey", bench / "log.pulses", "--save", place).code == 0
    found = {w.name: w.ratio for w in read_wheel(place.read_bytes(), "w").whorls}
    assert found["big"] == pytest.approx(6.19, abs=0.01)
    assert found["tiny"] == pytest.approx(11.62, abs=0.01)


@pytest.mark.parametrize(
    ("file", "why"),
    [
        ('[[whorl]]\nname = "a"\ndiameter = "80 mm"\n', "could be any of a"),
        (
            '[[whorl]]\nname = "a"\nratio = 6.1\n[[whorl]]\nname = "b"\nratio = 6.3\n'
            '[[whorl]]\nname = "m"\nratio = 8.6\nratio_u = 0.01\n[[whorl]]\nname = "s"\nratio = 12.0\nratio_u = 0.01\n',
            "could be a or b",
        ),
        ('[[whorl]]\nname = "a"\nratio = 6.4\nratio_u = 0.01\n', "looks like slip"),
    ],
    ids=["unplaced", "rivals", "slips"],
)
def test_doubt_is_refused_and_said(whorlpulse, bench, tmp_path, file, why):
    place = tmp_path / "wheel.toml"
    place.write_text(file)
    ran = whorlpulse("survey", bench / "log.pulses", "--save", place)
    assert why in " ".join(ran.out.split())
    read = read_wheel(place.read_bytes(), "w").whorls
    was = read_wheel(file.encode(), "w").whorls
    kept = [w for w in was if w.name in ("a", "b")]
    assert [w for w in read if w.name in ("a", "b")] == kept


def test_where_nothing_could_be_written_the_file_stays_and_the_end_is_one(whorlpulse, bench, tmp_path):
    place = tmp_path / "wheel.toml"
    text = "".join(f'[[whorl]]\nname = "{r}"\nratio = {r}\nratio_u = 0.001\n' for r in (6.4, 8.7, 12.0))
    place.write_text(text)
    ran = whorlpulse("survey", bench / "log.pulses", "--save", place)
    assert ran.code == 1
    assert "left as it is" in ran.err
    assert place.read_text() == text


def test_a_given_reference_is_not_saved_as_measured(whorlpulse, slack, tmp_path):
    ran = whorlpulse("survey", slack / "log.pulses", "--reference", "8.5", "--save", tmp_path / "w.toml")
    assert ran.code == 1
    assert "not measured" in " ".join(ran.out.split())
    assert not (tmp_path / "w.toml").exists()


def test_bursts_that_were_left_out_are_said(whorlpulse, slack, tmp_path):
    ran = whorlpulse("survey", slack / "log.pulses", "--save", tmp_path / "w.toml")
    assert "bursts left out: 5" in ran.out


def test_the_slow_logs_ratio_is_what_is_saved(whorlpulse, bench, slack, tmp_path):
    place = tmp_path / "w.toml"
    ran = whorlpulse("survey", slack / "log.pulses", "--reference", bench / "log.pulses", "--save", place)
    assert "from the reference log" in ran.out
    (whorl,) = read_wheel(place.read_bytes(), "w").whorls
    said = whorlpulse("survey", bench / "log.pulses", "--json").json["whorls"][1]["ratio"]
    assert whorl.ratio == pytest.approx(said["value"], rel=1e-6)
    assert 1.959964 * whorl.ratio_u == pytest.approx(said["high"] - said["value"], rel=0.01)


def test_a_link_and_its_permissions_stay(whorlpulse, bench, tmp_path):
    real, link = tmp_path / "real.toml", tmp_path / "wheel.toml"
    real.write_bytes((bench / "wheel.toml").read_bytes())
    real.chmod(0o640)
    link.symlink_to(real)
    assert whorlpulse("survey", bench / "log.pulses", "--save", link).code == 0
    assert link.is_symlink()
    assert b"ratio = " in real.read_bytes()
    assert os.stat(real).st_mode & 0o777 == 0o640
    assert sorted(p.name for p in tmp_path.iterdir()) == ["real.toml", "wheel.toml"]
