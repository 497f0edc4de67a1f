"""golden-lines.txt, the examples beside the line protocol, read by our decoder and written by our boards.

The checksum rule is that of NMEA 0183. Printed sentences to check it by, with the page each was read on:
  A  "NMEA 0183 checksum" example program, mx.vaultbbs.com/forum/code/132316/1
  B  "XOR calculation for NMEA checksums", www.tigoe.net/pcomp/code/category/date/2007/11
"""

from __future__ import annotations

import re
import subprocess
import sys
from dataclasses import dataclass

import pytest
from board import NOTES

from whorlpulse.wire import Damaged, Decoder, Gap, Message, Meta, Pulse, xor_of

GOLDEN = NOTES / "golden-lines.txt"
MODULES = NOTES / "reference" / "micropython"
SENTENCES = [
    ("GPRMC,000004,V,3714.6284,N,12146.9181,W,0.000,0.0,290697,15.4,E", 0x4C),  # A
    ("GPRMC,155123.000,A,4043.8432,N,07359.7653,W,0.15,83.25,200407,,", 0x28),  # B
]


@dataclass(frozen=True)
class Golden:
    number: int
    how: str
    verdict: str
    detail: str
    line: bytes


def unescaped(text: str) -> bytes:
    """The bytes that the file's fourth field stands for."""
    named = text.replace("\\r", "\r")
    return re.sub(r"\\x([0-9a-f]{2})", lambda m: chr(int(m[1], 16)), named).encode("latin-1")


def golden_lines() -> list[Golden]:
    found = []
    for number, text in enumerate(GOLDEN.read_text(encoding="ascii").splitlines(), 1):
        if text and not text.startswith(";"):
            how, verdict, detail, line = text.split("\t")
            found.append(Golden(number, how, verdict, detail, unescaped(line)))
    return found


def streams() -> list[list[Golden]]:
    """Lines that follow one another, together."""
    together: list[list[Golden]] = []
    for golden in golden_lines():
        if golden.how == "alone":
            together.append([])
        else:
            assert golden.how == "next"
        together[-1].append(golden)
    return together


def described(messages: list[Message]) -> tuple[str, str]:
    """Verdict and detail of what a decoder said to one line, in the words of the file."""
    verdict, detail = "empty", ""
    gap = 0
    for message in messages:
        if isinstance(message, Gap):
            gap = message.lines
        elif isinstance(message, Pulse):
            seq = "-" if message.seq is None else message.seq
            verdict = f"gap {gap}" if gap else "pulse"
            detail = f"channel={message.channel} tick={message.tick} seq={seq} count={message.count}"
        elif isinstance(message, Meta):
            verdict, detail = "meta", f"{message.key} = {message.value}"
        elif isinstance(message, Damaged):
            verdict, detail = "bad", message.cause
    return verdict, detail


def test_the_file_has_something_of_everything() -> None:
    golden = golden_lines()
    assert len(golden) > 60
    assert {g.verdict.split()[0] for g in golden} == {"pulse", "meta", "empty", "bad", "gap"}
    channels = {m[1] for g in golden if (m := re.match(r"channel=(.)", g.detail))}
    assert channels == set("wfbykx")


@pytest.mark.parametrize("stream", streams(), ids=lambda stream: f"line {stream[0].number}")
def test_the_decoder_reads_each_line_as_the_file_says(stream: list[Golden]) -> None:
    decoder = Decoder()
    for golden in stream:
        assert described(decoder.feed(golden.line + b"\n")) == (golden.verdict, golden.detail)
    bad = sum(g.verdict == "bad" for g in stream)
    assert decoder.tally.malformed_lines + decoder.tally.bad_checksum == bad
    assert decoder.tally.lost == sum(int(g.verdict.split()[1]) for g in stream if g.verdict.startswith("gap"))


@pytest.mark.parametrize("stream", streams(), ids=lambda stream: f"line {stream[0].number}")
def test_byte_by_byte_the_lines_mean_the_same(stream: list[Golden]) -> None:
    decoder = Decoder()
    for golden in stream:
        said = [m for byte in golden.line + b"\n" for m in decoder.feed(bytes([byte]))]
        assert described(said) == (golden.verdict, golden.detail)


@pytest.mark.parametrize(("sentence", "printed"), SENTENCES)
def test_the_checksum_is_the_one_printed_elsewhere(sentence: str, printed: int) -> None:
    assert xor_of(sentence.encode("ascii")) == printed


def test_the_micropython_board_writes_the_golden_lines() -> None:
    """Every pulse line of the file that is in the form that boards send."""
    wanted = []
    for golden in golden_lines():
        fields = re.fullmatch(rb"([wfbykx]),(0|[1-9]\d*),(0|[1-9]\d*)(?:,([2-9]|1\d))?\*..", golden.line)
        if fields and golden.verdict != "bad":
            letter, tick, seq, count = (f.decode() if f else "1" for f in fields.groups())
            wanted.append((letter, tick, seq, count, golden.line))
    assert len(wanted) > 15
    calls = ",".join(f"p.pulse_line({x!r},{t},{s},{n})" for x, t, s, n, _ in wanted)
    sums = ",".join(f"p.checksum({sentence.encode()!r})" for sentence, _ in SENTENCES)
    program = f"import sys;sys.path.insert(0,sys.argv[1]);import pulseline as p;print(({calls}),({sums}))"
    ran = subprocess.run(
        [sys.executable, "-c", program, str(MODULES)], capture_output=True, text=True, check=True, timeout=60
    )
    lines = tuple(line + b"\n" for *_, line in wanted)
    assert ran.stdout.rstrip("\n") == f"{lines} {tuple(printed for _, printed in SENTENCES)}"
