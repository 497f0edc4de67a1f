"""What `tally` says: how to tap, the answer's words, and its notes."""

from __future__ import annotations

from typing import Final

HOW: Final = (
    "Put a target, a bit of tape say, on the wheel and one on the flyer. Turn the wheel slowly and evenly: tap w "
    "each time the wheel's passes, f each time the flyer's does; q ends. Keep hair, sleeves and fingers off the "
    "moving wheel."
)
MEANS: Final = "flyer turns per wheel turn, 95 % sure"
COUNTED: Final = "{flyer} flyer turns over {wheel} wheel turns, counted to {step} at both ends."
TAPPED: Final = "{flyer} flyer turns over {wheel} wheel turns, by taps that scatter by {scatter_ms} ms."
MORE: Final = "{more} more wheel turns without a break would bring it to ±1 %."
GOOD: Final = "That is within ±1 %: no more turns are needed for it."
TOO_FEW: Final = (
    "{wheel} wheel taps and {flyer} flyer taps are too few, or too uneven: go on until the wheel's target has passed "
    "{needed} times after the first without a miss, with flyer taps before and after"
)
BETWEEN: Final = "flyer turns per wheel turn, between {low} and {high}, 95 % sure"
EXACT: Final = (
    "Most of the ± is the wheel's own rounding: start and stop with its target at the same place, count the flyer "
    "only, and say --wheel-exact."
)
DISAGREE: Final = "The counts differ by more than rounding can make them: one of them was miscounted."
REPEATS: Final = "{repeats} taps came within 0.1 s of the same key's last one and were left out."
CUTS: Final = "A tap seems missed or doubled at {cuts} places; no count was carried across."
BLUNT: Final = "The taps scatter so much that a missed one would not be noticed: turn the wheel more slowly."
NO_SLIP: Final = "Taken for granted: the band does not slip while you count."
