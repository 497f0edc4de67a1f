"""A slow and obvious reader of the pulse log, written from the format's text alone: one line at a time.

It shares no code with the package, so that the package's two readers can be checked against it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

LIMIT = 4096


@dataclass
class NaiveLog:
    rows: list[tuple[str, int, int]] = field(default_factory=list)  # channel, tick, count
    gaps: list[tuple[int, int, int]] = field(default_factory=list)  # row, lines, line number
    metadata: list[tuple[int, int, str, str]] = field(default_factory=list)  # row, line, key, value
    fate: dict[int, str] = field(default_factory=dict)  # line number to what became of it
    lost: int = 0
    restarted: int = 0
    torn_tail: bool = False


def only_digits(text: bytes) -> bool:
    return len(text) > 0 and all(byte in b"0123456789" for byte in text)


def pulse_fields(line: bytes) -> tuple[str, list[int], bool] | str:
    """Return channel, numbers and whether there was a checksum, or what is wrong: malformed or bad checksum."""
    has_checksum = b"*" in line
    body = line
    if has_checksum:
        body, digits = line[: line.index(b"*")], line[line.index(b"*") + 1 :]
        if len(digits) != 2 or any(d not in b"0123456789ABCDEF" for d in digits):
            return "malformed"
    parts = body.split(b",")
    if parts[0] not in (b"w", b"f", b"b", b"y", b"k", b"x") or not 2 <= len(parts) <= 4:
        return "malformed"
    if not all(only_digits(part) for part in parts[1:]):
        return "malformed"
    if has_checksum:
        together = 0
        for byte in body:
            together ^= byte
        if together != int(digits, 16):
            return "bad checksum"
    numbers = [int(part.lstrip(b"0")[:25] or b"0") for part in parts[1:]]
    if any(number > 9223372036854775807 for number in numbers):
        return "malformed"
    if len(numbers) == 3 and numbers[2] == 0 and parts[0] != b"k":
        return "malformed"
    return parts[0].decode(), numbers, has_checksum


def metadata(line: bytes) -> tuple[str, str]:
    text = line.decode("utf-8", "replace")[1:]
    key, colon, value = text.partition(":")
    if colon and key.strip(" \t\r"):
        return key.strip(" \t\r"), value.strip(" \t\r")
    return "", text.strip(" \t\r")


def began_anew(seq: int, number_back: bool, clock_back: bool, missing: int, span: int) -> bool:
    """A step ahead that is none: number 0 from afar, or clock and number both back, the number to near 0."""
    if seq == 0 and missing >= 1024:
        return True
    return number_back and clock_back and seq < max(span // 64, 1)


def read(data: bytes, seq_bits: int = 16, heed_seq_bits: bool = True) -> NaiveLog:
    log = NaiveLog()
    span = 2 ** (seq_bits or 62)
    last: tuple[int, str, int] | None = None  # the last numbered line: seq, channel, tick
    stray: tuple[int, int, int] | None = None  # before a jump: seq; lost and restarts counted for the jump
    damaged = 0  # lines since then that could not be used
    bad = 0  # wrong checksums since the last usable pulse line
    *lines, tail = data.split(b"\n")
    whole = len(lines)
    if tail:
        lines.append(tail)
    for number, line in enumerate(lines, start=1):
        is_tail = number > whole
        line = line[:-1] if line.endswith(b"\r") else line
        row = len(log.rows)
        if line == b"":
            log.fate[number] = "empty"
            continue
        if line.startswith(b"#") and len(line) <= LIMIT:
            log.fate[number] = "metadata"
            key, value = metadata(line)
            log.metadata.append((row, number, key, value))
            if key == "seq_bits" and heed_seq_bits and value in {str(n) for n in range(63)}:
                span = 2 ** (int(value) or 62)
            continue
        fields = "malformed" if len(line) > LIMIT else pulse_fields(line)
        if is_tail and len(line) <= LIMIT and (isinstance(fields, str) or not fields[2]):
            log.fate[number] = "torn"
            log.torn_tail = True
            continue
        if isinstance(fields, str):
            log.fate[number] = fields
            damaged += 1
            bad += fields == "bad checksum"
            continue
        channel, numbers, _ = fields
        tick = numbers[0]
        count = numbers[2] if len(numbers) == 3 else 1
        if len(numbers) == 1:
            if bad:
                log.gaps.append((row, bad, number))
        else:
            seq = numbers[1]
            if last is not None:
                missing = (seq - last[0] - 1) % span
                if missing == span - 1 and last[1:] == (channel, tick):
                    log.fate[number] = "repeated"
                    continue
                onward = (seq - stray[0] - 1) % span if stray else 0
                if missing == 0:
                    stray = None
                elif 0 < onward <= 16 < missing:  # only the number before this one was out of line
                    log.lost += max(0, onward - 1 - damaged) - stray[1]
                    log.restarted -= stray[2]
                    log.gaps.append((row, onward, number))
                    stray = None
                elif missing > (span - 1) // 2 or began_anew(seq % span, seq < last[0], tick < last[2], missing, span):
                    log.restarted += 1
                    log.gaps.append((row, 0, number))
                    stray = (last[0], 0, 1)
                else:
                    log.lost += max(0, missing - damaged)
                    log.gaps.append((row, missing, number))
                    stray = (last[0], max(0, missing - damaged), 0)
            last = (seq, channel, tick)
            damaged = 0
        bad = 0
        log.fate[number] = {"k": "keep-alive", "x": "overrun"}.get(channel, "pulse")
        log.rows.append((channel, tick, count))
    return log
