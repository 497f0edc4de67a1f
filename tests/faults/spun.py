"""A wheel whose truth is known by construction, as its board would tell it: steady turning, ratio 6.2, 90 turns/min.

One target a shaft, a keep-alive a second, every line numbered and checked. Nothing of the product but the encoder
makes it.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

from whorlpulse.wire import encode_pulse

RATIO = 6.2
WHEEL_HZ = 1.5
GREETING = b"# format: pulses 1\n# tick_hz: 1000000\n# tick_bits: 32\n# targets: w=1 f=1\n"
#: The project's bar for the ratio of a damaged log, in percent.
RATIO_BAR_PERCENT = 0.05


def spun(seconds: float, *, first_tick: int = 20_000, first_seq: int = 0) -> list[bytes]:
    """The lines of so much spinning, in order of time."""
    moments = [(i / WHEEL_HZ, "w") for i in range(int(seconds * WHEEL_HZ))]
    moments += [((i + 0.3) / (WHEEL_HZ * RATIO), "f") for i in range(int(seconds * WHEEL_HZ * RATIO))]
    moments += [(float(s) + 0.0123, "k") for s in range(int(seconds))]
    moments.sort()
    return [
        encode_pulse(channel, (first_tick + round(1e6 * t)) % 2**32, (first_seq + i) % 65536)
        for i, (t, channel) in enumerate(moments)
    ]


def whorlpulse(*words: str | Path, **options: Any) -> subprocess.CompletedProcess[str]:
    """Run a command as a user does."""
    return subprocess.run(
        [sys.executable, "-m", "whorlpulse", *map(str, words)], capture_output=True, text=True, check=False, **options
    )


def ratio_of(log: Path) -> dict[str, Any]:
    """What `ratio --json` says of a log; it must answer."""
    ran = whorlpulse("ratio", log, "--json")
    assert (ran.returncode, ran.stderr) == (0, "")
    said: dict[str, Any] = json.loads(ran.stdout)
    return said


def assert_true_ratio(said: dict[str, Any]) -> None:
    """Check the ratio against the wheel's."""
    assert abs(said["ratio"]["value"] / RATIO - 1) * 100 <= RATIO_BAR_PERCENT
