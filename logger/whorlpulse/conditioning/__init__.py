"""From the board's rows to shafts that can be counted: one fault a file, the order in `chain`."""

from whorlpulse.conditioning.chain import Conditioned, Stretch, condition

__all__ = ["Conditioned", "Stretch", "condition"]
