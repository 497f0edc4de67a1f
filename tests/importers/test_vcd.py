"""VCD: files written by pyvcd's writer, and a small one written by hand with every kind of value."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.importers.signals import refusal
from vcd import VCDWriter

from whorlpulse.importers import NothingFound, Unreadable
from whorlpulse.importers.names import letter_of
from whorlpulse.importers.vcd import from_vcd

SMALL = Path(__file__).with_name("small.vcd").read_bytes()


def ticks(recording, letter):
    return recording.tick[recording.channel == ord(letter)].tolist()


def dump(names, edges, timescale="1 us"):
    """A file as pyvcd writes it: each name's line goes up at its ticks and down 20 ticks later."""
    file = io.StringIO()
    with VCDWriter(file, timescale=timescale) as writer:
        lines = [writer.register_var("top.probe", name, "wire", size=1, init=0) for name in names]
        changes = [(t + d, i, 1 - d // 20) for i, at in enumerate(edges) for t in at for d in (0, 20)]
        for tick, i, level in sorted(changes):
            writer.change(lines[i], tick, level)
    return file.getvalue().encode()


def test_written_by_pyvcd_with_names():
    rng = np.random.default_rng(2)
    wheel = np.cumsum(rng.integers(900_000, 1_100_000, 30))
    flyer = np.cumsum(rng.integers(100_000, 180_000, 200))
    found = from_vcd(dump(["flyer_hall", "wheel_hall", "spare"], [flyer, wheel, [5]]))
    assert ticks(found, "w") == wheel.tolist()
    assert ticks(found, "f") == flyer.tolist()
    assert found.tick_hz == 1e6
    assert found.watched == (0, max(wheel[-1], flyer[-1]) + 20)
    assert "guessed by name: f=top.probe.flyer_hall w=top.probe.wheel_hall" in " ".join(found.notes)


@pytest.mark.parametrize(("timescale", "tick_hz"), [("1 ns", 1e9), ("100 ps", 1e10), ("10 us", 1e5), ("1 ms", 1e3)])
def test_one_time_unit_is_one_tick(timescale, tick_hz):
    assert from_vcd(dump(["w"], [[100, 200]], timescale)).tick_hz == tick_hz


def test_falling():
    assert ticks(from_vcd(dump(["w"], [[100, 200]]), falling=True), "w") == [120, 220]


def test_small_file_by_hand():
    """x and z are no level: the last known one holds; a line that is up from the start has not come up."""
    found = from_vcd(SMALL)
    assert found.tick_hz == 1e5
    assert ticks(found, "w") == [300, 500]
    assert ticks(found, "f") == [200, 320]  # at 410 it was up before it floated
    assert found.watched == (100, 600)


@pytest.mark.parametrize(("bit", "truth"), [("port[0]", [500]), ("port[2]", [500]), ("bench.port[3]", [500])])
def test_a_bit_of_a_bus(bit, truth):
    assert ticks(from_vcd(SMALL, {"y": bit}), "y") == truth


def test_a_net_declared_in_two_scopes_is_one():
    assert ticks(from_vcd(SMALL, {"b": "inner.sensor_w"}), "b") == [300, 500]


@pytest.mark.parametrize(
    ("signals", "says"),
    [
        ({"w": "nothing"}, "no signal 'nothing'"),
        ({"w": "port"}, "has 4 bits: say which one"),
        ({"w": "port[4]"}, "bits 3 to 0"),
        ({"w": "port[x]"}, r"no signal 'port\[x\]'"),
    ],
)
def test_wrong_signals_are_named(signals, says):
    with pytest.raises(Unreadable, match=says):
        from_vcd(SMALL, signals)


def test_what_cannot_be_read_says_why():
    with pytest.raises(Unreadable, match="named for a shaft.*'top.probe.a', 'top.probe.c'"):
        from_vcd(dump(["a", "c"], [[1], [2]]))
    with pytest.raises(Unreadable, match="two signals for w"):
        from_vcd(dump(["wheel1", "wheel2"], [[1], [2]]))
    with pytest.raises(Unreadable, match="no .timescale"):
        from_vcd(SMALL.replace(b"$timescale 10 us $end", b""))
    for wrong in (b"0 us", b"00 us", b"1" + 400 * b"0" + b" us", b"1 zs"):
        with pytest.raises(Unreadable, match="timescale other than 1, 10 or 100 s, ms"):
            from_vcd(SMALL.replace(b"$timescale 10 us", b"$timescale " + wrong))
    with pytest.raises(Unreadable, match="line 21: time 50 goes back"):
        from_vcd(SMALL.replace(b"#310", b"#50"))
    with pytest.raises(Unreadable, match="days long"):
        from_vcd(SMALL.replace(b"#600", b"#9000000000000000000"))
    with pytest.raises(NothingFound, match="no signal changes"):
        from_vcd(dump(["w"], [[]]))


@settings(max_examples=300, deadline=None)
@given(st.integers(0, len(SMALL)), st.binary(max_size=12), st.integers(0, 12))
def test_any_bytes_are_safe(at, patch, gone):
    assert "\n" not in refusal(lambda: from_vcd(SMALL[:at] + patch + SMALL[at + gone :]))


@pytest.mark.parametrize(
    ("name", "letter"),
    [
        ("Wheel hall", "w"),
        ("flyer_1", "f"),
        ("f", "f"),
        ("ch_b", "b"),
        ("W0", "w"),
        ("yarn", "y"),
        ("take-up roller", "y"),
        ("flow", None),
        ("wheel_to_flyer", None),
        ("clk", None),
        ("w_f", None),
    ],
)
def test_names_of_shafts(name, letter):
    assert letter_of(name) == letter
