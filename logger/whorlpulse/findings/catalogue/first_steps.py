"""What `whorlpulse` says when it is typed alone: what to do next, by what lies in the folder."""

from __future__ import annotations

from typing import Final

FIRST_STEPS: Final = {
    "title": "A spinning wheel's true ratio, and the twist that is really in its yarn.",
    "logs": "Pulse logs in this folder: {number}, the newest {log}. Its page, and whether anything is wrong with it:",
    "without": "Without any hardware, a simulated wheel and skein, measured in a minute:",
    "tapped": "With a wheel but no sensor, turns counted by hand or tapped on keys:",
    "wired": "With a board and sensors on the wheel: find it, record, and read the answer:",
    "more": "All commands, and each one's options:",
}
