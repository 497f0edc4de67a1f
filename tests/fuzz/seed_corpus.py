"""Write the corpus's first inputs, from which the fuzzer sets out: `python tests/fuzz/seed_corpus.py`."""

from __future__ import annotations

import io
import struct
from pathlib import Path

import numpy as np
from scipy.io import wavfile

CORPUS = Path(__file__).resolve().parent / "corpus"
SAMPLES = Path(__file__).resolve().parents[2] / "sample-captures"
SMALL_VCD = Path(__file__).resolve().parents[1] / "importers" / "small.vcd"
ODD_LOG = b"""# format: pulses 1
# tick_hz: 1e6
# tick_bits: 64
# targets: w=4 f=1
# sync: 1700000000.5 12
w,12,1
f,13,2,3*5F
x,14,9,100
k,9223372036854775807,10
# length: 14 1.5 m
# mark: 14 here
f,15,10
f,15,10
f,15,11*00
"""


def sound(kind: str) -> bytes:
    t = np.arange(600)
    left, right = (t % 90 < 6).astype(float), (t % 15 < 3).astype(float)
    samples = np.stack((left, right), 1)
    if kind == "i2":
        samples = (samples * 20000).astype(np.int16)
    elif kind == "u1":
        samples = (samples[:, :1] * 120 + 128).astype(np.uint8)
    else:
        samples = samples.astype(np.float32)
    out = io.BytesIO()
    wavfile.write(out, 8000, samples)
    return out.getvalue()


def notifications(roles: int, size: int) -> bytes:
    """As the target for notifications reads them: who and how long, when, payload."""
    out = bytes([roles])
    for i in range(40):
        wheel, crank = struct.pack("<IH", i, i * 1000 % 65536), struct.pack("<HH", i, i * 1000 % 65536)
        payload = {7: b"\x01" + wheel, 5: b"\x02" + crank, 11: b"\x03" + wheel + crank}[size]
        out += bytes([{7: 0, 11: 1, 5: 3}[size] << 1 | i % 2, 250]) + payload
    return out


def payloads(size: int) -> bytes:
    """Notifications of one size, each with its length before it."""
    text = notifications(0, size)[1:]
    each = size + 2
    return b"".join(bytes([size]) + text[i + 2 : i + each] for i in range(0, len(text), each))


def tables() -> dict[str, bytes]:
    rows = "".join(f"{i * 0.05:.3f},{'wffff'[i % 5]},1\n" for i in range(40)).encode()
    levels = "".join(f"{i};{i % 7 > 4};{0.1 * (i % 2)}\n" for i in range(60)).replace(".", ",").encode()
    dated = "".join(f"2026-01-01T00:00:{i:02}.5Z\tflyer\n" for i in range(20)).encode()
    lists = "".join(f"{i * 0.7:.2f} {i * 0.1:.3f}\n" for i in range(20)).encode()
    return {
        "events": b"time_s,channel,count\n" + rows,
        "levels": b"t;wheel;flyer\n" + levels,
        "dated": dated,
        "lists": b"wheel_s flyer_s\n" + lists,
        "bom": b"\xef\xbb\xbf" + b"time_ms|f\n" + b"0|0\n5|1\n7|0\n9|1\n",
        "utf16": "time,f\n1,low\n2,high\n3,low\n4,high\n".encode("utf-16"),
    }


def inputs() -> dict[str, dict[str, bytes]]:
    """Return {target: {name: bytes}}."""
    head = (SAMPLES / "every-line-fault" / "log.pulses").read_bytes()[:3000]
    lines = {"odd": ODD_LOG, "faults": head, "binary": bytes(range(256)), "endless": b"w" * 5000 + b"\nw,1\n"}
    wheels = {p.parent.name: p.read_bytes() for p in sorted(SAMPLES.glob("*/wheel.toml"))[:4]}
    plans = {p.parent.name: p.read_bytes() for p in sorted(SAMPLES.glob("*/plan.toml"))}
    plans["all"] = (
        b'[yarn]\ntwist = "6 tpi"\ncount = "900 yd/lb"\ntwist_factor = "3.5 tm"\ntolerance = "8 %"\ndirection = "S"\n'
        b'plies = 3\nof = "plied"\nwraps_per_inch = 12\nfibre = "wool"\npacking = "60 %"\ncontraction = "helix"\n'
        b'ply_contraction = "4 %"\n[hands]\ndraw = "45 cm"\ndraft = "2 cm to 5 cm"\n'
    )
    spin = bytes([40, 6, 100, 0])
    return {
        "decoder": lines,
        "log": lines,
        "wav": {kind: sound(kind) for kind in ("i2", "u1", "f4")},
        "vcd": {"small": SMALL_VCD.read_bytes()},
        "csv": tables(),
        "wheel": wheels,
        "plan": plans,
        "payload": {str(size): payloads(size) for size in (7, 5, 11)} | {"empty": b"\0\1\3\6\1abcde"},
        "csc": {f"{roles}-{size}": notifications(roles, size) for roles in range(4) for size in (7, 5, 11)},
        "answers": {
            "spin": b"\0\0\0" + b"\0\x3f\6\x64" * 6,
            "roller": b"\0\0\2" + b"\x40\x3f\6\x64" * 4 + b"\5\1\5\4",
            "coarse": b"\1\1\0" + spin * 3 + b"\4\0\1\x12" * 2,
            "edges": bytes(range(3, 256)),
        },
    }


if __name__ == "__main__":
    for target, files in inputs().items():
        (CORPUS / target).mkdir(parents=True, exist_ok=True)
        for name, data in files.items():
            (CORPUS / target / name).write_bytes(data)
