"""Bad input through the real command: one clear line, the right exit code, never a traceback."""

import os
import signal
import subprocess
import sys
import time

import pytest

#: Name -> (words before and after the file, exit code, what the line must say).
LOGS = {
    "empty": (("ratio",), 1, "the log is empty"),
    "binary": (("ratio",), 2, "is no pulse log"),
    "directory": (("twist",), 2, "is a directory"),
    "missing": (("ratio",), 2, "is not there"),
    "wheel-only": (("ratio",), 1, "no flyer pulses"),
    "three-seconds": (("ratio",), 1, "too few whole wheel turns"),
    "pasted": (("ratio",), 1, "the clock jumps back there"),
    "pasted-on": (("twist",), 1, "a second log begins there"),
    "format-7": (("ratio",), 2, "reads only 'pulses 1'"),
    "narrow-clock": (("ratio",), 1, "don't fit tick_bits 16"),
}
PLANS = {
    "wrong-unit": ('twist = "5.2 mm"', '"5.2 mm" has an unknown unit'),
    "negative-tolerance": ('twist = "5.2 tpi"\ntolerance = "-10 %"', '"-10 %" is negative'),
}
SMALL_WHORL = '[wheel]\nwheel_diameter = "510 mm"\nband_thickness = "9 mm"\n[[whorl]]\ndiameter = "8 mm"\n'


@pytest.fixture(scope="module")
def bad(skein, tmp_path_factory):
    place = tmp_path_factory.mktemp("bad")
    log = (skein / "log.pulses").read_bytes()
    lines = log.splitlines(keepends=True)
    first = int(lines[20].split(b",")[1])
    short = [x for x in lines if x[:1] == b"#" or int(x.split(b"*")[0].split(b",")[1]) < first + 3_000_000]
    files = {
        "empty": b"",
        "binary": bytes(range(256)) * 40,
        "wheel-only": b"".join(x for x in lines if x[:1] != b"f"),
        "three-seconds": b"".join(short),
        "pasted": log + log,
        # another board's log, whose clock stands later: the same lines without checksums, 1000 s on
        "pasted-on": log + b"".join(map(_later, lines)),
        "format-7": log.replace(b"format: pulses 1", b"format: pulses 7"),
        "narrow-clock": log.replace(b"tick_bits: 32", b"tick_bits: 16"),
    }
    for name, data in files.items():
        (place / name).write_bytes(data)
    (place / "directory").mkdir()
    for name, (text, _) in PLANS.items():
        (place / name).write_text(f"[yarn]\n{text}\n")
    (place / "small-whorl").write_text(SMALL_WHORL)
    return place


def _later(line):
    if line[:1] == b"#":
        return line
    letter, tick, seq = line.split(b"*")[0].split(b",")
    return b"%s,%d,%s\n" % (letter, int(tick) + 1_000_000_000, seq)


def check_one_line(ran, code, says):
    assert ran.returncode == code, ran.stderr
    assert ran.stdout == ""
    assert ran.stderr.startswith("whorlpulse: ")
    assert ran.stderr.count("\n") == 1
    assert says in ran.stderr


@pytest.mark.parametrize("name", LOGS)
def test_a_bad_log(command, bad, name):
    words, code, says = LOGS[name]
    check_one_line(command(*words, bad / name), code, says)


def test_where_the_second_log_begins(command, bad, skein):
    lines = (skein / "log.pulses").read_bytes().splitlines()
    first_of_second = len(lines) + next(i for i, x in enumerate(lines, 1) if x[:1] != b"#")
    for name in ("pasted", "pasted-on"):
        assert f"line {first_of_second}:" in command("ratio", bad / name).stderr


def test_a_log_that_record_went_on_with_is_measured(command, skein, tmp_path):
    log = (skein / "log.pulses").read_bytes()
    path = tmp_path / "resumed.pulses"
    path.write_bytes(log + b"# resumed: 2026-01-01T00:00:00Z the board\n" + log)
    ran = command("ratio", path, "--json")
    assert (ran.returncode, ran.stderr) == (0, "")
    assert "began anew" in ran.stdout


@pytest.mark.parametrize("name", PLANS)
def test_a_bad_plan(command, bad, name):
    check_one_line(command("plan", bad / name), 2, PLANS[name][1])


def test_a_whorl_smaller_than_its_band(command, bad, skein):
    ran = command("ratio", skein / "log.pulses", "--wheel", bad / "small-whorl")
    check_one_line(ran, 2, "not larger than the band")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("ratoi",), "did you mean ratio?"),
        (("ratio",), "LOG is missing: a pulse log (*.pulses), or - for standard input (whorlpulse ratio --help"),
        (("ratio", "--foo", "x"), "there is no option --foo (whorlpulse ratio --help says more)"),
        (("ratio", "--whel", "x"), "there is no option --whel: did you mean --wheel? (whorlpulse ratio --help"),
        (("ratio", "x.pulses", "--wheel"), "requires an argument (whorlpulse ratio --help says more)"),
        (("record", "x.pulses"), "--from is missing: serial:PORT"),
        (("record", "x.pulses", "--from", "COM3"), "serial:COM3 for that port"),
        (("tally", "--wheel", "20"), "did you mean --wheel-turns?"),
        (("simulate", "stedy"), "did you mean steady?"),
        (("ratio", "wheel.toml"), "with --wheel or --plan"),
    ],
)
def test_bad_usage(command, words, says):
    check_one_line(command(*words), 2, says)


def test_an_unexpected_fault_is_one_line_and_can_be_traced(command, skein):
    # a fault put in on purpose: the estimator's module raises when it is called
    code = (
        "import sys, whorlpulse.actions.measure_ratio as m, whorlpulse.cli.exits as e\n"
        "def broken(*_): raise ZeroDivisionError('put in\\nhere')\n"
        "m.estimate_ratio = broken\n"
        f"sys.exit(e.run(['ratio', {str(skein / 'log.pulses')!r}]))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False)
    check_one_line(ran, 2, "ZeroDivisionError: put in here: please report it")
    env = {**os.environ, "WHORLPULSE_TRACE": "1"}
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False, env=env)
    assert "Traceback" in ran.stderr


def test_interrupted(skein):
    # it waits for standard input, and Ctrl-C ends it without a word
    line = [sys.executable, "-m", "whorlpulse", "ratio", "-"]
    with subprocess.Popen(line, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as waiting:
        time.sleep(1.5)
        waiting.send_signal(signal.SIGINT)
        out, err = waiting.communicate(timeout=20)
    assert (waiting.returncode, out, err) == (130, b"", b"")


def test_a_closed_pipe_is_no_fault(skein):
    line = f"{sys.executable} -m whorlpulse twist {skein / 'log.pulses'} --json | head -c 1; echo ${{PIPESTATUS[0]}}"
    ran = subprocess.run(["bash", "-c", line], capture_output=True, text=True, timeout=60, check=False)
    assert (ran.stdout, ran.stderr) == ("{0\n", "")


def test_a_terminal_that_knows_ascii_only(command, skein):
    ran = command("twist", skein / "log.pulses", "--plan", skein / "plan.toml", env={"PYTHONIOENCODING": "ascii"})
    assert ran.returncode == 0
    assert "+-" in ran.stdout
    assert "?" not in ran.stdout
    assert ran.stdout.isascii()
