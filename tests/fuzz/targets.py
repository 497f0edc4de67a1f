"""What is fuzzed, by name. A target takes any bytes and raises exactly when a property does not hold.

It returns how many bytes were read of what it made of them, or None where it read just these.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

import fuzz_answers
import fuzz_files
import fuzz_lines
import fuzz_radio
import fuzz_recordings

Target = Callable[[bytes], int | None]

TARGETS: dict[str, Target] = {
    "decoder": fuzz_lines.decoder,
    "log": fuzz_lines.log,
    "wav": fuzz_recordings.wav,
    "vcd": fuzz_recordings.vcd,
    "csv": fuzz_recordings.csv,
    "wheel": fuzz_files.wheel,
    "plan": fuzz_files.plan,
    "payload": fuzz_radio.payload,
    "csc": fuzz_radio.csc,
    "answers": fuzz_answers.answers,
}
CORPUS = Path(__file__).resolve().parent / "corpus"
