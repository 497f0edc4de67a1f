"""What stands above the terminal's pictures."""

from __future__ import annotations

from typing import Final

ANSWERS: Final = {
    "ratio": "Ratio along the log, wheel turn by wheel turn:",
    "loss": "Flyer turns lost along the log, of those due without slip:",
    "loss-bursts": "Flyer turns lost along the log, of those due without slip; {mark} is a burst:",
    "parts": "Per cent of the flyer's turns:",
    "cadence": "Turns a minute along the log:",
    "twist": "Turns per inch along the yarn:",
    "twist-plan": "Turns per inch along the yarn; on plan from {low} to {high}:",
    "bursts": "bursts",
    "creep": "creep",
    "seconds": "{at} s",
    "minutes": "{at} min",
    "metres": "{at} m",
}
