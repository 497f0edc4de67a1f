"""Each fault of lines, clock and board: found with the figures that were put in, and with its line numbers."""

from dataclasses import replace

import pytest
from tests.findings.logs import bare, health, ids, keep_lines, log_of, the, with_faults

from whorlpulse.simulate import Board, scenario, simulate


def lines_with(log: bytes, wanted: bytes) -> list[int]:
    return [n for n, line in enumerate(log.splitlines(), start=1) if line.startswith(wanted)]


@pytest.mark.parametrize("seed", range(4))
def test_lost_garbled_and_torn_lines_are_counted_as_they_were_put_in(seed):
    capture = simulate(scenario("bad-line"), seed)
    report = health(capture.log)
    truth = capture.truth.lines
    assert report.lines.lost == the(report, "lines-lost").figures["lost"] == truth["lost"] == 30
    assert the(report, "lines-lost").figures["gaps"] == 2
    assert report.lines.malformed + report.lines.bad_checksum == truth["garbled"]
    assert report.lines.torn_tail
    assert the(report, "torn-tail").figures["line"] == report.lines.total == len(capture.log.splitlines())


def test_damage_is_named_by_cause_and_first_lines():
    log = log_of(scenario("steady"), 1).splitlines(keepends=True)
    log[40] = log[40].replace(b"*", b"9*")  # a digit more: the checksum no longer fits
    log[50:50] = [b"z,1,2\n", b"hello\n"]
    report = health(b"".join(log))
    assert the(report, "lines-corrupt").figures["lines"] == "41"
    causes = the(report, "lines-malformed").figures["causes"]
    assert "unknown channel (1: line 51)" in causes
    assert "not a pulse line (1: line 52)" in causes


@pytest.mark.parametrize("seed", range(4))
def test_overruns_are_counted_with_their_pulses_and_lines(seed):
    capture = simulate(with_faults("steady", overruns=(3, 5)), seed)
    finding = the(health(capture.log), "overruns")
    assert finding.figures["pulses"] == capture.truth.lines["unheard_pulses"] == 8
    assert finding.figures["times"] == 2
    assert finding.figures["lines"] == ", ".join(map(str, lines_with(capture.log, b"x,")))


def test_a_board_that_restarts_is_found_where_its_numbers_begin_anew():
    capture = simulate(with_faults("steady", restart_at_s=40.0), 2)
    finding = the(health(capture.log), "clock-jumped-back")
    assert finding.figures["numbers"] == 1
    assert float(finding.figures["seconds"]) == pytest.approx(40.0, abs=1.1)  # the last line before it: up to 1 s
    line = int(finding.figures["lines"])
    assert capture.log.splitlines()[line - 1].split(b",")[2].startswith(b"0*")  # sequence number 0


def test_two_logs_pasted_together_are_found_at_the_second_header():
    first, second = log_of(bare(), 1), log_of(bare(), 2)
    finding = the(health(first + second), "clock-jumped-back")
    assert finding.figures["header_line"] == len(first.splitlines()) + 1
    assert finding.confidence >= 0.95


def test_a_wrap_of_the_clock_is_no_jump():
    case = replace(scenario("steady"), board=Board(start_tick=2**32 - 41_000_000))
    assert ids(health(log_of(case, 1))) == ["log-healthy"]


def test_a_damaged_digit_in_a_line_without_checksum_is_an_unbelievable_time():
    log = log_of(bare(), 1).splitlines(keepends=True)
    log[300] = log[300][:2] + b"9" + log[300][3:]
    finding = the(health(b"".join(log)), "clock-unbelievable")
    assert finding.figures["rows"] == 1
    assert finding.figures["lines"] == "301"


def test_a_clock_narrower_than_its_ticks_is_named():
    report = health(log_of(bare(), 1) + b"# tick_bits: 16\n")
    assert the(report, "clock-unbelievable").figures["bits"] == 16
    assert not {"no-wheel", "no-flyer"} & set(ids(report))


def test_a_board_that_was_not_heard_is_told_from_a_wheel_that_stands():
    silent = health(keep_lines(log_of(bare(), 1), lambda _, t: not 40.0 < t < 47.0))
    figures = the(silent, "board-silent").figures
    assert figures["seconds"] == pytest.approx(7.0, abs=1.0)  # signs of life come once a second
    assert figures["from_s"] == pytest.approx(40.0, abs=1.0)
    assert "board-silent" not in ids(health(log_of(scenario("three-runs"), 1)))


def test_lines_lost_on_the_way_are_not_also_a_silent_board():
    report = health(log_of(with_faults("steady", lost_blocks=(80,)), 1))
    assert "lines-lost" in ids(report)
    assert "board-silent" not in ids(report)


def test_a_board_without_signs_of_life_is_information():
    case = replace(scenario("steady"), board=Board(keep_alive_s=None))
    assert ids(health(log_of(case, 1))) == ["log-healthy", "no-keep-alives"]


def test_header_values_that_say_nothing_are_named_with_their_lines():
    log = log_of(scenario("steady"), 1)
    report = health(log + b"# tick_hz: fast\n# targets: w=0\n# sync: now\n")
    found = [f.figures for f in report.findings if f.id == "header-value"]
    n = len(log.splitlines())
    assert [(f["key"], f["line"]) for f in found] == [("tick_hz", n + 1), ("targets", n + 2), ("sync", n + 3)]
    assert found[0]["instead"] == "1000000"
    assert found[1]["instead"] == "w=1 f=1 b=1 y=1"
