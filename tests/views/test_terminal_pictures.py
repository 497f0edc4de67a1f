"""Pictures for terminals: every point is in them, the least and the greatest too; and only terminals get them."""

from __future__ import annotations

import os
import pty
import re
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from whorlpulse.views.terminal_pictures import Curve, Pen, bars, line_cells, line_picture

#: Dots of a braille cell by bit, as the Unicode chart of U+2800 numbers them: 1 2 3 left, 4 5 6 right, 7 8 below.
DOTS = {0: (0, 0), 1: (1, 0), 2: (2, 0), 3: (0, 1), 4: (1, 1), 5: (2, 1), 6: (3, 0), 7: (3, 1)}


def dots(cells: list[str], pen: Pen) -> np.ndarray:
    """Read a picture back: (down, across) bool."""
    across, down = pen.dots
    grid = np.zeros((len(cells) * down, len(cells[0]) * across), bool)
    for i, line in enumerate(cells):
        for j, c in enumerate(line):
            if pen.braille and c != " ":
                for bit, (row, column) in DOTS.items():
                    grid[i * 4 + row, j * 2 + column] = bool((ord(c) - 0x2800) >> bit & 1)
            elif not pen.braille:
                grid[i * 2, j], grid[i * 2 + 1, j] = c in "':", c in ".:"
    return grid


def naive(x, y, grid: np.ndarray) -> set[tuple[int, int]]:
    """Where each point belongs, one by one."""
    height, width = grid.shape
    found = set()
    for a, b in zip(x, y, strict=True):
        column = min(int((a - min(x)) / (max(x) - min(x)) * width), width - 1) if max(x) > min(x) else width // 2
        level = min(int((b - min(y)) / (max(y) - min(y)) * height), height - 1) if max(y) > min(y) else height // 2
        found.add((height - 1 - level, column))
    return found


VALUES = st.lists(st.integers(-1000, 1000).map(float), min_size=1, max_size=60)


@settings(max_examples=80, deadline=None)
@given(VALUES, st.booleans(), st.integers(4, 40), st.integers(2, 8))
def test_every_point_is_a_dot(y, braille, columns, lines):
    pen, x = Pen(80, braille), np.arange(len(y)) * 1.0
    grid = dots(line_cells([Curve(x, np.array(y))], columns, lines, pen), pen)
    assert all(grid[place] for place in naive(x.tolist(), y, grid))
    if max(y) > min(y):
        assert grid[0].any()
        assert grid[-1].any()


@pytest.mark.parametrize("braille", [True, False])
def test_one_turn_among_a_hundred_thousand_is_seen(braille):
    y = np.sin(np.arange(100_000) / 500.0)
    y[61_234], y[20_400] = 9.0, -4.0
    pen = Pen(80, braille)
    grid = dots(line_cells([Curve(np.arange(100_000.0), y)], 60, 6, pen), pen)
    width = grid.shape[1]
    assert np.flatnonzero(grid[0]).tolist() == [int(61_234 / 99_999 * width)]
    assert np.flatnonzero(grid[-1]).tolist() == [int(20_400 / 99_999 * width)]
    # The line goes all the way up and down to them, from where the others are: -1 to 1 of -4 to 9.
    body = grid.shape[0] * 10 // 13 - 1
    assert grid[: body - 1, int(61_234 / 99_999 * width)].all()
    assert grid[body + 1 :, int(20_400 / 99_999 * width)].all()


def test_a_straight_line_is_one_without_holes():
    pen = Pen(80)
    grid = dots(line_cells([Curve(np.array([0.0, 1.0]), np.array([0.0, 1.0]))], 20, 10, pen), pen)
    assert grid.shape == (40, 40)
    assert np.array_equal(grid, np.eye(40, dtype=bool)[::-1])


def test_courses_are_not_joined_over_a_stop():
    pen = Pen(80)
    parts = [Curve(np.array([0.0, 10.0]), np.array([1.0, 1.0])), Curve(np.array([90.0, 100.0]), np.array([2.0, 2.0]))]
    grid = dots(line_cells(parts, 50, 4, pen), pen)
    assert not grid[:, 15:85].any()


@pytest.mark.parametrize("braille", [True, False])
@pytest.mark.parametrize("width", [40, 80])
def test_a_picture_keeps_to_its_width_and_places_its_marks(width, braille):
    x = np.linspace(0.0, 100.0, 101)
    shown = line_picture([Curve(x, x)], Pen(width, braille), ("100", "0"), ("0 s", "100 s"), marks=[0.0, 50.0, 100.0])
    lines = shown.splitlines()
    assert max(map(len, lines)) <= width - 1
    assert lines[0].startswith("  100 ")
    assert lines[-1].endswith("100 s")
    left = lines[0].index("┤" if braille else "+")
    at = [m.start() - left - 1 for m in re.finditer("▲" if braille else r"\^", lines[-2])]
    columns = width - 3 - 6
    assert at == [0, columns // 2, columns - 1]
    if not braille:
        assert shown.isascii()


def test_what_is_not_finite_is_left_out():
    y = np.array([1.0, np.nan, 2.0, np.inf, 3.0])
    assert "nan" not in line_picture([Curve(np.arange(5.0), y)], Pen(40), ("3", "1"), ("0", "4"))
    assert line_picture([Curve(np.arange(2.0), np.full(2, np.nan))], Pen(40), ("", ""), ("", "")) == ""


def test_bars_are_as_long_as_their_sizes():
    rows = [("a", 1.0, "1"), ("bb", 0.5, "0.5"), ("c", 0.0, "0"), ("d", -1.0, "-1")]
    shown = bars(rows, Pen(60)).splitlines()
    room = 60 - 2 - 3 - 8
    eighths = [sum(" ▏▎▍▌▋▊▉█".index(c) for c in line[2 + 2 + 2 + 3 + 2 :]) for line in shown]
    assert eighths[0] == 8 * room
    assert eighths[1] == pytest.approx(4 * room, abs=1)
    assert eighths[2:] == [0, 0]
    assert bars(rows, Pen(60, braille=False)).isascii()


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    from whorlpulse.cli.capture_folder import write_capture
    from whorlpulse.simulate import scenario, simulate

    place = tmp_path_factory.mktemp("bench")
    write_capture(str(place), simulate(scenario("three-whorls"), 1), replace=True)
    return place


def on_a_terminal(words, **environment) -> str:
    """Run the command with standard output on a pseudo-terminal of 80 columns; return what it wrote."""
    ours, theirs = pty.openpty()
    env = {**os.environ, "TERM": "xterm-256color", "LC_ALL": "C.UTF-8", "COLUMNS": "80", **environment}
    env.pop("NO_COLOR", None)
    with subprocess.Popen(
        [sys.executable, "-m", "whorlpulse", *words], stdout=theirs, stderr=subprocess.PIPE, env=env
    ) as child:
        os.close(theirs)
        said = b""
        while True:
            try:
                part = os.read(ours, 4096)
            except OSError:  # the other end is closed
                break
            if not part:
                break
            said += part
        assert child.wait(timeout=60) == 0, child.stderr.read()
    os.close(ours)
    return said.decode().replace("\r\n", "\n")


def in_a_pipe(words) -> str:
    env = {**os.environ, "COLUMNS": "80", "LC_ALL": "C.UTF-8"}
    ran = subprocess.run(
        [sys.executable, "-m", "whorlpulse", *words], capture_output=True, check=True, timeout=60, env=env
    )
    return ran.stdout.decode()


def braille_in(text: str) -> bool:
    return any(0x2800 < ord(c) < 0x2900 for c in text)


@pytest.mark.parametrize("command", ["ratio", "slip", "cadence"])
def test_a_terminal_gets_the_picture_between_the_lines_that_a_pipe_gets(command, bench):
    words = [command, str(bench / "log.pulses"), "--wheel", str(bench / "wheel.toml")]
    piped, seen = in_a_pipe(words), re.sub(r"\x1b\[[0-9;]*m", "", on_a_terminal(words))
    assert not braille_in(piped)
    assert braille_in(seen)
    rest = iter(seen.splitlines())
    assert all(line in rest for line in piped.splitlines())
    added = len(seen.splitlines()) - len(piped.splitlines())
    assert 7 <= added <= 16


def test_a_terminal_that_knows_no_dots_gets_ascii_and_a_dumb_one_nothing(bench):
    words = ["ratio", str(bench / "log.pulses")]
    plain = on_a_terminal(words, TERM="linux")
    assert not braille_in(plain)
    assert "11.6 +" in plain
    assert "Ratio along the log" not in on_a_terminal(words, TERM="dumb")
    assert "Ratio along the log" not in on_a_terminal([*words, "--json"])
