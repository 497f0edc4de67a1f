"""What `slip` says of a band that slides for long, beside the words of `slip`."""

from __future__ import annotations

from typing import Final

from whorlpulse.findings.catalogue.sensors import FindingWords

SLIDES: Final = {
    "band-slides": FindingWords(
        "The band slides: in {percent} % of the wheel's turning it loses a good part of the ratio.",
        (
            "It lost {lost} flyer turns in {times} slides, against the best turns of this log ({best} : 1).",
            "The longest lasted from {from_s} s to {to_s} s.",
            "Creep and a wrong reference leave the ratio within a few per cent; here it wanders by a twelfth and more.",
            "A slack band, a greasy groove, a brake set too hard and a hand on the flyer can't be told apart.",
        ),
        "Stop the wheel. Tension the band, clean band and grooves, ease the brake; then record again and compare.",
    ),
}
