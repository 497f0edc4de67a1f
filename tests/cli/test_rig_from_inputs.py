"""Options win over the wheel file, the wheel file over the log, the log over the defaults; bad values are named."""

from pathlib import Path

import pytest

from whorlpulse.cli.exits import InputError
from whorlpulse.cli.inputs import Given, opened, rig_of
from whorlpulse.rig import Length
from whorlpulse.views.figures import words

PULSES = "w,1000\nf,1500\nw,2000\n"


@pytest.fixture
def log(tmp_path):
    def written(text):
        path = tmp_path / "log.pulses"
        path.write_text(text)
        return opened(str(path))

    return written


@pytest.fixture
def wheel(tmp_path: Path) -> str:
    path = tmp_path / "wheel.toml"
    path.write_text("[targets]\nf = 2\n")
    return str(path)


def test_targets_option_over_wheel_file_over_log(log, wheel):
    said = log("# targets: w=4 f=3 y=8\n" + PULSES)
    assert dict(rig_of(said, Given(), needs_length=False)[0].targets) == {"w": 4, "f": 3, "b": 1, "y": 8}
    assert dict(rig_of(said, Given(wheel), needs_length=False)[0].targets) == {"w": 4, "f": 2, "b": 1, "y": 8}
    given = Given(wheel, "f=5, b=2")
    assert dict(rig_of(said, given, needs_length=False)[0].targets) == {"w": 4, "f": 5, "b": 2, "y": 8}


def test_roller_option_over_log(log):
    said = log("# roller: 10.0 cm\n" + PULSES)
    from_log, from_option = (rig_of(said, g, needs_length=True)[0].roller for g in (Given(), Given(roller="4 in")))
    # a millimetre and an inch are the last digits: u = step / sqrt(12) (GUM F.2.2.1, from memory)
    assert (from_log.m, from_log.m_u) == (pytest.approx(0.1), pytest.approx(0.001 / 12**0.5))
    assert (from_option.m, from_option.m_u) == (pytest.approx(0.1016), pytest.approx(0.0254 / 12**0.5))


def test_length_lines_keep_their_digits(log):
    said = log("# length: 900 0\n# length: 1600 42 cm\n# length: 1900 42.0 cm\n" + PULSES)
    rig, notes = rig_of(said, Given(), needs_length=True)
    step = 0.01 / 12**0.5
    assert [m.length for m in rig.length_marks] == [
        Length(0.0),
        Length(pytest.approx(0.42), pytest.approx(step)),
        Length(pytest.approx(0.42), pytest.approx(step / 10)),
    ]
    assert [m.tick for m in rig.length_marks] == [900, 1600, 1900]
    assert notes == []


BAD_ROLLER = "# roller: 10 kg\n" + PULSES
BAD_LENGTH = "# length: 1600 42 furlong\n" + PULSES


@pytest.mark.parametrize(("text", "key"), [(BAD_ROLLER, "roller"), (BAD_LENGTH, "length")])
def test_a_bad_length_stops_only_who_needs_it(log, text, key):
    said = log(text)
    rig, notes = rig_of(said, Given(), needs_length=False)
    assert (rig.roller, rig.length_marks) == (None, ())
    assert words(notes[0]).startswith(f"Line 1: {key} is ")
    with pytest.raises(InputError, match=rf"log\.pulses: line 1: {key} is .*unknown unit.*correct the line, or give"):
        rig_of(said, Given(), needs_length=True)
    assert rig_of(said, Given(total="23.4 m"), needs_length=True)[0].total == Length(
        pytest.approx(23.4), pytest.approx(0.1 / 12**0.5)
    )


def test_a_bad_value_that_everything_needs(log):
    with pytest.raises(InputError, match=r"line 1: tick_hz is \"fast\": .*; correct the line$"):
        rig_of(log("# tick_hz: fast\n" + PULSES), Given(), needs_length=False)
    # a good line of the same key stands in for it
    assert rig_of(log("# tick_hz: fast\n# tick_hz: 1024\n" + PULSES), Given(), needs_length=False)[0].tick_hz == 1024
    bad_targets = log("# targets: w=0\n" + PULSES)
    with pytest.raises(InputError, match="or give --targets"):
        rig_of(bad_targets, Given(), needs_length=False)
    assert rig_of(bad_targets, Given(targets="w=2"), needs_length=False)[0].targets["w"] == 2


@pytest.mark.parametrize("text", ["", "w", "w=0", "w=5000", "q=1", "w=4 f", "w=4;f=1", "w=-1", "w=1.5"])
def test_a_bad_targets_option(log, text):
    with pytest.raises(InputError, match="--targets .*for example"):
        rig_of(log(PULSES), Given(targets=text), needs_length=False)
