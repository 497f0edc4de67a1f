"""Whatever a readable log says, every measuring command answers or says in words why it can't.

The bytes are taken for a spinner's and a board's doings, so that logs come out that get far into the measuring.
"""

from __future__ import annotations

import json
from collections.abc import Iterator

from fuzz_lines import one_line

from whorlpulse.actions.calibrate import calibrate_roller
from whorlpulse.actions.health import check_health
from whorlpulse.actions.measure_cadence import measure_cadence
from whorlpulse.actions.measure_ratio import measure_ratio
from whorlpulse.actions.measure_slip import measure_slip
from whorlpulse.actions.measure_twist import measure_twist
from whorlpulse.actions.recording import read_recording
from whorlpulse.actions.survey import survey
from whorlpulse.cli.exits import InputError
from whorlpulse.cli.inputs import Given, rig_of
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.plan import YarnPlan
from whorlpulse.estimators.slip_reference import Reference
from whorlpulse.findings.survey_report import WheelFacts
from whorlpulse.logfile import LogError
from whorlpulse.views import cadence, calibrate, check, ratio, slip, twist
from whorlpulse.views.json_object import as_json
from whorlpulse.views.layout import Page

_TICK_HZ = ("1000000", "1", "10000000000", "0.001", "32768", "1e300", "1e-300", "16000000")
_TICK_BITS = (32, 0, 64, 16, 62, 24, 8, 48)
_TARGETS = ("w=1 f=1", "w=4 f=1", "w=1 f=2 b=3 y=4", "w=4096 f=1", "w=999999 f=999999 b=1 y=1", "y=7")
#: Lines of a log: enough for every kind of answer, and for one in two more, at eight times the price.
_MOST_ROWS = (500, 4000)


def answers(data: bytes) -> int:
    """Every measurement of the log that these bytes make: text, JSON without NaN, or a sentence; the log's bytes."""
    text = b"".join(log_of(data))
    _measured(text)
    return len(text)


def _measured(text: bytes) -> None:
    try:
        recording = read_recording(lambda: [text], "any.pulses")
    except LogError as refused:
        one_line(str(refused))
        return
    rigs = []
    for needs_length in (False, True):
        try:
            rigs.append(rig_of(recording, Given(), needs_length=needs_length))
        except InputError as refused:
            one_line(str(refused))
    if not rigs:
        return
    rig, notes = rigs[0]
    _sound(measure_ratio(recording, rig, notes), ratio)
    _sound(measure_cadence(recording, rig, 1, notes), cadence)
    _sound(measure_slip(recording, rig, [Reference(Measured(6.2, 0.01), "given")], notes), slip)
    _sound(measure_slip(recording, rig, [], notes), slip)
    _sound(check_health(recording, rig, notes), check)
    survey(recording, rig, WheelFacts(), notes=notes)
    if len(rigs) > 1:
        rig, notes = rigs[1]
        _sound(measure_twist(recording, rig, YarnPlan(205.0), notes), twist)
        _sound(calibrate_roller(recording, rig, [], None, notes), calibrate)


def _sound(report, view) -> None:
    shown = as_json(view.json_object(report))
    json.loads(shown, parse_constant=_refuse)
    if report.cannot_say is None:
        words = view.text(report, Page(80)).lower().replace(",", " ").split()
        assert not {"nan", "inf", "-inf"} & set(words), "a figure that is none is shown"


def _refuse(word: str) -> None:
    raise AssertionError(f"{word} in JSON")


def log_of(data: bytes) -> Iterator[bytes]:
    """Yield a log's lines: three bytes for its header, then a doing every four bytes."""
    head = data[:3].ljust(3, b"\0")
    bits = _TICK_BITS[head[1] % 8]
    yield f"# tick_hz: {_TICK_HZ[head[0] % 8]}\n# tick_bits: {bits}\n".encode()
    yield f"# targets: {_TARGETS[head[2] % 6]}\n# roller: 10 cm\n".encode()
    if head[2] & 64:
        yield b"# roller: 1e-9 m\n"
    span = 1 << (bits or 63)
    clock, seq, rows = 0, 0, 0
    for at in range(3, len(data) - 3, 4):
        for letter, step, count in _doing(*data[at : at + 4]):
            clock += step
            if letter in "lm":
                yield f"# {'length' if letter == 'l' else 'mark'}: {clock % span} {count}\n".encode()
                continue
            seq += 1 + (letter == "lost")
            if letter == "lost":
                continue
            rows += 1
            if rows > _MOST_ROWS[head[2] >> 7]:
                return
            tick = min(clock % span, 2**63 - 1)
            yield f"{letter},{tick},{seq % 65536}{count and f',{count}'}\n".encode()


def _doing(what: int, a: int, b: int, c: int) -> Iterator[tuple[str, int, str]]:
    """Yield letter, ticks since the line before, and the text of its count or length."""
    match what % 8:
        case 0 | 1 | 2:  # spin: a pulses of a shaft's, b flyer pulses for each, at a pace by c
            for i in range(a % 64):
                step = (c + 1) * 4000 + what * i
                yield "w", step // (b % 16 + 1), ""
                for j in range(b % 16):
                    yield "fb"[(what >> 3) % 8 == 7 and j % 2], step // (b % 16 + 1), ""
                if what & 64 and i % (c % 7 + 2) == 0:
                    yield "y", 0, ""
        case 3:  # one line, anywhere on the clock
            yield "wfbykx"[a % 6], 1 << (b % 64), str(c) if c > 1 else ""
        case 4:  # one line of very many
            yield "wfbyx"[a % 5], b * 1000, str(10 ** (c % 19))
        case 5:  # lengths and marks
            yield "l", a * 1000, ("0", "1 m", "1e9 m", "1e-8 mm", f"{b} cm", "5 yd", "1 furlong", "")[c % 8]
            yield "m", 0, "here"
        case 6:  # lost lines
            yield "lost", a, ""
            yield "wfbyk"[c % 5], b, ""
        case _:  # at one and the same tick, or back
            for _ in range(a % 32):
                yield "wfby"[c % 4], -(b % 3), ""
